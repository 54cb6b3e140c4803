//! The examples that phrases carry: what each must give, and what must give nothing.
//! Takes every `takes` and `skips` of the built-in lexicon; prints those that do not hold and fails if their share is
//! greater than before. Leaves alone whole narrations (`corpus`).

use spoken_exam::lexicon::Lexicon;
use spoken_exam::lexicon::compile::OPEN_VALUES;
use spoken_exam::lexicon::load::{self, Source};
use spoken_exam::score::level::below;
use spoken_exam::score::{examples, given_instead};

use crate::corpus::{LEXICON, level};

#[test]
fn examples_hold_as_often_as_before() {
    let examples = examples(&load::built_in()).expect("the lexicon has no faults");
    let mut failed = 0;
    for example in &examples {
        if let Some(instead) = given_instead(&LEXICON, example) {
            failed += 1;
            let wanted = example.gives.as_deref().unwrap_or("nothing");
            println!("{} {}: \"{}\" must give {wanted}; gives {instead}", example.item, example.value, example.said);
        }
    }
    let share = 1.0 - f64::from(failed) / examples.len() as f64;
    println!("examples that hold: {share:.3} of {}", examples.len());
    let wanted = level("lexicon").examples.expect("score.toml says how many hold");
    assert_eq!(below("the share of examples that hold", wanted, share), None);
}

#[test]
fn every_fault_is_named_at_once_with_file_and_line() {
    let file = |name: &str, text: &str| Source { file: name.to_owned(), text: text.to_owned() };
    let mut sources = load::built_in();
    sources.push(file("mine/a.toml", "\n[toe-wiggle]\nname = \"toe wiggle\"\nregion = \"legs\"\nsides = \"triple\"\n"));
    sources.push(file("mine/b.toml", "[toe-curl]\nnmae = \"toe curl\"\n"));
    let faults = Lexicon::from_sources(&sources).expect_err("two files have faults").to_string();
    let lines: Vec<&str> = faults.lines().collect();
    assert_eq!(lines.len(), 2, "{faults}");
    assert!(lines[0].starts_with("mine/a.toml:2: ") && lines[0].contains("triple"), "{faults}");
    assert!(lines[1].starts_with("mine/b.toml:1: ") && lines[1].contains("nmae"), "{faults}");
}

#[test]
fn what_was_misheard_has_words_that_count() {
    let text = "[[misheard]]\nheard = \"the\"\nsaid = \"scarf\"\nmet = \"nowhere\"\n";
    let own = Source { file: "misheard.toml".to_owned(), text: text.to_owned() };
    let sources: Vec<Source> = load::built_in().into_iter().chain([own]).collect();
    let faults = Lexicon::from_sources(&sources).expect_err("`the` does not count").to_string();
    assert_eq!(faults, "misheard.toml:1: the phrase `the` has no words");
}

#[test]
fn a_folder_of_ones_own_adds_phrases() {
    let mut sources = load::built_in();
    let text = "[ankle-clonus.values.absent]\nalone = [\"not a quiver at the heel\"]\n".to_owned();
    sources.push(Source { file: "mine.toml".to_owned(), text });
    let lexicon = Lexicon::from_sources(&sources).expect("it has no faults");
    let given = |lexicon| {
        let draft = spoken_exam::flow::of_text(lexicon, "Left side, not a quiver at the heel.", "a.txt").draft;
        draft.findings.iter().map(|found| format!("{} {}", found.item, found.value)).collect::<Vec<_>>()
    };
    assert_eq!(given(&lexicon), ["ankle-clonus absent"]);
    assert!(given(&LEXICON).is_empty());
    assert_ne!(lexicon.identity, LEXICON.identity);
}

#[test]
fn every_item_and_value_of_the_contract_is_there_and_no_other() {
    let text = std::fs::read_to_string("tests/reference/exam-items.toml").expect("it can be read");
    let contract: toml::Table = toml::from_str(&text).expect("it is TOML");
    let mut wanted = Vec::new();
    for (id, item) in contract.values().filter_map(toml::Value::as_table).flatten() {
        let paired = item["sides"].as_str() == Some("paired");
        let values = item.get("values").and_then(toml::Value::as_array).into_iter().flatten();
        let mut values: Vec<String> = values.filter_map(toml::Value::as_str).map(str::to_owned).collect();
        values.sort();
        wanted.push((id.clone(), paired, item.get("measure").is_some(), values));
    }
    wanted.sort();
    // Values that are numbers ("straight" is 180deg) are the lexicon's own: the contract has them as a measure.
    let is_number = |id: &str| id.starts_with(|c: char| c.is_ascii_digit());
    let mut known = Vec::new();
    for item in LEXICON.items.iter().filter(|item| item.members.is_empty()) {
        let ids = item.values.iter().map(|value| value.id.clone());
        let mut values: Vec<String> = ids.filter(|id| !OPEN_VALUES.contains(&id.as_str()) && !is_number(id)).collect();
        values.sort();
        known.push((item.id.clone(), item.paired, item.measure.is_some(), values));
    }
    known.sort();
    assert_eq!(known, wanted);
}

//! What holds for any text, and for every narration of the corpus.
//! Takes texts that nobody wrote; fails on a panic, a quote outside its line, or a draft that a repeat changes.
//! Leaves alone whether findings are right (`corpus`).

use std::sync::LazyLock;

use proptest::prelude::*;
use spoken_exam::export::{to_json, to_table, to_tsv};
use spoken_exam::flow::{self, Narration};
use spoken_exam::lexicon::Meaning;
use spoken_exam::record::{DraftFinding, Quote};
use spoken_exam::speech::words::plain_phrase;

use crate::corpus::LEXICON;

fn narration(text: &str) -> Narration {
    flow::of_text(&LEXICON, text, "any.txt")
}

fn quotes(finding: &DraftFinding) -> Vec<&Quote> {
    let proof = &finding.proof;
    let parts = proof.item.iter().chain([&proof.quote, &proof.value]).chain(&proof.sides);
    parts.chain(finding.history.iter().map(|old| &old.quote)).collect()
}

/// Checks all that a draft must be whatever was said.
fn check_draft(text: &str) -> Result<(), TestCaseError> {
    let narration = narration(text);
    let draft = &narration.draft;
    for quote in draft.all_findings().flat_map(quotes) {
        let line = draft.transcript.get(quote.span.utterance);
        prop_assert!(!quote.text.is_empty(), "an empty quote of {text:?}");
        prop_assert!(line.is_some_and(|line| line.text.contains(&quote.text)), "{quote:?} of {text:?}");
    }
    let mentioned = draft.not_mentioned.iter().filter(|item| draft.all_findings().any(|found| found.item == item.item));
    prop_assert_eq!(mentioned.count(), 0, "found and not mentioned at once: {:?}", text);
    prop_assert_eq!(&narration, &self::narration(text));
    prop_assert_eq!(to_json(draft).ok(), to_json(&self::narration(text).draft).ok());
    prop_assert!(to_table(draft).lines().all(|line| line.chars().count() <= 100), "{}", to_table(draft));
    prop_assert!(to_tsv(draft).lines().all(|line| line.split('\t').count() == 7), "{}", to_tsv(draft));
    Ok(())
}

/// Words that the reading takes for something, in any order, with any stop between.
fn trade_talk() -> impl Strategy<Value = String> {
    let phrases: Vec<String> = LEXICON.phrases.iter().map(|phrase| phrase.text.clone()).collect();
    let numbers =
        ["ninety five", "34.6", "thirty-eight and four", "two plus", "eighty to ninety", "no", "not", "about"];
    let word = prop_oneof![
        4 => proptest::sample::select(phrases),
        1 => proptest::sample::select(numbers.map(str::to_owned).to_vec()),
        1 => "[a-z]{1,6}",
    ];
    let stop = proptest::sample::select(vec![" ", " ", ", ", ". ", "? ", "\n", " - ", "... "]);
    proptest::collection::vec((word, stop), 0..40)
        .prop_map(|pieces| pieces.into_iter().map(|(word, stop)| word + stop).collect())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_gives_a_sound_draft(text in "\\PC{0,200}") {
        check_draft(&text)?;
    }

    #[test]
    fn any_letters_and_control_characters_give_a_sound_draft(text in "(.|\n|\r|\t|\u{0}|\u{feff}){0,60}") {
        check_draft(&text)?;
    }

    #[test]
    fn any_talk_of_the_trade_gives_a_sound_draft(text in trade_talk()) {
        check_draft(&text)?;
    }
}

fn corpus() -> Vec<(String, String)> {
    let pairs = spoken_exam::score::pairs(std::path::Path::new("tests/corpus")).expect("the corpus is there");
    let read = |pair: spoken_exam::score::Pair| (pair.name, std::fs::read_to_string(pair.text.expect("a text")));
    pairs.into_iter().map(read).map(|(name, text)| (name, text.expect("it can be read"))).collect()
}

/// Item, side, value, flags and reasons of every finding; sides turned if asked.
fn rows(text: &str, turned: bool) -> Vec<String> {
    let draft = narration(text).draft;
    let row = |found: &DraftFinding| {
        let side = if turned { found.side.opposite() } else { found.side };
        let reasons: Vec<&str> = found.reasons.iter().map(|reason| reason.words()).collect();
        format!("{} {} {} {:?} {reasons:?}", found.item, side.name(), found.value, found.flags())
    };
    let mut rows: Vec<String> = draft.all_findings().map(row).collect();
    rows.sort();
    rows
}

fn differences(name: &str, before: &[String], after: &[String]) -> Vec<String> {
    let lost = before.iter().filter(|row| !after.contains(row)).map(|row| format!("{name}: lost {row}"));
    lost.chain(after.iter().filter(|row| !before.contains(row)).map(|row| format!("{name}: new {row}"))).collect()
}

/// The text with left and right exchanged, as words of their own in any case.
fn exchanged(text: &str) -> String {
    let mut turned = String::new();
    for piece in text.split_inclusive(|c: char| !c.is_alphabetic()) {
        let word = piece.trim_end_matches(|c: char| !c.is_alphabetic());
        let other = match word {
            "left" => "right",
            "right" => "left",
            "Left" => "Right",
            "Right" => "Left",
            word => word,
        };
        turned.push_str(other);
        turned.push_str(&piece[word.len()..]);
    }
    turned
}

/// "Right" is no side in "right, next", "all right", "a right angle" and wherever the lexicon has a phrase that means nothing,
/// or whose other side it has not: there it must not be exchanged, since "left, next" and "all left" would be sides.
fn says_right_without_a_side(line: &str) -> bool {
    static PHRASES: LazyLock<Vec<String>> = LazyLock::new(|| {
        let has_side = |text: &str| text.split(' ').any(|word| word == "left" || word == "right");
        let one_sided = |text: &str| LEXICON.phrase(&exchanged(text)).is_none();
        let phrases = LEXICON.phrases.iter().filter(|phrase| has_side(&phrase.text));
        phrases
            .filter(|phrase| phrase.meanings.contains(&Meaning::Never) || one_sided(&phrase.text))
            .map(|phrase| format!(" {} ", phrase.text))
            .collect()
    });
    let plain = format!(" {} ", plain_phrase(line));
    let first_word_alone = line.starts_with("Right,") || line.starts_with("Right.") || line.contains(". Right,");
    first_word_alone || line.contains(", right?") || PHRASES.iter().any(|phrase| plain.contains(phrase))
}

#[test]
fn exchanging_left_and_right_exchanges_the_sides_and_nothing_else() {
    let mut wrong = Vec::new();
    let mut tried = 0;
    for (name, text) in corpus() {
        // Line by line, so that one "all right" does not spare a whole narration.
        let lines: Vec<&str> = text.lines().filter(|line| !says_right_without_a_side(line)).collect();
        let text = lines.join("\n");
        tried += rows(&text, false).iter().filter(|row| row.contains(" left ") || row.contains(" right ")).count();
        wrong.extend(differences(&name, &rows(&text, true), &rows(&exchanged(&text), false)));
    }
    assert!(tried > 300, "only {tried} findings with a side were tried");
    check_same(&wrong);
}

#[track_caller]
fn check_same(differences: &[String]) {
    assert!(differences.is_empty(), "{} differences:\n{}", differences.len(), differences.join("\n"));
}

#[test]
fn chatter_between_the_lines_changes_nothing() {
    const CHATTER: [&str; 6] = [
        "Pass me that, would you.",
        "Mind the cable.",
        "Could somebody shut the door, please?",
        "Morning, Priya.",
        "I'll be with you in a minute.",
        "Thank you, Joan.",
    ];
    let mut wrong = Vec::new();
    for (at, (name, text)) in corpus().iter().enumerate() {
        let lines: Vec<&str> = text.lines().collect();
        // Between every fourth pair of lines, elsewhere in each narration.
        let mut with_chatter: Vec<&str> = Vec::new();
        for (line_at, line) in lines.iter().enumerate() {
            with_chatter.push(line);
            if (line_at + at) % 4 == 0 {
                with_chatter.push(CHATTER[(line_at + at) / 4 % CHATTER.len()]);
            }
        }
        wrong.extend(differences(name, &rows(text, false), &rows(&with_chatter.join("\n"), false)));
    }
    check_same(&wrong);
}

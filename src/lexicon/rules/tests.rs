//! Rules, read from their files.

use std::path::Path;

use super::*;
use crate::lexicon::load::{Source, built_in};
use crate::lexicon::{Lexicon, LexiconError};

fn with(file: &str, text: &str) -> Result<Rules, String> {
    let mut sources = built_in();
    sources.push(Source { file: file.to_owned(), text: text.to_owned() });
    match Lexicon::from_sources(&sources) {
        Ok(lexicon) => Ok(lexicon.beside.rules),
        Err(LexiconError::Faults(faults)) => Err(faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")),
        Err(other) => Err(other.to_string()),
    }
}

#[test]
fn all_rules_that_the_program_carries_are_read() {
    let rules = Lexicon::load(None::<&Path>).unwrap().beside.rules;
    assert_eq!((rules.usual.len(), rules.prompts.len(), rules.sentences.commonly.len()), (119, 24, 4));
    let angle = rules.usual.iter().find(|rule| rule.cited.rule == "e034").unwrap();
    assert_eq!(angle.expected, [Condition::Within(70.0, 110.0, "deg".to_owned())]);
    assert_eq!(angle.second_look, [Condition::Over(120.0, "deg".to_owned()), Condition::SidesDiffer(20.0)]);
    assert_eq!((angle.born, angle.from_weeks, angle.to_weeks, angle.ageless), (Born::Term, 38, 48, false));
    assert!(rules.usual.iter().all(|rule| !rule.cited.source.is_empty() && rule.from_weeks < rule.to_weeks));
}

#[test]
fn a_folder_adds_replaces_and_switches_off() {
    let rules = with("prompts.toml", "off = [\"e034\", \"p01\"]").unwrap();
    assert_eq!((rules.usual.len(), rules.prompts.len()), (118, 23));
    let header = "id,item,born,pma_from_wk,pma_to_wk,expected,second_look,alone,level,source,status,note\n";
    let rules = with("usual.csv", &format!("{header}e034,popliteal-angle,term,38,,60-120deg,,,,a book,from-memory,\n"))
        .unwrap();
    assert_eq!(rules.usual.len(), 119);
    let angle = rules.usual.iter().find(|rule| rule.cited.rule == "e034").unwrap();
    assert_eq!((angle.cited.source.as_str(), angle.second_look.len()), ("a book", 0));
    let own = "[[prompt]]\nid = \"p01\"\ntitle = \"mine\"\nlevel = \"recheck\"\nfinds = [\"suck: weak\"]\nsource = \"x\"\nstatus = \"from-memory\"\n";
    let rules = with("prompts.toml", own).unwrap();
    assert_eq!(
        rules
            .prompts
            .iter()
            .filter(|rule| rule.cited.rule == "p01")
            .map(|rule| rule.title.as_str())
            .collect::<Vec<_>>(),
        ["mine"]
    );
}

#[test]
fn what_is_wrong_is_told_with_its_file() {
    let header = "id,item,born,pma_from_wk,pma_to_wk,expected,second_look,alone,level,source,status,note\n";
    for (row, wrong) in [
        ("x,knee,any,22,,,,,,s,derived,", "usual.csv:2: `knee` is not an item"),
        ("x,suck,all,22,,,,,,s,derived,", "`all` is none of any, term and preterm"),
        ("x,suck,any,22,,loud,,,,s,derived,", "`loud` is neither a value of suck nor a number in its unit"),
        ("x,suck,any,22,,,sides-differ,yes,soon,s,derived,", "suck has no sides that could differ"),
        ("x,suck,any,22,,,weak,yes,late,s,derived,", "`late` is none of now, soon, pathway and recheck"),
        ("x,suck,any,22,,,weak,,soon,s,derived,", "`alone` says neither yes nor no"),
        ("x,suck,any,22,,,weak,yes,soon,,derived,", "no source is named"),
        ("x,suck,any,22,,,weak,yes,soon,s,sure,", "`sure` is no status of a source"),
        ("x,suck,any", "the row has 3 cells"),
        ("x,head-circumference,any,22,,,z<small,yes,soon,s,derived,", "is no bound of a z-score"),
    ] {
        let found = with("usual.csv", &format!("{header}{row}\n")).unwrap_err();
        assert!(found.contains(wrong), "{row}: {found}");
    }
    let found = with("usual.csv", "a,b\n1,2\n").unwrap_err();
    assert!(found.contains("usual.csv:1: the columns must be id,item"), "{found}");
    for (text, wrong) in [
        ("prompts = 1", "prompts.toml:1: unknown field"),
        (
            "[[prompt]]\nid = \"x\"\ntitle = \"\"\nlevel = \"now\"\nat-least = 2\nfinds = [\"suck: weak\"]\nsource = \"\"\nstatus = \"derived\"",
            "can never be met",
        ),
        (
            "[[prompt]]\nid = \"x\"\ntitle = \"\"\nlevel = \"now\"\nfinds = [\"suck\"]\nsource = \"\"\nstatus = \"derived\"",
            "is no `item: condition`",
        ),
    ] {
        let found = with("prompts.toml", text).unwrap_err();
        assert!(found.contains(wrong), "{text}: {found}");
    }
}

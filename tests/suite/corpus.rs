//! Whole narrations against the findings that a careful colleague wrote down.
//! Takes the corpora; fails below the level that `tests/corpus/score.toml` says was reached, and prints the figures.
//! Leaves alone single phrases (`lexicon`).

use std::path::Path;

use spoken_exam::flow;
use spoken_exam::score::{ErrorKind, Level, Tally, compare, pairs, predicted, read_gold, read_levels};

pub(crate) use crate::targets::checks::LEXICON;

/// The level that a corpus has reached.
#[track_caller]
pub(crate) fn level(corpus: &str) -> Level {
    let levels = read_levels(include_str!("../corpus/score.toml")).expect("score.toml can be read");
    *levels.get(corpus).unwrap_or_else(|| panic!("score.toml has no table [{corpus}]"))
}

fn tally_of(folder: &str) -> Tally {
    let mut pooled = Tally::default();
    for pair in pairs(Path::new(folder)).expect("the folder can be read") {
        let text = std::fs::read_to_string(pair.text.expect("a text")).expect("the text can be read");
        let gold = std::fs::read_to_string(&pair.gold).expect("the findings can be read");
        let gold = read_gold(&gold).unwrap_or_else(|error| panic!("{}: {error}", pair.gold.display()));
        pooled.add(&compare(&predicted(&flow::of_text(&LEXICON, &text, &pair.name).draft), &gold));
    }
    pooled
}

#[track_caller]
fn check(corpus: &str, folder: &str) {
    let tally = tally_of(folder);
    let silent: Vec<String> = ErrorKind::ALL
        .iter()
        .filter_map(|kind| Some(format!("{} {}", kind.words(), tally.silent.get(kind)?)))
        .collect();
    println!(
        "{corpus}: {} findings, precision {:.3}, recall {:.3}, F1 {:.3}, clear {:.3}, silent {} ({:.1} per 1,000: {})",
        tally.annotated,
        tally.precision(),
        tally.recall(),
        tally.f1(),
        tally.clear(),
        tally.silent_errors(),
        tally.silent_per_1000(),
        silent.join(", ")
    );
    let shortfalls = level(corpus).shortfalls(&tally);
    assert!(shortfalls.is_empty(), "{corpus}: {}", shortfalls.join("; "));
}

#[test]
fn written_narrations_are_read_as_well_as_before() {
    check("corpus", "tests/corpus");
}

#[test]
fn narrations_as_a_recogniser_hears_them_are_read_as_well_as_before() {
    check("heard", "tests/corpus/heard");
}

#[test]
fn narrations_as_a_small_recogniser_hears_them_are_read_as_well_as_before() {
    check("heard-tiny", "tests/corpus/heard-tiny");
}

#[test]
fn other_narrations_as_a_recogniser_hears_them_are_read_as_well_as_before() {
    check("heard-extra", "tests/corpus-extra/heard");
}

#[test]
fn narrations_that_nothing_was_built_on_are_read_as_well_as_before() {
    check("corpus-extra", "tests/corpus-extra");
}

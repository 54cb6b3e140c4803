//! What holds for words that nobody wrote: any text is read.
//! Takes texts of any characters, and of the trade's own words in any order; fails on a panic, on a place that is not in
//! the words, on a finding that is not of the contract, and where no answer comes. `PROPTEST_CASES=100000` tries that
//! many of each kind. Leaves alone whether findings are right (`corpus`).

use std::fmt::Debug;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use proptest::prelude::*;
use proptest::sample::{Index, select};
use proptest::test_runner::TestRunner;

use crate::targets::checks::{LEXICON, check_text};

/// Cases of a kind, where `PROPTEST_CASES` does not say otherwise.
const CASES: u32 = 2_000;
/// An answer that takes longer will never come.
const LONGEST: Duration = Duration::from_secs(60);

pub(crate) fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(CASES)
}

/// Checks cases one after another; fails with the case that is wrong, or that no answer comes to.
#[track_caller]
pub(crate) fn holds<S: Strategy<Value: Debug + 'static>>(
    cases: u32,
    strategy: impl FnOnce() -> S + Send + 'static,
    check: fn(&S::Value),
) {
    let (begun, case) = mpsc::channel();
    let config = ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() };
    let runner = std::thread::spawn(move || {
        let outcome = TestRunner::new(config).run(&strategy(), |value| {
            let _ = begun.send(format!("{value:?}"));
            check(&value);
            Ok(())
        });
        outcome.map_err(|error| error.to_string())
    });
    let mut last = String::new();
    loop {
        match case.recv_timeout(LONGEST) {
            Ok(case) => last = case,
            Err(RecvTimeoutError::Disconnected) => break,
            Err(RecvTimeoutError::Timeout) => panic!("no answer within {LONGEST:?} to {last}"),
        }
    }
    runner.join().expect("the runner catches what the check does").unwrap_or_else(|error| panic!("{error}"));
}

/// Characters that are letters, digits, stops or blanks of some kind.
const TREACHEROUS: &str = "0123456789.,;:?!-–—…'’\"“”()/+°%<>&½²٣五Ⅳİßſﬁŉǰΐ\u{301}\u{200d}\u{202e}\u{feff}\t\r\n\u{0}";
/// Numbers as they are said.
const NUMBERS: &str = "ninety five|34.6|thirty-eight and four|two plus|eighty to ninety|at least ten|one oh five|38+4|\
    three point two kilos|half|minus two|between two and three|3,240|ninety or a hundred";
/// Words that numbers are made of.
const NUMBER_WORDS: &str = "one|two|three|six|ten|fifteen|thirty|eighty|hundred|thousand|point|and|oh|a|to";
/// What numbers count.
const UNITS: &str = "degrees|cm|mm|inches|grams|kilos|pounds|weeks|days|hours|beats|fingers";
/// Sides, denials, corrections and stances.
const CUES: &str = "left|right|both|neither|the other side|no|not|sorry|strike that|I mean|the same|about|now|should be|if|\
    mum says|the other way round|except";

fn one_of(words: &'static str) -> impl Strategy<Value = String> {
    select(words.split('|').map(str::to_owned).collect::<Vec<_>>())
}

/// Any characters there are, with those that mean something to the reading more often than by chance.
fn any_characters() -> impl Strategy<Value = String> {
    let character = prop_oneof![
        4 => any::<char>(),
        2 => select(TREACHEROUS.chars().collect::<Vec<_>>()),
        4 => proptest::char::range('a', 'z'),
        2 => Just(' '),
    ];
    proptest::collection::vec(character, 0..160).prop_map(|characters| characters.into_iter().collect())
}

/// The lexicon's own phrases, whole or cut, with numbers, sides and stops, in any order.
fn trade_talk() -> impl Strategy<Value = String> {
    let phrases: Vec<String> = LEXICON.phrases.iter().map(|phrase| phrase.text.clone()).collect();
    let cut = (select(phrases.clone()), any::<Index>()).prop_map(|(phrase, at)| {
        let ends: Vec<usize> = phrase.char_indices().map(|(at, _)| at).collect();
        phrase[..*at.get(&ends)].to_owned()
    });
    let number = prop_oneof![one_of(NUMBERS), "[0-9]{1,12}", "[0-9]{0,4}[.,+/-]{1,2}[0-9]{1,4}", one_of(NUMBER_WORDS),];
    let piece = prop_oneof![
        6 => select(phrases),
        2 => one_of(CUES),
        3 => number,
        1 => one_of(UNITS),
        1 => cut,
        1 => "\\PC{1,4}",
    ];
    let stop = prop_oneof![6 => Just(" "), 3 => select(vec![", ", ". ", "? ", "\n", " - ", "... ", "", "-", "'s "])];
    proptest::collection::vec((piece, stop), 0..50)
        .prop_map(|pieces| pieces.into_iter().flat_map(|(piece, stop)| [piece, stop.to_owned()]).collect())
}

#[test]
fn any_characters_are_read() {
    holds(cases(), any_characters, |text| _ = check_text(text));
}

#[test]
fn any_talk_of_the_trade_gives_findings_of_the_contract() {
    static FOUND: AtomicUsize = AtomicUsize::new(0);
    holds(cases(), trade_talk, |text| {
        FOUND.fetch_add(check_text(text), Relaxed);
    });
    let (found, cases) = (FOUND.load(Relaxed), cases() as usize);
    println!("{found} findings in {cases} texts");
    assert!(found > cases, "only {found} findings in {cases} texts");
}

//! What holds for words that nobody wrote: any text is read.
//! Takes texts of any characters, and of the trade's own words in any order; fails on a panic, on a place that is not in
//! the words, on a finding that is not of the contract, and where no answer comes. `PROPTEST_CASES=100000` tries that
//! many of each kind. Leaves alone whether findings are right (`corpus`).

use std::collections::BTreeMap;
use std::fmt::Debug;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use proptest::prelude::*;
use proptest::sample::{Index, select};
use proptest::test_runner::TestRunner;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::lexicon::compile::OPEN_VALUES;
use spoken_exam::lexicon::quantities::{Amount, Figure, Point, Unit};
use spoken_exam::reading::{self, Reading, Reason, Side, Statement, Value};
use spoken_exam::span::Span;
use spoken_exam::speech::Utterance;

use crate::corpus::LEXICON;

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
    check: fn(&S::Value) -> Result<(), TestCaseError>,
) {
    let (begun, case) = mpsc::channel();
    let config = ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() };
    let runner = std::thread::spawn(move || {
        let outcome = TestRunner::new(config).run(&strategy(), |value| {
            let _ = begun.send(format!("{value:?}"));
            check(&value)
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

/// What the contract says of an item.
struct Promise {
    paired: bool,
    values: Vec<String>,
    units: Vec<String>,
    limits: Option<(f64, f64)>,
}

static CONTRACT: LazyLock<BTreeMap<String, Promise>> = LazyLock::new(|| {
    let contract: toml::Table = toml::from_str(include_str!("../reference/exam-items.toml")).expect("it is TOML");
    let items = contract.values().filter_map(toml::Value::as_table).flatten();
    items.map(|(id, item)| (id.clone(), promise(item))).collect()
});

fn promise(item: &toml::Value) -> Promise {
    let list = |key: &str| item.get(key).and_then(toml::Value::as_array).into_iter().flatten();
    let number = |limit: &toml::Value| limit.as_float().or(limit.as_integer().map(|whole| whole as f64));
    let limits: Vec<f64> = list("plausible").filter_map(number).collect();
    Promise {
        paired: item["sides"].as_str() == Some("paired"),
        values: list("values").filter_map(toml::Value::as_str).map(str::to_owned).collect(),
        units: item
            .get("measure")
            .and_then(toml::Value::as_str)
            .map_or(Vec::new(), |units| units.split('|').map(str::to_owned).collect()),
        limits: limits.first().copied().zip(limits.get(1).copied()),
    }
}

pub(crate) fn read(lexicon: &Lexicon, text: &str) -> (Vec<Utterance>, Reading) {
    let utterances: Vec<Utterance> = text.lines().map(Utterance::from_text).collect();
    let reading = reading::read(lexicon, &utterances);
    (utterances, reading)
}

pub(crate) fn every_statement(reading: &Reading) -> impl Iterator<Item = &Statement> {
    let of_findings = reading.findings.iter().flat_map(|finding| finding.replaced.iter().chain([&finding.stands]));
    reading.statements.iter().chain(of_findings)
}

/// Checks that a statement points at words and says something of its item, whatever the lexicon.
pub(crate) fn check_statement(
    lexicon: &Lexicon,
    utterances: &[Utterance],
    said: &Statement,
) -> Result<(), TestCaseError> {
    let proof = &said.because;
    for span in proof.item.iter().chain([&proof.quote, &proof.value]).chain(&proof.sides) {
        prop_assert!(is_of_words(utterances, *span), "{span:?} is no place in the words: {said:?}");
    }
    let Some(item) = lexicon.items.get(said.item) else {
        return Err(TestCaseError::fail(format!("no such item: {said:?}")));
    };
    let sided = matches!(said.side, Side::Left | Side::Right | Side::Both | Side::Unstated);
    prop_assert_eq!(sided, item.paired, "the side of {}: {:?}", item.id, said);
    match &said.value {
        Value::Choice(value) => prop_assert!(*value < item.values.len(), "no value of {}: {said:?}", item.id),
        Value::Amount(amount) => {
            let units = item.measure.as_ref().map_or(&[][..], |measure| &measure.units);
            prop_assert!(units.contains(&amount.unit), "no unit of {}: {said:?}", item.id);
        }
    }
    Ok(())
}

fn is_of_words(utterances: &[Utterance], span: Span) -> bool {
    let Some(utterance) = utterances.get(span.utterance) else { return false };
    let words = utterance.words.get(span.first..span.past).unwrap_or_default();
    let written = words.first().zip(words.last()).and_then(|(first, last)| utterance.text.get(first.start..last.end));
    written.is_some_and(|written| !written.is_empty())
}

/// Checks a finding of the built-in lexicon against the contract.
fn check_finding(finding: &reading::Finding) -> Result<(), TestCaseError> {
    let said = &finding.stands;
    let item = &LEXICON.items[said.item];
    let Some(promise) = CONTRACT.get(&item.id) else {
        return Err(TestCaseError::fail(format!("{} is not of the contract", item.id)));
    };
    let sides = if promise.paired { &[Side::Left, Side::Right, Side::Unstated][..] } else { &[Side::None] };
    prop_assert!(sides.contains(&said.side), "{} {:?}", item.id, said.side);
    match &said.value {
        Value::Choice(value) => {
            let id = &item.values[*value].id;
            let is_number = promise.units.iter().any(|unit| {
                id.strip_suffix(unit.as_str()).is_some_and(|number| number.parse().is_ok_and(|n| is_within(n, promise)))
            });
            let known = promise.values.contains(id) || OPEN_VALUES.contains(&id.as_str()) || is_number;
            prop_assert!(known, "{} has no value {id}", item.id);
        }
        Value::Amount(amount) => check_amount(&item.id, promise, amount, finding)?,
    }
    Ok(())
}

fn is_within(number: f64, promise: &Promise) -> bool {
    promise.limits.is_none_or(|(least, most)| (least..=most).contains(&number))
}

/// Checks that an amount is in a unit of its item, and within its limits or marked as beyond them.
fn check_amount(id: &str, promise: &Promise, amount: &Amount, finding: &reading::Finding) -> Result<(), TestCaseError> {
    let unit = amount.unit.written().unwrap_or_default();
    prop_assert!(promise.units.iter().any(|known| known == unit), "{id} is not measured so: {amount}");
    let (from, to) = match amount.figure {
        Figure::One(point) => (point, point),
        Figure::Range(from, to) => (from, to),
    };
    let number = |point| number_of(point, amount.unit, promise);
    prop_assert!(number(from)? <= number(to)?, "{id} from more to less: {amount}");
    let is_within = is_within(number(from)?, promise) && is_within(number(to)?, promise);
    let is_marked = finding.reasons.contains(&Reason::OutsideLimits);
    prop_assert_eq!(is_within, !is_marked, "{} {} with {:?}", id, amount, finding.reasons);
    Ok(())
}

/// A point in the item's first unit.
fn number_of(point: Point, unit: Unit, promise: &Promise) -> Result<f64, TestCaseError> {
    let number = match point {
        Point::Plain(number) => {
            number.to_string().parse::<f64>().map_err(|error| TestCaseError::fail(error.to_string()))
        }
        Point::Weeks { weeks, days } if (0..7).contains(&days) => Ok(weeks as f64 + days as f64 / 7.0),
        Point::Weeks { .. } => Err(TestCaseError::fail(format!("no such week: {point}"))),
    }?;
    let in_grams = unit == Unit::Kilogram && promise.units.first().is_some_and(|unit| unit == "g");
    Ok(if in_grams { (number * 1000.0).round() } else { number })
}

/// Checks what a text is read as; gives the number of findings.
fn check_text(text: &str) -> Result<usize, TestCaseError> {
    let (utterances, reading) = read(&LEXICON, text);
    for said in every_statement(&reading) {
        check_statement(&LEXICON, &utterances, said)?;
    }
    for finding in &reading.findings {
        check_finding(finding)?;
    }
    prop_assert_eq!(&reading, &read(&LEXICON, text).1, "read twice");
    Ok(reading.findings.len())
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
    holds(cases(), any_characters, |text| check_text(text).map(drop));
}

#[test]
fn any_talk_of_the_trade_gives_findings_of_the_contract() {
    static FOUND: AtomicUsize = AtomicUsize::new(0);
    holds(cases(), trade_talk, |text| {
        FOUND.fetch_add(check_text(text)?, Relaxed);
        Ok(())
    });
    let (found, cases) = (FOUND.load(Relaxed), cases() as usize);
    println!("{found} findings in {cases} texts");
    assert!(found > cases, "only {found} findings in {cases} texts");
}

//! What holds of every reading and every lexicon file, whoever made it up.
//! Takes a lexicon with what it read, or a fault of a file; panics where a place is not in the words, a finding is not of the
//! contract, or an error names no place. Leaves alone where texts and files come from: the suite (`foreign`,
//! `foreign_files`) and the fuzzing program make them up.
//!
//! a finding whose quote lies outside of its line is no finding

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

use spoken_exam::lexicon::compile::OPEN_VALUES;
use spoken_exam::lexicon::load::Source;
use spoken_exam::lexicon::quantities::{Amount, Figure, Point, Unit};
use spoken_exam::lexicon::{Lexicon, LexiconError};
use spoken_exam::reading::{self, Reading, Reason, Side, Statement, Value};
use spoken_exam::span::Span;
use spoken_exam::speech::Utterance;

/// The lexicon that the program carries.
pub(crate) static LEXICON: LazyLock<Lexicon> =
    LazyLock::new(|| Lexicon::load(None).expect("the lexicon has no faults"));

/// What the contract says of an item.
struct Promise {
    paired: bool,
    values: Vec<String>,
    units: Vec<String>,
    limits: Option<(f64, f64)>,
}

static CONTRACT: LazyLock<BTreeMap<String, Promise>> = LazyLock::new(|| {
    let contract: toml::Table = toml::from_str(include_str!("../../reference/exam-items.toml")).expect("it is TOML");
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
pub(crate) fn check_statement(lexicon: &Lexicon, utterances: &[Utterance], said: &Statement) {
    let proof = &said.because;
    for span in proof.item.iter().chain([&proof.quote, &proof.value]).chain(&proof.sides) {
        assert!(is_of_words(utterances, *span), "{span:?} is no place in the words: {said:?}");
    }
    let Some(item) = lexicon.items.get(said.item) else { panic!("no such item: {said:?}") };
    let sided = matches!(said.side, Side::Left | Side::Right | Side::Both | Side::Unstated);
    assert_eq!(sided, item.paired, "the side of {}: {:?}", item.id, said);
    match &said.value {
        Value::Choice(value) => assert!(*value < item.values.len(), "no value of {}: {said:?}", item.id),
        Value::Amount(amount) => {
            let units = item.measure.as_ref().map_or(&[][..], |measure| &measure.units);
            assert!(units.contains(&amount.unit), "no unit of {}: {said:?}", item.id);
        }
    }
}

fn is_of_words(utterances: &[Utterance], span: Span) -> bool {
    let Some(utterance) = utterances.get(span.utterance) else { return false };
    let words = utterance.words.get(span.first..span.past).unwrap_or_default();
    let written = words.first().zip(words.last()).and_then(|(first, last)| utterance.text.get(first.start..last.end));
    written.is_some_and(|written| !written.is_empty())
}

/// Checks a finding of the built-in lexicon against the contract.
fn check_finding(finding: &reading::Finding) {
    let said = &finding.stands;
    let item = &LEXICON.items[said.item];
    let Some(promise) = CONTRACT.get(&item.id) else { panic!("{} is not of the contract", item.id) };
    let sides = if promise.paired { &[Side::Left, Side::Right, Side::Unstated][..] } else { &[Side::None] };
    assert!(sides.contains(&said.side), "{} {:?}", item.id, said.side);
    match &said.value {
        Value::Choice(value) => {
            let id = &item.values[*value].id;
            let is_number = promise.units.iter().any(|unit| {
                id.strip_suffix(unit.as_str()).is_some_and(|number| number.parse().is_ok_and(|n| is_within(n, promise)))
            });
            let known = promise.values.contains(id) || OPEN_VALUES.contains(&id.as_str()) || is_number;
            assert!(known, "{} has no value {id}", item.id);
        }
        Value::Amount(amount) => check_amount(&item.id, promise, amount, finding),
    }
}

fn is_within(number: f64, promise: &Promise) -> bool {
    promise.limits.is_none_or(|(least, most)| (least..=most).contains(&number))
}

/// Checks that an amount is in a unit of its item, and within its limits or marked as beyond them.
fn check_amount(id: &str, promise: &Promise, amount: &Amount, finding: &reading::Finding) {
    let unit = amount.unit.written().unwrap_or_default();
    assert!(promise.units.iter().any(|known| known == unit), "{id} is not measured so: {amount}");
    let (from, to) = match amount.figure {
        Figure::One(point) => (point, point),
        Figure::Range(from, to) => (from, to),
    };
    let number = |point| number_of(point, amount.unit, promise);
    assert!(number(from) <= number(to), "{id} from more to less: {amount}");
    let is_within = is_within(number(from), promise) && is_within(number(to), promise);
    let is_marked = finding.reasons.contains(&Reason::OutsideLimits);
    assert_eq!(is_within, !is_marked, "{} {} with {:?}", id, amount, finding.reasons);
}

/// A point in the item's first unit.
fn number_of(point: Point, unit: Unit, promise: &Promise) -> f64 {
    let number = match point {
        Point::Plain(number) => number.to_string().parse::<f64>().expect("a number"),
        Point::Weeks { weeks, days } if (0..7).contains(&days) => weeks as f64 + days as f64 / 7.0,
        Point::Weeks { .. } => panic!("no such week: {point}"),
    };
    let in_grams = unit == Unit::Kilogram && promise.units.first().is_some_and(|unit| unit == "g");
    if in_grams { (number * 1000.0).round() } else { number }
}

/// Checks what a text is read as; gives the number of findings.
pub(crate) fn check_text(text: &str) -> usize {
    let (utterances, reading) = read(&LEXICON, text);
    for said in every_statement(&reading) {
        check_statement(&LEXICON, &utterances, said);
    }
    for finding in &reading.findings {
        check_finding(finding);
    }
    assert_eq!(&reading, &read(&LEXICON, text).1, "read twice");
    reading.findings.len()
}

/// Checks that a lexicon reads what is made of its own phrases.
pub(crate) fn check_own_phrases(lexicon: &Lexicon) {
    let step = lexicon.phrases.len() / 40 + 1;
    let phrases: Vec<&str> = lexicon.phrases.iter().step_by(step).map(|phrase| phrase.text.as_str()).collect();
    for text in [phrases.join(" "), phrases.join(", "), phrases.join(" on the left.\nNo ninety five ")] {
        let (utterances, reading) = read(lexicon, &text);
        for said in every_statement(&reading) {
            check_statement(lexicon, &utterances, said);
        }
    }
}

/// Checks that an error says which file, which line of it, and what is wrong there.
pub(crate) fn check_error(name: &str, sources: &[Source], error: &LexiconError) {
    match error {
        LexiconError::Unreadable { file, .. } => {
            assert!(file.ends_with(Path::new(name)) && error.to_string().contains(name), "{error}");
        }
        LexiconError::Attention { .. } => panic!("no word was given: {error}"),
        LexiconError::Faults(faults) => {
            assert!(!faults.is_empty());
            for fault in faults {
                let source = sources.iter().find(|source| source.file == fault.file);
                let lines = source.map(|source| source.text.split('\n').count());
                assert!(lines.is_some_and(|lines| fault.line <= lines), "no such place: {fault}");
                assert!(!fault.what.trim().is_empty() && !fault.what.contains('\n'), "{fault}");
                assert!(error.to_string().contains(name) || fault.file != name, "{error}");
            }
        }
    }
}

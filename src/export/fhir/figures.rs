//! What is reckoned from the record → Observations that say so.
//! Takes ages and sizes for age; gives Observations with the findings that they rest on, the standard, and the sex and
//! age used. The signature does not cover them: they are preliminary, made by the software, and nobody performed them.
//! Leaves alone prompts, and what is usual at an age: neither is exported.
//!
//! a z-score of 0.03 by the WHO standard is an Observation with `derivedFrom` the measurement and the standard as its
//! method

use serde_json::{Value, json};

use super::names::{UCUM, role_of};
use super::{Document, Resource, codes};
use crate::computed::growth::Score;
use crate::computed::{Age, Size};
use crate::lexicon::codes::Loinc;
use crate::record::FindingId;

const Z_UNIT: &str = "standard deviations";
const NOT_SIGNED: &str = "Reckoned by the software; the signature does not cover it";

/// Every figure, ages first.
pub(super) fn figures(document: &Document<'_>) -> Vec<Resource> {
    let computed = document.whole.computed;
    let ages = computed.ages.iter().map(age);
    let sizes = computed.sizes.iter().filter_map(|size| Some((size, size.outcome.as_ref().ok()?)));
    let sizes = sizes.flat_map(|(size, score)| [z_score(document, size, score), centile(document, size, score)]);
    (1..).zip(ages.chain(sizes)).map(|(number, told)| figure(document, number, &told)).collect()
}

/// Figures, and why there are none, in lines for people.
pub(super) fn lines(document: &Document<'_>) -> Vec<String> {
    let computed = document.whole.computed;
    let ages = computed.ages.iter().map(|age| with_notes(format!("{}: {}", age.kind.words(), age.words), &age.notes));
    let no_ages = computed.no_ages.iter().cloned();
    let sizes = computed.sizes.iter().map(size_line);
    ages.chain(no_ages).chain(sizes).collect()
}

fn size_line(size: &Size) -> String {
    let words = match &size.outcome {
        Ok(score) => format!(
            "{} {}: z {}, centile {}, by {} ({})",
            size.name,
            size.value,
            z_words(score.z),
            centile_words(score.centile),
            score.standard.words(),
            size.used
        ),
        Err(why) => format!("{} {}: no z-score, {why}", size.name, size.value),
    };
    with_notes(words, &size.all_notes())
}

fn with_notes(words: String, notes: &[String]) -> String {
    if notes.is_empty() { words } else { format!("{words}; {}", notes.join("; ")) }
}

fn z_words(z: f64) -> String {
    format!("{:.2}", rounded(z, 100.0))
}

// Beyond the first and the last tenth of a percent a rounded number would be false.
fn centile_words(centile: f64) -> String {
    match bounded(centile) {
        (Some(comparator), bound) => format!("{comparator}{bound}"),
        (None, centile) => format!("{centile:.1}"),
    }
}

fn bounded(centile: f64) -> (Option<&'static str>, f64) {
    match centile {
        centile if centile < 0.1 => (Some("<"), 0.1),
        centile if centile > 99.9 => (Some(">"), 99.9),
        centile => (None, rounded(centile, 10.0)),
    }
}

// Never "-0.00".
fn rounded(figure: f64, steps: f64) -> f64 {
    (figure * steps).round() / steps + 0.0
}

/// What a figure tells.
struct Told<'a> {
    name: String,
    loinc: &'a [Loinc],
    value: Value,
    method: Option<&'a str>,
    notes: Vec<String>,
    from: &'a [FindingId],
    /// Whether it is of the moment of birth, not of the examination.
    at_birth: bool,
}

fn age(age: &Age) -> Told<'_> {
    let value = json!({ "value": age.days, "unit": "d", "system": UCUM, "code": "d" });
    let notes = [vec![age.words.clone()], age.notes.clone(), vec![format!("Defined by: {}", age.source)]].concat();
    let name = age.kind.words().to_owned();
    Told { name, loinc: &[], value, method: None, notes, from: &age.from, at_birth: false }
}

fn z_score<'a>(document: &Document<'a>, size: &'a Size, score: &Score) -> Told<'a> {
    let value = json!({ "value": rounded(score.z, 100.0), "unit": Z_UNIT });
    sized(document, size, score, ("z-score", &[]), value)
}

fn centile<'a>(document: &Document<'a>, size: &'a Size, score: &Score) -> Told<'a> {
    let (comparator, centile) = bounded(score.centile);
    let value = json!({ "value": centile, "comparator": comparator, "unit": "%", "system": UCUM, "code": "%" });
    let loinc = document.codes.item(&size.item).map_or(&[] as &[Loinc], |codes| &codes.centile);
    sized(document, size, score, ("centile", loinc), value)
}

fn sized<'a>(
    document: &Document<'a>,
    size: &'a Size,
    score: &Score,
    (what, loinc): (&str, &'a [Loinc]),
    value: Value,
) -> Told<'a> {
    let mut notes = vec![format!("Of {} {}", size.name, size.value), format!("Sex and age used: {}", size.used)];
    notes.extend((!size.why.is_empty()).then(|| format!("Why this standard: {}", size.why)));
    notes.extend(size.all_notes());
    Told {
        name: format!("{} {what}", size.name),
        loinc,
        value,
        method: Some(score.standard.words()),
        notes,
        from: std::slice::from_ref(&size.finding),
        at_birth: document.codes.item(&size.item).is_some_and(|codes| codes.at_birth),
    }
}

// Only what stands in this record can be pointed at.
fn figure(document: &Document<'_>, number: usize, told: &Told<'_>) -> Resource {
    let role = format!("reckoned-{number}");
    let stands = |id: &&FindingId| document.whole.signed.findings().iter().any(|found| found.finding == **id);
    let reference = |id: &FindingId| document.names.reference(&role_of(*id), "Observation");
    let notes = std::iter::once(NOT_SIGNED).chain(told.notes.iter().map(String::as_str));
    let content = json!({
        "resourceType": "Observation",
        "id": document.names.id(&role),
        "status": "preliminary",
        "category": codes::exam(),
        "code": codes::reckoned(told.loinc, &told.name.replace(' ', "-"), &told.name),
        "subject": document.infant(),
        "effectiveDateTime": document.examined.as_ref().filter(|_| !told.at_birth),
        "valueQuantity": told.value,
        "note": notes.map(|words| json!({ "text": words })).collect::<Vec<_>>(),
        "method": told.method.map(|words| json!({ "text": words })),
        "device": document.software(),
        "derivedFrom": told.from.iter().filter(stands).map(reference).collect::<Vec<_>>(),
    });
    Resource { role, content }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_without_becoming_false() {
        assert_eq!((z_words(-0.001), z_words(1.005), z_words(-2.346)), ("0.00".into(), "1.00".into(), "-2.35".into()));
        assert_eq!(
            (centile_words(99.97), centile_words(0.02), centile_words(50.04)),
            (">99.9".into(), "<0.1".into(), "50.0".into())
        );
    }
}

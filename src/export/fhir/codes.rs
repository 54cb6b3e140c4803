//! Codes as FHIR has them.
//! Takes codes of the lexicon and of ours; gives codings and concepts. Leaves alone which code belongs to what
//! (`lexicon::codes`).
//!
//! an item with a LOINC code has that first, and always its own id behind

use serde_json::{Value, json};

use super::names::{ABSENT, ITEM, LOINC, RECKONED, SECTION};
use crate::lexicon::codes::{Codes, Loinc};

const CATEGORY: &str = "http://terminology.hl7.org/CodeSystem/observation-category";
const ABSENT_REASON: &str = "http://terminology.hl7.org/CodeSystem/data-absent-reason";

pub(super) fn coding(system: &str, code: &str, display: &str) -> Value {
    json!({ "system": system, "code": code, "display": display })
}

fn concept(loinc: &[Loinc], own: Value, text: &str) -> Value {
    let mut all: Vec<Value> = loinc.iter().map(|loinc| coding(LOINC, &loinc.code, &loinc.display)).collect();
    all.push(own);
    json!({ "coding": all, "text": text })
}

/// An item.
pub(super) fn item(codes: &Codes, id: &str, name: &str) -> Value {
    let loinc = codes.item(id).map_or(&[] as &[Loinc], |codes| &codes.loinc);
    concept(loinc, coding(ITEM, id, name), name)
}

/// A figure that is reckoned.
pub(super) fn reckoned(loinc: &[Loinc], code: &str, name: &str) -> Value {
    concept(loinc, coding(RECKONED, code, name), name)
}

/// A section.
pub(super) fn section(loinc: &[Loinc], title: &str) -> Value {
    concept(loinc, coding(SECTION, &title.replace(' ', "-"), title), title)
}

/// The document's type.
pub(super) fn document(codes: &Codes, title: &str) -> Value {
    let all: Vec<Value> =
        codes.document().loinc.iter().map(|loinc| coding(LOINC, &loinc.code, &loinc.display)).collect();
    json!({ "coding": all, "text": title })
}

pub(super) fn vital_signs() -> Value {
    json!([{ "coding": [coding(CATEGORY, "vital-signs", "Vital Signs")] }])
}

pub(super) fn exam() -> Value {
    json!([{ "coding": [coding(CATEGORY, "exam", "Exam")] }])
}

/// Why a result has no value: it was not tried.
pub(super) fn not_performed() -> Value {
    json!({ "coding": [coding(ABSENT_REASON, "not-performed", "Not Performed")], "text": "not tested" })
}

/// What stands in place of something that nobody said.
pub(super) fn unknown() -> Value {
    json!({ "extension": [{ "url": ABSENT, "valueCode": "unknown" }] })
}

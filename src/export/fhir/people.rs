//! Whose record it is, who decided and signed it, and what made it.
//! Takes the signed record and the remarks about it; gives Patient, Practitioners and Device. Nothing is invented: no
//! day of birth, no name, no sex that nobody confirmed. Leaves alone findings.
//!
//! "cot 7" is an identifier, given as words; without it the identifier is said to be unknown

use serde_json::{Value, json};

use super::codes::unknown;
use super::{Document, Resource};
use crate::record::{Person, SignedRecord};
use crate::speech::ModelIdentity;

pub(super) const INFANT: &str = "infant";
pub(super) const SOFTWARE: &str = "software";

/// A person, with the part they play.
pub(super) struct Someone<'a> {
    pub(super) role: String,
    pub(super) person: &'a Person,
}

/// The signer, and everybody who decided something, in order of their first decision.
pub(super) fn everybody(signed: &SignedRecord) -> Vec<Someone<'_>> {
    let mut people: Vec<Someone<'_>> = Vec::new();
    for person in std::iter::once(signed.signer()).chain(signed.entries().iter().map(|entry| &entry.by)) {
        if people.iter().all(|known| known.person != person) {
            people.push(Someone { role: format!("person-{}", people.len() + 1), person });
        }
    }
    people
}

impl Document<'_> {
    pub(super) fn infant(&self) -> Value {
        self.names.reference(INFANT, "Patient")
    }

    pub(super) fn signer(&self) -> Value {
        self.names.reference("person-1", "Practitioner")
    }

    pub(super) fn software(&self) -> Value {
        self.names.reference(SOFTWARE, "Device")
    }
}

pub(super) fn infant(document: &Document<'_>) -> Resource {
    let whole = document.whole;
    let known =
        whole.remarks.infant().map(|remark| super::text::clean(&remark.words)).filter(|words| !words.is_empty());
    let identifier = known.map_or_else(
        unknown,
        |words| json!({ "type": { "text": "the words by which the chart knows the infant" }, "value": words }),
    );
    let content = json!({
        "resourceType": "Patient",
        "id": document.names.id(INFANT),
        "identifier": [identifier],
        "gender": gender(document),
        "_birthDate": unknown(),
    });
    Resource { role: INFANT.to_owned(), content }
}

// From the one finding whose values say it; where two stand that differ, none.
fn gender(document: &Document<'_>) -> Option<String> {
    let said = document
        .whole
        .signed
        .findings()
        .iter()
        .filter_map(|found| document.codes.item(&found.item).and_then(|codes| codes.gender.get(&found.value)));
    let mut said: Vec<&String> = said.collect();
    said.dedup();
    if let [one] = said[..] { Some(one.clone()) } else { None }
}

pub(super) fn people(document: &Document<'_>) -> Vec<Resource> {
    let resource = |someone: &Someone<'_>| {
        let content = json!({
            "resourceType": "Practitioner",
            "id": document.names.id(&someone.role),
            "name": [{ "text": someone.person.name() }],
            // The role in which they signed, in their own words.
            "qualification": [{ "code": { "text": someone.person.role() } }],
        });
        Resource { role: someone.role.clone(), content }
    };
    document.people.iter().map(resource).collect()
}

pub(super) fn software(document: &Document<'_>) -> Resource {
    let draft = document.whole.signed.draft();
    let version = |what: &str, value: &str| json!({ "type": { "text": what }, "value": value });
    let mut versions = vec![
        version("program that made the draft", &draft.program),
        version(
            "program that wrote this document",
            &format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION")),
        ),
        version("lexicon, SHA-256", &draft.lexicon),
    ];
    versions.extend(draft.model.iter().map(|model| version("speech model", &model_words(model))));
    versions.extend(draft.other_models.iter().map(|model| version("speech model, heard again", &model_words(model))));
    let rules = super::text::clean(&document.whole.computed.rules);
    versions.extend((!rules.is_empty()).then(|| version("rules of what is reckoned", &rules)));
    let content = json!({
        "resourceType": "Device",
        "id": document.names.id(SOFTWARE),
        "deviceName": [{ "name": env!("CARGO_PKG_NAME"), "type": "model-name" }],
        "type": { "text": "software that turns a spoken examination into a draft record" },
        "version": versions,
    });
    Resource { role: SOFTWARE.to_owned(), content }
}

fn model_words(model: &ModelIdentity) -> String {
    let precision = model.precision.as_ref().map_or_else(String::new, |precision| format!(" {precision}"));
    let sha256 = if model.sha256.is_empty() { String::new() } else { format!(", SHA-256 {}", model.sha256) };
    format!("{}{precision}{sha256}", model.name)
}

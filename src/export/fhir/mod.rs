//! Signed record → FHIR R4 (4.0.1): one document that an electronic health record can take in.
//! Takes a signed record with what is reckoned from it; gives a Bundle of type `document` as JSON, the same for the
//! same record byte by byte. Every finding is one Observation; what was not mentioned is none, and no prompt, no score
//! and no "normal" that nobody said is in it. Leaves alone sending it anywhere, and drafts: there is no export of what
//! nobody signed.
//! Files, in reading order: `names` ids and URLs, `text` safe texts, `codes` codes and references, `people` infant,
//! persons and software, `values` a finding's value, `observation` findings, `figures` what is reckoned, `composition`
//! the document's sections, `provenance` who, from what, and the signature.
//!
//! "no clonus on the left", signed, gives one Observation with the value `absent` and the body site "left ankle"

mod codes;
mod composition;
mod figures;
mod names;
mod observation;
mod people;
mod provenance;
mod text;
mod values;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::export::{Whole, to_json};
use crate::lexicon::codes::Codes;
use crate::record::Moment;
use names::Names;

/// Why a record cannot be written as FHIR.
#[derive(Debug, Error)]
pub enum FhirError {
    /// The signature's hash is none.
    #[error("`{0}` is not what a signature covers: 64 hexadecimal digits; take the SHA-256 that the store gives")]
    NoHash(String),
    /// FHIR has no way to write the time.
    #[error(
        "the time {0} of the signature cannot be written: FHIR has years with four digits; set the machine's clock"
    )]
    NoInstant(Moment),
    /// The serialiser failed.
    #[error("the record cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// What every part of the document needs.
struct Document<'a> {
    whole: &'a Whole<'a>,
    codes: &'a Codes,
    names: Names,
    /// When it was signed, as FHIR writes it.
    signed_at: String,
    /// The day of the examination, where it is known.
    examined: Option<String>,
    /// Everybody who decided or signed, the signer first.
    people: Vec<people::Someone<'a>>,
    /// The draft's SHA-256, as the store has it.
    draft_sha256: String,
}

/// A resource with the name by which the document knows it.
struct Resource {
    role: String,
    content: Value,
}

/// The signed record as a FHIR R4 document, indented, with a line feed at the end.
///
/// # Errors
/// If the signature's hash or time is none that can be written.
pub fn to_fhir(whole: &Whole<'_>) -> Result<String, FhirError> {
    let document = Document::of(whole)?;
    let findings = observation::findings(&document);
    let figures = figures::figures(&document);
    let mut resources = vec![composition::composition(&document, &figures), people::infant(&document)];
    resources.extend(people::people(&document));
    resources.extend(findings);
    let reckoned: Vec<String> = figures.iter().map(|figure| figure.role.clone()).collect();
    resources.extend(figures);
    resources.push(people::software(&document));
    resources.extend(provenance::provenance(&document, &reckoned)?);
    let entries: Vec<Value> = resources.into_iter().map(|resource| document.entry(resource)).collect();
    let bundle = json!({
        "resourceType": "Bundle",
        "id": document.names.id("bundle"),
        "identifier": names::version_identifier(whole.id, whole.signed.version()),
        "type": "document",
        "timestamp": document.signed_at,
        "entry": entries,
    });
    let mut json = serde_json::to_string_pretty(&text::filled(bundle))?;
    json.push('\n');
    Ok(json)
}

impl<'a> Document<'a> {
    fn of(whole: &'a Whole<'a>) -> Result<Self, FhirError> {
        let signed = whole.signed;
        let draft = to_json(signed.draft())?;
        Ok(Self {
            whole,
            codes: &whole.lexicon.beside.codes,
            names: Names::new(whole.id, signed.version()),
            signed_at: names::instant(signed.at()).ok_or(FhirError::NoInstant(signed.at()))?,
            examined: whole.remarks.examined().and_then(|remark| names::day(&remark.words)),
            people: people::everybody(signed),
            draft_sha256: format!("{:x}", Sha256::digest(draft.as_bytes())),
        })
    }

    fn entry(&self, resource: Resource) -> Value {
        json!({ "fullUrl": self.names.url(&resource.role), "resource": resource.content })
    }
}

//! The document's first page: what it is, of whom, by whom, and its sections.
//! Takes the signed record and the figures; gives a Composition whose sections are the regions of the record, what is
//! reckoned, what was lost, and what was not mentioned, each readable by itself. Leaves alone the Observations that
//! they point to.
//!
//! "Not mentioned" is words only, which say that this is not the same as normal

use serde_json::{Value, json};

use super::names::{EXAMINED_AS_WRITTEN, RECORD, role_of, version_identifier};
use super::text::{list, narrative, paragraph};
use super::{Document, Resource, codes, figures, observation};
use crate::export::words::span_words;
use crate::lexicon::codes::Loinc;
use crate::record::{DraftFinding, Loss, Notice, SignedFinding};

/// What a reader of any such document must know. From the project's cautions: common practice, no source.
const CAUTION: &str = "A computer program drafted this record from speech; the person who signed it stands for every \
     finding. What is listed as not mentioned was not said, which does not make it normal. This is no full newborn \
     check.";
const NOT_MENTIONED: &str = "These items were not mentioned. That is not the same as normal: nothing is known of them \
     from this examination.";
const REJECTED: &str = "The draft had findings for these, and a person rejected them. No finding stands, which is not \
     the same as normal:";
const RECKONED: &str = "Computed by the program from the findings above, by published standards. Nobody measured \
     these figures, and the signature does not cover them.";
const LOST: &str = "Something that was said may be missing from this record:";

/// The document, and the part that everything else is found from.
pub(super) fn composition(document: &Document<'_>, reckoned: &[Resource]) -> Resource {
    let (whole, signed) = (document.whole, document.whole.signed);
    let title = title(document);
    let sections =
        [regions(document), vec![reckoned_section(document, reckoned), lost(document), silent(document)]].concat();
    let replaced = signed
        .predecessor()
        .map(|version| json!([{ "code": "replaces", "targetIdentifier": version_identifier(whole.id, version) }]));
    let content = json!({
        "resourceType": "Composition",
        "id": document.names.id("composition"),
        "text": narrative(&front(document, &title)),
        "extension": whole.remarks.examined().map(|remark| {
            json!([{ "url": EXAMINED_AS_WRITTEN, "valueString": remark.words }])
        }),
        "identifier": { "system": RECORD, "value": whole.id },
        "status": if replaced.is_some() { "amended" } else { "final" },
        "type": codes::document(document.codes, &title),
        "subject": document.infant(),
        "date": document.signed_at,
        "author": [document.signer()],
        "title": title,
        "attester": [{ "mode": "professional", "time": document.signed_at, "party": document.signer() }],
        "relatesTo": replaced,
        "event": document.examined.as_ref().map(|day| {
            json!([{ "code": [{ "text": title }], "period": { "start": day, "end": day } }])
        }),
        "section": sections,
    });
    Resource { role: "composition".to_owned(), content }
}

fn title(document: &Document<'_>) -> String {
    let title = &document.codes.document().title;
    if title.trim().is_empty() { "Examination".to_owned() } else { title.clone() }
}

fn front(document: &Document<'_>, title: &str) -> Vec<String> {
    let (remarks, signed) = (document.whole.remarks, document.whole.signed);
    let words = |remark: Option<&crate::record::remarks::Remark>, without: &str| {
        remark.map_or_else(|| without.to_owned(), |remark| remark.words.clone())
    };
    let mut lines = vec![
        format!("Infant: {}", words(remarks.infant(), "not stated")),
        format!("Examined: {}", words(remarks.examined(), "not stated")),
        format!("Signed: version {} by {}, {}", signed.version(), signed.signer(), document.signed_at),
    ];
    lines.extend(signed.reason().map(|reason| format!("Amended because: {reason}")));
    vec![paragraph(title), list(&lines), paragraph(CAUTION)]
}

fn section(title: &str, loinc: &[Loinc], text: &[String], entries: Vec<Value>) -> Value {
    json!({ "title": title, "code": codes::section(loinc, title), "text": narrative(text), "entry": entries })
}

// Regions in the order in which the record has them.
fn regions(document: &Document<'_>) -> Vec<Value> {
    let findings = document.whole.signed.findings();
    let mut names: Vec<&str> = Vec::new();
    for found in findings {
        if !names.contains(&found.region.as_str()) {
            names.push(&found.region);
        }
    }
    let region = |name: &&str| {
        let here: Vec<&SignedFinding> = findings.iter().filter(|found| found.region == **name).collect();
        let lines: Vec<String> = here.iter().map(|found| observation::line(found)).collect();
        let entries = here.iter().map(|found| document.names.reference(&role_of(found.finding), "Observation"));
        let title = if name.is_empty() { "other" } else { name };
        section(title, document.codes.region(name), &[list(&lines)], entries.collect())
    };
    names.iter().map(region).collect()
}

// Nothing where nothing could be reckoned and nothing is to be said about that.
fn reckoned_section(document: &Document<'_>, reckoned: &[Resource]) -> Value {
    let lines = figures::lines(document);
    if lines.is_empty() {
        return Value::Null;
    }
    let entries = reckoned.iter().map(|figure| document.names.reference(&figure.role, "Observation"));
    section("computed", &[], &[paragraph(RECKONED), list(&lines)], entries.collect())
}

fn lost(document: &Document<'_>) -> Value {
    let draft = document.whole.signed.draft();
    let line = |notice: &Notice| {
        let place = notice.sound.map_or_else(String::new, |sound| format!("{} ", span_words(sound)));
        format!("{place}{}", notice.words)
    };
    let (lost, other): (Vec<&Notice>, Vec<&Notice>) =
        draft.notices.iter().partition(|notice| notice.loss != Loss::None);
    let lines = |notices: &[&Notice]| list(&notices.iter().map(|notice| line(notice)).collect::<Vec<_>>());
    let may_be_missing = if lost.is_empty() { String::new() } else { paragraph(LOST) };
    let pieces = [may_be_missing, lines(&lost), lines(&other)];
    if pieces.concat().is_empty() { Value::Null } else { section("notices", &[], &pieces, Vec::new()) }
}

// What nobody said, and what was drafted and rejected. An item with a finding, drafted or added by hand, is in neither.
fn silent(document: &Document<'_>) -> Value {
    let signed = document.whole.signed;
    let stands = |item: &str| signed.findings().iter().any(|found| found.item == item);
    let mut by_region: Vec<(&str, Vec<String>)> = Vec::new();
    for item in signed.draft().not_mentioned.iter().filter(|item| !stands(&item.item)) {
        let spoken_of: Vec<&str> = item.spoken_of.iter().map(|stance| stance.name()).collect();
        let spoken_of = if spoken_of.is_empty() { String::new() } else { format!(" ({})", spoken_of.join(", ")) };
        let words = format!("{}{spoken_of}", item.name);
        match by_region.last_mut().filter(|(region, _)| *region == item.region) {
            Some((_, names)) => names.push(words),
            None => by_region.push((&item.region, vec![words])),
        }
    }
    let lines: Vec<String> =
        by_region.iter().map(|(region, names)| format!("{region}: {}", names.join(", "))).collect();
    let rejected = rejected(signed.rejected().iter().filter_map(|standing| standing.drafted), &stands);
    let mut pieces = Vec::new();
    if !lines.is_empty() {
        pieces.extend([paragraph(NOT_MENTIONED), list(&lines)]);
    }
    if !rejected.is_empty() {
        pieces.extend([paragraph(REJECTED), list(&rejected)]);
    }
    if pieces.is_empty() { Value::Null } else { section("not mentioned", &[], &pieces, Vec::new()) }
}

fn rejected<'a>(drafted: impl Iterator<Item = &'a DraftFinding>, stands: &dyn Fn(&str) -> bool) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for gone in drafted.filter(|gone| !stands(&gone.item)) {
        if !names.contains(&gone.name) {
            names.push(gone.name.clone());
        }
    }
    names
}

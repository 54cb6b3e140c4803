//! Signed findings → Observations, one each.
//! Takes signed findings; gives them with code, side, value, who answers for them, and the words they rest on. Leaves
//! alone what is reckoned from them (`figures`), and what was not mentioned, which is no Observation. Each is `final`
//! in an amended record too: which of them an amendment altered is not known here, and the Composition says that the
//! record was amended.
//!
//! left and right are two findings, so two Observations: body sites "left arm" and "right arm"

use serde_json::{Value, json};

use super::names::{APPROXIMATE, AS_RECORDED, BY_GROUP, FINDING, SIDE, SIDE_NOT_STATED, UNSURE, role_of};
use super::values::element;
use super::{Document, Resource, codes};
use crate::export::words::{line_of, place_words, plain_value, side_words};
use crate::reading::Side;
use crate::record::{Decision, DraftFinding, SignedFinding};

/// Every finding, in the record's order.
pub(super) fn findings(document: &Document<'_>) -> Vec<Resource> {
    let resource = |found: &SignedFinding| Resource { role: role_of(found.finding), content: finding(document, found) };
    document.whole.signed.findings().iter().map(resource).collect()
}

fn finding(document: &Document<'_>, found: &SignedFinding) -> Value {
    let role = role_of(found.finding);
    let of_item = document.codes.item(&found.item);
    let element = element(document.codes, &found.value, found.figures.as_ref(), found.approx);
    // HL7's profiles of vital signs know single quantities: a range, or a word in place of a number, is a finding of
    // the examination.
    let is_vital_sign = of_item.is_some_and(|codes| codes.is_vital_sign) && element.fits_a_vital_sign();
    let at_birth = of_item.is_some_and(|codes| codes.at_birth);
    let effective = document.examined.as_ref().filter(|_| !at_birth);
    let mut content = json!({
        "resourceType": "Observation",
        "id": document.names.id(&role),
        "extension": extensions(found),
        "identifier": [{ "system": FINDING, "value": format!("{}/{role}", document.whole.id) }],
        "status": "final",
        "category": if is_vital_sign { codes::vital_signs() } else { codes::exam() },
        "code": codes::item(document.codes, &found.item, &found.name),
        "subject": document.infant(),
        "effectiveDateTime": effective,
        // A vital sign must say when it was taken, or that nobody knows.
        "_effectiveDateTime": (is_vital_sign && effective.is_none()).then(codes::unknown),
        "issued": document.signed_at,
        "performer": [document.signer()],
    });
    content[element.name] = element.value;
    content["note"] = notes(found).into_iter().map(|words| json!({ "text": words })).collect();
    content["bodySite"] = body_site(of_item.and_then(|codes| codes.body_site.as_deref()), found.side);
    content
}

// A value that is a number is kept as it was recorded too: 38+4 weeks are sent as days.
fn extensions(found: &SignedFinding) -> Vec<Value> {
    let flag = |set: bool, url: &str| set.then(|| json!({ "url": url, "valueBoolean": true }));
    let written = found.figures.as_ref().map(|_| json!({ "url": AS_RECORDED, "valueString": found.value }));
    let all = [
        written,
        flag(found.approx, APPROXIMATE),
        flag(found.hedged, UNSURE),
        flag(found.by_group, BY_GROUP),
        flag(found.side == Side::Unstated, SIDE_NOT_STATED),
    ];
    all.into_iter().flatten().collect()
}

// One way for left and right: the words, and a code of ours for the side.
fn body_site(site: Option<&str>, side: Side) -> Value {
    let site = site.unwrap_or(if side == Side::None { "" } else { "{side} side" });
    let named = |side: &str| site.replace("{side}", side);
    let text = match side {
        Side::None => site.replace("{side} ", ""),
        Side::Left | Side::Right => named(side.name()),
        Side::Both => named("left and right"),
        Side::Unstated => named("left or right") + " (which one was not said)",
    };
    let coded = matches!(side, Side::Left | Side::Right | Side::Both);
    json!({ "coding": coded.then(|| json!([codes::coding(SIDE, side.name(), side.name())])), "text": text })
}

/// A finding in a line for people: "scarf sign left: past midline (the examiner was not sure)".
pub(super) fn line(found: &SignedFinding) -> String {
    let about = if found.approx { "about " } else { "" };
    let side = if found.side == Side::Unstated { "side not said" } else { side_words(found.side) };
    let place = format!("{} {side}", found.name);
    let said: Vec<&str> = qualifiers(found).collect();
    let said = if said.is_empty() { String::new() } else { format!(" ({})", said.join("; ")) };
    format!("{}: {about}{}{said}", place.trim_end(), plain_value(&found.value, found.figures.as_ref()))
}

fn qualifiers(found: &SignedFinding) -> impl Iterator<Item = &'static str> {
    let all = [(found.hedged, "the examiner was not sure"), (found.by_group, "said of a group")];
    all.into_iter().filter(|(set, _)| *set).map(|(_, words)| words)
}

// What was recorded, where the value cannot say it; the words it rests on; what a person made of them.
fn notes(found: &SignedFinding) -> Vec<String> {
    let mut notes = Vec::new();
    if found.approx || found.hedged || found.by_group || found.figures.is_some() {
        notes.push(format!("Recorded: {}", line(found)));
    }
    notes.extend(found.drafted.as_ref().map(words_of));
    let by = &found.decided.by;
    match &found.decided.decision {
        Decision::Change(..) => {
            let was = found.drafted.as_ref().map(line_of);
            notes.push(format!(
                "Changed by {by}{}",
                was.map_or_else(String::new, |was| format!("; the draft said: {was}"))
            ));
        }
        Decision::Add(_) => notes.push(format!("Added by hand by {by}")),
        Decision::Confirm(_) | Decision::Reject(_) | Decision::Undo(_) => {}
    }
    notes
}

fn words_of(drafted: &DraftFinding) -> String {
    let quote = &drafted.proof.quote;
    format!("Words: \"{}\" ({})", quote.text, place_words(quote.span.utterance, quote.sound))
}

#[cfg(test)]
mod tests {
    use super::super::text::filled;
    use super::*;

    #[test]
    fn a_place_on_the_body_has_the_side_that_was_said() {
        let site = |site: Option<&str>, side: Side| filled(body_site(site, side));
        let left = json!({ "coding": [{ "system": SIDE, "code": "left", "display": "left" }], "text": "left arm" });
        assert_eq!(site(Some("{side} arm"), Side::Left), left);
        assert_eq!(
            site(Some("{side} side of the face"), Side::Unstated),
            json!({ "text": "left or right side of the face (which one was not said)" })
        );
        assert_eq!(site(Some("head"), Side::None), json!({ "text": "head" }));
        assert_eq!(site(None, Side::None), json!({}));
        assert_eq!(site(None, Side::Right)["text"], "right side");
    }
}

//! Who made the document, from what, and the signature under it.
//! Takes the signed record; gives one Provenance for what was signed and one for what was reckoned. Leaves alone what
//! stands in them. The "signature" is the hash that the store checks its records by: there is no secret key in it, and
//! it says so.
//!
//! signed by A. Senior, from a recording with this SHA-256, with the help of the software

use serde_json::{Value, json};

use super::codes::coding;
use super::names::{SHA256, WHAT_IS_SIGNED, role_of, version_identifier};
use super::{Document, FhirError, Resource};

const AGENT: &str = "http://terminology.hl7.org/CodeSystem/provenance-participant-type";
const SIGNATURE: &str = "urn:iso-astm:E1762-95:2013";
/// The author's signature, by FHIR's value set of signature types.
const BY_THE_AUTHOR: &str = "1.2.840.10065.1.12.1.1";
const COVERED: &str = "SHA-256 over the record as the program keeps it: the draft, every decision, what stands by \
     them, the signer, the time, the reason, and the version before. No secret key is in it, and it is not over this \
     document.";

/// What is told of making the document. `reckoned` are the parts of what is reckoned.
pub(super) fn provenance(document: &Document<'_>, reckoned: &[String]) -> Result<Vec<Resource>, FhirError> {
    let mut all = vec![of_what_was_signed(document)?];
    if !reckoned.is_empty() {
        all.push(of_what_was_reckoned(document, reckoned));
    }
    Ok(all)
}

fn of_what_was_signed(document: &Document<'_>) -> Result<Resource, FhirError> {
    let signed = document.whole.signed;
    let findings = signed.findings().iter();
    let findings = findings.map(|found| document.names.reference(&role_of(found.finding), "Observation"));
    let targets = std::iter::once(document.names.reference("composition", "Composition")).chain(findings);
    let content = json!({
        "resourceType": "Provenance",
        "id": document.names.id("provenance"),
        "target": targets.collect::<Vec<_>>(),
        "recorded": document.signed_at,
        "reason": signed.reason().map(|reason| json!([{ "text": reason }])),
        "agent": agents(document),
        "entity": entities(document),
        "signature": [signature(document)?],
    });
    Ok(Resource { role: "provenance".to_owned(), content })
}

fn agent(kind: &str, display: &str, who: Value) -> Value {
    json!({ "type": { "coding": [coding(AGENT, kind, display)] }, "who": who })
}

fn assembler(document: &Document<'_>) -> Value {
    agent("assembler", "Assembler", document.software())
}

// The signer answers for all of it; whoever decided something checked that.
fn agents(document: &Document<'_>) -> Vec<Value> {
    let others = document.people.iter().skip(1);
    let others =
        others.map(|someone| agent("verifier", "Verifier", document.names.reference(&someone.role, "Practitioner")));
    let author = agent("author", "Author", document.signer());
    std::iter::once(author).chain(others).chain([assembler(document)]).collect()
}

// Known by their hashes alone: a file's name may say whose it is.
fn entities(document: &Document<'_>) -> Vec<Value> {
    let source = &document.whole.signed.draft().source;
    let narration = if source.length_ms.is_some() { "recording of the examination" } else { "text of the examination" };
    let entity = |role: &str, sha256: &str, what: &str| {
        let identifier = json!({ "system": SHA256, "value": sha256 });
        json!({ "role": role, "what": { "identifier": identifier, "display": what } })
    };
    let mut all = vec![
        entity("source", &source.sha256, narration),
        entity("derivation", &document.draft_sha256, "draft record, as JSON"),
    ];
    all.extend(document.whole.signed.predecessor().map(|version| {
        let identifier = version_identifier(document.whole.id, version);
        json!({ "role": "revision", "what": { "identifier": identifier, "display": format!("version {version}") } })
    }));
    all
}

fn signature(document: &Document<'_>) -> Result<Value, FhirError> {
    let sha256 = document.whole.sha256;
    let bytes = bytes(sha256).ok_or_else(|| FhirError::NoHash(sha256.to_owned()))?;
    Ok(json!({
        "extension": [{ "url": WHAT_IS_SIGNED, "valueString": COVERED }],
        "type": [coding(SIGNATURE, BY_THE_AUTHOR, "Author's Signature")],
        "when": document.signed_at,
        "who": document.signer(),
        "sigFormat": "application/octet-stream",
        "data": base64(&bytes),
    }))
}

// No clock is read: what is reckoned has the time of the record that it is reckoned from.
fn of_what_was_reckoned(document: &Document<'_>, reckoned: &[String]) -> Resource {
    let content = json!({
        "resourceType": "Provenance",
        "id": document.names.id("provenance-of-what-is-reckoned"),
        "target": reckoned.iter().map(|role| document.names.reference(role, "Observation")).collect::<Vec<_>>(),
        "recorded": document.signed_at,
        "agent": [assembler(document)],
    });
    Resource { role: "provenance-of-what-is-reckoned".to_owned(), content }
}

fn bytes(hexadecimal: &str) -> Option<Vec<u8>> {
    let digits: Option<Vec<u8>> =
        hexadecimal.chars().map(|sign| sign.to_digit(16).and_then(|digit| u8::try_from(digit).ok())).collect();
    let digits = digits.filter(|digits| digits.len() == 64)?;
    Some(digits.chunks(2).map(|pair| pair.iter().fold(0, |byte, digit| byte * 16 + digit)).collect())
}

// Base64 of RFC 4648, with its padding.
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let bits = (0..3).fold(0, |bits, at| bits << 8 | usize::from(three.get(at).copied().unwrap_or(0)));
        for sign in 0..4 {
            let is_there = sign <= three.len();
            text.push(if is_there { char::from(SIGNS[bits >> (18 - 6 * sign) & 63]) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_as_the_rfc_has_it() {
        for (bytes, text) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")] {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
    }

    #[test]
    fn a_hash_is_64_digits() {
        assert_eq!(bytes(&"0f".repeat(32)), Some(vec![15; 32]));
        assert_eq!((bytes("0f"), bytes(&"0g".repeat(32)), bytes("")), (None, None, None));
    }
}

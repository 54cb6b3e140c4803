//! Ids, URLs, systems and times of a FHIR document.
//! Takes the record's id and version, and the part that something plays in it; gives the same UUID for the same
//! (version 5 of RFC 9562), the URIs of our own code systems, and moments as FHIR writes them. Leaves alone what is
//! named.
//!
//! record 018bcfe5…, version 1, "composition" is always urn:uuid: followed by the same 36 characters

use serde_json::{Value, json};
use uuid::Uuid;

use crate::record::{FindingId, Moment};

/// Codes of ours where no code of LOINC was verified: items, their values, sides, sections, and figures that are
/// reckoned.
pub(super) const ITEM: &str = "urn:spoken-exam:item";
pub(super) const VALUE: &str = "urn:spoken-exam:value";
pub(super) const SIDE: &str = "urn:spoken-exam:side";
pub(super) const SECTION: &str = "urn:spoken-exam:section";
pub(super) const RECKONED: &str = "urn:spoken-exam:reckoned";
/// Identifiers of ours: a record and its versions, a finding of one, and a file by its hash.
pub(super) const RECORD: &str = "urn:spoken-exam:record";
pub(super) const FINDING: &str = "urn:spoken-exam:finding";
pub(super) const SHA256: &str = "urn:spoken-exam:sha256";
/// Extensions of ours.
pub(super) const AS_RECORDED: &str = "urn:spoken-exam:value-as-recorded";
pub(super) const APPROXIMATE: &str = "urn:spoken-exam:approximate";
pub(super) const UNSURE: &str = "urn:spoken-exam:examiner-was-not-sure";
pub(super) const BY_GROUP: &str = "urn:spoken-exam:said-of-a-group";
pub(super) const SIDE_NOT_STATED: &str = "urn:spoken-exam:side-not-stated";
pub(super) const EXAMINED_AS_WRITTEN: &str = "urn:spoken-exam:examined-as-written";
pub(super) const WHAT_IS_SIGNED: &str = "urn:spoken-exam:what-the-hash-covers";

/// Systems of others.
pub(super) const LOINC: &str = "http://loinc.org";
pub(super) const UCUM: &str = "http://unitsofmeasure.org";
pub(super) const ABSENT: &str = "http://hl7.org/fhir/StructureDefinition/data-absent-reason";

/// Names within one version of a record.
pub(super) struct Names {
    space: Uuid,
}

impl Names {
    pub(super) fn new(record: &str, version: u32) -> Self {
        let all = Uuid::new_v5(&Uuid::NAMESPACE_URL, RECORD.as_bytes());
        let record = Uuid::new_v5(&all, record.as_bytes());
        Self { space: Uuid::new_v5(&record, format!("version {version}").as_bytes()) }
    }

    pub(super) fn id(&self, role: &str) -> String {
        Uuid::new_v5(&self.space, role.as_bytes()).to_string()
    }

    pub(super) fn url(&self, role: &str) -> String {
        format!("urn:uuid:{}", self.id(role))
    }

    /// A reference to what plays this part.
    pub(super) fn reference(&self, role: &str, resource: &str) -> Value {
        json!({ "reference": self.url(role), "type": resource })
    }
}

/// The part that a finding plays, and its number in the record.
pub(super) fn role_of(finding: FindingId) -> String {
    match finding {
        FindingId::Drafted(number) => format!("finding-{number}"),
        FindingId::Added(entry) => format!("added-{entry}"),
    }
}

/// A version of a record.
pub(super) fn version_identifier(record: &str, version: u32) -> Value {
    json!({ "system": RECORD, "value": format!("{record}/{version}") })
}

/// A moment as FHIR's instant: `2023-11-14T22:13:20.120Z`.
pub(super) fn instant(moment: Moment) -> Option<String> {
    let written = moment.to_string();
    (written.len() == "2023-11-14T22:13:20.120Z".len() && !written.starts_with(['-', '+', '0'])).then_some(written)
}

/// The day of a date with or without a time. FHIR wants an offset from UTC beside a time of day, which nobody gave.
pub(super) fn day(words: &str) -> Option<String> {
    let date = words.split(['T', 't', ' ']).next().unwrap_or_default();
    let digits: String = date.chars().filter(|sign| *sign != '-').collect();
    let is_date = digits.len() == 8 && digits.bytes().all(|byte| byte.is_ascii_digit()) && !digits.starts_with("0000");
    is_date.then(|| format!("{}-{}-{}", &digits[..4], &digits[4..6], &digits[6..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_part_has_the_same_name_and_another_version_another() {
        let names = Names::new("018bcfe5-6800-7000-8000-000000000001", 1);
        let again = Names::new("018bcfe5-6800-7000-8000-000000000001", 1);
        assert_eq!(names.url("composition"), again.url("composition"));
        assert_ne!(names.url("composition"), names.url("infant"));
        assert_ne!(names.id("infant"), Names::new("018bcfe5-6800-7000-8000-000000000001", 2).id("infant"));
        assert_eq!(names.id("infant").len(), 36);
    }

    #[test]
    fn times_are_written_or_left_out() {
        assert_eq!(instant(Moment(1_700_000_000_120)).as_deref(), Some("2023-11-14T22:13:20.120Z"));
        assert_eq!((instant(Moment(i64::MAX)), instant(Moment(-70_000_000_000_000))), (None, None));
        assert_eq!(day("2026-11-29").as_deref(), Some("2026-11-29"));
        assert_eq!(day("2026-11-29T14:05").as_deref(), Some("2026-11-29"));
        assert_eq!(day("20261129").as_deref(), Some("2026-11-29"));
        assert_eq!((day("yesterday"), day("0000-01-01"), day("-002026-01-01")), (None, None, None));
    }
}

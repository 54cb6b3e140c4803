//! Decisions and signatures, kept.
//! Takes wishes about a record, and signatures; adds what `record` makes of them, whole or not at all, however many programs
//! do so at once. Gives signed versions back. Leaves alone what is refused and why (`record::review`, `record::signed`).
//!
//! Two reviewers decide the same finding at once: the first is kept, the second is told what stands there now

use rusqlite::Row;
use rusqlite::types::Value;

use crate::lexicon::Lexicon;
use crate::reading::Side;
use crate::record::{
    Author, Decision, DraftRecord, Entry, FindingId, Moment, Person, Review, SignedRecord, Stated, Wish, amend, sign,
};
use crate::store::records::{DraftId, Signature, last_entry};
use crate::store::seal::Canonical;
use crate::store::{Rows, Store, StoreError, count, list, sound, text};

impl Store {
    /// Takes in what somebody wishes of a record's findings: all of it, or nothing if one wish is refused. Gives the entries.
    /// When it is done, they are on the disk.
    ///
    /// # Errors
    /// If a wish is refused; among other things when a finding was decided since entry `author.seen`.
    pub fn decide(
        &mut self,
        on: &DraftId,
        lexicon: &Lexicon,
        author: &Author,
        wishes: &[Wish],
    ) -> Result<Vec<Entry>, StoreError> {
        self.write(|rows| Ok(rows.take(on, lexicon, author, wishes)?.1))
    }

    /// Signs a record for the first time, by somebody who has seen every entry. Its sound is deleted behind that, if that is
    /// the policy.
    ///
    /// # Errors
    /// If something is undecided or was not seen, or it was signed already.
    pub fn sign(&mut self, on: &DraftId, lexicon: &Lexicon, signer: &Author) -> Result<SignedRecord, StoreError> {
        let id = &on.record;
        let signed = self.write(|rows| {
            if !rows.signatures(id)?.is_empty() {
                return Err(StoreError::Signed(id.clone()));
            }
            let review = rows.review_seen(on)?;
            rows.seen_whole(id, signer.seen)?;
            let signed = sign(lexicon, &review, &signer.by, signer.at).map_err(StoreError::Undecided)?;
            append_signature(rows, id, &signed, None)?;
            Ok(signed)
        })?;
        // The signature stands whatever becomes of the file: what cannot be deleted now is at the next opening.
        let _ = self.delete_marked();
        Ok(signed)
    }

    /// Signs further decisions about a signed record as its next version, by somebody who has seen every entry.
    ///
    /// # Errors
    /// If nothing was decided since, something is undecided or was not seen, or there is no reason.
    pub fn amend(
        &mut self,
        on: &DraftId,
        lexicon: &Lexicon,
        signer: &Author,
        reason: &str,
    ) -> Result<SignedRecord, StoreError> {
        self.decide_and_amend(on, lexicon, signer, &[], reason)
    }

    /// Takes in what somebody wishes of a signed record and signs that as its next version: both or neither.
    ///
    /// # Errors
    /// As [`Store::decide`] and [`Store::amend`].
    pub fn decide_and_amend(
        &mut self,
        on: &DraftId,
        lexicon: &Lexicon,
        signer: &Author,
        wishes: &[Wish],
        reason: &str,
    ) -> Result<SignedRecord, StoreError> {
        let id = &on.record;
        let signed = self.write(|rows| {
            let signatures = rows.signatures(id)?;
            let last = signatures.last().ok_or_else(|| StoreError::NotSigned(id.clone()))?;
            let before = rows.signed(id, last)?;
            rows.seen_whole(id, signer.seen)?;
            let (review, _) = rows.take(on, lexicon, signer, wishes)?;
            let signed = amend(lexicon, &before, &review, (&signer.by, signer.at), reason);
            let signed = signed.map_err(StoreError::Undecided)?;
            append_signature(rows, id, &signed, Some(&last.sha256))?;
            Ok(signed)
        })?;
        let _ = self.delete_marked();
        Ok(signed)
    }

    /// A signed version of a record, or its last one. What it covers is compared with its hash.
    ///
    /// # Errors
    /// If it is not there, or was altered.
    pub fn signed(&self, id: &str, version: Option<u32>) -> Result<SignedRecord, StoreError> {
        let signatures = self.rows().signatures(id)?;
        let wanted = match version {
            Some(version) => signatures.iter().find(|signature| signature.version == version),
            None => signatures.last(),
        };
        self.rows().signed(id, wanted.ok_or_else(|| StoreError::NotSigned(id.to_owned()))?)
    }
}

impl Rows<'_> {
    /// The review of a record.
    pub(super) fn review(&self, id: &str) -> Result<Review, StoreError> {
        self.review_of(id, self.last_draft(id)?.draft()?)
    }

    /// The review of a record, if this draft of it is the last.
    fn review_seen(&self, on: &DraftId) -> Result<Review, StoreError> {
        let draft = self.last_draft(&on.record)?;
        if draft.version == on.version {
            return self.review_of(&on.record, draft.draft()?);
        }
        Err(StoreError::NewerDraft { record: on.record.clone(), seen: on.version, now: draft.version })
    }

    /// Takes wishes into the review of a record: all of them, or none. Gives the review, and the entries that they became.
    fn take(
        &self,
        on: &DraftId,
        lexicon: &Lexicon,
        author: &Author,
        wishes: &[Wish],
    ) -> Result<(Review, Vec<Entry>), StoreError> {
        let mut review = self.review_seen(on)?;
        let before = review.last();
        let mut taken = Vec::with_capacity(wishes.len());
        for wish in wishes {
            // Whoever had seen everything has seen their own entries too.
            let seen = if author.seen == before { review.last() } else { author.seen };
            let entry = review.decide(lexicon, &Author { seen, ..author.clone() }, wish).map_err(Box::new)?;
            append_entry(self, &on.record, entry)?;
            taken.push(entry.clone());
        }
        Ok((review, taken))
    }

    // Nobody signs what somebody else decided behind their back.
    fn seen_whole(&self, id: &str, seen: u64) -> Result<(), StoreError> {
        match last_entry(self, id)? {
            last if last == seen => Ok(()),
            now => Err(StoreError::NotSeen { record: id.to_owned(), seen, now }),
        }
    }

    /// The review that a record's entries and this draft of it come to.
    pub(super) fn review_of(&self, id: &str, draft: DraftRecord) -> Result<Review, StoreError> {
        let entries = self.entries(id)?;
        Review::replay(draft, entries).map_err(|why| StoreError::no_review(id, &why))
    }

    fn entries(&self, id: &str) -> Result<Vec<Entry>, StoreError> {
        let sql = "SELECT entry, seen, name, role, at_ms, kind, finding, of_entry, item, side, value, approx FROM entries \
                   WHERE record = ?1 ORDER BY entry";
        let rows = self.all(sql, [id], EntryRow::of)?;
        rows.into_iter().map(|row| row.entry().map_err(|what| StoreError::nonsense(id, what))).collect()
    }

    /// A signed version as its signature says, if everything it covers is as it was.
    pub(super) fn signed(&self, id: &str, signature: &Signature) -> Result<SignedRecord, StoreError> {
        let version = signature.version;
        let altered = |what: &str| StoreError::nonsense(id, format!("signed version {version}: {what}"));
        let draft = self.draft(id, signature.draft)?.ok_or_else(|| altered("its draft is missing"))?;
        let review = self.review_of(id, draft.draft()?)?.up_to(signature.entries);
        if review.last() != signature.entries {
            return Err(altered("decisions that it covers are missing"));
        }
        let reason = signature.reason.clone();
        let signed = SignedRecord::recorded(&review, version, (&signature.by, signature.at), reason);
        let signed = signed.map_err(|_| altered("something that it covers is undecided"))?;
        let sha256 = covered(id, (signature.draft, &draft.sha256), &signed, signature.predecessor.as_deref());
        if sha256 == signature.sha256 { Ok(signed) } else { Err(altered("what it covers was altered")) }
    }
}

/// The SHA-256 of all that a signature stands for: the draft, every decision, what stands by them, who signed and when, and
/// the version before.
fn covered(id: &str, (draft, sha256): (u32, &str), signed: &SignedRecord, predecessor: Option<&str>) -> String {
    let mut canonical = Canonical::new("signature 1");
    canonical.field("record", id);
    canonical.field("version", &signed.version().to_string());
    canonical.field("draft", &draft.to_string());
    canonical.field("draft-sha256", sha256);
    for entry in signed.entries() {
        for (name, value) in entry_row(entry) {
            match value {
                Value::Text(value) => canonical.field(name, &value),
                Value::Integer(value) => canonical.field(name, &value.to_string()),
                _ => {}
            }
        }
    }
    for found in signed.findings() {
        canonical.field("found", &found.finding.to_string());
        canonical.field("item", &found.item);
        canonical.field("side", found.side.name());
        canonical.field("value", &found.value);
        canonical.field("approx", if found.approx { "yes" } else { "no" });
    }
    canonical.field("name", signed.signer().name());
    canonical.field("role", signed.signer().role());
    canonical.field("at", &signed.at().0.to_string());
    canonical.field("reason", signed.reason().unwrap_or_default());
    canonical.field("predecessor", predecessor.unwrap_or_default());
    canonical.sha256()
}

fn append_signature(
    rows: &Rows<'_>,
    id: &str,
    signed: &SignedRecord,
    predecessor: Option<&str>,
) -> Result<(), StoreError> {
    let draft = rows.last_draft(id)?;
    let sha256 = covered(id, (draft.version, &draft.sha256), signed, predecessor);
    let or_null = |value: Option<&str>| value.map_or(Value::Null, text);
    rows.append(
        "signatures",
        &[
            ("record", text(id)),
            ("version", count(signed.version().into())),
            ("draft", count(draft.version.into())),
            ("entries", count(signed.entries().len() as u64)),
            ("name", text(signed.signer().name())),
            ("role", text(signed.signer().role())),
            ("at_ms", Value::Integer(signed.at().0)),
            ("reason", or_null(signed.reason())),
            ("predecessor", or_null(predecessor)),
            ("sha256", Value::Text(sha256)),
        ],
    )?;
    sound::mark_signed(rows, id, signed.at())
}

fn append_entry(rows: &Rows<'_>, id: &str, entry: &Entry) -> Result<(), StoreError> {
    let mut row = entry_row(entry);
    row.insert(0, ("record", text(id)));
    rows.append("entries", &row)?;
    match &entry.decision {
        // What is said of the infant by hand is searched for, too; what was drafted stays findable.
        Decision::Change(_, stated) | Decision::Add(stated) => list::append_words(rows, id, "", &[&stated.value]),
        Decision::Confirm(_) | Decision::Reject(_) | Decision::Undo(_) => Ok(()),
    }
}

/// An entry as its row has it, without the record.
fn entry_row(entry: &Entry) -> Vec<(&'static str, Value)> {
    let (kind, finding, stated) = match &entry.decision {
        Decision::Confirm(finding) => ("confirm", Some(*finding), None),
        Decision::Change(finding, stated) => ("change", Some(*finding), Some(stated)),
        Decision::Reject(finding) => ("reject", Some(*finding), None),
        Decision::Add(stated) => ("add", None, Some(stated)),
        Decision::Undo(undone) => ("undo", Some(FindingId::Added(*undone)), None),
    };
    let mut row = vec![
        ("entry", count(entry.number)),
        ("seen", count(entry.seen)),
        ("name", text(entry.by.name())),
        ("role", text(entry.by.role())),
        ("at_ms", Value::Integer(entry.at.0)),
        ("kind", text(kind)),
    ];
    match finding {
        Some(FindingId::Drafted(number)) => row.push(("finding", count(number))),
        Some(FindingId::Added(number)) => row.push(("of_entry", count(number))),
        None => {}
    }
    if let Some(stated) = stated {
        row.push(("item", text(&stated.item)));
        row.push(("side", text(stated.side.name())));
        row.push(("value", text(&stated.value)));
        row.push(("approx", Value::Integer(stated.approx.into())));
    }
    row
}

/// The columns of an entry, not understood yet.
struct EntryRow {
    number: i64,
    seen: i64,
    who: (String, String),
    at: i64,
    kind: String,
    finding: Option<i64>,
    of_entry: Option<i64>,
    stated: [Option<String>; 3],
    approx: Option<bool>,
}

impl EntryRow {
    fn of(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            number: row.get(0)?,
            seen: row.get(1)?,
            who: (row.get(2)?, row.get(3)?),
            at: row.get(4)?,
            kind: row.get(5)?,
            finding: row.get(6)?,
            of_entry: row.get(7)?,
            stated: [row.get(8)?, row.get(9)?, row.get(10)?],
            approx: row.get(11)?,
        })
    }

    fn entry(self) -> Result<Entry, String> {
        let number = self.number.unsigned_abs();
        let nonsense = |what: &str| format!("entry {number} {what}");
        let by = Person::new(&self.who.0, &self.who.1).map_err(|error| nonsense(&format!("is nobody's: {error}")))?;
        let finding = match (self.finding, self.of_entry) {
            (Some(number), None) => Some(FindingId::Drafted(number.unsigned_abs())),
            (None, Some(entry)) => Some(FindingId::Added(entry.unsigned_abs())),
            _ => None,
        };
        let stated = || match (&self.stated, self.approx) {
            ([Some(item), Some(side), Some(value)], Some(approx)) => {
                let side = Side::ALL.into_iter().find(|known| known.name() == side)?;
                Some(Stated::recorded(item, side, value, approx))
            }
            _ => None,
        };
        let decision = match (self.kind.as_str(), finding) {
            ("confirm", Some(finding)) => Some(Decision::Confirm(finding)),
            ("change", Some(finding)) => stated().map(|stated| Decision::Change(finding, stated)),
            ("reject", Some(finding)) => Some(Decision::Reject(finding)),
            ("add", None) => stated().map(Decision::Add),
            ("undo", Some(FindingId::Added(undone))) => Some(Decision::Undo(undone)),
            _ => None,
        };
        let decision = decision.ok_or_else(|| nonsense("decides nothing that is known"))?;
        Ok(Entry { number, seen: self.seen.unsigned_abs(), by, at: Moment(self.at), decision })
    }
}

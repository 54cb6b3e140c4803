//! Records: drafts put in, and everything about a record given back.
//! Takes a draft with its recording; makes a record of them. Gives a record with its review and signatures. Leaves alone
//! decisions (`reviews`) and what becomes of the sound (`sound`).
//!
//! A record's id is made from its time and chance: `018bcfe5-6800-7…`; its beginning is enough to name it

use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Row, params};
use uuid::Uuid;

use crate::export::to_json;
use crate::record::remarks::Remarks;
use crate::record::{DraftRecord, Moment, NoPerson, Person, Review};
use crate::store::list::State;
use crate::store::sound::{self, Arrived, Sound};
use crate::store::{Rows, Store, StoreError, draft, folder, list, seal, text};

/// A record as the store has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Its id.
    pub id: String,
    /// When it was put in.
    pub at: Moment,
    /// Version of its draft, from 1.
    pub draft_version: u32,
    /// Its draft, as it was written.
    pub draft_json: String,
    /// The draft with every decision about it.
    pub review: Review,
    /// Its signed versions, oldest first.
    pub signatures: Vec<Signature>,
    /// What became of its recording.
    pub sound: Sound,
    /// Whose it is, when the examination was, which prompts were put aside.
    pub remarks: Remarks,
}

/// A draft of a record: what somebody looked at who decides or signs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftId {
    /// The record.
    pub record: String,
    /// Version of the draft.
    pub version: u32,
}

impl Kept {
    /// Its draft, to decide upon.
    #[must_use]
    pub fn draft_id(&self) -> DraftId {
        DraftId { record: self.id.clone(), version: self.draft_version }
    }

    /// How far it has come.
    #[must_use]
    pub fn state(&self) -> State {
        State::of(self.review.last(), self.signatures.last().map_or(0, |signature| signature.version))
    }
}

/// That a version of a record was signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signature {
    /// From 1.
    pub version: u32,
    /// Version of the draft that it is about.
    pub draft: u32,
    /// The last entry that it covers; 0 for none.
    pub entries: u64,
    /// Who signed.
    pub by: Person,
    /// When.
    pub at: Moment,
    /// Why it was amended; `None` for version 1.
    pub reason: Option<String>,
    /// The SHA-256 of the version before.
    pub predecessor: Option<String>,
    /// The SHA-256 of what it covers.
    pub sha256: String,
}

impl Store {
    /// Makes a record of a draft, with a copy of its recording unless the store keeps none; gives its id. When it is done,
    /// both are on the disk; if it fails, neither is.
    ///
    /// # Errors
    /// If the recording is not the one of the draft, or cannot be written.
    pub fn keep(&mut self, draft: &DraftRecord, recording: Option<&Path>, at: Moment) -> Result<String, StoreError> {
        let _lock = folder::lock(&self.place.folder)?;
        let arrived = recording.map(|file| sound::arrive(&self.rows(), draft, file)).transpose()?;
        self.make_record(draft, arrived.as_ref(), at)
    }

    /// The rows of a record whose recording, if there is one, is in place. The lock must be held.
    pub(super) fn make_record(
        &mut self,
        draft: &DraftRecord,
        arrived: Option<&Arrived>,
        at: Moment,
    ) -> Result<String, StoreError> {
        let id = new_id(at);
        self.write(|rows| {
            let hash = arrived.map(|arrived| sound::append(rows, draft, arrived, at)).transpose()?;
            rows.append(
                "records",
                &[
                    ("id", text(&id)),
                    ("file_name", text(&draft.source.file_name)),
                    ("recording", hash.map(Value::Text).unwrap_or(Value::Null)),
                    ("at_ms", Value::Integer(at.0)),
                ],
            )?;
            append_draft(rows, &id, draft, at)
        })?;
        Ok(id)
    }

    /// Puts a newer draft of a record beside the old one, as long as nothing was decided; gives its version.
    ///
    /// # Errors
    /// If the record is in review, or not there.
    pub fn redraft(&mut self, id: &str, draft: &DraftRecord, at: Moment) -> Result<u32, StoreError> {
        self.write(|rows| {
            if last_entry(rows, id)? > 0 || !rows.signatures(id)?.is_empty() {
                return Err(StoreError::InReview(id.to_owned()));
            }
            let before = rows.last_draft(id)?;
            if before.draft()?.source.sha256 != draft.source.sha256 {
                return Err(StoreError::nonsense(id, "the new draft is of another recording"));
            }
            append_draft(rows, id, draft, at)?;
            Ok(before.version + 1)
        })
    }

    /// The id of the only record whose id begins so.
    ///
    /// # Errors
    /// If there is none, or more than one.
    pub fn find(&self, beginning: &str) -> Result<String, StoreError> {
        let beginning = beginning.trim().to_lowercase();
        let sql = "SELECT id FROM records WHERE substr(id, 1, length(?1)) = ?1 AND ?1 <> '' LIMIT 2";
        let found: Vec<String> = self.rows().all(sql, [&beginning], |row| row.get(0))?;
        match &found[..] {
            [id] => Ok(id.clone()),
            [] => Err(StoreError::NoRecord(beginning)),
            _ => Err(StoreError::SeveralRecords(beginning)),
        }
    }

    /// Everything about a record.
    ///
    /// # Errors
    /// If it is not there, or damaged.
    pub fn record(&self, id: &str) -> Result<Kept, StoreError> {
        // One view of all tables, whatever is written meanwhile.
        let view = self.rows().told(self.connection.unchecked_transaction())?;
        let rows = Rows { place: &self.place, connection: &view };
        let at = rows.one("SELECT at_ms FROM records WHERE id = ?1", [id], |row| row.get(0))?;
        let at = Moment(at.ok_or_else(|| StoreError::NoRecord(id.to_owned()))?);
        let draft = rows.last_draft(id)?;
        let review = rows.review_of(id, draft.draft()?)?;
        let (signatures, sound) = (rows.signatures(id)?, sound::of_record(&rows, id)?);
        let remarks = rows.remarks(id)?;
        Ok(Kept {
            id: id.to_owned(),
            at,
            draft_version: draft.version,
            draft_json: draft.json,
            review,
            signatures,
            sound,
            remarks,
        })
    }
}

/// A draft as its row has it.
pub(super) struct DraftRow {
    pub(super) record: String,
    pub(super) version: u32,
    pub(super) json: String,
    pub(super) sha256: String,
}

impl DraftRow {
    fn of(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { record: row.get(0)?, version: row.get(1)?, json: row.get(2)?, sha256: row.get(3)? })
    }

    /// The draft, if it is the one that was put in and can be read.
    pub(super) fn draft(&self) -> Result<DraftRecord, StoreError> {
        if seal::sha256(self.json.as_bytes()) != self.sha256 {
            return Err(StoreError::nonsense(&self.record, format!("draft {} was altered", self.version)));
        }
        let (record, version) = (self.record.clone(), self.version);
        draft::read(&self.json).map_err(|source| StoreError::Draft { record, version, source })
    }
}

impl Rows<'_> {
    /// The newest draft of a record.
    pub(super) fn last_draft(&self, id: &str) -> Result<DraftRow, StoreError> {
        let sql = "SELECT record, version, json, sha256 FROM drafts WHERE record = ?1 ORDER BY version DESC LIMIT 1";
        self.one(sql, [id], DraftRow::of)?.ok_or_else(|| StoreError::NoRecord(id.to_owned()))
    }

    /// A draft of a record by its version.
    pub(super) fn draft(&self, id: &str, version: u32) -> Result<Option<DraftRow>, StoreError> {
        let sql = "SELECT record, version, json, sha256 FROM drafts WHERE record = ?1 AND version = ?2";
        self.one(sql, params![id, version], DraftRow::of)
    }

    /// The signed versions of a record, oldest first.
    pub(super) fn signatures(&self, id: &str) -> Result<Vec<Signature>, StoreError> {
        let sql = "SELECT version, draft, entries, name, role, at_ms, reason, predecessor, sha256 FROM signatures \
                   WHERE record = ?1 ORDER BY version";
        let rows = self.all(sql, [id], |row| {
            let by = Person::new(&row.get::<_, String>(3)?, &row.get::<_, String>(4)?);
            let covers: (u32, u32, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
            let (reason, predecessor, sha256) = (row.get(6)?, row.get(7)?, row.get(8)?);
            Ok((by, covers, Moment(row.get(5)?), reason, predecessor, sha256))
        })?;
        let signature = |(by, (version, draft, entries), at, reason, predecessor, sha256)| {
            let by = Result::<Person, NoPerson>::map_err(by, |error| StoreError::nonsense(id, error))?;
            let entries = i64::unsigned_abs(entries);
            Ok(Signature { version, draft, entries, by, at, reason, predecessor, sha256 })
        };
        rows.into_iter().map(signature).collect()
    }
}

/// The number of a record's last entry; 0 for none.
pub(super) fn last_entry(rows: &Rows<'_>, id: &str) -> Result<u64, StoreError> {
    let sql = "SELECT coalesce(max(entry), 0) FROM entries WHERE record = ?1";
    Ok(rows.one(sql, [id], |row| row.get::<_, i64>(0))?.unwrap_or_default().unsigned_abs())
}

fn append_draft(rows: &Rows<'_>, id: &str, draft: &DraftRecord, at: Moment) -> Result<(), StoreError> {
    let json = to_json(draft).map_err(|error| StoreError::nonsense(id, error))?;
    let sql = "SELECT coalesce(max(version), 0) + 1 FROM drafts WHERE record = ?1";
    let version: i64 = rows.one(sql, [id], |row| row.get(0))?.unwrap_or(1);
    rows.append(
        "drafts",
        &[
            ("record", text(id)),
            ("version", Value::Integer(version)),
            ("at_ms", Value::Integer(at.0)),
            ("sha256", text(&seal::sha256(json.as_bytes()))),
            ("json", Value::Text(json)),
        ],
    )?;
    let infant: Vec<&str> = draft.context.iter().map(|finding| finding.value.as_str()).collect();
    list::append_words(rows, id, &draft.source.file_name, &infant)
}

// Ids of one time are told apart by chance, and stand in order of time.
pub(super) fn new_id(at: Moment) -> String {
    let (seconds, milliseconds) = (at.0.max(0).unsigned_abs() / 1000, at.0.max(0).unsigned_abs() % 1000);
    let nanoseconds = u32::try_from(milliseconds).unwrap_or_default() * 1_000_000;
    Uuid::new_v7(uuid::Timestamp::from_unix(uuid::NoContext, seconds, nanoseconds)).to_string()
}

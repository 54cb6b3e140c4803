//! A store, checked whole.
//! Takes a store; gives everything about it that is not as it was written, by record and version, and what is only worth
//! knowing. Goes on to the end whatever is found. Leaves everything as it is.
//! Whoever alters a row and knows this program can reckon all seals anew: who must be sure keeps the SHA-256 of signatures
//! elsewhere too.
//!
//! "record 018bcfe5…: entry 3 was altered after it was written"

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs;
use std::path::PathBuf;

use rusqlite::types::Value;

use crate::record::Review;
use crate::store::place::{self, Place};
use crate::store::{Rows, Store, StoreError, folder, records, schema, seal, taking};

/// Something that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// The record, where it is one's.
    pub record: Option<String>,
    /// What is wrong.
    pub what: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.record {
            Some(record) => write!(out, "record {record}: {}", self.what),
            None => write!(out, "{}", self.what),
        }
    }
}

/// What was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Verified {
    /// What is not as it was written; empty for a sound store.
    pub faults: Vec<Fault>,
    /// What is worth knowing, and no fault.
    pub notes: Vec<String>,
    /// How many records there are.
    pub records: usize,
    /// How many signatures.
    pub signatures: usize,
    /// How many recordings whose sound is kept.
    pub sounds: usize,
    /// How many recordings were begun and never became a record, those that are being made included.
    pub takings: usize,
    /// Their length in all.
    pub takings_ms: u64,
}

impl Verified {
    pub(super) fn fault(&mut self, record: Option<&str>, what: impl fmt::Display) {
        self.faults.push(Fault { record: record.map(str::to_owned), what: what.to_string() });
    }

    // What cannot even be read is a fault like another, and the rest is looked at all the same.
    fn or_fault<T>(&mut self, record: Option<&str>, result: Result<T, StoreError>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(StoreError::Nonsense { what, .. }) => {
                self.fault(record, what);
                None
            }
            Err(error) => {
                self.fault(record, error);
                None
            }
        }
    }
}

impl Store {
    /// Checks everything. Recordings that arrive meanwhile wait.
    ///
    /// # Errors
    /// Only if the store cannot be read at all.
    pub fn verify(&self) -> Result<Verified, StoreError> {
        let _lock = folder::lock_to_read(&self.place.folder);
        self.verify_locked()
    }

    /// As [`Store::verify`], by whoever holds the lock already.
    pub(super) fn verify_locked(&self) -> Result<Verified, StoreError> {
        // One view of all tables, whatever is written meanwhile.
        let view = self.rows().told(self.connection.unchecked_transaction())?;
        let rows = Rows { place: &self.place, connection: &view };
        let mut verified = Verified::default();
        file_is_whole(&rows, &mut verified);
        tables_are_as_made(&rows, &mut verified);
        for table in seal::TABLES {
            let checked = rows_are_as_written(&rows, table, &mut verified);
            verified.or_fault(None, checked);
        }
        let ids = rows.all("SELECT id FROM records ORDER BY number", [], |row| row.get::<_, String>(0));
        for id in verified.or_fault(None, ids).unwrap_or_default() {
            verified.records += 1;
            record_is_as_signed(&rows, &id, &mut verified);
        }
        let known = sounds_are_there(&rows, &mut verified);
        let known = verified.or_fault(None, known).unwrap_or_default();
        nothing_else_is_there(&self.place, &known, &mut verified);
        taking::are_readable(&self.place, &mut verified);
        nothing_lies_open(&self.place, &mut verified);
        verified.faults.sort();
        verified.faults.dedup();
        Ok(verified)
    }
}

// SQLite's own check of pages and indexes, and of what rows refer to.
fn file_is_whole(rows: &Rows<'_>, verified: &mut Verified) {
    let said = rows.all("PRAGMA integrity_check(20)", [], |row| row.get::<_, String>(0));
    for said in verified.or_fault(None, said).unwrap_or_default() {
        if said != "ok" {
            verified.fault(None, format!("the database is damaged: {said}"));
        }
    }
    let lost = rows.all("PRAGMA foreign_key_check", [], |row| {
        Ok(format!(
            "row {} of {} refers to a row of {} that is not there",
            row.get::<_, i64>(1)?,
            row.get::<_, String>(0)?,
            row.get::<_, String>(2)?
        ))
    });
    for lost in verified.or_fault(None, lost).unwrap_or_default() {
        verified.fault(None, lost);
    }
}

// A trigger that was dropped would let rows be altered.
fn tables_are_as_made(rows: &Rows<'_>, verified: &mut Verified) {
    let here = rows.told(schema::objects(rows.connection));
    let made = rows.told(schema::as_made());
    let (Some(here), Some(made)) = (verified.or_fault(None, here), verified.or_fault(None, made)) else { return };
    let (here, made): (BTreeMap<_, _>, BTreeMap<_, _>) = (here.into_iter().collect(), made.into_iter().collect());
    for name in here.keys().chain(made.keys()).collect::<BTreeSet<_>>() {
        match (here.get(name), made.get(name)) {
            (None, _) => verified.fault(None, format!("`{name}` is missing from the database")),
            (_, None) => verified.fault(None, format!("`{name}` was added to the database")),
            (here, made) if here != made => verified.fault(None, format!("`{name}` of the database was altered")),
            _ => {}
        }
    }
}

// Numbers without a gap up to the last one that was ever given, and every seal.
fn rows_are_as_written(rows: &Rows<'_>, table: &str, verified: &mut Verified) -> Result<(), StoreError> {
    let names =
        rows.all("SELECT name FROM pragma_table_info(?1) WHERE name <> 'json' ORDER BY cid", [table], |row| {
            row.get::<_, String>(0)
        })?;
    let sql = format!("SELECT {} FROM {table} ORDER BY number", names.join(", "));
    let all = rows.all(&sql, [], seal::content)?;
    let mut expected = 1;
    let mut before: Option<String> = None;
    for row in &all {
        let field = |name: &str| row.iter().find(|(known, _)| known == name).map(|(_, value)| value);
        let number = |name: &str| if let Some(Value::Integer(number)) = field(name) { Some(*number) } else { None };
        let words = |name: &str| if let Some(Value::Text(text)) = field(name) { Some(text.clone()) } else { None };
        let record = words("record");
        let at = number("number").unwrap_or(expected);
        if at != expected {
            verified.fault(None, format!("{table}: {} missing in front of row {at}", rows_words(expected, at - 1)));
        }
        let written = words("seal");
        // Behind a missing row the seal cannot be reckoned.
        if at == expected && written.as_deref() != Some(&seal::seal(table, before.as_deref(), row)) {
            let what = match (table, number("entry"), number("version")) {
                ("entries", Some(entry), _) => format!("entry {entry}"),
                ("signatures", _, Some(version)) => format!("the signature of version {version}"),
                ("drafts", _, Some(version)) => format!("the row of draft {version}"),
                _ => format!("row {at} of {table}"),
            };
            verified
                .fault(record.or_else(|| words("id")).as_deref(), format!("{what} was altered after it was written"));
        }
        (expected, before) = (at + 1, written);
    }
    let given = rows.one("SELECT seq FROM sqlite_sequence WHERE name = ?1", [table], |row| row.get::<_, i64>(0))?;
    let given = given.unwrap_or_default();
    if given != expected - 1 {
        let last = expected - 1;
        let what = if given > last {
            format!("{} missing at the end", rows_words(expected, given))
        } else {
            format!("row {last} was put in by hand")
        };
        verified.fault(None, format!("{table}: {what}"));
    }
    Ok(())
}

fn rows_words(from: i64, to: i64) -> String {
    if from == to { format!("row {from} is") } else { format!("rows {from} to {to} are") }
}

// Drafts by their hash, decisions replayed, and the chain of signatures reckoned anew.
fn record_is_as_signed(rows: &Rows<'_>, id: &str, verified: &mut Verified) {
    let versions = rows.all("SELECT version FROM drafts WHERE record = ?1 ORDER BY version", [id], |row| row.get(0));
    let versions: Vec<u32> = verified.or_fault(Some(id), versions).unwrap_or_default();
    if versions.is_empty() {
        verified.fault(Some(id), "it has no draft");
    }
    for (expected, version) in (1..).zip(versions) {
        if version != expected {
            verified.fault(Some(id), format!("draft {expected} is missing"));
        }
        let draft = rows.draft(id, version).and_then(|row| row.map(|row| row.draft()).transpose());
        if let Some(Some(draft)) = verified.or_fault(Some(id), draft) {
            let recording = rows.one("SELECT recording FROM records WHERE id = ?1", [id], |row| row.get(0));
            let recording: Option<String> = verified.or_fault(Some(id), recording).flatten().flatten();
            if recording.is_some_and(|recording| recording != draft.source.sha256) {
                verified.fault(Some(id), format!("draft {version} is of another recording than the record"));
            }
        }
    }
    let review = rows.review(id);
    let review: Option<Review> = verified.or_fault(Some(id), review);
    let Some(signatures) = verified.or_fault(Some(id), rows.signatures(id)) else { return };
    let mut before: Option<&records::Signature> = None;
    for (expected, signature) in (1..).zip(&signatures) {
        verified.signatures += 1;
        let version = signature.version;
        if version != expected {
            verified.fault(Some(id), format!("signed version {expected} is missing"));
        }
        if signature.predecessor.as_ref() != before.map(|before| &before.sha256) {
            verified.fault(Some(id), format!("signed version {version} does not follow from the version before it"));
        }
        before = Some(signature);
        // Where the decisions cannot be read at all, that was told already.
        if review.is_some() {
            let signed = rows.signed(id, signature);
            verified.or_fault(Some(id), signed);
        }
    }
}

// The files of recordings against their names; gives where files may lie.
fn sounds_are_there(rows: &Rows<'_>, verified: &mut Verified) -> Result<BTreeSet<PathBuf>, StoreError> {
    let sql = "SELECT s.sha256, s.ending, s.bytes, \
               (SELECT what FROM recording_events e WHERE e.recording = s.sha256 ORDER BY number DESC LIMIT 1), \
               (SELECT id FROM records r WHERE r.recording = s.sha256 ORDER BY number LIMIT 1) \
               FROM recordings s ORDER BY s.number";
    let all = rows.all(sql, [], |row| {
        let file: (String, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let state: (Option<String>, Option<String>) = (row.get(3)?, row.get(4)?);
        Ok((file, state))
    })?;
    let mut known = BTreeSet::new();
    for ((hash, ending, bytes), (what, record)) in all {
        let path = rows.place.sound_path(&hash, &ending);
        let length = fs::metadata(&path).ok().map(|data| data.len());
        let record = record.as_deref();
        match (what.as_deref(), length) {
            (Some("kept"), None) => verified.fault(record, format!("its recording is missing: {}", path.display())),
            (Some("kept"), Some(length)) => {
                verified.sounds += 1;
                // Hashing a file of another length tells nothing more; encrypted, it is longer anyway.
                let as_long = rows.place.keys.is_some() || length == bytes.unsigned_abs();
                if !as_long || rows.place.sha256_of(&path).ok().as_deref() != Some(&hash) {
                    verified.fault(record, format!("its recording was altered: {}", path.display()));
                }
            }
            (Some("to-delete"), Some(_)) => verified.notes.push(format!(
                "{} is still to be deleted; that is done when the store is opened for writing",
                path.display()
            )),
            (Some("deleted" | "not-kept"), Some(_)) => {
                verified.fault(
                    record,
                    format!("its recording was deleted or never kept, and is there: {}", path.display()),
                );
            }
            (Some("to-delete" | "deleted" | "not-kept"), None) => {}
            (_, _) => verified.fault(record, format!("nothing tells what became of recording {hash}")),
        }
        known.insert(path);
    }
    Ok(known)
}

fn nothing_else_is_there(place: &Place, known: &BTreeSet<PathBuf>, verified: &mut Verified) {
    for path in place.sounds().into_iter().filter(|path| !known.contains(path)) {
        let shown = path.display();
        if path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(folder::PART)) {
            verified.notes.push(format!("{shown} was not written to its end; it is removed when the store is opened"));
        } else if place.is_named_by_content(&path) {
            verified.notes.push(format!(
                "{shown} belongs to no record: a program was stopped before the record was written; draft it again or delete it"
            ));
        } else {
            verified.fault(None, format!("{shown} was not put there by this program"));
        }
    }
}

// What others may look into, and what lies beside an encrypted store as it was before.
fn nothing_lies_open(place: &Place, verified: &mut Verified) {
    let folder = &place.folder;
    if folder::is_open_to_others(folder) {
        verified.notes.push(format!(
            "others on this machine may look into {}; `chmod 700` it unless that is meant",
            folder.display()
        ));
    }
    let remains = if place.keys.is_some() { place::plain_files(folder) } else { Vec::new() };
    let made_by_us = place.home.join(place::REMAINS).is_file();
    for path in remains.iter().map(|path| path.display()) {
        if made_by_us {
            verified.notes.push(format!("{path} is not encrypted; it is removed when the store is opened for writing"));
        } else {
            verified.fault(None, format!("{path} lies beside the encrypted store and is not encrypted"));
        }
    }
}

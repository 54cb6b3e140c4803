//! Recordings: kept, and deleted when their time has come.
//! Takes recordings' files and the owner's policy; puts the files in place, and takes them away once the record is signed
//! if that is the policy. Gives where a sound lies. Leaves alone what a recording holds.
//!
//! Deleting is decided in the signature's own transaction, done behind it, and then noted: what a crash leaves between is
//! finished when the store is opened next

use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use rusqlite::types::Value;

use crate::record::{DraftRecord, Moment};
use crate::store::taking::TakingFile;
use crate::store::{Rows, Store, StoreError, clock, count, folder, text};

/// How long sound is kept; the owner of the store decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum KeepSound {
    /// Until somebody deletes it.
    ForEver,
    /// Until every record made of it is signed.
    #[default]
    UntilSigned,
    /// Not at all: only drafts are kept.
    NotKept,
}

impl KeepSound {
    /// All policies.
    pub const ALL: [Self; 3] = [Self::ForEver, Self::UntilSigned, Self::NotKept];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::ForEver => "for-ever",
            Self::UntilSigned => "until-signed",
            Self::NotKept => "not-kept",
        }
    }
}

impl fmt::Display for KeepSound {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.name())
    }
}

impl FromStr for KeepSound {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let known = Self::ALL.into_iter().find(|policy| policy.name() == text);
        known.ok_or_else(|| format!("`{text}` is no policy; there are for-ever, until-signed and not-kept"))
    }
}

/// What became of the sound of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sound {
    /// There was none: the record was made from a text.
    None,
    /// The store keeps no sound.
    NotKept,
    /// It lies here.
    Kept(PathBuf),
    /// It is to be deleted, which was not done yet.
    ToDelete(PathBuf),
    /// It was deleted.
    Deleted,
}

/// A recording that has arrived: its file is in place, and its rows are still to be added.
pub(super) struct Arrived {
    bytes: u64,
    ending: String,
    kept: bool,
}

/// Puts a recording's file in place, if the policy has sound kept. The lock must be held.
pub(super) fn arrive(rows: &Rows<'_>, draft: &DraftRecord, file: &Path) -> Result<Arrived, StoreError> {
    let (ending, kept) = (ending(rows, draft)?, policy(rows)? != KeepSound::NotKept);
    let bytes = if kept {
        rows.place.put(file, &draft.source.sha256, &ending)?
    } else {
        std::fs::metadata(file).map_err(|error| StoreError::io("read", file, error))?.len()
    };
    Ok(Arrived { bytes, ending, kept })
}

/// As [`arrive`], of a recording that the store itself has written.
pub(super) fn arrive_taken(
    rows: &Rows<'_>,
    draft: &DraftRecord,
    taken: &mut TakingFile,
) -> Result<Arrived, StoreError> {
    let (ending, kept) = (ending(rows, draft)?, policy(rows)? != KeepSound::NotKept);
    let path = taken.path().to_owned();
    let sha256 = &draft.source.sha256;
    let bytes = if kept {
        rows.place.put_from(taken.wave(), &path, sha256, &ending)?
    } else if taken.sha256()? == *sha256 {
        taken.wave_length()
    } else {
        return Err(StoreError::AnotherSound(path));
    };
    Ok(Arrived { bytes, ending, kept })
}

fn ending(rows: &Rows<'_>, draft: &DraftRecord) -> Result<String, StoreError> {
    let sql = "SELECT ending FROM recordings WHERE sha256 = ?1";
    let known = rows.one(sql, [&draft.source.sha256], |row| row.get(0))?;
    Ok(known.unwrap_or_else(|| folder::ending(&draft.source.file_name)))
}

/// Whether a record was made of a recording; a length in bytes that no recording has is asked for first, as that costs nothing.
pub(super) fn is_known(
    rows: &Rows<'_>,
    bytes: u64,
    sha256: impl FnOnce() -> Result<String, StoreError>,
) -> Result<bool, StoreError> {
    let asked = |sql: &str, value: Value| rows.one(sql, [value], |_| Ok(())).map(|row| row.is_some());
    let of_length = "SELECT 1 FROM recordings WHERE bytes = ?1 LIMIT 1";
    let of_content = "SELECT 1 FROM recordings s JOIN records r ON r.recording = s.sha256 WHERE s.sha256 = ?1 LIMIT 1";
    Ok(asked(of_length, count(bytes))? && asked(of_content, Value::Text(sha256()?))?)
}

/// Adds the rows of a recording that has arrived; gives its hash.
pub(super) fn append(
    rows: &Rows<'_>,
    draft: &DraftRecord,
    arrived: &Arrived,
    at: Moment,
) -> Result<String, StoreError> {
    let source = &draft.source;
    if event(rows, &source.sha256)?.is_none() {
        rows.append(
            "recordings",
            &[
                ("sha256", text(&source.sha256)),
                ("bytes", count(arrived.bytes)),
                ("length_ms", source.length_ms.map_or(Value::Null, count)),
                ("file_name", text(&source.file_name)),
                ("ending", text(&arrived.ending)),
                ("at_ms", Value::Integer(at.0)),
            ],
        )?;
    }
    // A sound that is there stays, whatever the policy has become.
    let now = if arrived.kept { "kept" } else { "not-kept" };
    let before = event(rows, &source.sha256)?;
    if before.as_deref() != Some(now) && before.as_deref() != Some("kept") {
        append_event(rows, &source.sha256, now, at)?;
    }
    Ok(source.sha256.clone())
}

fn append_event(rows: &Rows<'_>, recording: &str, what: &str, at: Moment) -> Result<(), StoreError> {
    rows.append(
        "recording_events",
        &[("recording", text(recording)), ("what", text(what)), ("at_ms", Value::Integer(at.0))],
    )
}

/// What became of a recording last.
pub(super) fn event(rows: &Rows<'_>, recording: &str) -> Result<Option<String>, StoreError> {
    let sql = "SELECT what FROM recording_events WHERE recording = ?1 ORDER BY number DESC LIMIT 1";
    rows.one(sql, [recording], |row| row.get(0))
}

/// The policy that holds.
pub(super) fn policy(rows: &Rows<'_>) -> Result<KeepSound, StoreError> {
    let sql = "SELECT keep_sound FROM store ORDER BY number DESC LIMIT 1";
    let name: Option<String> = rows.one(sql, [], |row| row.get(0))?;
    Ok(name.and_then(|name| name.parse().ok()).unwrap_or_default())
}

// The first row is the store's own.
fn was_chosen(rows: &Rows<'_>) -> Result<bool, StoreError> {
    Ok(rows.one("SELECT 1 FROM store WHERE number > 1 LIMIT 1", [], |_| Ok(()))?.is_some())
}

/// Sets the policy.
pub(super) fn set(rows: &Rows<'_>, policy: KeepSound, at: Moment) -> Result<(), StoreError> {
    rows.append("store", &[("keep_sound", text(policy.name())), ("at_ms", Value::Integer(at.0))])
}

/// What became of the sound of a record.
pub(super) fn of_record(rows: &Rows<'_>, id: &str) -> Result<Sound, StoreError> {
    let sql = "SELECT s.sha256, s.ending FROM records r JOIN recordings s ON s.sha256 = r.recording WHERE r.id = ?1";
    let Some((hash, ending)) = rows.one(sql, [id], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))?
    else {
        return Ok(Sound::None);
    };
    let path = rows.place.sound_path(&hash, &ending);
    Ok(match event(rows, &hash)?.as_deref() {
        Some("kept") => Sound::Kept(path),
        Some("to-delete") => Sound::ToDelete(path),
        Some("deleted") => Sound::Deleted,
        _ => Sound::NotKept,
    })
}

/// Marks the sound of a record that was signed to be deleted, if that is the policy and no other record needs it.
pub(super) fn mark_signed(rows: &Rows<'_>, id: &str, at: Moment) -> Result<(), StoreError> {
    if policy(rows)? == KeepSound::ForEver {
        return Ok(());
    }
    let sql = "SELECT recording FROM records WHERE id = ?1 AND recording IS NOT NULL";
    let Some(recording) = rows.one(sql, [id], |row| row.get::<_, String>(0))? else { return Ok(()) };
    if overdue(rows)?.contains(&recording) {
        append_event(rows, &recording, "to-delete", at)?;
    }
    Ok(())
}

// Kept sounds that the policy has not kept: all of them, or those whose records are all signed.
fn overdue(rows: &Rows<'_>) -> Result<Vec<String>, StoreError> {
    let unsigned = match policy(rows)? {
        KeepSound::ForEver => return Ok(Vec::new()),
        KeepSound::UntilSigned => 1,
        KeepSound::NotKept => 0,
    };
    let sql = "SELECT s.sha256 FROM recordings s WHERE \
               (SELECT what FROM recording_events e WHERE e.recording = s.sha256 ORDER BY number DESC LIMIT 1) = 'kept' \
               AND NOT (?1 AND EXISTS (SELECT 1 FROM records r WHERE r.recording = s.sha256 \
               AND NOT EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id))) ORDER BY s.number";
    rows.all(sql, [unsigned], |row| row.get(0))
}

impl Store {
    /// How long sound is kept.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn keep_sound(&self) -> Result<KeepSound, StoreError> {
        policy(&self.rows())
    }

    /// Sets how long sound is kept, from now on: nothing is deleted by it.
    ///
    /// # Errors
    /// If the store cannot be written.
    pub fn set_keep_sound(&mut self, policy: KeepSound, at: Moment) -> Result<(), StoreError> {
        self.write(|rows| {
            // Whoever says what held anyway has said it all the same.
            let said = was_chosen(rows)? && self::policy(rows)? == policy;
            if said { Ok(()) } else { set(rows, policy, at) }
        })
    }

    /// Whether the owner ever said how long sound is kept. What a new store does by itself was said by nobody.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn keep_sound_was_chosen(&self) -> Result<bool, StoreError> {
        was_chosen(&self.rows())
    }

    /// How many sounds lie here that the policy would not have kept.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn overdue(&self) -> Result<usize, StoreError> {
        Ok(overdue(&self.rows())?.len())
    }

    /// Deletes the sounds that the policy would not have kept; gives how many.
    ///
    /// # Errors
    /// If the store cannot be written. Files that cannot be deleted are tried again at the next opening.
    pub fn delete_overdue(&mut self, at: Moment) -> Result<usize, StoreError> {
        let marked = self.write(|rows| {
            let overdue = overdue(rows)?;
            overdue.iter().try_for_each(|recording| append_event(rows, recording, "to-delete", at))?;
            Ok(overdue.len())
        })?;
        self.delete_marked()?;
        Ok(marked)
    }

    /// Where the sound of a record lies. In an encrypted store only [`Store::sound_bytes`] can read it.
    ///
    /// # Errors
    /// If there is none any more, or never was; the error says which.
    pub fn sound(&self, id: &str) -> Result<PathBuf, StoreError> {
        let because = match of_record(&self.rows(), id)? {
            Sound::Kept(path) if path.is_file() => return Ok(path),
            Sound::Kept(_) => "its file is missing; run `spoken-exam store check`",
            Sound::None => "it was made from a text, or there is no such record",
            Sound::NotKept => "the store keeps no sound",
            Sound::ToDelete(_) | Sound::Deleted => "it was deleted, as was asked or as the store's policy says",
        };
        Err(StoreError::NoSound { record: id.to_owned(), because })
    }

    /// The sound of a record, as it was put in, whether the store is encrypted or not.
    ///
    /// # Errors
    /// If there is none any more, or never was, or its file cannot be read or was altered.
    pub fn sound_bytes(&self, id: &str) -> Result<Vec<u8>, StoreError> {
        let path = self.sound(id)?;
        let mut bytes = Vec::new();
        let read = self.place.open_sound(&path).and_then(|mut sound| sound.read_to_end(&mut bytes));
        read.map_err(|error| StoreError::io("read", &path, error))?;
        Ok(bytes)
    }

    /// Deletes the sound of a record now, and so that of every record made of the same recording. Drafts stay.
    ///
    /// # Errors
    /// If there is none, or its file cannot be deleted: then that is tried again at the next opening.
    pub fn delete_sound(&mut self, id: &str, at: Moment) -> Result<(), StoreError> {
        self.sound(id)?;
        self.write(|rows| {
            let sql = "SELECT recording FROM records WHERE id = ?1 AND recording IS NOT NULL";
            let recording: Option<String> = rows.one(sql, [id], |row| row.get(0))?;
            recording.map_or(Ok(()), |recording| append_event(rows, &recording, "to-delete", at))
        })?;
        self.delete_marked()
    }

    /// Deletes what is marked.
    pub(super) fn delete_marked(&mut self) -> Result<(), StoreError> {
        let lock = folder::lock(&self.place.folder)?;
        self.finish_deleting(lock.as_ref())
    }

    /// Deletes what is marked, and notes it. Taking the lock as an argument, it cannot be forgotten; no recording arrives
    /// meanwhile.
    pub(super) fn finish_deleting(&mut self, _lock: Option<&File>) -> Result<(), StoreError> {
        let sql = "SELECT s.sha256, s.ending FROM recordings s WHERE (SELECT what FROM recording_events e \
                   WHERE e.recording = s.sha256 ORDER BY number DESC LIMIT 1) = 'to-delete'";
        let marked: Vec<(String, String)> = self.rows().all(sql, [], |row| Ok((row.get(0)?, row.get(1)?)))?;
        for (hash, ending) in marked {
            folder::remove(&self.place.sound_path(&hash, &ending))?;
            self.write(|rows| append_event(rows, &hash, "deleted", clock::now()))?;
        }
        Ok(())
    }
}

//! Recordings in the making: on the disk while somebody speaks, and still there when the program is killed.
//! Takes blocks of samples and writes each at once into a file of its own below `taking/`; gives the recording so far, makes a
//! record of it, and tells of those that no program is making any more. A lock on the file, held as long as the program lives,
//! tells the ones from the others. Leaves alone what is in the sound, and how a record keeps it (`sound`).
//!
//! Killed after 61.3 s, `unfinished` gives one of 61.3 s; kept, it is a record with a recording like any other

mod file;

use std::fmt;
use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use tempfile::NamedTempFile;
use uuid::Uuid;

use crate::audio::{OfOurOwn, Recording};
use crate::record::{DraftRecord, Moment};
use crate::store::place::{ENCRYPTED, Place};
use crate::store::{Store, StoreError, Verified, folder, records, sound};

pub(super) use file::{Rest, TakingFile};

/// The ending of a file that is a wav file.
const PLAIN: &str = "wav";
/// The ending of one that is encrypted.
const SEALED: &str = "sealed";
/// How long it is waited for one who only looks at a recording.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long it is waited before the lock is tried again.
const NAP: Duration = Duration::from_millis(5);

/// A recording that is being made. As long as it lives, no other program can take it up.
pub struct Taking {
    id: String,
    file: TakingFile,
    /// What is wrong with what was there when it was taken up.
    lost: Option<String>,
}

/// A recording that was begun and never became a record, and that no program is making.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfinished {
    /// By which it can be taken up.
    pub id: String,
    /// When it was begun.
    pub began: Moment,
    /// Its length.
    pub length_ms: u64,
}

impl fmt::Debug for Taking {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Taking({}, {} ms)", self.id, self.length_ms())
    }
}

impl Taking {
    /// Its id.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// When it was begun.
    #[must_use]
    pub fn began(&self) -> Moment {
        began(&self.id)
    }

    /// Its length so far.
    #[must_use]
    pub fn length_ms(&self) -> u64 {
        self.file.length_ms()
    }

    /// Adds samples of one channel at 16 kHz; they are in the file when this returns, though perhaps not yet on the disk.
    ///
    /// # Errors
    /// If they cannot be written, as where the disk is full: then none of them is, and what was there is as it was.
    pub fn add(&mut self, samples: &[i16]) -> Result<(), StoreError> {
        self.file.add(samples)
    }

    /// Waits until the disk has everything.
    ///
    /// # Errors
    /// If the disk fails.
    pub fn synchronise(&mut self) -> Result<(), StoreError> {
        self.file.synchronise()
    }

    /// The whole of it so far; hash and name are those of the wav file that [`Store::keep_taking`] keeps.
    ///
    /// # Errors
    /// If it cannot be read, or there is no room for what does not stay in memory.
    pub fn recording(&mut self) -> Result<Recording, StoreError> {
        let (mut sound, mut taken) = (OfOurOwn::default(), Ok(()));
        let sha256 = self.file.read(|piece| {
            if taken.is_ok() {
                taken = sound.take(piece);
            }
        })?;
        taken?;
        let mut recording = sound.finish(&format!("dictation-{}.wav", self.began().for_a_name()), sha256);
        recording.warnings.extend(self.lost.clone());
        Ok(recording)
    }
}

impl Store {
    /// Begins a recording that is written as it comes in. It is there, locked, until it is kept or dropped with
    /// [`Store::drop_taking`], whatever becomes of the program.
    ///
    /// # Errors
    /// If nothing can be written, or the store was encrypted since it was opened.
    pub fn begin_taking(&self, at: Moment) -> Result<Taking, StoreError> {
        let place = &self.place;
        // Nobody clears away what has no lock and no name yet, and nobody encrypts the store.
        let _lock = folder::lock(&place.folder)?;
        if place.keys.is_none() && place.folder.join(ENCRYPTED).exists() {
            return Err(StoreError::Encrypted(place.folder.clone()));
        }
        let takings = place.takings();
        folder::make(&takings)?;
        let id = records::new_id(at);
        let path = path_of(place, &id);
        let wrong = |error| StoreError::io("write", &path, error);
        let part = NamedTempFile::with_prefix_in(folder::PART, &takings).map_err(wrong)?;
        // The lock is the file's, and goes with the copy.
        try_lock(part.as_file(), true).map_err(wrong)?;
        let copy = part.as_file().try_clone().map_err(wrong)?;
        let file = TakingFile::begin(copy, part.path().to_owned(), place.keys.as_ref(), &id)?;
        part.persist_noclobber(&path).map_err(|error| wrong(error.error))?;
        folder::synchronise(&takings);
        folder::synchronise(&place.home);
        Ok(Taking { id, file: file.renamed(path), lost: None })
    }

    /// Recordings that were begun, never became a record, and that no running program makes; the oldest first. Where the file
    /// system has no locks, those of running programs are among them.
    ///
    /// # Errors
    /// If one of them cannot be read.
    pub fn unfinished(&self) -> Result<Vec<Unfinished>, StoreError> {
        let mut unfinished = Vec::new();
        for id in ids(&self.place) {
            let Some(mut file) = self.look_at(&id)? else { continue };
            if self.is_kept(&mut file)? {
                remove_kept(&file);
                continue;
            }
            unfinished.push(Unfinished { began: began(&id), length_ms: file.length_ms(), id });
        }
        Ok(unfinished)
    }

    /// Takes an unfinished recording up again: it can be added to, kept and dropped. What a killed program left of its last
    /// block is left out.
    ///
    /// # Errors
    /// If there is none of this id, another program makes it, or it cannot be read.
    pub fn take_up(&self, id: &str) -> Result<Taking, StoreError> {
        // An id from outside must not name a file elsewhere.
        let known = Uuid::try_parse(id).is_ok_and(|read| read.to_string() == id);
        let path = path_of(&self.place, id);
        let none = || StoreError::NoTaking(id.to_owned());
        if !known {
            return Err(none());
        }
        let opened = OpenOptions::new().read(true).write(true).open(&path);
        let opened = opened.map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => none(),
            _ => StoreError::io("open", &path, error),
        })?;
        let asked = Instant::now();
        loop {
            match try_lock(&opened, true).map_err(|error| StoreError::io("lock", &path, error))? {
                Locked::Busy if asked.elapsed() < PATIENCE => std::thread::sleep(NAP),
                Locked::Busy => return Err(StoreError::TakingInUse(id.to_owned())),
                Locked::Held | Locked::Never => break,
            }
        }
        // Whoever held it may have made a record of it, or dropped it.
        if !path.is_file() {
            return Err(none());
        }
        let mut file = TakingFile::open(opened, path, self.place.keys.as_ref(), id)?;
        if self.is_kept(&mut file)? {
            remove_kept(&file);
            return Err(none());
        }
        let lost = lost(&file);
        Ok(Taking { id: id.to_owned(), file, lost })
    }

    /// Makes a record of a draft and the recording it was made of, as [`Store::keep`] does, and takes the recording away from
    /// the unfinished ones; gives the record's id. If it fails, the recording is unfinished as before. Killed at any moment, it
    /// leaves a record, or an unfinished recording, or for a moment both: then the recording is removed at the next opening.
    ///
    /// # Errors
    /// If the recording is not the one of the draft, for something was added since, or it cannot be written.
    pub fn keep_taking(&mut self, draft: &DraftRecord, mut taking: Taking, at: Moment) -> Result<String, StoreError> {
        let _lock = folder::lock(&self.place.folder)?;
        let arrived = sound::arrive_taken(&self.rows(), draft, &mut taking.file)?;
        let id = self.make_record(draft, Some(&arrived), at)?;
        // The record is made whether this fails or not.
        remove_kept(&taking.file);
        Ok(id)
    }

    /// Deletes a recording that was not ended, for good.
    ///
    /// # Errors
    /// If its file cannot be deleted.
    pub fn drop_taking(&self, taking: Taking) -> Result<(), StoreError> {
        folder::remove(taking.file.path())
    }

    /// Removes recordings of which a record was made by a program that was killed before it removed them. The lock must be held.
    /// What cannot be read or removed is tried again the next time.
    pub(super) fn finish_takings(&self) {
        for id in ids(&self.place) {
            if let Ok(Some(mut file)) = self.look_at(&id)
                && self.is_kept(&mut file).unwrap_or(false)
            {
                remove_kept(&file);
            }
        }
    }

    // None where a program is making it, or it is gone. Several may look at once.
    fn look_at(&self, id: &str) -> Result<Option<TakingFile>, StoreError> {
        let path = path_of(&self.place, id);
        let file = match File::open(&path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            opened => opened.map_err(|error| StoreError::io("read", &path, error))?,
        };
        match try_lock(&file, false).map_err(|error| StoreError::io("lock", &path, error))? {
            Locked::Busy => Ok(None),
            _ if !path.is_file() => Ok(None),
            _ => TakingFile::open(file, path, self.place.keys.as_ref(), id).map(Some),
        }
    }

    fn is_kept(&self, file: &mut TakingFile) -> Result<bool, StoreError> {
        sound::is_known(&self.rows(), file.wave_length(), || file.sha256())
    }
}

/// Ids of all recordings that were not ended, the oldest first.
pub(super) fn ids(place: &Place) -> Vec<String> {
    let paths = folder::entries(&place.takings());
    paths.iter().filter_map(|path| id_of(place, path)).collect()
}

/// The id of a recording by its file; none if the file is not one of ours.
pub(super) fn id_of(place: &Place, path: &Path) -> Option<String> {
    let id = path.file_stem()?.to_str()?.to_owned();
    let known = Uuid::try_parse(&id).is_ok_and(|read| read.to_string() == id);
    (known && path_of(place, &id) == path).then_some(id)
}

fn path_of(place: &Place, id: &str) -> PathBuf {
    let ending = if place.keys.is_some() { SEALED } else { PLAIN };
    place.takings().join(format!("{id}.{ending}"))
}

// An id begins with its time.
fn began(id: &str) -> Moment {
    let time = Uuid::try_parse(id).ok().and_then(|id| id.get_timestamp()).map(|time| time.to_unix());
    let (seconds, nanoseconds) = time.unwrap_or_default();
    Moment(i64::try_from(seconds).unwrap_or_default() * 1000 + i64::from(nanoseconds / 1_000_000))
}

// What is missing of a recording, a sentence for whoever gets it.
fn lost(file: &TakingFile) -> Option<String> {
    let seconds = |ms: u64| ms as f64 / 1000.0;
    let behind = seconds(file.length_ms());
    match file.rest() {
        Rest::Nothing => None,
        Rest::CutOff(bytes) => Some(format!(
            "the program was stopped while it wrote: behind {behind:.1} s, at most {:.1} s of sound are lost",
            bytes as f64 / 32_000.0
        )),
        Rest::Altered(bytes) => Some(format!(
            "its file was altered behind {behind:.1} s: about {:.1} s of sound there cannot be read",
            bytes as f64 / 32_000.0
        )),
    }
}

/// Seals them along when a store is encrypted; gives how many. Refused while a program is making one: it would go on writing
/// into the old file.
#[cfg(feature = "encrypted")]
pub(super) fn copy_all(old: &Place, new: &Place) -> Result<usize, StoreError> {
    let ids = ids(old);
    if !ids.is_empty() {
        folder::make(&new.takings())?;
    }
    for id in &ids {
        let path = path_of(old, id);
        let file = File::open(&path).map_err(|error| StoreError::io("read", &path, error))?;
        if try_lock(&file, true).map_err(|error| StoreError::io("lock", &path, error))? == Locked::Busy {
            return Err(StoreError::TakingInUse(id.clone()));
        }
        let mut from = TakingFile::open(file, path, None, id)?;
        let path = path_of(new, id);
        let mut to = TakingFile::begin(folder::make_file(&path)?, path, new.keys.as_ref(), id)?;
        let mut copied = Ok(());
        from.read(|piece| {
            if copied.is_ok() {
                copied = to.add_bytes(piece);
            }
        })?;
        copied.and_then(|()| to.synchronise())?;
    }
    folder::synchronise(&new.takings());
    Ok(ids.len())
}

/// Counts them for whoever checks the store, and tells what was altered.
pub(super) fn are_readable(place: &Place, verified: &mut Verified) {
    for path in folder::entries(&place.takings()) {
        let Some(id) = id_of(place, &path) else {
            let shown = path.display();
            if path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(folder::PART)) {
                verified.notes.push(format!("{shown} holds nothing yet; it is removed when the store is opened"));
            } else {
                verified.fault(None, format!("{shown} was not put there by this program"));
            }
            continue;
        };
        let opened = File::open(&path).map_err(|error| StoreError::io("read", &path, error));
        match opened.and_then(|file| TakingFile::open(file, path, place.keys.as_ref(), &id)) {
            Err(error) => verified.fault(None, error),
            Ok(file) => {
                verified.takings += 1;
                verified.takings_ms += file.length_ms();
                if let Rest::Altered(_) = file.rest() {
                    verified.fault(None, format!("unfinished recording {id}: {}", lost(&file).unwrap_or_default()));
                }
            }
        }
    }
}

// It is no longer needed. One that stays is removed at the next opening.
fn remove_kept(file: &TakingFile) {
    let _ = folder::remove(file.path());
}

#[derive(PartialEq, Eq)]
enum Locked {
    Held,
    /// Another program has it.
    Busy,
    /// The file system has no locks.
    Never,
}

fn try_lock(file: &File, alone: bool) -> io::Result<Locked> {
    match if alone { file.try_lock() } else { file.try_lock_shared() } {
        Ok(()) => Ok(Locked::Held),
        Err(TryLockError::WouldBlock) => Ok(Locked::Busy),
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => Ok(Locked::Never),
        Err(TryLockError::Error(error)) => Err(error),
    }
}

#[cfg(test)]
mod tests;

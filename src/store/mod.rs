//! The store: records on disk, in one folder.
//! Takes drafts, recordings, decisions and signatures; keeps them in a SQLite file with the recordings beside it, and gives
//! them back. Everything is added and nothing altered; each row is sealed, so that whoever alters one by hand is found out by
//! `verify`. The only place that knows SQLite. Leaves alone what a decision or a signature means (`record`).
//! Files, in reading order: `schema/0001_records.sql` `folder` `passphrase` `encryption/` `place` `schema` `seal` `records`
//! `draft` `reviews` `remarks` `examinations` `sound` `taking` `list` `verify` `whole`.
//!
//! `spoken-exam draft visit.m4a --keep` puts a draft and its recording in; killed at any moment, it leaves both or neither

mod clock;
pub mod draft;
#[cfg_attr(not(feature = "encrypted"), path = "encryption/absent.rs")]
mod encryption;
mod error;
mod examinations;
mod folder;
mod list;
mod passphrase;
mod place;
mod records;
mod remarks;
mod reviews;
mod schema;
mod seal;
mod sound;
mod taking;
mod verify;
mod whole;

use std::fs::File;
use std::io;
use std::path::Path;
use std::time::Duration;

use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Params, Row, TransactionBehavior};

pub use clock::now;
pub use draft::NoDraft;
pub use encryption::BUILT_IN as ENCRYPTION_BUILT_IN;
pub use error::StoreError;
pub use folder::default_folder;
pub use list::{Listed, Page, Query, State};
pub use passphrase::{Passphrase, SHORTEST};
pub use records::{DraftId, Kept, Signature};
pub use sound::{KeepSound, Sound};
pub use taking::{Taking, Unfinished};
pub use verify::{Fault, Verified};
pub use whole::{NotExported, SignedWhole};

use place::Place;

/// How long another program's writing is waited for.
const PATIENCE: Duration = Duration::from_secs(10);

/// A store. Several programs may have the same one open.
///
/// ```
/// use spoken_exam::record::{Author, Moment, Person};
/// use spoken_exam::{flow, lexicon::Lexicon, store::Store};
/// # let folder = tempfile::tempdir()?;
/// # let folder = folder.path();
/// let lexicon = Lexicon::load(None)?;
/// let draft = flow::of_text(&lexicon, "No ankle clonus on the left.", "note.txt").draft;
/// let mut store = Store::open(folder)?;
/// let id = store.keep(&draft, None, Moment(1_700_000_000_000))?;
///
/// // What somebody looks at: the draft's version and the last entry go back with what they decide.
/// let kept = store.record(&id)?;
/// let by = Person::new("A. Examiner", "registrar")?;
/// let author = Author { by, at: Moment(1_700_000_060_000), seen: kept.review.last() };
/// let entries = store.decide(&kept.draft_id(), &lexicon, &author, &kept.review.confirm_all_clear())?;
///
/// let signer = Author { seen: entries.len() as u64, ..author };
/// let signed = store.sign(&kept.draft_id(), &lexicon, &signer)?;
/// assert_eq!((signed.version(), signed.findings()[0].value.as_str()), (1, "absent"));
/// assert!(store.verify()?.faults.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Store {
    place: Place,
    connection: Connection,
}

impl Store {
    /// Opens a store, and makes it if there is none. What a killed program left undone is finished.
    ///
    /// # Errors
    /// If the folder cannot be written to, holds something else or a newer store, or one that is encrypted.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        Self::open_with(folder, None)
    }

    /// As [`Store::open`], with the passphrase of a store that is encrypted. A wrong one changes nothing.
    ///
    /// # Errors
    /// As [`Store::open`], or if the passphrase is wrong.
    pub fn open_with(folder: &Path, passphrase: Option<&Passphrase>) -> Result<Self, StoreError> {
        let place = Place::find(folder, passphrase)?;
        folder::make(folder)?;
        let lock = folder::lock(folder)?;
        // It may have been encrypted while the lock was waited for.
        let place = if place.keys.is_none() { Place::find(folder, passphrase)? } else { place };
        Self::open_place(place, lock.as_ref())
    }

    fn open_place(place: Place, lock: Option<&File>) -> Result<Self, StoreError> {
        folder::make_file(&place.database())?;
        folder::make(&place.recordings())?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(place.database(), flags);
        let mut store = Self::connect(place, opened)?;
        let age = schema::bring_up(&mut store.connection, &store.place.folder)?;
        if matches!(age, schema::Age::Empty) {
            store.write(|rows| sound::set(rows, KeepSound::default(), now()))?;
            folder::synchronise(&store.place.home);
        }
        store.place.clear();
        store.finish_deleting(lock)?;
        store.finish_takings();
        Ok(store)
    }

    /// Opens a store that is there; one that may only be read is opened for reading.
    ///
    /// # Errors
    /// If there is none, or as [`Store::open`].
    pub fn open_existing(folder: &Path) -> Result<Self, StoreError> {
        Self::open_existing_with(folder, None)
    }

    /// As [`Store::open_existing`], with the passphrase of a store that is encrypted.
    ///
    /// # Errors
    /// As [`Store::open_with`], or if there is none.
    pub fn open_existing_with(folder: &Path, passphrase: Option<&Passphrase>) -> Result<Self, StoreError> {
        if !Self::is_there(folder) {
            return Err(StoreError::NoStore(folder.to_owned()));
        }
        match Self::open_with(folder, passphrase) {
            Err(StoreError::ReadOnly(_)) => Self::open_to_read_with(folder, passphrase),
            Err(StoreError::Io { source, .. }) if source.kind() == io::ErrorKind::PermissionDenied => {
                Self::open_to_read_with(folder, passphrase)
            }
            opened => opened,
        }
    }

    /// Opens a store for reading only: nothing in the folder is changed.
    ///
    /// # Errors
    /// If there is none, or as [`Store::open`].
    pub fn open_to_read(folder: &Path) -> Result<Self, StoreError> {
        Self::open_to_read_with(folder, None)
    }

    /// As [`Store::open_to_read`], with the passphrase of a store that is encrypted.
    ///
    /// # Errors
    /// As [`Store::open_with`], or if there is none.
    pub fn open_to_read_with(folder: &Path, passphrase: Option<&Passphrase>) -> Result<Self, StoreError> {
        let place = Place::find(folder, passphrase)?;
        if !place.database().is_file() {
            return Err(StoreError::NoStore(folder.to_owned()));
        }
        Self::read_place(place)
    }

    fn read_place(place: Place) -> Result<Self, StoreError> {
        let file = place.database();
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = connect_to_read(&place, Connection::open_with_flags(&file, flags));
        let unwritten =
            std::fs::metadata(place.home.join(format!("{}-wal", folder::DATABASE))).map_or(0, |data| data.len());
        let connection = match opened {
            // Where SQLite can make no file for its shared memory, a store that nobody writes to can be read without.
            Err(StoreError::Sqlite { .. } | StoreError::ReadOnly(_)) if unwritten == 0 => {
                let plain = file.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
                let address = format!("file:{plain}?immutable=1");
                let flags = flags | OpenFlags::SQLITE_OPEN_URI;
                connect_to_read(&place, Connection::open_with_flags(address, flags))?
            }
            opened => opened?,
        };
        Ok(Self { place, connection })
    }

    fn connect(place: Place, opened: rusqlite::Result<Connection>) -> Result<Self, StoreError> {
        let folder = &place.folder;
        let of = |error: rusqlite::Error| StoreError::of_sqlite(folder, &error);
        let connection = unlocked(&place, opened)?;
        let ready = || {
            connection.pragma_update(None, "trusted_schema", false)?;
            connection.pragma_update(None, "foreign_keys", true)?;
            // Otherwise "INSERT OR REPLACE" would delete a row without asking the triggers.
            connection.pragma_update(None, "recursive_triggers", true)
        };
        ready().map_err(of)?;
        // Before anything is changed: what is no store stays as it is.
        checked(&place, &connection)?;
        connection.pragma_update(None, "journal_mode", "wal").map_err(of)?;
        // What was decided is on the disk before it is called done.
        connection.pragma_update(None, "synchronous", "full").map_err(of)?;
        Ok(Self { place, connection })
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.place.folder
    }

    /// Whether a folder holds a store, encrypted or not.
    #[must_use]
    pub fn is_there(folder: &Path) -> bool {
        Self::is_encrypted(folder) || folder.join(folder::DATABASE).is_file()
    }

    /// Whether the store in a folder is encrypted; a folder without one is not.
    #[must_use]
    pub fn is_encrypted(folder: &Path) -> bool {
        folder.join(place::ENCRYPTED).is_dir()
    }

    /// Encrypts the store in a folder, or makes one there that is. Killed at any moment, it leaves the old store or the new
    /// one. Whoever forgets the passphrase loses everything.
    ///
    /// # Errors
    /// If it is encrypted or in use, cannot be written, or holds what would be lost; then it is as it was.
    pub fn encrypt(folder: &Path, passphrase: &Passphrase) -> Result<Encrypted, StoreError> {
        encryption::encrypt(folder, passphrase)
    }

    /// Gives an encrypted store another passphrase. What it keeps is not encrypted anew: a copy made before opens with the
    /// old one.
    ///
    /// # Errors
    /// If the store is not encrypted, the old passphrase is wrong or the new one is short; then nothing is changed.
    pub fn change_passphrase(folder: &Path, old: &Passphrase, new: &Passphrase) -> Result<(), StoreError> {
        encryption::change_passphrase(folder, old, new)
    }

    fn rows(&self) -> Rows<'_> {
        Rows { place: &self.place, connection: &self.connection }
    }

    /// Does some work whole or not at all. What it reads, nobody changes before it is done.
    fn write<T>(&mut self, work: impl FnOnce(&Rows<'_>) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let place = &self.place;
        let of = |error: rusqlite::Error| StoreError::of_sqlite(&place.folder, &error);
        let whole = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(of)?;
        let done = work(&Rows { place, connection: &whole })?;
        whole.commit().map_err(of)?;
        Ok(done)
    }
}

/// What was encrypted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Encrypted {
    /// How many records.
    pub records: usize,
    /// How many files of recordings.
    pub sounds: usize,
    /// How many recordings that were not ended.
    pub takings: usize,
}

// A connection that waits for others, and has the key.
fn unlocked(place: &Place, opened: rusqlite::Result<Connection>) -> Result<Connection, StoreError> {
    let ready = opened.and_then(|connection| {
        if let Some(keys) = &place.keys {
            // It would write to standard error what is told as an error anyway.
            connection.pragma_update(None, "cipher_log_level", "NONE")?;
            // SQLCipher wants the key before anything is read.
            connection.pragma_update(None, "key", keys.of_database().as_str())?;
        }
        connection.busy_timeout(PATIENCE)?;
        Ok(connection)
    });
    ready.map_err(|error| StoreError::of_sqlite(&place.folder, &error))
}

fn connect_to_read(place: &Place, opened: rusqlite::Result<Connection>) -> Result<Connection, StoreError> {
    let connection = unlocked(place, opened)?;
    match checked(place, &connection)? {
        schema::VERSION => Ok(connection),
        _ => Err(StoreError::NotAStore(place.folder.clone())),
    }
}

fn checked(place: &Place, connection: &Connection) -> Result<i64, StoreError> {
    schema::check(connection, &place.folder).map_err(|error| match error {
        // The key is right, or its file would not have opened.
        StoreError::NotAStore(folder) if place.keys.is_some() => {
            StoreError::Damaged { folder, said: "its database was altered or is not the one of its key".to_owned() }
        }
        error => error,
    })
}

/// The rows of a store, inside a transaction or not.
struct Rows<'a> {
    place: &'a Place,
    connection: &'a Connection,
}

impl Rows<'_> {
    fn told<T>(&self, result: rusqlite::Result<T>) -> Result<T, StoreError> {
        result.map_err(|error| StoreError::of_sqlite(&self.place.folder, &error))
    }

    /// The first row that an SQL gives.
    fn one<T>(
        &self,
        sql: &str,
        given: impl Params,
        of: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, StoreError> {
        self.told(self.connection.prepare_cached(sql).and_then(|mut sql| sql.query_row(given, of).optional()))
    }

    /// All rows that an SQL gives.
    fn all<T>(
        &self,
        sql: &str,
        given: impl Params,
        of: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, StoreError> {
        let rows = self.connection.prepare_cached(sql).and_then(|mut sql| sql.query_map(given, of)?.collect());
        self.told(rows)
    }

    /// Adds a row.
    fn append(&self, table: &str, row: &[(&str, Value)]) -> Result<(), StoreError> {
        self.told(seal::append(self.connection, table, row)).map(drop)
    }
}

/// A text for a row.
fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

/// A count for a row: SQLite's numbers have a sign.
fn count(number: u64) -> Value {
    Value::Integer(i64::try_from(number).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests;

//! The store: records on disk, in one folder.
//! Takes drafts, recordings, decisions and signatures; keeps them in a SQLite file with the recordings beside it, and gives
//! them back. Everything is added and nothing altered; each row is sealed, so that whoever alters one by hand is found out by
//! `verify`. The only place that knows SQLite. Leaves alone what a decision or a signature means (`record`).
//! Files, in reading order: `schema/0001_records.sql` `folder` `schema` `seal` `records` `draft` `reviews` `sound` `list`
//! `verify`.
//!
//! `spoken-exam draft visit.m4a --keep` puts a draft and its recording in; killed at any moment, it leaves both or neither

mod clock;
pub mod draft;
mod error;
mod folder;
mod list;
mod records;
mod reviews;
mod schema;
mod seal;
mod sound;
mod verify;

use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Params, Row, TransactionBehavior};

pub use clock::now;
pub use draft::NoDraft;
pub use error::StoreError;
pub use folder::default_folder;
pub use list::{Listed, Page, Query, State};
pub use records::{DraftId, Kept, Signature};
pub use sound::{KeepSound, Sound};
pub use verify::{Fault, Verified};

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
    folder: PathBuf,
    connection: Connection,
}

impl Store {
    /// Opens a store, and makes it if there is none. What a killed program left undone is finished.
    ///
    /// # Errors
    /// If the folder cannot be written to, or holds something else or a newer store.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        folder::make(folder)?;
        let lock = folder::lock(folder)?;
        let file = folder.join(folder::DATABASE);
        folder::make_file(&file)?;
        folder::make(&folder.join(folder::RECORDINGS))?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut store = Self::connect(folder, Connection::open_with_flags(&file, flags))?;
        let age = schema::bring_up(&mut store.connection, folder)?;
        if matches!(age, schema::Age::Empty) {
            store.write(|rows| sound::set(rows, KeepSound::default(), now()))?;
            folder::synchronise(folder);
        }
        folder::clear(folder);
        store.finish_deleting(lock.as_ref())?;
        Ok(store)
    }

    /// Opens a store that is there; one that may only be read is opened for reading.
    ///
    /// # Errors
    /// If there is none, or as [`Store::open`].
    pub fn open_existing(folder: &Path) -> Result<Self, StoreError> {
        if !folder.join(folder::DATABASE).is_file() {
            return Err(StoreError::NoStore(folder.to_owned()));
        }
        match Self::open(folder) {
            Err(StoreError::ReadOnly(_)) => Self::open_to_read(folder),
            Err(StoreError::Io { source, .. }) if source.kind() == io::ErrorKind::PermissionDenied => {
                Self::open_to_read(folder)
            }
            opened => opened,
        }
    }

    /// Opens a store for reading only: nothing in the folder is changed.
    ///
    /// # Errors
    /// If there is none, or as [`Store::open`].
    pub fn open_to_read(folder: &Path) -> Result<Self, StoreError> {
        let file = folder.join(folder::DATABASE);
        if !file.is_file() {
            return Err(StoreError::NoStore(folder.to_owned()));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Self::connect_to_read(folder, Connection::open_with_flags(&file, flags));
        let unwritten =
            std::fs::metadata(folder.join(format!("{}-wal", folder::DATABASE))).map_or(0, |data| data.len());
        match opened {
            // Where SQLite can make no file for its shared memory, a store that nobody writes to can be read without.
            Err(StoreError::Sqlite { .. } | StoreError::ReadOnly(_)) if unwritten == 0 => {
                let plain = file.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
                let address = format!("file:{plain}?immutable=1");
                let flags = flags | OpenFlags::SQLITE_OPEN_URI;
                Self::connect_to_read(folder, Connection::open_with_flags(address, flags))
            }
            opened => opened,
        }
    }

    fn connect_to_read(folder: &Path, opened: rusqlite::Result<Connection>) -> Result<Self, StoreError> {
        let opened = opened.map_err(|error| StoreError::of_sqlite(folder, &error))?;
        let store = Self { folder: folder.to_owned(), connection: opened };
        let patient = store.connection.busy_timeout(PATIENCE);
        patient.map_err(|error| StoreError::of_sqlite(folder, &error))?;
        match schema::check(&store.connection, folder)? {
            schema::VERSION => Ok(store),
            _ => Err(StoreError::NotAStore(folder.to_owned())),
        }
    }

    fn connect(folder: &Path, opened: rusqlite::Result<Connection>) -> Result<Self, StoreError> {
        let ready = opened.and_then(|connection| {
            connection.busy_timeout(PATIENCE)?;
            connection.pragma_update(None, "trusted_schema", false)?;
            connection.pragma_update(None, "foreign_keys", true)?;
            // Otherwise "INSERT OR REPLACE" would delete a row without asking the triggers.
            connection.pragma_update(None, "recursive_triggers", true)?;
            Ok(connection)
        });
        let of = |error: rusqlite::Error| StoreError::of_sqlite(folder, &error);
        let store = Self { folder: folder.to_owned(), connection: ready.map_err(of)? };
        // Before anything is changed: what is no store stays as it is.
        schema::check(&store.connection, folder)?;
        store.connection.pragma_update(None, "journal_mode", "wal").map_err(of)?;
        // What was decided is on the disk before it is called done.
        store.connection.pragma_update(None, "synchronous", "full").map_err(of)?;
        Ok(store)
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    fn rows(&self) -> Rows<'_> {
        Rows { folder: &self.folder, connection: &self.connection }
    }

    /// Does some work whole or not at all. What it reads, nobody changes before it is done.
    fn write<T>(&mut self, work: impl FnOnce(&Rows<'_>) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let folder = &self.folder;
        let of = |error: rusqlite::Error| StoreError::of_sqlite(folder, &error);
        let whole = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(of)?;
        let done = work(&Rows { folder, connection: &whole })?;
        whole.commit().map_err(of)?;
        Ok(done)
    }
}

/// The rows of a store, inside a transaction or not.
struct Rows<'a> {
    folder: &'a Path,
    connection: &'a Connection,
}

impl Rows<'_> {
    fn told<T>(&self, result: rusqlite::Result<T>) -> Result<T, StoreError> {
        result.map_err(|error| StoreError::of_sqlite(self.folder, &error))
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

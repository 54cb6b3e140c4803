//! What can go wrong with a store.
//! Takes what SQLite or the system says; gives errors that say what, where and what now. Leaves alone what was found when a
//! store is checked (`verify`): that is no error but a result.
//!
//! "cannot write to /data/store: the disk is full; nothing was changed, make room and try again"

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;
use thiserror::Error;

use crate::audio::AudioError;
use crate::record::remarks::NoRemark;
use crate::record::{NoReview, Refused, Undecided};
use crate::store::draft::NoDraft;
use crate::store::passphrase::SHORTEST;

/// Why something could not be done with a store. Nothing is changed by what failed.
#[derive(Debug, Error)]
pub enum StoreError {
    /// There is none.
    #[error("there is no store in {}; `draft FILE --keep` makes one, and --store DIR names another", .0.display())]
    NoStore(PathBuf),
    /// The file is something else.
    #[error("{} is no store of spoken-exam; name another folder", .0.display())]
    NotAStore(PathBuf),
    /// A later program made it.
    #[error("the store in {} is of version {found}, and this program knows versions up to {known}; use the newer program", folder.display())]
    Newer {
        /// The store's folder.
        folder: PathBuf,
        /// Its version.
        found: i64,
        /// The last version that is known.
        known: i64,
    },
    /// It is encrypted, and no passphrase was given.
    #[error("the store in {} is encrypted; give its passphrase, in a file: --passphrase-file FILE", .0.display())]
    Encrypted(PathBuf),
    /// Its passphrase is another.
    #[error("that is not the passphrase of the store in {}; nothing was changed, try again", .0.display())]
    WrongPassphrase(PathBuf),
    /// The file with its key is no such file.
    #[error("{} is damaged, and without it nothing in the store can be read; put it back from a copy", .0.display())]
    KeyDamaged(PathBuf),
    /// This program knows no encryption.
    #[error(
        "this program was built without encryption and can neither open nor make an encrypted store; build it with \
         `cargo build --release`, without --no-default-features"
    )]
    BuiltWithoutEncryption,
    /// It is encrypted already.
    #[error("the store in {} is encrypted already; `store change-passphrase` gives it another passphrase", .0.display())]
    EncryptedAlready(PathBuf),
    /// It is not encrypted.
    #[error("the store in {} is not encrypted; `store encrypt` makes it so", .0.display())]
    NotEncrypted(PathBuf),
    /// A new passphrase is easily found by trying.
    #[error("a passphrase has at least {SHORTEST} characters; take several words that stand in no book")]
    ShortPassphrase,
    /// Something lies among the recordings that cannot be taken over.
    #[error("{} was not put there by this program and would be lost; move it elsewhere and try again", .0.display())]
    Foreign(PathBuf),
    /// What was encrypted is not what was there.
    #[error("the store in {} was not encrypted and is as it was: its copy is not like it; run `spoken-exam store check`", .0.display())]
    UnlikeCopy(PathBuf),
    /// The disk is full.
    #[error("cannot write to {}: the disk is full; nothing was changed, make room and try again", .0.display())]
    Full(PathBuf),
    /// The disk is full while a recording is being made.
    #[error("cannot write to {}: the disk is full; what was recorded before is kept, make room", .0.display())]
    TakingFull(PathBuf),
    /// No recording that was not ended has this id.
    #[error("there is no unfinished recording {0}; `spoken-exam store show` tells how many there are")]
    NoTaking(String),
    /// Another program is making it.
    #[error("recording {0} is being made by another program; end it there first")]
    TakingInUse(String),
    /// It may only be read.
    #[error("cannot write to {}: it may only be read", .0.display())]
    ReadOnly(PathBuf),
    /// Another program holds it.
    #[error("the store in {} is in use by another program; try again", .0.display())]
    Busy(PathBuf),
    /// Its file is damaged.
    #[error("the store in {} is damaged: {said}; keep a copy as it is and run `spoken-exam store check`", folder.display())]
    Damaged {
        /// The store's folder.
        folder: PathBuf,
        /// What SQLite says.
        said: String,
    },
    /// SQLite fails otherwise.
    #[error("cannot use the store in {}: {said}", folder.display())]
    Sqlite {
        /// The store's folder.
        folder: PathBuf,
        /// What SQLite says.
        said: String,
    },
    /// A file or folder fails.
    #[error("cannot {doing} {}: {source}", path.display())]
    Io {
        /// What was done.
        doing: &'static str,
        /// To what.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A recording cannot be worked on.
    #[error(transparent)]
    Sound(#[from] AudioError),
    /// No record has this id.
    #[error("there is no record {0}; `spoken-exam store list` shows those there are")]
    NoRecord(String),
    /// The id's beginning is that of several.
    #[error("{0} is the beginning of several records' ids; give more of it")]
    SeveralRecords(String),
    /// The recording is not the one that the draft was made from.
    #[error("{} is not the recording of this draft: it was changed since it was heard; make the draft anew", .0.display())]
    AnotherSound(PathBuf),
    /// The sound is not there.
    #[error("the sound of record {record} is not there: {because}")]
    NoSound {
        /// The record.
        record: String,
        /// Why.
        because: &'static str,
    },
    /// Its draft cannot be read.
    #[error("draft {version} of record {record} cannot be read: {source}")]
    Draft {
        /// The record.
        record: String,
        /// Version of the draft.
        version: u32,
        /// Why.
        source: NoDraft,
    },
    /// Its draft was decided upon and is fixed.
    #[error("record {0} is in review: its draft stays; keep the new draft as a record of its own")]
    InReview(String),
    /// The draft that was looked at is not the last.
    #[error(
        "record {record} has a newer draft, {now}, than the one that was looked at, {seen}; look at it and decide again"
    )]
    NewerDraft {
        /// The record.
        record: String,
        /// What was looked at.
        seen: u32,
        /// The last one.
        now: u32,
    },
    /// Something was decided that the signer had not seen.
    #[error(
        "record {record} was decided upon since it was looked at (entry {seen}, now {now}); look at it and sign again"
    )]
    NotSeen {
        /// The record.
        record: String,
        /// The last entry that was seen.
        seen: u64,
        /// The last entry.
        now: u64,
    },
    /// It was not signed yet.
    #[error("record {0} is not signed; sign it before it is amended")]
    NotSigned(String),
    /// It was signed already.
    #[error("record {0} is signed; amend it, with a reason")]
    Signed(String),
    /// What the store holds makes no sense.
    #[error("record {record} is damaged: {what}; run `spoken-exam store check`")]
    Nonsense {
        /// The record.
        record: String,
        /// What is wrong.
        what: String,
    },
    /// A decision is refused.
    #[error(transparent)]
    Refused(#[from] Box<Refused>),
    /// A remark is refused.
    #[error(transparent)]
    NoRemark(#[from] NoRemark),
    /// Something is undecided.
    #[error("cannot sign: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Undecided(Vec<Undecided>),
}

impl StoreError {
    /// What SQLite's error means for the store in `folder`.
    pub(super) fn of_sqlite(folder: &Path, error: &rusqlite::Error) -> Self {
        let (folder, said) = (folder.to_owned(), error.to_string());
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full(folder),
            Some(ErrorCode::ReadOnly) => Self::ReadOnly(folder),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(folder),
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged { folder, said },
            Some(ErrorCode::NotADatabase) => Self::NotAStore(folder),
            _ => Self::Sqlite { folder, said },
        }
    }

    pub(super) fn io(doing: &'static str, path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
                Self::Full(path.to_owned())
            }
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly(path.to_owned()),
            _ => Self::Io { doing, path: path.to_owned(), source },
        }
    }

    pub(super) fn nonsense(record: &str, what: impl ToString) -> Self {
        Self::Nonsense { record: record.to_owned(), what: what.to_string() }
    }

    pub(super) fn no_review(record: &str, why: &NoReview) -> Self {
        Self::nonsense(record, why)
    }
}

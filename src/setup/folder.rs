//! The models' folder: a lock, a temporary folder inside it, and a last rename.
//! Takes the folder; makes it, refuses a second set-up at the same time, removes what a killed one left, checks the
//! room. Leaves alone: what is put into the temporary folder. The temporary folder goes when the value goes.
//! A model is either whole under its name or not there: it is written beside and renamed last.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::error::SetupError;

/// What temporary folders' names begin with. They are removed at the next start, whoever left them.
const TEMPORARY: &str = ".setup-";
/// The lock's file; it stays, empty.
const LOCK: &str = ".setup.lock";

/// The models' folder while a set-up is at work in it.
#[derive(Debug)]
pub(super) struct Folder {
    path: PathBuf,
    temporary: TempDir,
    /// Held until this value goes; the system lets go of it when the process is killed.
    _lock: Option<File>,
}

impl Folder {
    /// Makes the folder, locks it, clears what is left over, and makes a temporary folder for `needed` bytes.
    pub(super) fn open(path: &Path, needed: u64) -> Result<Self, SetupError> {
        fs::create_dir_all(path).map_err(|error| SetupError::io("make", path, error))?;
        let lock = lock(path)?;
        clear(path)?;
        let free = fs4::available_space(path).ok();
        if let Some(free) = free.filter(|free| *free < needed) {
            return Err(SetupError::NoSpace { folder: path.to_path_buf(), needed, free: Some(free) });
        }
        let temporary = tempfile::Builder::new().prefix(TEMPORARY).tempdir_in(path);
        let temporary = temporary.map_err(|error| SetupError::io("write to", path, error))?;
        Ok(Folder { path: path.to_path_buf(), temporary, _lock: lock })
    }

    pub(super) fn temporary(&self) -> &Path {
        self.temporary.path()
    }

    /// Gives a finished file of the temporary folder its name, all at once.
    pub(super) fn keep(&self, finished: &Path, path: &Path) -> Result<(), SetupError> {
        fs::rename(finished, path).map_err(|error| SetupError::io("rename to", path, error))?;
        // The new name must outlast a power cut; where a folder cannot be synchronised, the system does it later.
        let _ = File::open(&self.path).and_then(|folder| folder.sync_all());
        Ok(())
    }
}

/// Removes what killed set-ups left, when no set-up is at work. pip may outlive a set-up that was killed and make its
/// folder anew, so this is also done when there is nothing else to do. What cannot be removed is left.
pub(super) fn tidy(path: &Path) {
    if let Ok(_lock) = lock(path) {
        let _ = clear(path);
    }
}

/// The lock, or none where the file system has no locks.
fn lock(folder: &Path) -> Result<Option<File>, SetupError> {
    let path = folder.join(LOCK);
    let file = File::options().create(true).truncate(false).write(true).open(&path);
    let file = file.map_err(|error| SetupError::io("write", &path, error))?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Err(SetupError::Busy { folder: folder.to_path_buf() }),
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => Ok(None),
        Err(TryLockError::Error(error)) => Err(SetupError::io("lock", &path, error)),
    }
}

/// Removes what killed set-ups left. The lock says that none of it is in use.
fn clear(folder: &Path) -> Result<(), SetupError> {
    let entries = fs::read_dir(folder).map_err(|error| SetupError::io("read", folder, error))?;
    for entry in entries.flatten() {
        let left_over = entry.file_name().to_string_lossy().starts_with(TEMPORARY);
        if left_over && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            fs::remove_dir_all(entry.path()).map_err(|error| SetupError::io("remove", &entry.path(), error))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_kept_file_is_all_that_remains() {
        let place = tempfile::tempdir().unwrap();
        let models = place.path().join("data/models");
        let folder = Folder::open(&models, 1).unwrap();
        let part = folder.temporary().join("part");
        fs::write(&part, b"whole").unwrap();
        folder.keep(&part, &models.join("model.bin")).unwrap();
        drop(folder);
        assert_eq!(names(&models), [LOCK, "model.bin"]);
    }

    #[test]
    fn what_a_killed_set_up_left_goes_and_nothing_else() {
        let models = tempfile::tempdir().unwrap();
        fs::create_dir_all(models.path().join(".setup-old/wheels")).unwrap();
        fs::write(models.path().join(".setup-old/wheels/half.whl"), b"half").unwrap();
        fs::create_dir(models.path().join("own")).unwrap();
        fs::write(models.path().join("ggml-other.bin"), b"").unwrap();
        drop(Folder::open(models.path(), 1).unwrap());
        assert_eq!(names(models.path()), [LOCK, "ggml-other.bin", "own"]);
        fs::create_dir(models.path().join(".setup-late")).unwrap();
        tidy(models.path());
        assert_eq!(names(models.path()), [LOCK, "ggml-other.bin", "own"]);
    }

    #[test]
    fn a_second_set_up_at_once_is_refused() {
        let models = tempfile::tempdir().unwrap();
        let first = Folder::open(models.path(), 1).unwrap();
        assert!(matches!(Folder::open(models.path(), 1), Err(SetupError::Busy { .. })));
        assert!(first.temporary().exists(), "the first one's work is still there");
        drop(first);
        Folder::open(models.path(), 1).unwrap();
    }

    #[test]
    fn too_little_room_is_said_before_anything_is_fetched() {
        let models = tempfile::tempdir().unwrap();
        let error = Folder::open(models.path(), u64::MAX).unwrap_err();
        assert!(matches!(error, SetupError::NoSpace { needed: u64::MAX, free: Some(_), .. }), "{error}");
        assert_eq!(names(models.path()), [LOCK]);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_named() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("file"), b"").unwrap();
        let error = Folder::open(&place.path().join("file/models"), 1).unwrap_err().to_string();
        assert!(error.starts_with("cannot make ") && error.contains("file/models: "), "{error}");
    }
}

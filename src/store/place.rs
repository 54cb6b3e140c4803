//! Where the files of a store lie, and with what they are read.
//! Takes the folder that somebody named, and a passphrase where one is needed; tells where database and recordings are, and
//! puts recordings in place and reads them, encrypted or not. Leaves alone what is in them.
//!
//! A store that is not encrypted lies in its folder itself, an encrypted one in `encrypted/` below

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use tempfile::NamedTempFile;

use crate::store::encryption::{self, Keys};
use crate::store::folder::{self, DATABASE, PART, RECORDINGS, TAKINGS};
use crate::store::{Passphrase, StoreError};

/// The folder of an encrypted store, within the one that is named.
pub(super) const ENCRYPTED: &str = "encrypted";
/// The same while it is being made.
pub(super) const UNFINISHED: &str = ".encrypting";
/// The file in it which says that the files that were encrypted may still lie beside it.
pub(super) const REMAINS: &str = ".remains";

/// The files of a store.
#[derive(Debug)]
pub(super) struct Place {
    /// The folder that is named.
    pub(super) folder: PathBuf,
    /// The folder in which database and recordings are.
    pub(super) home: PathBuf,
    /// What they are encrypted with, if they are.
    pub(super) keys: Option<Keys>,
}

impl Place {
    /// A store that is not encrypted.
    pub(super) fn plain(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), home: folder.to_owned(), keys: None }
    }

    /// The store in a folder, whichever it is. Nothing is changed; there need be none.
    pub(super) fn find(folder: &Path, passphrase: Option<&Passphrase>) -> Result<Self, StoreError> {
        let home = folder.join(ENCRYPTED);
        match passphrase {
            _ if !home.is_dir() => Ok(Self::plain(folder)),
            _ if !encryption::BUILT_IN => Err(StoreError::BuiltWithoutEncryption),
            None => Err(StoreError::Encrypted(folder.to_owned())),
            Some(passphrase) => {
                let keys = Keys::open(&home, passphrase).map_err(|error| match error {
                    StoreError::WrongPassphrase(_) => StoreError::WrongPassphrase(folder.to_owned()),
                    error => error,
                })?;
                Ok(Self { folder: folder.to_owned(), home, keys: Some(keys) })
            }
        }
    }

    /// The file of the database.
    pub(super) fn database(&self) -> PathBuf {
        self.home.join(DATABASE)
    }

    /// The folder of the recordings.
    pub(super) fn recordings(&self) -> PathBuf {
        self.home.join(RECORDINGS)
    }

    /// The folder of the recordings that are being made.
    pub(super) fn takings(&self) -> PathBuf {
        self.home.join(TAKINGS)
    }

    /// Where a recording lies: `recordings/ab/abcdef….EXT`; encrypted, under a name that tells nothing of it.
    pub(super) fn sound_path(&self, sha256: &str, ending: &str) -> PathBuf {
        let name = match &self.keys {
            None => format!("{sha256}.{ending}"),
            Some(keys) => keys.name(sha256),
        };
        let first = name.get(..2).unwrap_or(&name).to_owned();
        self.recordings().join(first).join(name)
    }

    /// Copies a recording to its place, whole or not at all, and gives its length in bytes. The lock must be held. It is
    /// refused if it does not hold what `sha256` says.
    pub(super) fn put(&self, sound: &Path, sha256: &str, ending: &str) -> Result<u64, StoreError> {
        let file = File::open(sound).map_err(|error| StoreError::io("read", sound, error))?;
        self.put_from(file, sound, sha256, ending)
    }

    /// As [`Place::put`], from what is read; `named` is where it comes from, for errors.
    pub(super) fn put_from(
        &self,
        sound: impl Read,
        named: &Path,
        sha256: &str,
        ending: &str,
    ) -> Result<u64, StoreError> {
        let place = self.sound_path(sha256, ending);
        let copy = self.copy(sound, named, &place)?;
        if copy.sha256 != sha256 {
            return Err(StoreError::AnotherSound(named.to_owned()));
        }
        let bytes = copy.bytes;
        self.keep(copy, &place)?;
        Ok(bytes)
    }

    /// As [`Place::put`], whatever it holds: of a store that is encrypted, what was altered stays as it was found.
    #[cfg(feature = "encrypted")]
    pub(super) fn put_as_it_is(&self, sound: &Path, sha256: &str, ending: &str) -> Result<(), StoreError> {
        let place = self.sound_path(sha256, ending);
        let file = File::open(sound).map_err(|error| StoreError::io("read", sound, error))?;
        self.keep(self.copy(file, sound, &place)?, &place)
    }

    fn copy(&self, sound: impl Read, named: &Path, place: &Path) -> Result<Copy, StoreError> {
        let wrong = |error| StoreError::io("write", place, error);
        let mut part = NamedTempFile::with_prefix_in(PART, self.recordings()).map_err(wrong)?;
        let mut from = Hashing { sound, hash: Sha256::new() };
        let copied = match &self.keys {
            None => copied(&mut from, part.as_file_mut()),
            Some(keys) => encryption::seal(&mut from, part.as_file_mut(), keys, &name_of(place)),
        };
        let bytes = copied.map_err(|(reading, error)| match reading {
            true => StoreError::io("read", named, error),
            false => wrong(error),
        })?;
        part.as_file().sync_all().map_err(wrong)?;
        Ok(Copy { part, bytes, sha256: format!("{:x}", from.hash.finalize()) })
    }

    fn keep(&self, copy: Copy, place: &Path) -> Result<(), StoreError> {
        let recordings = self.recordings();
        let parent = place.parent().unwrap_or(&recordings);
        folder::make(parent)?;
        copy.part.persist(place).map_err(|error| StoreError::io("write", place, error.error))?;
        folder::synchronise(parent);
        folder::synchronise(&recordings);
        folder::synchronise(&self.home);
        Ok(())
    }

    /// A recording's file, to be read as it was put in. What was altered is refused where it is met.
    pub(super) fn open_sound(&self, path: &Path) -> io::Result<Box<dyn Read>> {
        let file = File::open(path)?;
        Ok(match &self.keys {
            None => Box::new(file),
            Some(keys) => Box::new(encryption::Opened::new(file, keys, &name_of(path))?),
        })
    }

    /// The SHA-256 of what a recording's file holds.
    pub(super) fn sha256_of(&self, path: &Path) -> io::Result<String> {
        let mut hash = Sha256::new();
        io::copy(&mut self.open_sound(path)?, &mut hash)?;
        Ok(format!("{:x}", hash.finalize()))
    }

    /// Whether a file of the recordings' folder holds what its name says.
    pub(super) fn is_named_by_content(&self, path: &Path) -> bool {
        let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        self.sha256_of(path).is_ok_and(|hash| match &self.keys {
            None => hash == stem,
            Some(keys) => keys.name(&hash) == stem,
        })
    }

    /// Files of the recordings' folder, in order.
    pub(super) fn sounds(&self) -> Vec<PathBuf> {
        let folders = folder::entries(&self.recordings());
        folders.into_iter().flat_map(|path| if path.is_dir() { folder::entries(&path) } else { vec![path] }).collect()
    }

    /// Removes what killed programs were writing. The lock must be held: it says that none of it is in use. What cannot be
    /// removed is left, and told when the store is checked.
    pub(super) fn clear(&self) {
        // A store that is just being made beside the old one: neither goes.
        if self.home == self.folder.join(UNFINISHED) {
            return;
        }
        let folders = [self.home.clone(), self.recordings(), self.takings()];
        let parts = folders.iter().flat_map(|folder| folder::entries(folder));
        for part in parts.filter(|path| name_of(path).starts_with(PART)) {
            let _ = fs::remove_file(part);
        }
        let _ = fs::remove_dir_all(self.folder.join(UNFINISHED));
        if self.keys.is_some() && self.home.join(REMAINS).is_file() && remove_plain(&self.folder).is_ok() {
            let _ = fs::remove_file(self.home.join(REMAINS));
            folder::synchronise(&self.home);
        }
    }
}

/// What lies in a folder of a store that is not encrypted.
pub(super) fn plain_files(folder: &Path) -> Vec<PathBuf> {
    let database = ["", "-wal", "-shm", "-journal"].map(|end| folder.join(format!("{DATABASE}{end}")));
    database.into_iter().chain([folder.join(RECORDINGS), folder.join(TAKINGS)]).filter(|path| path.exists()).collect()
}

/// Removes the files of a store that is not encrypted.
pub(super) fn remove_plain(folder: &Path) -> io::Result<()> {
    for path in plain_files(folder) {
        if path.is_dir() { fs::remove_dir_all(&path)? } else { fs::remove_file(&path)? }
    }
    folder::synchronise(folder);
    Ok(())
}

/// A recording that was copied, and has no name yet.
struct Copy {
    part: NamedTempFile,
    bytes: u64,
    sha256: String,
}

/// A sound that is hashed as it is read.
struct Hashing<R> {
    sound: R,
    hash: Sha256,
}

impl<R: Read> Read for Hashing<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.sound.read(into)?;
        self.hash.update(&into[..read]);
        Ok(read)
    }
}

// Gives how many bytes were copied; an error says whether reading failed.
fn copied(from: &mut dyn Read, to: &mut dyn Write) -> Result<u64, (bool, io::Error)> {
    let mut buffer = vec![0; 64 * 1024];
    let mut bytes = 0;
    loop {
        let read = from.read(&mut buffer).map_err(|error| (true, error))?;
        if read == 0 {
            return Ok(bytes);
        }
        to.write_all(&buffer[..read]).map_err(|error| (false, error))?;
        bytes += read as u64;
    }
}

fn name_of(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recordings_name_is_its_content() {
        let hash = "ab".repeat(32);
        let path = Place::plain(Path::new("/s")).sound_path(&hash, "m4a");
        assert_eq!(path, PathBuf::from(format!("/s/recordings/ab/{hash}.m4a")));
    }

    #[test]
    fn a_recording_that_was_changed_is_not_put_in_place() {
        let folder = tempfile::tempdir().unwrap();
        let place = Place::plain(folder.path());
        fs::create_dir(place.recordings()).unwrap();
        let sound = folder.path().join("visit.wav");
        fs::write(&sound, b"sound").unwrap();
        let hash = crate::store::seal::sha256(b"sound");
        assert_eq!(place.put(&sound, &hash, "wav").unwrap(), 5);
        assert_eq!(fs::read(place.sound_path(&hash, "wav")).unwrap(), b"sound");
        let error = place.put(&sound, &"0".repeat(64), "wav").unwrap_err().to_string();
        assert!(error.ends_with("it was changed since it was heard; make the draft anew"), "{error}");
        assert_eq!(fs::read_dir(place.recordings()).unwrap().count(), 1, "the folder of the first, and no part");
    }

    #[test]
    fn what_a_killed_program_was_writing_goes_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let place = Place::plain(folder.path());
        fs::create_dir(place.recordings()).unwrap();
        fs::create_dir(folder.path().join(UNFINISHED)).unwrap();
        fs::write(place.recordings().join(".part-x"), b"half").unwrap();
        fs::write(place.recordings().join("own.wav"), b"whole").unwrap();
        place.clear();
        assert_eq!(folder::entries(folder.path()), [place.recordings()]);
        assert_eq!(folder::entries(&place.recordings()), [place.recordings().join("own.wav")]);
    }
}

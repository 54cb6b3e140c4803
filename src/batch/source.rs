//! What there is to do: the files of a folder or a bucket.
//! Takes the place; gives every file below it with its name, in order, and what could not even be looked at. Gives a file's
//! content on this machine. Hidden files are none of it, nor is what lies in the target. Leaves alone what files hold (`content`).
//!
//! A link to a file is that file under another name; a link that leads back up is told and not followed

use std::fs::File;
use std::io::{self, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use walkdir::{DirEntry, WalkDir};

use super::storage::{Storage, StorageError};
use super::{Place, names};

/// A file that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Found {
    /// Its name below the source, as text.
    pub(super) told: String,
    /// Where it is, or why it cannot be looked at.
    pub(super) at: Result<At, String>,
    /// Its bytes, as far as is known.
    pub(super) size: u64,
}

/// Where a file is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum At {
    /// On this machine.
    Path(PathBuf),
    /// In the bucket, with the bucket's mark of its content.
    Object { name: String, mark: Option<String> },
}

/// Where recordings and transcripts come from.
pub(super) enum Source {
    Folder(PathBuf),
    Bucket(Arc<Storage>),
}

impl Source {
    /// Opens it; a folder or a file must be there.
    pub(super) fn open(place: &Place) -> Result<Self, StorageError> {
        match place {
            Place::Folder(folder) => {
                let unusable = |fault| StorageError::Unusable { place: place.to_string(), fault };
                std::fs::metadata(folder).map_err(unusable)?;
                Ok(Self::Folder(folder.clone()))
            }
            Place::Bucket { .. } => Storage::open(place, false).map(|storage| Self::Bucket(Arc::new(storage))),
        }
    }

    /// All files, in order of name. What lies in one of `others`, the target or the store, is left out.
    pub(super) fn files(&self, others: &[Place]) -> Result<Vec<Found>, StorageError> {
        match self {
            Self::Folder(folder) => Ok(in_folder(folder, others)),
            Self::Bucket(storage) => in_bucket(storage, others),
        }
    }

    /// The content on this machine, under a name that lasts as long as the value.
    pub(super) fn fetched(&self, at: &At) -> Result<Fetched, String> {
        match (self, at) {
            (Self::Bucket(storage), At::Object { name, .. }) => Fetched::from(storage, name),
            (_, At::Path(path)) => Ok(Fetched { path: path.clone(), _own: None }),
            (Self::Folder(_), At::Object { name, .. }) => Err(format!("{name} is in no bucket")),
        }
    }
}

/// A file's content on this machine.
pub(super) struct Fetched {
    /// Where it can be read.
    pub(super) path: PathBuf,
    _own: Option<Copied>,
}

/// A copy of ours, which goes with the value.
enum Copied {
    /// It has no name, so that nothing of it is left behind by a program that is killed.
    #[cfg(target_os = "linux")]
    Nameless(#[expect(dead_code, reason = "it lasts as long as it is open")] File),
    #[cfg(not(target_os = "linux"))]
    Named(#[expect(dead_code, reason = "it is deleted with the value")] tempfile::TempPath),
}

impl Fetched {
    fn from(storage: &Storage, name: &str) -> Result<Self, String> {
        let cannot = |fault: io::Error| format!("it cannot be copied to this machine: {fault}");
        #[cfg(target_os = "linux")]
        {
            use std::os::fd::AsRawFd;
            let mut file = tempfile::tempfile().map_err(cannot)?;
            copy(storage, name, &mut file)?;
            // Opened by this name it begins at its beginning each time.
            let path = PathBuf::from(format!("/proc/self/fd/{}", file.as_raw_fd()));
            Ok(Self { path, _own: Some(Copied::Nameless(file)) })
        }
        #[cfg(not(target_os = "linux"))]
        {
            let mut file = tempfile::NamedTempFile::new().map_err(cannot)?;
            copy(storage, name, file.as_file_mut())?;
            Ok(Self { path: file.path().to_owned(), _own: Some(Copied::Named(file.into_temp_path())) })
        }
    }
}

fn copy(storage: &Storage, name: &str, file: &mut File) -> Result<(), String> {
    storage.fetch(name, file).map_err(|fault| fault.to_string())?;
    let cannot = |fault: io::Error| format!("it cannot be copied to this machine: {fault}");
    file.flush().map_err(cannot)?;
    file.rewind().map_err(cannot)
}

fn in_folder(folder: &Path, others: &[Place]) -> Vec<Found> {
    let resolved = |path: &Path| path.canonicalize().ok();
    let others: Vec<PathBuf> = others.iter().filter_map(Place::folder).filter_map(resolved).collect();
    // The folder that was named is taken, whatever it is called.
    let wanted = |entry: &DirEntry| {
        let hidden = entry.depth() > 0 && entry.file_name().as_encoded_bytes().starts_with(b".");
        let other = !others.is_empty()
            && entry.depth() > 0
            && entry.file_type().is_dir()
            && resolved(entry.path()).is_some_and(|path| others.contains(&path));
        !hidden && !other
    };
    let walk = WalkDir::new(folder).follow_links(true).into_iter().filter_entry(wanted);
    let mut found: Vec<Found> = walk.filter_map(|entry| of_entry(folder, entry)).collect();
    found.sort_by(|a, b| a.told.cmp(&b.told));
    found
}

fn of_entry(folder: &Path, entry: walkdir::Result<DirEntry>) -> Option<Found> {
    let told = |path: &Path| {
        let below = path.strip_prefix(folder).ok().filter(|below| !below.as_os_str().is_empty());
        names::told(below.unwrap_or_else(|| Path::new(path.file_name().unwrap_or(path.as_os_str()))))
    };
    match entry {
        Ok(entry) if entry.file_type().is_dir() => None,
        Ok(entry) if entry.file_type().is_file() => {
            let size = entry.metadata().map_or(0, |about| about.len());
            Some(Found { told: told(entry.path()), at: Ok(At::Path(entry.path().to_owned())), size })
        }
        Ok(entry) => {
            let at = Err("it is neither a file nor a folder".to_owned());
            Some(Found { told: told(entry.path()), at, size: 0 })
        }
        Err(fault) => {
            let path = fault.path().unwrap_or(folder);
            // A hidden link that leads nowhere is hidden too.
            if path != folder && path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b".")) {
                return None;
            }
            Some(Found { told: told(path), at: Err(why(&fault, path)), size: 0 })
        }
    }
}

fn why(fault: &walkdir::Error, path: &Path) -> String {
    if fault.loop_ancestor().is_some() {
        return "it is a link that leads back to a folder above it".to_owned();
    }
    match fault.io_error().map(io::Error::kind) {
        Some(io::ErrorKind::NotFound) if path.is_symlink() => "it is a link that leads nowhere".to_owned(),
        Some(kind) => format!("it cannot be looked at: {}", io::Error::from(kind)),
        None => "it cannot be looked at".to_owned(),
    }
}

fn in_bucket(storage: &Storage, others: &[Place]) -> Result<Vec<Found>, StorageError> {
    let below = |other: &Place| match (storage.place(), other) {
        (Place::Bucket { bucket, prefix }, Place::Bucket { bucket: theirs, prefix: inner }) if bucket == theirs => {
            let rest = if prefix.is_empty() { Some(inner.as_str()) } else { inner.strip_prefix(prefix.as_str()) };
            rest.map(|rest| format!("{}/", rest.trim_start_matches('/'))).filter(|rest| rest != "/")
        }
        _ => None,
    };
    let others: Vec<String> = others.iter().filter_map(below).collect();
    let wanted = |name: &str| {
        let hidden = name.split('/').any(|part| part.starts_with('.'));
        !name.is_empty() && !hidden && !others.iter().any(|other| name.starts_with(other.as_str()))
    };
    let listed = storage.list("")?.into_iter().filter(|one| wanted(&one.name));
    Ok(listed
        .map(|one| Found {
            told: names::told(Path::new(&one.name)),
            size: one.size,
            at: Ok(At::Object { name: one.name, mark: one.mark }),
        })
        .collect())
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    fn files(folder: &Path, others: &[Place]) -> Vec<(String, Option<String>)> {
        let source = Source::open(&Place::Folder(folder.to_owned())).unwrap();
        source.files(others).unwrap().into_iter().map(|found| (found.told, found.at.err())).collect()
    }

    #[test]
    fn all_files_are_found_and_what_cannot_be_looked_at_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        for name in ["b/2.txt", "b/größe 1\n.txt", "a.txt", ".hidden/x.txt", "b/.part", "out/drafts/a.txt.json"] {
            std::fs::create_dir_all(at(name).parent().unwrap()).unwrap();
            std::fs::write(at(name), "left").unwrap();
        }
        symlink(at("a.txt"), at("link.txt")).unwrap();
        symlink(at("nowhere"), at("broken.wav")).unwrap();
        symlink(at("nowhere"), at(".broken")).unwrap();
        symlink(folder.path(), at("b/up")).unwrap();
        let whole = |name: &str| (name.to_owned(), None);
        let fault = |name: &str, why: &str| (name.to_owned(), Some(why.to_owned()));
        assert_eq!(
            files(folder.path(), &[Place::Folder(at("out"))]),
            [
                whole("a.txt"),
                whole("b/2.txt"),
                whole("b/größe 1%0A.txt"),
                fault("b/up", "it is a link that leads back to a folder above it"),
                fault("broken.wav", "it is a link that leads nowhere"),
                whole("link.txt"),
            ]
        );
        assert_eq!(files(&at("a.txt"), &[]), [whole("a.txt")]);
        assert!(Source::open(&Place::Folder(at("no"))).is_err());
    }
}

//! Where results go, and recordings may come from: a folder or a bucket, by the same few verbs.
//! Takes names below the place, with slashes, and bytes; gives what is there. What is written is there whole under its name or not
//! at all. The one place that knows `object_store`. Leaves alone what the bytes mean.
//!
//! `put_new("manifest/00001.jsonl", ...)` gives false where somebody else was first

use std::io;
use std::path::Path as FilePath;
use std::sync::Arc;

use futures_util::TryStreamExt;
use object_store::path::Path;
use object_store::{
    Error as FromStore, ObjectMeta, ObjectStore, ObjectStoreExt, PutMode, PutOptions, PutPayload, UpdateVersion,
    local::LocalFileSystem,
};
use tokio::runtime::Runtime;
use walkdir::WalkDir;

use super::{Place, names};

/// A folder or a bucket that is open.
pub(super) struct Storage {
    store: Arc<dyn ObjectStore>,
    prefix: String,
    place: Place,
    runtime: Runtime,
}

/// Why something could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The folder cannot be used.
    #[error("cannot use {place}: {fault}")]
    Unusable {
        /// The place.
        place: String,
        /// What the system said.
        fault: io::Error,
    },
    /// Buckets were left out when the program was built.
    #[error("cannot use {0}: this program was built without buckets; build it with --features buckets")]
    NoBuckets(String),
    /// The settings of a bucket are wrong.
    #[error(
        "cannot use {place}: {fault}; AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_REGION and AWS_ENDPOINT_URL are looked at"
    )]
    Settings {
        /// The place.
        place: String,
        /// What the library said.
        fault: String,
    },
    /// One name could not be read, written or listed.
    #[error("cannot {verb} {name}: {fault}")]
    At {
        /// What was tried.
        verb: &'static str,
        /// The place and the name below it.
        name: String,
        /// What the system or the bucket said.
        fault: String,
        /// What kind of fault it is, where the system told.
        kind: Option<io::ErrorKind>,
        /// Whether it is only that it is not there.
        missing: bool,
    },
}

impl StorageError {
    /// Whether only this name is at fault; of anything else every later name would fail too.
    pub(super) fn is_of_the_name(&self) -> bool {
        use io::ErrorKind::{InvalidFilename, InvalidInput, IsADirectory, NotADirectory};
        matches!(self, Self::At { kind: Some(InvalidFilename | InvalidInput | IsADirectory | NotADirectory), .. })
    }
}

/// What is there under a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Listed {
    /// The name below the place.
    pub(super) name: String,
    /// Bytes.
    pub(super) size: u64,
    /// The bucket's mark of the content; a folder's changes whenever the file is written.
    pub(super) mark: Option<String>,
}

impl Storage {
    /// Opens a place; a folder is made if it is to be, and then only its owner can enter it.
    pub(super) fn open(place: &Place, make: bool) -> Result<Self, StorageError> {
        let unusable = |fault| StorageError::Unusable { place: place.to_string(), fault };
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build();
        let runtime = runtime.map_err(unusable)?;
        let (store, prefix): (Arc<dyn ObjectStore>, &str) = match place {
            Place::Folder(folder) => {
                if make {
                    make_private(folder).map_err(unusable)?;
                }
                let failed = |fault: FromStore| unusable(system_fault(&fault).unwrap_or(io::ErrorKind::Other).into());
                (Arc::new(LocalFileSystem::new_with_prefix(folder).map_err(failed)?.with_fsync(true)), "")
            }
            Place::Bucket { bucket, prefix } => (bucket_of(place, bucket)?, prefix),
        };
        Ok(Self { store, prefix: prefix.to_owned(), place: place.clone(), runtime })
    }

    /// The place as it was named.
    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    fn full(&self, name: &str) -> Result<Path, FromStore> {
        let full = if self.prefix.is_empty() { name.to_owned() } else { format!("{}/{name}", self.prefix) };
        Ok(Path::parse(full)?)
    }

    fn failed(&self, verb: &'static str, name: &str, fault: &FromStore) -> StorageError {
        let kind = system_fault(fault);
        let missing = matches!(fault, FromStore::NotFound { .. });
        // The library's own words name URLs and hosts; the system's are enough where there are any.
        let fault = kind.map_or_else(|| fault.to_string(), |kind| io::Error::from(kind).to_string());
        StorageError::At { verb, name: format!("{}/{name}", self.place), fault, kind, missing }
    }

    /// The bytes under a name; `None` where there is nothing.
    pub(super) fn get(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let got = self.runtime.block_on(async { self.store.get(&self.full(name)?).await?.bytes().await });
        match got {
            Ok(bytes) => Ok(Some(bytes.into())),
            Err(FromStore::NotFound { .. }) => Ok(None),
            Err(fault) => Err(self.failed("read", name, &fault)),
        }
    }

    /// Writes what is under a name piece by piece into something.
    pub(super) fn fetch(&self, name: &str, into: &mut dyn io::Write) -> Result<(), StorageError> {
        let fetched = self.runtime.block_on(async {
            let mut pieces = self.store.get(&self.full(name)?).await?.into_stream();
            while let Some(piece) = pieces.try_next().await? {
                into.write_all(&piece)
                    .map_err(|fault| FromStore::Generic { store: "file", source: Box::new(fault) })?;
            }
            Ok(())
        });
        fetched.map_err(|fault: FromStore| self.failed("read", name, &fault))
    }

    /// Writes under a name that nothing has yet; false where something is there.
    pub(super) fn put_new(&self, name: &str, bytes: Vec<u8>) -> Result<bool, StorageError> {
        match self.put_as(name, bytes, PutMode::Create) {
            Ok(()) => Ok(true),
            Err(FromStore::AlreadyExists { .. } | FromStore::Precondition { .. }) => Ok(false),
            Err(fault) => Err(self.failed("write", name, &fault)),
        }
    }

    /// Writes under a name, in the place of what was there.
    pub(super) fn put(&self, name: &str, bytes: Vec<u8>) -> Result<(), StorageError> {
        self.put_as(name, bytes, PutMode::Overwrite).map_err(|fault| self.failed("write", name, &fault))
    }

    /// Writes in the place of what was seen under the name, or where nothing was; false where another came between. A folder has
    /// its owner by a lock, and cannot tell.
    pub(super) fn put_over(&self, name: &str, bytes: Vec<u8>, seen: Option<&Listed>) -> Result<bool, StorageError> {
        let mark = seen.and_then(|seen| seen.mark.clone()).filter(|_| self.place.folder().is_none());
        match (seen, mark) {
            (None, _) => self.put_new(name, bytes),
            (Some(_), None) => self.put(name, bytes).map(|()| true),
            (Some(_), e_tag) => {
                let mode = PutMode::Update(UpdateVersion { e_tag, version: None });
                match self.put_as(name, bytes, mode) {
                    Ok(()) => Ok(true),
                    Err(FromStore::Precondition { .. } | FromStore::NotFound { .. }) => Ok(false),
                    Err(fault) => Err(self.failed("write", name, &fault)),
                }
            }
        }
    }

    fn put_as(&self, name: &str, bytes: Vec<u8>, mode: PutMode) -> Result<(), FromStore> {
        let path = self.full(name)?;
        let options = PutOptions { mode, ..PutOptions::default() };
        self.runtime.block_on(self.store.put_opts(&path, PutPayload::from(bytes), options)).map(drop)
    }

    /// Takes what is under a name away; nothing is no error.
    pub(super) fn delete(&self, name: &str) -> Result<(), StorageError> {
        match self.runtime.block_on(async { self.store.delete(&self.full(name)?).await }) {
            Ok(()) | Err(FromStore::NotFound { .. }) => Ok(()),
            Err(fault) => Err(self.failed("delete", name, &fault)),
        }
    }

    /// All that is below a name, in order of name; of the whole place where it is empty.
    pub(super) fn list(&self, below: &str) -> Result<Vec<Listed>, StorageError> {
        let listed: Result<Vec<ObjectMeta>, FromStore> = self.runtime.block_on(async {
            let prefix = if below.is_empty() { Path::parse(&self.prefix)? } else { self.full(below)? };
            self.store.list(Some(&prefix)).try_collect().await
        });
        let mut listed: Vec<Listed> = match listed {
            Ok(listed) => listed.into_iter().filter_map(|one| self.listed(one)).collect(),
            Err(FromStore::NotFound { .. }) => Vec::new(),
            Err(fault) => return Err(self.failed("list", below, &fault)),
        };
        listed.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(listed)
    }

    /// Takes away what killed workers had not written to its end. None may be at work: theirs would go too. A bucket knows no halves.
    pub(super) fn clear_halves(&self) -> Result<(), StorageError> {
        let Some(folder) = self.place.folder() else { return Ok(()) };
        let ours = |name: &str| {
            let (name, digits) = name.rsplit_once('#')?;
            let half = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
            let known = name.ends_with(".json") || name.ends_with(".jsonl") || name.len() == 64;
            (half && known).then_some(())
        };
        for below in ["", "drafts", "words", "manifest", names::TRYING] {
            let depth = if below.is_empty() { 1 } else { usize::MAX };
            let files = WalkDir::new(folder.join(below)).max_depth(depth).into_iter().filter_map(Result::ok);
            let halves =
                files.filter(|file| file.file_type().is_file() && ours(&file.file_name().to_string_lossy()).is_some());
            for half in halves {
                let unusable = |fault| StorageError::Unusable { place: half.path().display().to_string(), fault };
                std::fs::remove_file(half.path()).map_err(unusable)?;
            }
        }
        Ok(())
    }

    fn listed(&self, one: ObjectMeta) -> Option<Listed> {
        let full = one.location.as_ref();
        let below = if self.prefix.is_empty() { full } else { full.strip_prefix(&self.prefix)?.strip_prefix('/')? };
        Some(Listed { name: below.to_owned(), size: one.size, mark: one.e_tag })
    }
}

#[cfg(feature = "buckets")]
fn bucket_of(place: &Place, bucket: &str) -> Result<Arc<dyn ObjectStore>, StorageError> {
    use object_store::{RetryConfig, aws::AmazonS3Builder};
    use std::time::Duration;

    // A server that is away for a moment is waited for; one that is not there is told within a minute.
    let retry = RetryConfig { max_retries: 6, retry_timeout: Duration::from_secs(60), ..RetryConfig::default() };
    let store = AmazonS3Builder::from_env().with_bucket_name(bucket).with_retry(retry).build();
    let wrong = |fault: FromStore| StorageError::Settings { place: place.to_string(), fault: fault.to_string() };
    Ok(Arc::new(store.map_err(wrong)?))
}

#[cfg(not(feature = "buckets"))]
fn bucket_of(place: &Place, _bucket: &str) -> Result<Arc<dyn ObjectStore>, StorageError> {
    Err(StorageError::NoBuckets(place.to_string()))
}

/// The folder with those above it; what is made can be entered by its owner alone.
fn make_private(folder: &FilePath) -> io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    // A folder that others may enter stays so; what holds anything of an infant lies one deeper.
    ["", "drafts", "words", "manifest"].iter().try_for_each(|below| builder.create(folder.join(below)))
}

/// What the system said, where a fault comes from it.
fn system_fault(fault: &FromStore) -> Option<io::ErrorKind> {
    let mut cause: Option<&dyn std::error::Error> = Some(fault);
    while let Some(now) = cause {
        if let Some(fault) = now.downcast_ref::<io::Error>() {
            return Some(fault.kind());
        }
        cause = now.source();
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn storage(folder: &FilePath) -> Storage {
        Storage::open(&Place::Folder(folder.to_owned()), true).unwrap()
    }

    #[test]
    fn what_is_put_is_there_whole_and_the_first_wins() {
        let folder = tempfile::tempdir().unwrap();
        let storage = storage(folder.path());
        assert_eq!(storage.get("drafts/a b/größe%0A.wav.json").unwrap(), None);
        assert!(storage.put_new("drafts/a b/größe%0A.wav.json", b"one".to_vec()).unwrap());
        assert!(!storage.put_new("drafts/a b/größe%0A.wav.json", b"two".to_vec()).unwrap());
        assert_eq!(storage.get("drafts/a b/größe%0A.wav.json").unwrap().as_deref(), Some(&b"one"[..]));
        let listed = storage.list("drafts").unwrap();
        let [one] = &listed[..] else { panic!("{listed:?}") };
        assert_eq!((one.name.as_str(), one.size), ("drafts/a b/größe%0A.wav.json", 3));
        assert!(storage.put_over(&one.name, b"three".to_vec(), Some(one)).unwrap());
        assert!(!storage.put_over(&one.name, b"four".to_vec(), None).unwrap());
        assert!(folder.path().join("drafts/a b/größe%0A.wav.json").is_file());
        storage.delete(&one.name).unwrap();
        storage.delete(&one.name).unwrap();
        assert!(storage.list("drafts").unwrap().is_empty() && storage.list("nowhere").unwrap().is_empty());
    }

    #[test]
    fn a_fault_says_whether_it_is_of_one_name() {
        let folder = tempfile::tempdir().unwrap();
        let storage = storage(folder.path());
        let long = format!("drafts/{}.json", "x".repeat(300));
        let fault = storage.put(&long, Vec::new()).unwrap_err();
        assert!(fault.is_of_the_name() && fault.to_string().contains("xxx.json"), "{fault}");
        storage.put("drafts/a", Vec::new()).unwrap();
        let fault = storage.put("drafts/a/b", Vec::new()).unwrap_err();
        assert!(fault.is_of_the_name(), "{fault:?}");
        let gone = Storage::open(&Place::Folder(folder.path().join("no")), false).err().unwrap();
        assert!(gone.to_string().starts_with("cannot use "), "{gone}");
    }

    #[cfg(unix)]
    #[test]
    fn only_the_owner_can_enter_what_is_made() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        storage(&folder.path().join("out"));
        for made in ["out", "out/drafts", "out/words"] {
            let mode = std::fs::metadata(folder.path().join(made)).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0, "{made}: {mode:o}");
        }
    }
}

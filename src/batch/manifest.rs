//! What became of every file, kept so that nothing is lost and nothing is done twice.
//! Takes lines as they come; writes them in pieces, each whole or not at all, and at the end as one file in order of name. Reads all
//! that earlier runs and other workers wrote. Leaves alone what a line says (`line`).
//!
//! `manifest/3-of-4-000001.jsonl`, `manifest/3-of-4-000002.jsonl`, … become `manifest/3-of-4.jsonl`; those of all parts `manifest.jsonl`

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::{Duration, Instant};

use super::Shard;
use super::line::Line;
use super::storage::{Storage, StorageError};

/// The manifest of a batch, when all of it is together.
pub(super) const WHOLE: &str = "manifest.jsonl";
const FOLDER: &str = "manifest";
/// So many lines are written together at most, and they wait no longer than this.
const MOST: usize = 1000;
const LONGEST: Duration = Duration::from_secs(1);

/// The manifest of our part.
pub(super) struct Manifest {
    storage: Arc<Storage>,
    shard: Shard,
    /// What is not written yet.
    waiting: Vec<Line>,
    since: Instant,
    next: u64,
}

/// Reads all lines that there are, by file; where there are several, what was written last.
pub(super) fn read(storage: &Storage) -> Result<BTreeMap<String, Line>, StorageError> {
    let mut known = BTreeMap::new();
    for name in files(storage, &|_| true)? {
        take(storage, &name, &mut known)?;
    }
    Ok(known)
}

/// The files that hold lines, older ones first: all together, then each part's, then pieces of what has not ended.
fn files(storage: &Storage, wanted: &dyn Fn(&str) -> bool) -> Result<Vec<String>, StorageError> {
    let names = storage.list(FOLDER)?.into_iter().map(|one| one.name).filter(|name| name.ends_with(".jsonl"));
    let (pieces, parts): (Vec<String>, Vec<String>) =
        names.filter(|name| wanted(name)).partition(|name| piece_of(name).is_some());
    Ok(std::iter::once(WHOLE.to_owned()).filter(|name| wanted(name)).chain(parts).chain(pieces).collect())
}

/// The number of a piece.
fn piece_of(name: &str) -> Option<u64> {
    let digits = name.strip_suffix(".jsonl")?.rsplit_once('-')?.1;
    (digits.len() == 6).then(|| digits.parse().ok())?
}

fn take(storage: &Storage, name: &str, into: &mut BTreeMap<String, Line>) -> Result<(), StorageError> {
    let bytes = storage.get(name)?.unwrap_or_default();
    into.extend(Line::all_of(&String::from_utf8_lossy(&bytes)).map(|line| (line.file.clone(), line)));
    Ok(())
}

fn stem(shard: Shard) -> String {
    format!("{FOLDER}/{}", shard.in_names())
}

/// Whether a file holds lines of this part.
fn is_of(name: &str, shard: Shard) -> bool {
    let rest = name.strip_prefix(&stem(shard)).and_then(|rest| rest.strip_suffix(".jsonl"));
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
}

/// Parts that did not end, in order: of each number of parts that anybody worked with, those that left no manifest, or pieces.
pub(super) fn unended(storage: &Storage) -> Result<Vec<Shard>, StorageError> {
    let files = files(storage, &|name| name != WHOLE)?;
    let parts = |pieces: bool| -> Vec<Shard> {
        files.iter().filter(|name| piece_of(name).is_some() == pieces).filter_map(|name| part_of(name)).collect()
    };
    let (ended, begun) = (parts(false), parts(true));
    let numbers: BTreeSet<u32> = ended.iter().chain(&begun).map(|shard| shard.of).collect();
    let all = numbers.into_iter().flat_map(|of| (1..=of).map(move |part| Shard { part, of }));
    Ok(all.filter(|shard| begun.contains(shard) || !ended.contains(shard)).collect())
}

fn part_of(name: &str) -> Option<Shard> {
    let stem = name.strip_prefix(FOLDER)?.strip_prefix('/')?.strip_suffix(".jsonl")?;
    let stem = if piece_of(name).is_some() { stem.rsplit_once('-')?.0 } else { stem };
    Shard::of_name(stem)
}

impl Manifest {
    /// Goes on behind what earlier runs of the part left.
    pub(super) fn begin(storage: &Arc<Storage>, shard: Shard) -> Result<Self, StorageError> {
        let pieces = files(storage, &|name| is_of(name, shard))?;
        let next = pieces.iter().filter_map(|name| piece_of(name)).max().map_or(1, |last| last + 1);
        Ok(Self { storage: Arc::clone(storage), shard, waiting: Vec::new(), since: Instant::now(), next })
    }

    /// Takes a line; it is written within a second of work, or when the batch ends.
    pub(super) fn add(&mut self, line: Line) -> Result<(), StorageError> {
        if self.waiting.is_empty() {
            self.since = Instant::now();
        }
        self.waiting.push(line);
        if self.waiting.len() >= MOST || self.since.elapsed() >= LONGEST { self.flush() } else { Ok(()) }
    }

    /// Writes what waits, if it has waited long enough.
    pub(super) fn tick(&mut self) -> Result<(), StorageError> {
        if !self.waiting.is_empty() && self.since.elapsed() >= LONGEST { self.flush() } else { Ok(()) }
    }

    /// Writes what waits.
    pub(super) fn flush(&mut self) -> Result<(), StorageError> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        let text: String = self.waiting.iter().map(Line::written).collect();
        let name = format!("{}-{:06}.jsonl", stem(self.shard), self.next);
        // The part is ours alone, so the number is free.
        self.storage.put(&name, text.into_bytes())?;
        self.waiting.clear();
        self.next += 1;
        Ok(())
    }

    /// Ends the part: its lines become one file. Where the part is the whole, all lines do.
    pub(super) fn end(mut self) -> Result<(), StorageError> {
        self.flush()?;
        if self.shard.is_whole() {
            return gathered(&self.storage, false).map(drop);
        }
        let own = files(&self.storage, &|name| is_of(name, self.shard))?;
        together(&self.storage, &own, &format!("{}.jsonl", stem(self.shard)), false).map(drop)
    }
}

/// Puts all that was written together as `manifest.jsonl`; gives its lines. As long as parts are missing, those that there are are
/// kept: they tell which.
pub(super) fn gathered(storage: &Storage, keep: bool) -> Result<BTreeMap<String, Line>, StorageError> {
    together(storage, &files(storage, &|_| true)?, WHOLE, keep)
}

fn together(
    storage: &Storage,
    files: &[String],
    name: &str,
    keep: bool,
) -> Result<BTreeMap<String, Line>, StorageError> {
    let mut lines = BTreeMap::new();
    for file in files {
        take(storage, file, &mut lines)?;
    }
    let text: String = lines.values().map(Line::written).collect();
    storage.put(name, text.into_bytes())?;
    // Killed here, what is left says the same once more.
    files.iter().filter(|file| *file != name && !keep).try_for_each(|file| storage.delete(file))?;
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::Place;
    use crate::batch::line::Outcome;

    fn line(file: &str, reason: &str) -> Line {
        Line::without(file.to_owned(), Outcome::Failed, reason.to_owned(), None)
    }

    fn storage(folder: &tempfile::TempDir) -> Arc<Storage> {
        Arc::new(Storage::open(&Place::Folder(folder.path().to_owned()), true).unwrap())
    }

    fn names(storage: &Storage) -> Vec<String> {
        storage.list("").unwrap().into_iter().map(|one| one.name).collect()
    }

    fn told(lines: BTreeMap<String, Line>) -> Vec<(String, String)> {
        lines.into_iter().map(|(file, line)| (file, line.reason.unwrap())).collect()
    }

    fn of(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(file, reason)| ((*file).to_owned(), (*reason).to_owned())).collect()
    }

    #[test]
    fn pieces_become_one_file_and_the_latest_line_stands() {
        let folder = tempfile::tempdir().unwrap();
        let storage = storage(&folder);
        let mut first = Manifest::begin(&storage, Shard::WHOLE).unwrap();
        first.add(line("b", "old")).unwrap();
        first.add(line("a", "old")).unwrap();
        first.flush().unwrap();
        // It was killed; the next run goes on.
        let mut second = Manifest::begin(&storage, Shard::WHOLE).unwrap();
        second.add(line("b", "new")).unwrap();
        second.flush().unwrap();
        assert_eq!(told(read(&storage).unwrap()), of(&[("a", "old"), ("b", "new")]));
        assert_eq!(unended(&storage).unwrap(), [Shard::WHOLE]);
        second.end().unwrap();
        assert_eq!(names(&storage), [WHOLE]);
        let mut third = Manifest::begin(&storage, Shard::WHOLE).unwrap();
        third.add(line("a", "newest")).unwrap();
        third.end().unwrap();
        assert_eq!(told(read(&storage).unwrap()), of(&[("a", "newest"), ("b", "new")]));
    }

    #[test]
    fn parts_are_kept_apart_until_they_are_gathered() {
        let folder = tempfile::tempdir().unwrap();
        let storage = storage(&folder);
        for (part, file) in [(1, "c"), (3, "a"), (2, "b")] {
            let mut manifest = Manifest::begin(&storage, Shard { part, of: 4 }).unwrap();
            manifest.add(line(file, "x")).unwrap();
            if part == 2 { manifest.flush().unwrap() } else { manifest.end().unwrap() }
        }
        assert_eq!(names(&storage), ["manifest/1-of-4.jsonl", "manifest/2-of-4-000001.jsonl", "manifest/3-of-4.jsonl"]);
        assert_eq!(unended(&storage).unwrap(), [2, 4].map(|part| Shard { part, of: 4 }));
        assert_eq!(gathered(&storage, true).unwrap().len(), 3);
        assert_eq!(unended(&storage).unwrap().len(), 2, "it can be asked again");
        assert_eq!(gathered(&storage, false).unwrap().into_keys().collect::<Vec<_>>(), ["a", "b", "c"]);
        assert_eq!(names(&storage), [WHOLE]);
    }

    #[test]
    fn a_piece_that_is_no_text_spoils_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let storage = storage(&folder);
        storage.put("manifest/1-of-1-000001.jsonl", b"\xff\xfe{\n".to_vec()).unwrap();
        storage.put("manifest/1-of-1-000002.jsonl", line("a", "x").written().into_bytes()).unwrap();
        assert_eq!(told(read(&storage).unwrap()), of(&[("a", "x")]));
    }
}

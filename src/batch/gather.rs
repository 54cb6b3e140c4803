//! The parts of several workers → one manifest, and what is missing.
//! Takes the source and the target; puts the manifests together and looks for every file's line and draft. Leaves alone the drafts.
//!
//! Part 3/4 was killed: its files are named, and that the part has not ended

use std::collections::HashMap;
use std::sync::Arc;

use super::claim::Claim;
use super::source::Source;
use super::storage::Storage;
use super::{BatchError, Line, Outcome, Place, Shard, Summary, manifest};

/// What the parts came to together.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Gathered {
    /// Sums over all files.
    pub summary: Summary,
    /// Files that failed, with the reason.
    pub failed: Vec<Line>,
    /// Files of the source of which nothing is known, or whose draft is not there, in order.
    pub missing: Vec<String>,
    /// Parts that did not end.
    pub unended: Vec<Shard>,
}

/// Puts the manifests of all parts together.
///
/// # Errors
/// If a part is still being worked on, or a place cannot be read or written.
pub fn gather(from: &Place, to: &Place, say: &mut dyn FnMut(String)) -> Result<Gathered, BatchError> {
    let source = Source::open(from)?;
    let storage = Arc::new(Storage::open(to, false)?);
    let _claim = Claim::take(&storage, Shard::WHOLE, say)?;
    storage.clear_halves()?;
    let unended = manifest::unended(&storage)?;
    let lines = manifest::gathered(&storage, !unended.is_empty())?;
    let drafts: HashMap<String, u64> = storage.list("drafts")?.into_iter().map(|one| (one.name, one.size)).collect();
    let mut gathered = Gathered { unended, ..Gathered::default() };
    for line in lines.values() {
        gathered.summary.add(line, false);
        if line.outcome == Outcome::Failed {
            gathered.failed.push(line.clone());
        }
    }
    let is_there = |line: &Line| {
        line.draft.as_ref().is_none_or(|drafted| drafts.get(&drafted.draft) == Some(&drafted.draft_bytes))
    };
    let files = source.files(std::slice::from_ref(to))?.into_iter().map(|found| found.told);
    gathered.missing = files.filter(|told| !lines.get(told).is_some_and(is_there)).collect();
    Ok(gathered)
}

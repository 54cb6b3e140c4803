//! A batch's drafts in the store, each once.
//! Takes the store; tells which records were made of which content, puts drafts in, and newer ones beside them as long as nobody
//! decided anything. Leaves alone what is kept of sound (the store's policy).
//!
//! Killed between a record and its line in the manifest, the next run finds the record by content and name

use std::collections::HashMap;

use super::BatchError;
use super::line::{Drafted, Kind, Line, PROGRAM, Told};
use super::source::Fetched;
use crate::record::DraftRecord;
use crate::store::{Query, Store, StoreError, now};

/// A record of the store.
#[derive(Debug, Clone)]
pub(super) struct Stored {
    pub(super) id: String,
    /// Whether somebody decided anything, or signed it.
    pub(super) is_reviewed: bool,
    program: String,
    line: Line,
}

impl Stored {
    /// What a manifest would tell of it.
    pub(super) fn line(&self, told: &str) -> Line {
        Line { file: told.to_owned(), ..self.line.clone() }
    }

    /// Whether its draft was read by this lexicon and this program.
    pub(super) fn is_by(&self, lexicon: &str) -> bool {
        self.program == PROGRAM && self.line.draft.as_ref().is_some_and(|drafted: &Drafted| drafted.lexicon == lexicon)
    }
}

/// The records that are there when a batch begins.
#[derive(Debug, Default)]
pub(super) struct Records {
    by_id: HashMap<String, Stored>,
    /// By SHA-256 and name of the source. Several infants may have the same note: each file takes one of its records.
    free: HashMap<(String, String), Vec<String>>,
}

/// So many are read at a time.
const PAGE: u32 = 200;

impl Records {
    /// Reads them. Those of which a manifest tells belong to its files.
    pub(super) fn read(store: &Store, lines: &mut dyn Iterator<Item = &Line>) -> Result<Self, StoreError> {
        let told: Vec<&String> = lines.filter_map(|line| line.draft.as_ref()?.record.as_ref()).collect();
        let mut records = Self::default();
        for from in (0..).step_by(PAGE as usize) {
            let page = store.list(&Query { words: Vec::new(), state: None, from, most: PAGE })?;
            for listed in &page.records {
                let Some(review) = &listed.review else { continue };
                let draft = review.draft();
                let told = Told { record: Some(listed.id.clone()), ..Told::default() };
                let kind = if draft.source.length_ms.is_some() { Kind::Recording } else { Kind::Transcript };
                let stored = Stored {
                    id: listed.id.clone(),
                    is_reviewed: listed.version > 0 || review.last() > 0,
                    program: draft.program.clone(),
                    line: Line::drafted(String::new(), kind, draft, told),
                };
                let key = (draft.source.sha256.clone(), draft.source.file_name.clone());
                records.free.entry(key).or_default().push(listed.id.clone());
                records.by_id.insert(listed.id.clone(), stored);
            }
            if page.records.len() < PAGE as usize {
                break;
            }
        }
        records.free.values_mut().for_each(|ids| ids.retain(|id| !told.contains(&id)));
        // The newest came first.
        records.free.values_mut().for_each(|ids| ids.reverse());
        Ok(records)
    }

    /// The record of a file: the one that the manifest names, or one made of the same content under the same name that no other
    /// file has.
    pub(super) fn taken(&mut self, known: Option<&str>, sha256: &str, file_name: &str) -> Option<Stored> {
        if let Some(stored) = known.and_then(|id| self.by_id.get(id)) {
            return Some(stored.clone());
        }
        let free = self.free.get_mut(&(sha256.to_owned(), file_name.to_owned()))?;
        if free.is_empty() { None } else { self.by_id.get(&free.remove(0)).cloned() }
    }
}

/// Puts a draft in; gives the record's id.
pub(super) fn put(
    store: &mut Store,
    draft: &DraftRecord,
    record: Option<String>,
    fetched: &Fetched,
) -> Result<String, BatchError> {
    let is_sound = draft.source.length_ms.is_some();
    match record {
        Some(id) => match store.redraft(&id, draft, now()) {
            // Somebody began to review it meanwhile: theirs stands.
            Ok(_) | Err(StoreError::InReview(_)) => Ok(id),
            Err(fault) => Err(fault.into()),
        },
        None => Ok(store.keep(draft, is_sound.then_some(fetched.path.as_path()), now())?),
    }
}

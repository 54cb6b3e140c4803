//! Work → drafts, by several threads at once.
//! Takes tasks; makes each draft, and writes it and what was heard. Gives what became of them. Leaves alone the manifest and the
//! store, which one thread keeps for all (`run`).
//!
//! Two recordings are heard by two rounds of recognisers that share their models

use std::collections::HashSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::line::{Kind, Line, Outcome, Told};
use super::preparing::{Known, Task, What};
use super::source::Fetched;
use super::storage::{Storage, StorageError};
use super::{Batch, BatchError, kept, names};
use crate::export;
use crate::flow::remembered::{Remembered, of_remembered, of_sound_remembered};
use crate::flow::{self, Hearers};
use crate::live::Hearer;
use crate::record::DraftRecord;
use crate::speech::{Progress, SpeechError, Transcriber};

/// What became of a file.
pub(super) enum Ended {
    /// Its draft is written.
    Drafted { line: Line, size: u64, draft: Box<DraftRecord>, record: Option<String>, fetched: Fetched },
    /// It has none.
    Without { line: Line, size: u64 },
    /// An earlier run did it.
    Already { line: Line, size: u64 },
    /// The batch cannot go on.
    Broken(BatchError),
}

/// What all workers share.
pub(super) struct Working<'a> {
    pub(super) batch: &'a Batch<'a>,
    pub(super) storage: Option<&'a Storage>,
    pub(super) known: &'a Known,
    pub(super) tasks: Mutex<Receiver<Task>>,
    /// Rounds of recognisers that nobody uses; `None` before the first recording came.
    pub(super) rounds: Mutex<Option<Vec<Vec<Hearer>>>>,
    /// Recordings that were given out and did not end yet, by SHA-256.
    pub(super) underway: &'a Mutex<HashSet<String>>,
    /// For each thread, bytes of the recording that it hears, as far as it is heard.
    pub(super) heard: Vec<AtomicU64>,
}

const PANICKED: &str = "the program failed at it; please report that";

/// Why a file has no draft.
pub(super) enum NoDraft {
    /// The file's own fault.
    File(String),
    /// The batch's.
    Batch(BatchError),
}

impl From<StorageError> for NoDraft {
    fn from(fault: StorageError) -> Self {
        if fault.is_of_the_name() { Self::File(fault.to_string()) } else { Self::Batch(fault.into()) }
    }
}

impl Working<'_> {
    /// The work of a thread, until there is no more.
    pub(super) fn work(&self, number: usize, ended: &Sender<Ended>) {
        while let Some(task) = self.next() {
            let (told, size, sha256) = (task.told.clone(), task.size, task.sha256.clone());
            // A fault of the program at one file is that file's alone.
            let done = catch_unwind(AssertUnwindSafe(|| self.one(task, number)));
            let done = done.unwrap_or_else(|_| Err(NoDraft::File(PANICKED.to_owned())));
            self.heard.get(number).into_iter().for_each(|bytes| bytes.store(0, Ordering::Relaxed));
            own(self.underway).remove(&sha256);
            let message = match done {
                Ok(done) => done,
                Err(NoDraft::Batch(fault)) => Ended::Broken(fault),
                Err(NoDraft::File(why)) => {
                    Ended::Without { line: Line::without(told, Outcome::Failed, why, Some(sha256)), size }
                }
            };
            if ended.send(message).is_err() {
                return;
            }
        }
    }

    /// The next task, if there will be one. Once the batch stops, tasks are taken and dropped until the last was given: whoever gives
    /// them may have begun to before it stopped, and would wait for ever for somebody to take them.
    fn next(&self) -> Option<Task> {
        let tasks = own(&self.tasks);
        tasks.iter().find(|_| !self.batch.stop.load(Ordering::Relaxed))
    }

    fn one(&self, task: Task, number: usize) -> Result<Ended, NoDraft> {
        let lexicon = self.batch.lexicon;
        let Task { told, file_name, size, sha256, what, heard_by, record, fetched } = task;
        let (draft, kind, heard) = match what {
            What::Text(text) => (flow::of_text(lexicon, &text, &file_name).draft, Kind::Transcript, None),
            What::Words(remembered) => {
                let narration = of_remembered(lexicon, &remembered, &file_name).map_err(of_speech)?;
                (narration.draft, Kind::Recording, Some(remembered.leaned_towards))
            }
            What::Sound(recording) => {
                let mut progress = |now: Progress| {
                    let done = u128::from(size) * u128::from(now.done_ms) / u128::from(now.total_ms.max(1));
                    let done = u64::try_from(done).unwrap_or(size).min(size);
                    self.heard.get(number).into_iter().for_each(|bytes| bytes.store(done, Ordering::Relaxed));
                };
                let (draft, remembered) = self.heard(&recording, &mut progress)?;
                if let (Some(storage), Some(heard_by)) = (self.storage, &heard_by) {
                    storage.put(&names::words_of(&sha256, heard_by), kept::written(&remembered))?;
                }
                (draft, Kind::Recording, Some(remembered.leaned_towards))
            }
        };
        let (name, bytes) = self.write_draft(&told, &draft)?;
        let about = Told { draft: name, draft_bytes: bytes, record: None, heard_by, heard_with: heard };
        let line = Line::drafted(told, kind, &draft, about);
        Ok(Ended::Drafted { line, size, draft: Box::new(draft), record, fetched })
    }

    fn heard(
        &self,
        recording: &crate::audio::Recording,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<(DraftRecord, Remembered), NoDraft> {
        // A silent recording needs no recogniser.
        let mut round = if recording.is_silent() { Vec::new() } else { self.round()? };
        let heard = match round.split_first_mut() {
            None => Ok(flow::remembered::of_silence_remembered(self.batch.lexicon, recording)),
            Some((first, others)) => {
                let others = others.iter_mut().map(|other| other.as_mut() as &mut dyn Transcriber).collect();
                of_sound_remembered(self.batch.lexicon, recording, Hearers { first: first.as_mut(), others }, progress)
            }
        };
        if !round.is_empty() {
            own(&self.rounds).get_or_insert_default().push(round);
        }
        let (narration, remembered) = heard.map_err(of_speech)?;
        Ok((narration.draft, remembered))
    }

    /// A round of recognisers; those that a fault of the program took with it are loaded anew.
    fn round(&self) -> Result<Vec<Hearer>, NoDraft> {
        let mut rounds = own(&self.rounds);
        let rounds = match &mut *rounds {
            Some(rounds) => rounds,
            none => none.insert(self.batch.ears.rounds(self.batch.jobs).map_err(no_ears)?),
        };
        if let Some(round) = rounds.pop() {
            return Ok(round);
        }
        let mut anew = self.batch.ears.rounds(1).map_err(no_ears)?;
        anew.pop().ok_or_else(|| no_ears("there is no recogniser".to_owned()))
    }

    /// Writes a draft as `draft --format json` does; gives its name and length.
    fn write_draft(&self, told: &str, draft: &DraftRecord) -> Result<(String, u64), NoDraft> {
        let Some(storage) = self.storage else { return Ok((String::new(), 0)) };
        let json = export::to_json_computed(self.batch.lexicon, draft);
        let json = json.map_err(|fault| NoDraft::File(format!("its draft cannot be written: {fault}")))?.into_bytes();
        let (name, length) = (names::draft_of(told), json.len() as u64);
        // Where another wrote it meanwhile, it wrote the same: what it says depends on content, models and lexicon alone.
        let _ours = storage.put_over(&name, json, self.known.drafts.get(&name))?;
        Ok((name, length))
    }
}

fn of_speech(fault: SpeechError) -> NoDraft {
    match fault {
        SpeechError::Cancelled => NoDraft::Batch(BatchError::Stopped),
        fault => NoDraft::File(fault.to_string()),
    }
}

fn no_ears(fault: String) -> NoDraft {
    NoDraft::Batch(BatchError::Ears(fault))
}

/// What threads share.
pub(super) fn own<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

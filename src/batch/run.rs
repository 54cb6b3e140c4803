//! A batch from its beginning to its end.
//! Takes what is to be done; runs the thread that prepares and those that work, and writes the manifest and the store from one
//! thread. Gives the sums. Leaves alone each step (`preparing`, `working`, `manifest`, `records`).
//!
//! Stopped at any moment, what was done is kept, and the next run goes on

use std::collections::{BTreeMap, HashSet};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use super::claim::Claim;
use super::manifest::{self, Manifest};
use super::preparing::{Known, Preparing, Task};
use super::records::{self, Records};
use super::source::{Found, Source};
use super::storage::Storage;
use super::working::{Ended, Working};
use super::{Batch, BatchError, Event, Kind, Summary, names};
use crate::store::Store;

/// So often whoever waits is told how far it is.
const TICK: Duration = Duration::from_millis(200);

/// Does a batch; `tell` is told what happens. With a store, drafts become records in it.
///
/// # Errors
/// If it cannot begin, or cannot go on: a target that is full, a model that is missing, Ctrl-C. What was done by then is kept.
pub fn run(
    batch: &Batch<'_>,
    mut store: Option<&mut Store>,
    tell: &mut dyn FnMut(Event<'_>),
) -> Result<Summary, BatchError> {
    let began = Instant::now();
    let source = Source::open(&batch.from)?;
    let storage = batch.to.as_ref().map(|to| Storage::open(to, true)).transpose()?.map(Arc::new);
    let claim = storage.as_ref().map(|storage| Claim::take(storage, batch.shard, &mut |note| tell(Event::Note(note))));
    let claim = claim.transpose()?;
    // Whoever has the whole knows that nobody else is at work.
    if let Some(storage) = storage.as_deref().filter(|_| batch.shard.is_whole()) {
        storage.clear_halves()?;
    }
    let known = storage.as_deref().map_or_else(|| Ok(Known::default()), Known::read)?;
    let records = store.as_deref().map(|store| Records::read(store, &mut known.lines.values())).transpose()?;
    let others: Vec<_> = batch.to.iter().chain(&batch.beside).cloned().collect();
    let mut found = source.files(&others)?;
    let bytes = found.iter().map(|one| one.size).sum();
    tell(Event::Found { files: found.len(), bytes });
    // The longest first: no worker is left alone with it at the end.
    found.sort_by_key(|one| std::cmp::Reverse(one.size));
    let mut ending = Ending {
        manifest: storage.as_ref().map(|storage| Manifest::begin(storage, batch.shard)).transpose()?,
        storage: storage.as_deref(),
        store: store.take(),
        claim: claim.as_ref(),
        tried: known.tried.clone(),
        summary: Summary::default(),
        done: 0,
        tell,
    };
    let all = Threads { batch, source: &source, storage: storage.as_deref(), known: &known, found: &found };
    let result = all.run(records, &mut ending);
    ending.summary.seconds_taken = began.elapsed().as_secs_f64();
    // Lines that wait are written even when the batch broke off.
    let flushed = ending.manifest.as_mut().map_or(Ok(()), Manifest::flush);
    result?;
    flushed?;
    ending.end(batch)
}

impl Known {
    fn read(storage: &Storage) -> Result<Self, BatchError> {
        let drafts: BTreeMap<_, _> = storage.list("drafts")?.into_iter().map(|one| (one.name.clone(), one)).collect();
        let words = storage.list("words")?.into_iter().map(|one| one.name).collect();
        let tried = storage.list(names::TRYING)?.into_iter();
        let tried: HashSet<String> = tried.filter_map(|one| Some(one.name.rsplit_once('/')?.1.to_owned())).collect();
        Ok(Self { lines: manifest::read(storage)?, drafts, words, tried })
    }
}

/// What the threads look at.
struct Threads<'a> {
    batch: &'a Batch<'a>,
    source: &'a Source,
    storage: Option<&'a Storage>,
    known: &'a Known,
    found: &'a [Found],
}

impl Threads<'_> {
    fn run(&self, records: Option<Records>, ending: &mut Ending<'_, '_>) -> Result<(), BatchError> {
        let underway = Mutex::new(HashSet::new());
        // One task lies ready for whoever is first to be free.
        let (tasks, ready) = mpsc::sync_channel::<Task>(1);
        let (ended, endings) = mpsc::channel();
        let Self { batch, storage, known, .. } = *self;
        let jobs = batch.jobs.max(1);
        let working = Working {
            batch,
            storage,
            known,
            tasks: Mutex::new(ready),
            rounds: Mutex::new(None),
            underway: &underway,
            heard: (0..jobs).map(|_| AtomicU64::new(0)).collect(),
        };
        let mut preparing = Preparing {
            batch,
            source: self.source,
            storage,
            known,
            tasks,
            ended: ended.clone(),
            records,
            given: HashSet::new(),
            underway: &underway,
        };
        std::thread::scope(|scope| {
            for own in 0..jobs {
                let (working, ended) = (&working, ended.clone());
                scope.spawn(move || working.work(own, &ended));
            }
            drop(ended);
            scope.spawn(move || preparing.all(self.found));
            let result = ending.all(&endings, &working.heard, &batch.stop);
            if result.is_err() {
                batch.stop.store(true, Ordering::Relaxed);
                // Whoever waits to give a task, or to tell, must not wait for ever.
                for late in endings {
                    drop(late);
                }
            }
            result
        })
    }
}

/// The one thread that writes down what ended.
struct Ending<'a, 'b> {
    manifest: Option<Manifest>,
    storage: Option<&'a Storage>,
    store: Option<&'a mut Store>,
    claim: Option<&'a Claim>,
    tried: HashSet<String>,
    summary: Summary,
    done: u64,
    tell: &'a mut (dyn FnMut(Event<'_>) + 'b),
}

impl Ending<'_, '_> {
    fn all(&mut self, endings: &Receiver<Ended>, heard: &[AtomicU64], stop: &AtomicBool) -> Result<(), BatchError> {
        loop {
            match endings.recv_timeout(TICK) {
                Ok(ended) => self.one(ended)?,
                Err(RecvTimeoutError::Timeout) => self.manifest.as_mut().map_or(Ok(()), Manifest::tick)?,
                Err(RecvTimeoutError::Disconnected) => break,
            }
            if self.claim.is_some_and(Claim::is_lost) {
                return Err(BatchError::TakenOver);
            }
            if stop.load(Ordering::Relaxed) {
                return Err(BatchError::Stopped);
            }
            let heard: u64 = heard.iter().map(|bytes| bytes.load(Ordering::Relaxed)).sum();
            (self.tell)(Event::At { bytes: self.done + heard });
        }
        if stop.load(Ordering::Relaxed) { Err(BatchError::Stopped) } else { Ok(()) }
    }

    fn one(&mut self, ended: Ended) -> Result<(), BatchError> {
        let (line, size, already) = match ended {
            Ended::Broken(fault) => return Err(fault),
            Ended::Already { line, size } => (line, size, true),
            Ended::Without { line, size } => (line, size, false),
            Ended::Drafted { mut line, size, draft, record, fetched } => {
                if let Some(store) = &mut self.store {
                    let id = records::put(store, &draft, record, &fetched)?;
                    line.draft.iter_mut().for_each(|drafted| drafted.record = Some(id.clone()));
                }
                (line, size, false)
            }
        };
        self.done += size;
        self.summary.add(&line, already);
        (self.tell)(Event::Ended(&line, already));
        let may_be_noted = !already && line.kind != Some(Kind::Transcript);
        let sha256 = line.sha256.clone().filter(|sha256| may_be_noted || self.tried.contains(sha256));
        if !already && let Some(manifest) = &mut self.manifest {
            manifest.add(line)?;
        }
        self.tried_no_more(sha256.as_deref())
    }

    /// The recording did not take the program down.
    fn tried_no_more(&mut self, sha256: Option<&str>) -> Result<(), BatchError> {
        let (Some(storage), Some(sha256)) = (self.storage, sha256) else { return Ok(()) };
        self.tried.remove(sha256);
        Ok(storage.delete(&names::trying(sha256))?)
    }

    fn end(mut self, batch: &Batch<'_>) -> Result<Summary, BatchError> {
        self.claim.map_or(Ok(()), Claim::look)?;
        if let Some(manifest) = self.manifest.take() {
            manifest.end()?;
        }
        if let Some(storage) = self.storage {
            // Of recordings that are gone by now. Whoever has a part alone may see those that others are at.
            if batch.shard.is_whole() {
                self.tried.iter().try_for_each(|sha256| storage.delete(&names::trying(sha256)))?;
            }
            let report = self.summary.report(batch.shard, &batch.lexicon.identity);
            storage.put(&report_of(batch), report.into_bytes())?;
        }
        Ok(self.summary)
    }
}

fn report_of(batch: &Batch<'_>) -> String {
    let shard = batch.shard;
    if shard.is_whole() { "report.json".to_owned() } else { format!("report-{}.json", shard.in_names()) }
}

#[cfg(test)]
mod tests;

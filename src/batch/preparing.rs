//! Files → work: what each is, whether it is done, and its sound decoded while others are heard.
//! Takes what was found; gives tasks one ahead of the recognisers, and the outcome of what needs none. Leaves alone how a task is done
//! (`working`).
//!
//! A recording whose words were kept becomes a task without sound

use std::collections::{BTreeMap, HashSet};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Sender, SyncSender};
use std::time::Duration;

use sha2::{Digest, Sha256};

use super::content::{Content, HEAD, content};
use super::line::{Line, Outcome, PROGRAM};
use super::records::Records;
use super::source::{At, Fetched, Found, Source};
use super::storage::{Listed, Storage};
use super::working::{Ended, NoDraft, own};
use super::{Batch, BatchError, kept, names};
use crate::audio::{self, Recording};
use crate::flow::{self, remembered::Remembered};

/// No transcript is longer, in bytes: a day of speech is less.
const LONGEST_TEXT: u64 = 8 << 20;
/// How long is waited between two looks at whether a recording has ended.
const NAP: Duration = Duration::from_millis(20);

/// A file whose draft is to be made.
pub(super) struct Task {
    /// Its name as it is told.
    pub(super) told: String,
    /// Its name without folders, as a draft names it.
    pub(super) file_name: String,
    pub(super) size: u64,
    pub(super) sha256: String,
    pub(super) what: What,
    /// Which models and ways of hearing it is to be heard by; none for a transcript.
    pub(super) heard_by: Option<String>,
    /// The record in the store that its draft belongs to, where there is one.
    pub(super) record: Option<String>,
    /// Its content, for the store.
    pub(super) fetched: Fetched,
}

/// What a draft is made of.
pub(super) enum What {
    /// Words that somebody wrote.
    Text(String),
    /// Sound that was decoded.
    Sound(Box<Recording>),
    /// What recognisers said of it earlier.
    Words(Box<Remembered>),
}

/// What is known when a batch begins.
#[derive(Default)]
pub(super) struct Known {
    /// What became of files in earlier runs and at other workers.
    pub(super) lines: BTreeMap<String, Line>,
    /// Drafts that are there, by name.
    pub(super) drafts: BTreeMap<String, Listed>,
    /// Kept words that are there, by name.
    pub(super) words: HashSet<String>,
    /// Recordings that an earlier run was at when it ended, by SHA-256. They come last: should one of them take the program
    /// down, all others are done before.
    pub(super) tried: HashSet<String>,
}

/// The thread that prepares.
pub(super) struct Preparing<'a> {
    pub(super) batch: &'a Batch<'a>,
    pub(super) source: &'a Source,
    pub(super) storage: Option<&'a Storage>,
    pub(super) known: &'a Known,
    pub(super) tasks: SyncSender<Task>,
    pub(super) ended: Sender<Ended>,
    /// Records of the store, by what they were made of.
    pub(super) records: Option<Records>,
    /// Recordings that were given out: another file with the same content waits until their words are kept.
    pub(super) given: HashSet<String>,
    /// Of these, those that did not end yet.
    pub(super) underway: &'a Mutex<HashSet<String>>,
}

/// What there is of a file before.
enum Before {
    /// All of it.
    Done,
    /// Not all; the record in the store that it belongs to, if there is one.
    ToDo(Option<String>),
}

impl Preparing<'_> {
    /// Goes through all files.
    pub(super) fn all(&mut self, found: &[Found]) {
        let later: Vec<&Found> = found.iter().filter(|one| self.comes_later(one, false)).collect();
        for one in later {
            self.comes_later(one, true);
        }
    }

    fn is_over(&self) -> bool {
        self.batch.stop.load(Ordering::Relaxed)
    }

    /// Does what is to be done with a file, unless it is to come last.
    fn comes_later(&mut self, found: &Found, last: bool) -> bool {
        if self.is_over() {
            return false;
        }
        let at = match &found.at {
            Ok(at) => at,
            Err(why) => return self.without_content(found, why),
        };
        // What the bucket tells of the content spares fetching what is another's.
        let mark = if let At::Object { mark, .. } = at { mark.as_deref() } else { None };
        if mark.is_some_and(|mark| !self.is_ours(mark)) {
            return false;
        }
        let looked = self.source.fetched(at).and_then(|fetched| {
            let looked = look(&fetched.path, Path::new(&found.told)).map_err(|fault| gone(&fault))?;
            Ok((fetched, looked))
        });
        let (fetched, Looked { content, sha256 }) = match looked {
            Ok(looked) => looked,
            Err(why) if mark.is_some() => return self.without(found, Outcome::Failed, &why, None),
            Err(why) => return self.without_content(found, &why),
        };
        if mark.is_none() && !self.batch.shard.holds(&sha256) {
            return false;
        }
        match content {
            Content::Other(why) => self.without(found, Outcome::LeftOut, why, None),
            Content::Misnamed(why) => self.without(found, Outcome::Failed, why, Some(sha256)),
            Content::Transcript => self.text(found, fetched, sha256),
            Content::Recording => self.recording(found, fetched, sha256, last),
        }
    }

    fn is_ours(&self, mark: &str) -> bool {
        let digits: String = mark.chars().filter(char::is_ascii_hexdigit).collect();
        self.batch.shard.holds(&digits)
    }

    /// A file of whose content nothing is known: the part tells of it that its name belongs to.
    fn without_content(&self, found: &Found, why: &str) -> bool {
        let ours = self.batch.shard.holds(&format!("{:x}", Sha256::digest(&found.told)));
        ours && self.without(found, Outcome::Failed, why, None)
    }

    /// A file without a draft; it does not come later.
    fn without(&self, found: &Found, outcome: Outcome, why: &str, sha256: Option<String>) -> bool {
        let line = Line::without(found.told.clone(), outcome, why.to_owned(), sha256);
        let _ = self.ended.send(Ended::Without { line, size: found.size });
        false
    }

    /// The batch cannot go on.
    fn broken(&self, fault: BatchError) -> bool {
        let _ = self.ended.send(Ended::Broken(fault));
        false
    }

    fn text(&mut self, found: &Found, fetched: Fetched, sha256: String) -> bool {
        let Before::ToDo(record) = self.before(found, &sha256, None) else { return false };
        match read_text(&fetched.path, &sha256) {
            Ok(text) => self.give(Task { record, ..task(found, fetched, sha256, What::Text(text)) }),
            Err(why) => self.without(found, Outcome::Failed, &why, Some(sha256)),
        }
    }

    fn recording(&mut self, found: &Found, fetched: Fetched, sha256: String, last: bool) -> bool {
        let heard_by = match self.batch.ears.identity() {
            Ok(heard_by) => heard_by,
            Err(fault) => return self.broken(BatchError::Ears(fault)),
        };
        if last {
            self.wait_for(&sha256);
        }
        let remembered = self.remembered(&sha256, &heard_by);
        if !last && remembered.is_none() && (self.known.tried.contains(&sha256) || self.given.contains(&sha256)) {
            return true;
        }
        let Before::ToDo(record) = self.before(found, &sha256, Some(&heard_by)) else { return false };
        let what = match remembered {
            Some(remembered) => What::Words(Box::new(remembered)),
            None => match self.sound(found, &fetched.path, &sha256) {
                Ok(recording) => What::Sound(Box::new(recording)),
                Err(NoDraft::File(why)) => return self.without(found, Outcome::Failed, &why, Some(sha256)),
                Err(NoDraft::Batch(fault)) => return self.broken(fault),
            },
        };
        self.give(Task { record, heard_by: Some(heard_by), ..task(found, fetched, sha256, what) })
    }

    /// Decodes a recording that is going to be heard, and notes that it is.
    fn sound(&mut self, found: &Found, path: &Path, sha256: &str) -> Result<Recording, NoDraft> {
        if let Some(storage) = self.storage {
            storage.put(&names::trying(sha256), Vec::new()).map_err(|fault| NoDraft::Batch(fault.into()))?;
        }
        self.given.insert(sha256.to_owned());
        let recording = decoded(path, file_name(&found.told), sha256).map_err(NoDraft::File)?;
        own(self.underway).insert(sha256.to_owned());
        Ok(recording)
    }

    /// What an earlier run made of a file.
    fn before(&mut self, found: &Found, sha256: &str, heard_by: Option<&str>) -> Before {
        let line = self.known.lines.get(&found.told).filter(|line| line.sha256.as_deref() == Some(sha256));
        let fresh = line.is_some_and(|line| self.is_fresh(line, heard_by));
        let Some(records) = &mut self.records else {
            return match line.filter(|_| fresh) {
                Some(line) => self.already(line.clone(), found),
                None => Before::ToDo(None),
            };
        };
        let known = line.and_then(|line| line.draft.as_ref()?.record.clone());
        let Some(record) = records.taken(known.as_deref(), sha256, file_name(&found.told)) else {
            return Before::ToDo(None);
        };
        let drafted = if self.storage.is_some() {
            line.filter(|_| fresh && known.is_some()).cloned()
        } else {
            Some(record.line(&found.told))
        };
        let listens = self.batch.listen_again && heard_by.is_some();
        let settled = record.is_reviewed || record.is_by(&self.batch.lexicon.identity) && !listens;
        match drafted.filter(|_| settled) {
            Some(line) => self.already(line, found),
            None => Before::ToDo(Some(record.id)),
        }
    }

    fn already(&self, line: Line, found: &Found) -> Before {
        let _ = self.ended.send(Ended::Already { line, size: found.size });
        Before::Done
    }

    /// Whether a draft of an earlier run is what we would make.
    fn is_fresh(&self, line: &Line, heard_by: Option<&str>) -> bool {
        let Some(drafted) = &line.draft else { return false };
        let there = self.known.drafts.get(&drafted.draft).is_some_and(|draft| draft.size == drafted.draft_bytes);
        there
            && drafted.lexicon == self.batch.lexicon.identity
            && drafted.program == PROGRAM
            && drafted.heard_by.as_deref() == heard_by
            && !(self.batch.listen_again && heard_by.is_some())
    }

    /// Waits until a recording that was given out has ended.
    fn wait_for(&self, sha256: &str) {
        while own(self.underway).contains(sha256) && !self.is_over() {
            std::thread::sleep(NAP);
        }
    }

    fn remembered(&self, sha256: &str, heard_by: &str) -> Option<Remembered> {
        let name = names::words_of(sha256, heard_by);
        if self.batch.listen_again || !(self.known.words.contains(&name) || self.given.contains(sha256)) {
            return None;
        }
        // Words that cannot be read are heard again.
        let bytes = self.storage?.get(&name).ok()??;
        kept::read(&bytes, sha256)
    }

    fn give(&self, task: Task) -> bool {
        let _ = self.tasks.send(task);
        false
    }
}

/// What is to be done with a file, as far as its content tells.
fn task(found: &Found, fetched: Fetched, sha256: String, what: What) -> Task {
    let (told, file_name) = (found.told.clone(), file_name(&found.told).to_owned());
    Task { told, file_name, size: found.size, sha256, what, heard_by: None, record: None, fetched }
}

fn file_name(told: &str) -> &str {
    told.rsplit('/').next().unwrap_or(told)
}

/// What a file is, with the hash of all of it, or of its beginning where it is nothing for us.
struct Looked {
    content: Content,
    sha256: String,
}

fn look(path: &Path, told: &Path) -> io::Result<Looked> {
    let mut file = File::open(path)?;
    let mut head = Vec::new();
    file.by_ref().take(HEAD as u64).read_to_end(&mut head)?;
    let content = content(&head, head.len() < HEAD, told);
    let mut hash = Sha256::new_with_prefix(&head);
    if matches!(content, Content::Recording | Content::Transcript) {
        io::copy(&mut file, &mut hash)?;
    }
    Ok(Looked { content, sha256: format!("{:x}", hash.finalize()) })
}

fn gone(fault: &io::Error) -> String {
    match fault.kind() {
        io::ErrorKind::NotFound => "it is gone: it was there when the batch began".to_owned(),
        _ => format!("it cannot be read: {}", io::Error::from(fault.kind())),
    }
}

const CHANGED: &str = "it changed while it was read; run the batch again when it is whole";

fn read_text(path: &Path, sha256: &str) -> Result<String, String> {
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(LONGEST_TEXT + 1).read_to_end(&mut bytes));
    read.map_err(|fault| gone(&fault))?;
    if bytes.len() as u64 > LONGEST_TEXT {
        return Err(format!("it is longer than any transcript (more than {} MB)", LONGEST_TEXT >> 20));
    }
    if format!("{:x}", Sha256::digest(&bytes)) != sha256 {
        return Err(CHANGED.to_owned());
    }
    flow::text_in(bytes).map_err(|fault| fault.to_string())
}

/// A decoder that panics at a file has lost that file alone.
fn decoded(path: &Path, file_name: &str, sha256: &str) -> Result<Recording, String> {
    let read = std::panic::catch_unwind(|| audio::read(path));
    let mut recording = read
        .map_err(|_| "the program failed at decoding it; please report that".to_owned())?
        .map_err(|fault| fault.to_string())?;
    if recording.sha256 != sha256 {
        return Err(CHANGED.to_owned());
    }
    file_name.clone_into(&mut recording.file_name);
    Ok(recording)
}

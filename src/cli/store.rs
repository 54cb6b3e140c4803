//! The commands about the store.
//! Takes a folder and words; prints which records there are, what stands in one, whether all is as it was written, and how
//! long sound is kept. Leaves alone how records are kept (`store`).
//!
//! `spoken-exam store check` ends with 1 if a row was altered by hand, and names it

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::args::{
    StoreArgs, StoreCheckArgs, StoreCommand, StoreDeleteSoundArgs, StoreFolder, StoreKeepSoundArgs, StoreListArgs,
    StoreShowArgs,
};
use super::input::Note;
use super::{Outcome, output};
use crate::export;
use crate::record::DraftRecord;
use crate::store::{self, KeepSound, Kept, Query, Sound, State, Store};

/// Runs one of them.
pub(super) fn run(args: &StoreArgs) -> Result<Outcome> {
    match &args.command {
        StoreCommand::List(args) => list(args),
        StoreCommand::Show(args) => show(args),
        StoreCommand::Check(args) => check(args),
        StoreCommand::KeepSound(args) => keep_sound(args),
        StoreCommand::DeleteSound(args) => delete_sound(args),
    }
}

fn folder(named: Option<&Path>) -> Result<PathBuf> {
    let usual = || store::default_folder(&|name| std::env::var_os(name));
    let folder = named.map(Path::to_owned).or_else(usual);
    folder.context("cannot tell where the store is: name a folder with --store, or in SPOKEN_EXAM_STORE")
}

/// Opens the store that is there.
pub(super) fn open(args: &StoreFolder) -> Result<Store> {
    Store::open_existing(&folder(args.folder.as_deref())?).context("cannot open the store")
}

/// Opens the store that a draft goes into, before any work is done for it.
pub(super) fn open_or_make(named: Option<&Path>) -> Result<Store> {
    Store::open(&folder(named)?).context("cannot open the store")
}

/// Puts a draft with its recording into the store; gives the record's id.
pub(super) fn keep(store: &mut Store, draft: &DraftRecord, recording: Option<&Path>) -> Result<String> {
    let id = store.keep(draft, recording, store::now()).context("cannot keep the draft")?;
    if recording.is_some() && store.keep_sound()? == KeepSound::NotKept {
        output::say("note: the recording was not put into the store: its policy is not-kept");
    }
    Ok(id)
}

/// The recording of a note, where it is one.
pub(super) fn recording(note: &Note) -> Option<PathBuf> {
    match note {
        Note::Sound(path) => Some(path.clone()),
        Note::Text { .. } => None,
    }
}

fn list(args: &StoreListArgs) -> Result<Outcome> {
    let store = open(&args.store)?;
    let query = Query { words: args.words.clone(), state: args.state, from: args.from, most: args.most };
    let page = store.list(&query)?;
    let mut text = String::new();
    for record in &page.records {
        let state = match (record.state, record.decided_since) {
            (State::Signed | State::Amended, 1..) => format!("{}, decided since", record.state.name()),
            (state, _) => state.name().to_owned(),
        };
        let infant = record.infant.join(" ");
        let _ = writeln!(text, "{}\t{}\t{state}\t{infant}\t{}", record.id, record.at, plain(&record.file_name));
    }
    output::print(&text)?;
    let past = u64::from(args.from) + page.records.len() as u64;
    if page.found == 0 {
        output::say("no record is like that");
    } else if past < page.found {
        output::say(&format!("note: {} of {}; --from {past} shows those behind", page.records.len(), page.found));
    }
    Ok(Outcome::Done)
}

// A tab or a line break in a file's name must not look like the next column or row.
fn plain(name: &str) -> String {
    name.replace(char::is_control, " ")
}

fn show(args: &StoreShowArgs) -> Result<Outcome> {
    let store = open(&args.store)?;
    let text = match &args.id {
        Some(id) => record_text(&store.record(&store.find(id)?)?),
        None => store_text(&store)?,
    };
    output::print(&text)?;
    Ok(Outcome::Done)
}

fn store_text(store: &Store) -> Result<String> {
    let mut text = format!("folder: {}\nsound is kept: {}\n", store.folder().display(), store.keep_sound()?);
    for state in State::ALL {
        let query = Query { words: Vec::new(), state: Some(state), from: 0, most: 0 };
        let _ = writeln!(text, "{}: {}", state.name(), store.list(&query)?.found);
    }
    Ok(text)
}

fn record_text(kept: &Kept) -> String {
    let mut text = format!("record: {}\nput in: {}\nstate: {}\n", kept.id, kept.at, kept.state().name());
    let _ = writeln!(text, "recording: {}", sound_words(&kept.sound));
    for signature in &kept.signatures {
        let reason = signature.reason.as_ref().map(|reason| format!(", because: {reason}")).unwrap_or_default();
        let _ = writeln!(text, "signed: version {} by {} at {}{reason}", signature.version, signature.by, signature.at);
        let _ = writeln!(text, "  SHA-256: {}", signature.sha256);
    }
    for standing in kept.review.standings().iter().filter(|standing| standing.decided.is_some()) {
        let _ = writeln!(text, "{}: {}", standing.finding, standing.words());
    }
    let undecided = kept.review.undecided().len();
    let _ = writeln!(text, "undecided: {undecided}\n\n{}", export::to_table(kept.review.draft()));
    text
}

fn sound_words(sound: &Sound) -> String {
    match sound {
        Sound::None => "none, it was made from a text".to_owned(),
        Sound::NotKept => "not kept".to_owned(),
        Sound::Kept(path) => path.display().to_string(),
        Sound::ToDelete(_) => "to be deleted".to_owned(),
        Sound::Deleted => "deleted".to_owned(),
    }
}

fn check(args: &StoreCheckArgs) -> Result<Outcome> {
    let verified = open(&args.store)?.verify().context("cannot check the store")?;
    let mut text: String = verified.faults.iter().map(|fault| format!("{fault}\n")).collect();
    let (records, signatures, sounds) = (verified.records, verified.signatures, verified.sounds);
    let _ = writeln!(text, "records: {records}, signatures: {signatures}, recordings: {sounds}");
    let _ = writeln!(text, "faults: {}", verified.faults.len());
    output::print(&text)?;
    verified.notes.iter().for_each(|note| output::say(&format!("note: {note}")));
    Ok(if verified.faults.is_empty() { Outcome::Done } else { Outcome::NeedsEyes })
}

fn keep_sound(args: &StoreKeepSoundArgs) -> Result<Outcome> {
    let mut store = open_or_make(args.store.folder.as_deref())?;
    store.set_keep_sound(args.policy, store::now())?;
    output::print(&format!("sound is kept: {}\n", args.policy))?;
    if args.delete_kept {
        output::print(&format!("recordings deleted: {}\n", store.delete_overdue(store::now())?))?;
    } else if let overdue @ 1.. = store.overdue()? {
        output::say(&format!("note: {overdue} kept so far would not be kept by this; --delete-kept deletes them"));
    }
    Ok(Outcome::Done)
}

fn delete_sound(args: &StoreDeleteSoundArgs) -> Result<Outcome> {
    let mut store = open(&args.store)?;
    let id = store.find(&args.id)?;
    store.delete_sound(&id, store::now()).context("cannot delete the recording")?;
    output::print(&format!("deleted: the recording of {id}\n"))?;
    Ok(Outcome::Done)
}

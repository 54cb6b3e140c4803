//! The commands about the store.
//! Takes a folder and words; prints which records there are, what stands in one, whether all is as it was written, and how
//! long sound is kept. Leaves alone how records are kept (`store`).
//!
//! `spoken-exam store check` ends with 1 if a row was altered by hand, and names it

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::args::{
    StoreArgs, StoreChangePassphraseArgs, StoreCheckArgs, StoreCommand, StoreDeleteSoundArgs, StoreEncryptArgs,
    StoreFolder, StoreKeepSoundArgs, StoreListArgs, StoreRemarkArgs, StoreShowArgs,
};
use super::input::Note;
use super::{Outcome, output, passphrase};
use crate::export;
use crate::record::remarks::{About, Remark, Remarks};
use crate::record::{DraftRecord, Person};
use crate::store::{self, KeepSound, Kept, Query, Sound, State, Store, StoreError};

/// Runs one of them.
pub(super) fn run(args: &StoreArgs) -> Result<Outcome> {
    match &args.command {
        StoreCommand::List(args) => list(args),
        StoreCommand::Show(args) => show(args),
        StoreCommand::Remark(args) => remark(args),
        StoreCommand::Check(args) => check(args),
        StoreCommand::KeepSound(args) => keep_sound(args),
        StoreCommand::DeleteSound(args) => delete_sound(args),
        StoreCommand::Encrypt(args) => encrypt(args),
        StoreCommand::ChangePassphrase(args) => change_passphrase(args),
    }
}

fn folder(named: Option<&Path>) -> Result<PathBuf> {
    let usual = || store::default_folder(&|name| std::env::var_os(name));
    let folder = named.map(Path::to_owned).or_else(usual);
    folder.context("cannot tell where the store is: name a folder with --store, or in SPOKEN_EXAM_STORE")
}

/// Opens the store that is there.
pub(super) fn open(args: &StoreFolder) -> Result<Store> {
    let folder = folder(args.folder.as_deref())?;
    let passphrase = passphrase::of_store(&folder, args.passphrase_file.as_deref())?;
    say_if_open(&folder, args.passphrase_file.as_deref());
    Store::open_existing_with(&folder, passphrase.as_ref()).context("cannot open the store")
}

/// Opens the store that a draft goes into, before any work is done for it. Whoever names a passphrase's file where there is
/// no store yet wants one that is encrypted.
pub(super) fn open_or_make(named: Option<&Path>, passphrase_file: Option<&Path>) -> Result<Store> {
    let folder = folder(named)?;
    if let Some(file) = passphrase::named(passphrase_file).filter(|_| !Store::is_there(&folder)) {
        Store::encrypt(&folder, &passphrase::known(Some(&file))?).context("cannot make an encrypted store")?;
    }
    let passphrase = passphrase::of_store(&folder, passphrase_file)?;
    say_if_open(&folder, passphrase_file);
    Store::open_with(&folder, passphrase.as_ref()).context("cannot open the store")
}

// Who names a passphrase's file may believe that the store is encrypted.
fn say_if_open(folder: &Path, passphrase_file: Option<&Path>) {
    if Store::is_there(folder) && !Store::is_encrypted(folder) && passphrase::named(passphrase_file).is_some() {
        output::say("note: the store is not encrypted and needs no passphrase; `store encrypt` makes it so");
    }
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
    let mut text = format!("folder: {}\n", store.folder().display());
    let _ = writeln!(text, "encrypted: {}", if Store::is_encrypted(store.folder()) { "yes" } else { "no" });
    let _ = writeln!(text, "sound is kept: {}", store.keep_sound()?);
    for state in State::ALL {
        let query = Query { words: Vec::new(), state: Some(state), from: 0, most: 0 };
        let _ = writeln!(text, "{}: {}", state.name(), store.list(&query)?.found);
    }
    let _ = writeln!(text, "unfinished recordings: {}", store.unfinished()?.len());
    Ok(text)
}

fn record_text(kept: &Kept) -> String {
    let mut text = format!("record: {}\nput in: {}\nstate: {}\n", kept.id, kept.at, kept.state().name());
    let _ = writeln!(text, "recording: {}", sound_words(&kept.sound));
    text.push_str(&remarks_text(&kept.remarks));
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

fn remark(args: &StoreRemarkArgs) -> Result<Outcome> {
    let (by, at) = (Person::new(&args.by, &args.role)?, store::now());
    let said = [(About::Infant, &args.infant), (About::Examined, &args.examined)];
    let said = said.into_iter().filter_map(|(about, words)| Some(Remark::new(about, "", words.as_ref()?, &by, at)));
    let remarks = said.collect::<Result<Vec<_>, _>>()?;
    let mut store = open(&args.store)?;
    let id = store.find(&args.id)?;
    store.remark(&id, &remarks)?;
    output::print(&remarks_text(&store.record(&id)?.remarks))?;
    Ok(Outcome::Done)
}

fn remarks_text(remarks: &Remarks) -> String {
    let line = |name: &str, remark: Option<&Remark>| {
        remark.map_or_else(
            || format!("{name}: not written down\n"),
            |it| format!("{name}: {} (by {})\n", it.words, it.by),
        )
    };
    line("infant", remarks.infant()) + &line("examined", remarks.examined())
}

fn check(args: &StoreCheckArgs) -> Result<Outcome> {
    let verified = open(&args.store)?.verify().context("cannot check the store")?;
    let mut text: String = verified.faults.iter().map(|fault| format!("{fault}\n")).collect();
    let (records, signatures, sounds) = (verified.records, verified.signatures, verified.sounds);
    let _ = writeln!(text, "records: {records}, signatures: {signatures}, recordings: {sounds}");
    if verified.takings > 0 {
        let _ = writeln!(text, "unfinished recordings: {}, {} s", verified.takings, verified.takings_ms / 1000);
    }
    let _ = writeln!(text, "faults: {}", verified.faults.len());
    output::print(&text)?;
    verified.notes.iter().for_each(|note| output::say(&format!("note: {note}")));
    Ok(if verified.faults.is_empty() { Outcome::Done } else { Outcome::NeedsEyes })
}

fn keep_sound(args: &StoreKeepSoundArgs) -> Result<Outcome> {
    let mut store = open_or_make(args.store.folder.as_deref(), args.store.passphrase_file.as_deref())?;
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

fn encrypt(args: &StoreEncryptArgs) -> Result<Outcome> {
    let folder = folder(args.store.folder.as_deref())?;
    // Before a passphrase is thought of.
    if !store::ENCRYPTION_BUILT_IN {
        return Err(StoreError::BuiltWithoutEncryption.into());
    }
    if Store::is_encrypted(&folder) {
        return Err(StoreError::EncryptedAlready(folder).into());
    }
    let passphrase = passphrase::new(passphrase::named(args.store.passphrase_file.as_deref()).as_deref())?;
    let there = Store::is_there(&folder);
    let done = Store::encrypt(&folder, &passphrase).context("cannot encrypt the store")?;
    let unfinished = if done.takings > 0 { format!(", {} unfinished recordings", done.takings) } else { String::new() };
    output::print(&format!("encrypted: {} records, {} recordings{unfinished}\n", done.records, done.sounds))?;
    if there {
        output::say("note: the files that were not encrypted are deleted; a disk may give up what was deleted");
    }
    Ok(Outcome::Done)
}

fn change_passphrase(args: &StoreChangePassphraseArgs) -> Result<Outcome> {
    let folder = folder(args.store.folder.as_deref())?;
    if !Store::is_encrypted(&folder) {
        let there = Store::is_there(&folder);
        return Err(if there { StoreError::NotEncrypted(folder) } else { StoreError::NoStore(folder) }.into());
    }
    if !store::ENCRYPTION_BUILT_IN {
        return Err(StoreError::BuiltWithoutEncryption.into());
    }
    let old = passphrase::known(args.store.passphrase_file.as_deref())?;
    let new = passphrase::new(args.new_passphrase_file.as_deref())?;
    Store::change_passphrase(&folder, &old, &new).context("cannot change the passphrase")?;
    output::print("the passphrase was changed\n")?;
    Ok(Outcome::Done)
}

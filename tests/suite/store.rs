//! The store under hard conditions: killed programs, two at once, full and read-only disks, old schemas.
//! Takes the built program, and this test program started anew as a child that is killed; fails where something that was said to
//! be done is not there, or the store is not sound. Leaves alone tampering (`store_tampering`) and single steps
//! (`src/store/tests.rs`).

use std::fs;
use std::io::{BufRead, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::LazyLock;
use std::time::Duration;

use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::record::{Author, DraftRecord, FindingId, Moment, Person, Wish};
use spoken_exam::store::{Query, Sound, State, Store, StoreError};

use crate::corpus::LEXICON;

pub(crate) const NOTE: &str = "This is a girl.\nNo ankle clonus on the left.\nScarf sign on the right to the midline.";

pub(crate) fn draft(text: &str) -> DraftRecord {
    flow::of_text(&LEXICON, text, "note.txt").draft
}

pub(crate) fn author(seen: u64) -> Author {
    Author { by: Person::new("A. Examiner", "registrar").expect("a person"), at: Moment(1_700_000_000_000), seen }
}

/// A file with some sound, and the draft that was made of it.
pub(crate) fn recording(folder: &Path, sound: &[u8]) -> (PathBuf, DraftRecord) {
    let file = folder.join("visit.wav");
    fs::write(&file, sound).expect("it can be written");
    let mut draft = draft(NOTE);
    draft.source.file_name = "visit.wav".into();
    draft.source.sha256 = sha256(sound);
    (file, draft)
}

pub(crate) fn sha256(bytes: &[u8]) -> String {
    use sha2::Digest;
    format!("{:x}", sha2::Sha256::digest(bytes))
}

#[track_caller]
pub(crate) fn check_sound(store: &Store) {
    let faults = store.verify().expect("it can be checked").faults;
    assert!(faults.is_empty(), "{faults:?}");
}

// --- Killed programs ---

/// What the child is to do: "decide FOLDER ID" or "whole FOLDER".
const TASK: &str = "SPOKEN_EXAM_CHILD_TASK";

/// No test: what the tests below start as a process of its own, to kill it or to have two at once. Without a task it
/// does nothing.
#[test]
fn a_child_at_work() {
    let Ok(task) = std::env::var(TASK) else { return };
    let words: Vec<&str> = task.split('\n').collect();
    match words[..] {
        ["decide", folder, id, finding, times] => {
            decide_on_and_on(
                Path::new(folder),
                id,
                finding.parse().expect("a number"),
                times.parse().expect("a number"),
            );
        }
        ["whole", folder] => keep_and_sign_on_and_on(Path::new(folder)),
        ["take", folder, id, seed] => crate::takings::take_on_and_on(Path::new(folder), id, seed),
        ["end", folder] => crate::takings::take_and_keep_on_and_on(Path::new(folder)),
        _ => panic!("{task}"),
    }
}

/// Confirms a finding and undoes that, again and again, and says each entry once the store has it.
fn decide_on_and_on(folder: &Path, id: &str, finding: u64, times: usize) {
    // Neither confirming nor undoing asks the lexicon anything, and the whole one takes longer to load than the child lives.
    let lexicon = Lexicon::from_sources(&[]).expect("an empty lexicon");
    let mut store = Store::open(folder).expect("it opens");
    let on = store.record(id).expect("it is there").draft_id();
    for _ in 0..times {
        let mut take = |wish: Wish| {
            let author = author(last(&store, id));
            let entry = store.decide(&on, &lexicon, &author, &[wish]).expect("it is taken")[0].number;
            say(&format!("entry {entry}"));
            entry
        };
        let confirmed = take(Wish::Confirm(FindingId::Drafted(finding)));
        take(Wish::Undo(confirmed));
    }
}

fn last(store: &Store, id: &str) -> u64 {
    store.record(id).expect("it is there").review.last()
}

/// Keeps recordings, decides and signs, and says each step once it is done.
fn keep_and_sign_on_and_on(folder: &Path) {
    let lexicon = Lexicon::from_sources(&[]).expect("an empty lexicon");
    let mut store = crate::store_encrypted::open(folder);
    let own = tempfile::tempdir_in(folder.parent().expect("a folder")).expect("a folder");
    let json = fs::read_to_string(folder.with_extension("json")).expect("a draft");
    let mut draft = spoken_exam::store::draft::read(&json).expect("a draft");
    for number in 0_u32.. {
        let sound = format!("{} {number}", std::process::id()).repeat(2000);
        let file = own.path().join("visit.wav");
        fs::write(&file, &sound).expect("it can be written");
        draft.source.sha256 = sha256(sound.as_bytes());
        let id = store.keep(&draft, Some(&file), Moment(1)).expect("it is kept");
        say(&format!("kept {id}"));
        let on = store.record(&id).expect("it is there").draft_id();
        let wishes: Vec<Wish> = (1..=3).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
        store.decide(&on, &lexicon, &author(0), &wishes).expect("it is taken");
        store.sign(&on, &lexicon, &author(3)).expect("it is signed");
        say(&format!("signed {id}"));
    }
}

pub(crate) fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    // The test program has begun a line of its own.
    writeln!(out, "\n{line}").and_then(|()| out.flush()).expect("somebody listens");
}

pub(crate) fn child(task: &[&str]) -> Child {
    let mut command = Command::new(std::env::current_exe().expect("this program"));
    command.args(["--exact", "store::a_child_at_work", "--nocapture", "--test-threads=1"]);
    command.env(TASK, task.join("\n")).stdout(Stdio::piped()).stderr(Stdio::piped());
    command.spawn().expect("it starts")
}

/// What a child said in whole lines until it was killed: so long after it started, or after its first step where `at_work`.
pub(crate) fn killed_after(mut child: Child, at_work: bool, wait: Duration) -> Vec<String> {
    let mut out = std::io::BufReader::new(child.stdout.take().expect("a pipe"));
    let mut said = Vec::new();
    let begun =
        |said: &[u8]| ["entry ", "kept ", "added "].iter().any(|step| String::from_utf8_lossy(said).contains(step));
    while at_work && !begun(&said) {
        assert!(out.read_until(b'\n', &mut said).expect("it speaks") > 0, "the child ended before its first step");
    }
    std::thread::sleep(wait);
    child.kill().expect("it is killed");
    out.read_to_end(&mut said).expect("it spoke");
    let output = child.wait_with_output().expect("it ended");
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(!stderr.contains("panicked"), "{stderr}");
    let said = String::from_utf8_lossy(&said).into_owned();
    let whole = said.rfind('\n').map_or("", |end| &said[..end]);
    whole.lines().map(str::to_owned).collect()
}

/// Numbers that look like chance, the same each time.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }
}

#[test]
fn killed_at_any_moment_every_decision_that_was_told_is_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    let mut chance = Chance(20);
    let (mut told, mut beyond) = (0, 0);
    let mut id = String::new();
    for round in 0..200 {
        let mut store = Store::open(&place).expect("it opens after a kill");
        if round % 20 == 0 {
            id = store.keep(&draft(NOTE), None, Moment(round)).expect("it is kept");
        }
        // Killed between a confirmation and its undoing, a finding is confirmed: the next child takes another.
        let kept = store.record(&id).expect("it is there");
        if let Some(open) =
            kept.review.standings().iter().find_map(|standing| standing.decided.map(|entry| entry.number))
        {
            store.decide(&kept.draft_id(), &LEXICON, &author(kept.review.last()), &[Wish::Undo(open)]).expect("undone");
        }
        let before = last(&store, &id);
        drop(store);
        let child = child(&["decide", &place.to_string_lossy(), &id, "1", "100000"]);
        let lines = killed_after(child, round % 2 == 0, Duration::from_micros(chance.next(30_000)));
        let entries: Vec<u64> = lines.iter().filter_map(|line| line.strip_prefix("entry ")?.parse().ok()).collect();
        let store = Store::open(&place).expect("it opens after a kill");
        let now = last(&store, &id);
        let last_told = entries.last().copied().unwrap_or(before);
        assert!(now >= last_told && now <= last_told + 1, "round {round}: told {last_told}, there {now}");
        assert_eq!(entries, (before + 1..=last_told).collect::<Vec<_>>(), "round {round}");
        check_sound(&store);
        told += entries.len();
        beyond += usize::from(now > last_told);
    }
    println!("200 kills, {told} decisions told, {beyond} times one more was there");
    assert!(told >= 100, "only {told} decisions were made between kills");
}

#[test]
fn killed_at_any_moment_records_and_recordings_are_whole_or_not_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    drop(Store::open(&place).expect("it opens"));
    let json = spoken_exam::export::to_json(&draft(NOTE)).expect("a draft");
    fs::write(place.with_extension("json"), json).expect("it can be written");
    let mut chance = Chance(7);
    let (mut kept, mut signed) = (0, 0);
    for round in 0..40 {
        let child = child(&["whole", &place.to_string_lossy()]);
        let lines = killed_after(child, round % 2 == 0, Duration::from_micros(chance.next(50_000)));
        let store = Store::open(&place).expect("it opens after a kill");
        for line in &lines {
            if let Some(id) = line.strip_prefix("kept ") {
                assert_eq!(store.record(id).expect("what was told is there").review.draft().findings.len(), 2);
                kept += 1;
            }
            if let Some(id) = line.strip_prefix("signed ") {
                let record = store.record(id).expect("what was told is there");
                assert_eq!(
                    (record.state(), record.sound),
                    (State::Signed, Sound::Deleted),
                    "opening finishes deleting"
                );
                signed += 1;
            }
        }
        let unsigned =
            store.list(&Query { words: Vec::new(), state: Some(State::Draft), from: 0, most: 100 }).expect("a list");
        for record in unsigned.records {
            store.sound(&record.id).expect("the sound of an unsigned record is there");
        }
        check_sound(&store);
    }
    println!("40 kills, {kept} records kept, {signed} signed");
    assert!(kept >= 20 && signed > 0, "only {kept} and {signed}");
}

// --- Two at once ---

#[test]
fn two_programs_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    let mut store = Store::open(&place).expect("it opens");
    let id = store.keep(&draft(NOTE), None, Moment(1)).expect("it is kept");
    let children = ["1", "2"].map(|finding| child(&["decide", &place.to_string_lossy(), &id, finding, "40"]));
    // A check meanwhile sees whole steps only.
    let mut checks = 0;
    while last(&store, &id) < 120 {
        check_sound(&store);
        checks += 1;
    }
    assert!(checks > 0);
    let mut told: Vec<u64> = Vec::new();
    for child in children {
        let output = child.wait_with_output().expect("it ends");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        told.extend(said.lines().filter_map(|line| line.strip_prefix("entry ")?.parse::<u64>().ok()));
    }
    told.sort_unstable();
    assert_eq!(told, (1..=160).collect::<Vec<_>>(), "each entry was told to one of them");
    assert_eq!(last(&store, &id), 160);
    check_sound(&store);
}

#[test]
fn two_programs_may_make_the_same_store() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    let children: Vec<Child> =
        (0..4).map(|_| start(&["draft", "tests/cli/narrations/short.txt", "--keep"], &place)).collect();
    for child in children {
        let output = child.wait_with_output().expect("it ends");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let store = Store::open(&place).expect("it opens");
    assert_eq!(store.verify().expect("it can be checked").records, 4);
    check_sound(&store);
}

#[test]
fn who_decides_what_another_has_decided_is_told_what_stands_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut one = Store::open(folder.path()).expect("it opens");
    let id = one.keep(&draft(NOTE), None, Moment(1)).expect("it is kept");
    let mut other = Store::open(folder.path()).expect("it opens twice");
    let on = one.record(&id).expect("it is there").draft_id();
    one.decide(&on, &LEXICON, &author(0), &[Wish::Reject(FindingId::Drafted(2))]).expect("it is taken");
    let refused = other.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(2))]).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "finding 2 was decided in between: entry 1 by A. Examiner, registrar says rejected; look at it and decide again"
    );
    other.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).expect("another finding is free");
    assert_eq!(last(&one, &id), 2);
}

// --- The program ---

fn start(arguments: &[&str], store: &Path) -> Child {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.args(arguments).env("SPOKEN_EXAM_STORE", store).env("SPOKEN_EXAM_MODELS", "no-models");
    command.env_remove("SPOKEN_EXAM_PASSPHRASE_FILE");
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts")
}

pub(crate) fn run(arguments: &[&str], store: &Path) -> Output {
    start(arguments, store).wait_with_output().expect("it ends")
}

pub(crate) fn printed(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_recording_that_is_kept_is_listed_shown_and_for_its_owner_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("data/store");
    let output = run(&["draft", "samples/silent.flac", "--keep"], &place);
    assert_eq!(output.status.code(), Some(1), "no speech was found");
    let id = printed(&output).trim().to_owned();
    let store = Store::open(&place).expect("it opens");
    let sound = store.sound(&id).expect("the recording is kept");
    assert_eq!(fs::read(&sound).expect("it is there"), fs::read("samples/silent.flac").expect("it is there"));
    let listed = printed(&run(&["store", "list", "silent"], &place));
    assert!(listed.starts_with(&format!("{id}\t")) && listed.ends_with("\tdraft\t\tsilent.flac\n"), "{listed}");
    let shown = printed(&run(&["store", "show", &id[..13]], &place));
    assert!(shown.starts_with(&format!("record: {id}\n")) && shown.contains(&*sound.to_string_lossy()), "{shown}");
    check_modes(&place, &sound);
    let deleted = run(&["store", "delete-sound", &id], &place);
    assert_eq!(printed(&deleted), format!("deleted: the recording of {id}\n"));
    assert!(!sound.exists());
    let again = run(&["store", "delete-sound", &id], &place);
    let said = String::from_utf8_lossy(&again.stderr).into_owned();
    assert!(said.starts_with("error: cannot delete the recording: the sound of record "), "{said}");
}

fn check_modes(place: &Path, sound: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| fs::metadata(path).expect("it is there").permissions().mode() & 0o777;
        assert_eq!((mode(place), mode(sound)), (0o700, 0o600));
        for entry in fs::read_dir(place).expect("a folder").map(|entry| entry.expect("an entry").path()) {
            assert_eq!(mode(&entry) & 0o077, 0, "{}", entry.display());
        }
    }
}

#[test]
fn a_record_that_is_not_there_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    drop(Store::open(folder.path()).expect("it opens"));
    let output = run(&["store", "show", "0123"], folder.path());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(said, "error: there is no record 0123; `spoken-exam store list` shows those there are\n");
    assert_eq!(output.status.code(), Some(2));
}

// --- Disks ---

/// A small disk of its own, where this machine lets one be made.
#[cfg(target_os = "linux")]
pub(crate) struct Disk(pub(crate) tempfile::TempDir);

#[cfg(target_os = "linux")]
impl Disk {
    pub(crate) fn new(options: &str) -> Option<Self> {
        let folder = tempfile::tempdir().expect("a folder");
        let mount = Command::new("mount").args(["-t", "tmpfs", "-o", options, "tmpfs"]).arg(folder.path()).output();
        match mount {
            Ok(output) if output.status.success() => Some(Self(folder)),
            other => {
                println!("left out: no disk can be mounted here ({other:?})");
                None
            }
        }
    }

    fn remount(&self, options: &str) -> bool {
        let mut mount = Command::new("mount");
        mount
            .args(["-o", &format!("remount,{options}")])
            .arg(self.0.path())
            .status()
            .is_ok_and(|status| status.success())
    }
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_keeps_what_was_there_and_says_so() {
    let Some(disk) = Disk::new("size=1m") else { return };
    let place = disk.0.path().join("store");
    let mut store = Store::open(&place).expect("it opens");
    let mut kept = Vec::new();
    let error = loop {
        match store.keep(&draft(NOTE), None, Moment(1)) {
            Ok(id) => kept.push(id),
            Err(error) => break error,
        }
        assert!(kept.len() < 10_000, "a small disk fills up");
    };
    assert!(matches!(error, StoreError::Full(_)), "{error:?}");
    assert!(kept.len() > 3, "{}", kept.len());
    for id in &kept {
        store.record(id).expect("it is there");
    }
    check_sound(&store);
    let elsewhere = tempfile::tempdir().expect("a folder");
    let (file, of_it) = recording(elsewhere.path(), &vec![7; 600_000]);
    let error = store.keep(&of_it, Some(&file), Moment(1)).unwrap_err();
    assert!(matches!(error, StoreError::Full(_)), "{error:?}");
    assert!(error.to_string().ends_with("the disk is full; nothing was changed, make room and try again"), "{error}");
    assert!(disk.remount("size=4m"), "it can grow");
    store.keep(&of_it, Some(&file), Moment(1)).expect("with room it goes on");
    check_sound(&store);
}

#[cfg(target_os = "linux")]
#[test]
fn a_store_on_a_disk_that_may_only_be_read_can_be_read() {
    let Some(disk) = Disk::new("size=4m") else { return };
    let place = disk.0.path().join("store");
    let id = Store::open(&place).expect("it opens").keep(&draft(NOTE), None, Moment(1)).expect("it is kept");
    assert!(disk.remount("ro"), "it can be made read-only");
    let mut store = Store::open_existing(&place).expect("it opens for reading");
    let on = store.record(&id).expect("it is there").draft_id();
    check_sound(&store);
    let refused = store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).unwrap_err();
    assert!(matches!(refused, StoreError::ReadOnly(_)), "{refused:?}");
    drop(store);
    let output = run(&["store", "check"], &place);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let output = run(&["draft", "tests/cli/narrations/short.txt", "--keep"], &place);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2));
    assert!(said.contains("it may only be read"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_limit_on_files_ends_in_an_error_and_a_sound_store() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    drop(Store::open(&place).expect("it opens"));
    let long = folder.path().join("long.txt");
    fs::write(&long, "The weather is fine today.\n".repeat(20_000)).expect("it can be written");
    // The signal of the limit would kill the program; ignored, writing fails. Blocks are of 512 or 1024 bytes.
    let shell = "trap '' XFSZ; ulimit -f 400; exec \"$0\" draft \"$1\" --keep";
    let mut command = Command::new("sh");
    command.args(["-c", shell, env!("CARGO_BIN_EXE_spoken-exam")]).arg(&long).env("SPOKEN_EXAM_STORE", &place);
    let output = command.output().expect("it starts");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.starts_with("error: cannot keep the draft: cannot "), "{said}");
    let store = Store::open(&place).expect("it opens");
    assert_eq!(store.verify().expect("it can be checked").records, 0);
    check_sound(&store);
}

// --- Old schemas ---

/// What the first version of the schema held, as `sqlite3 .dump` and this test write it.
const FIRST: &str = "tests/databases/0001.sql";

#[test]
fn a_store_of_every_schema_ever_released_is_opened() {
    let folder = tempfile::tempdir().expect("a folder");
    let dump = fs::read_to_string(FIRST).expect("a dump");
    let connection = rusqlite::Connection::open(folder.path().join("store.sqlite")).expect("a database");
    connection.execute_batch(&dump).expect("the dump is read");
    drop(connection);
    let mut store = Store::open(folder.path()).expect("it opens");
    check_sound(&store);
    let page = store.list(&Query { words: Vec::new(), state: None, from: 0, most: 10 }).expect("a list");
    let states: Vec<(State, Vec<String>)> =
        page.records.iter().map(|record| (record.state, record.infant.clone())).collect();
    assert_eq!(states, [(State::InReview, vec!["male".to_owned()]), (State::Amended, vec!["female".to_owned()])]);
    let id = &page.records[1].id;
    let signed = store.signed(id, Some(1)).expect("version 1");
    assert_eq!((signed.findings().len(), signed.signer().name()), (3, "A. Examiner"));
    assert_eq!(store.signed(id, None).expect("version 2").reason(), Some("the side was wrong"));
    // It goes on from there.
    let kept = store.record(&page.records[0].id).expect("it is there");
    store
        .decide(&kept.draft_id(), &LEXICON, &author(kept.review.last()), &kept.review.confirm_all_clear())
        .expect("decided");
    check_sound(&store);
}

/// The store whose dump is kept, made anew: with `SPOKEN_EXAM_WRITE_DUMP=FILE` it is written there, once for each schema.
#[test]
fn the_store_that_is_dumped_is_still_made_alike() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let (file, of_sound) = recording(folder.path(), b"some sound");
    let signed = store.keep(&of_sound, Some(&file), Moment(1_700_000_000_000)).expect("it is kept");
    let on = store.record(&signed).expect("it is there").draft_id();
    let all: Vec<Wish> = (1..=3).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
    store.decide(&on, &LEXICON, &author(0), &all).expect("decided");
    store.sign(&on, &LEXICON, &author(3)).expect("signed");
    let side = Some(spoken_exam::reading::Side::Right);
    let change = Wish::Change { finding: FindingId::Drafted(3), side, value: None, approx: Some(true) };
    let add = Wish::Add {
        item: "head-lag".into(),
        side: spoken_exam::reading::Side::None,
        value: "not-tested".into(),
        approx: false,
    };
    store.decide(&on, &LEXICON, &author(3), &[change, add, Wish::Undo(5)]).expect("decided");
    store.amend(&on, &LEXICON, &author(6), "the side was wrong").expect("amended");
    let text = store.keep(&draft(&NOTE.replace("girl", "boy")), None, Moment(1_700_000_001_000)).expect("it is kept");
    let on = store.record(&text).expect("it is there").draft_id();
    store.decide(&on, &LEXICON, &author(0), &[Wish::Reject(FindingId::Drafted(2))]).expect("decided");
    check_sound(&store);
    if let Ok(file) = std::env::var("SPOKEN_EXAM_WRITE_DUMP") {
        let dump =
            Command::new("sqlite3").arg(folder.path().join("store.sqlite")).arg(".dump").output().expect("sqlite3");
        let pragmas = "PRAGMA application_id = 1397769560;\nPRAGMA user_version = 1;\n";
        let text = String::from_utf8(dump.stdout).expect("text") + pragmas;
        fs::write(file, text).expect("it can be written");
    }
}

// --- Finding records ---

#[test]
fn records_are_found_by_words_and_state() {
    static NOTES: LazyLock<[(&str, &str); 3]> = LazyLock::new(|| {
        [
            ("ward-3_girl.txt", "This is a girl, thirty-nine weeks and two days."),
            ("boy.txt", "A boy."),
            ("100%_note.txt", "A girl."),
        ]
    });
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let mut ids = Vec::new();
    for ((name, text), at) in NOTES.iter().zip(1..) {
        let draft = flow::of_text(&LEXICON, text, name).draft;
        ids.push(store.keep(&draft, None, Moment(at)).expect("it is kept"));
    }
    let on = store.record(&ids[1]).expect("it is there").draft_id();
    store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).expect("decided");
    let find = |words: &str, state: Option<State>| -> Vec<usize> {
        let words = words.split_whitespace().map(str::to_owned).collect();
        let page = store.list(&Query { words, state, from: 0, most: 10 }).expect("a list");
        assert_eq!(page.found, page.records.len() as u64);
        page.records.iter().map(|found| ids.iter().position(|id| *id == found.id).expect("one of them")).collect()
    };
    assert_eq!(find("", None), [2, 1, 0], "newest first");
    assert_eq!(find("male", None), [1], "female is another word");
    assert_eq!(find("FEM", None), [2, 0], "beginnings of words, in any case");
    assert_eq!(find("39+2wk female", None), [0], "each word");
    assert_eq!(find("ward", None), [0]);
    assert_eq!((find("ward-3_g", None), find("3_girl.txt", None), find("irl", None)), (vec![0], vec![0], vec![]));
    assert_eq!((find("%", None), find("100%_", None), find("_", None)), (vec![], vec![2], vec![]));
    assert_eq!(find(&ids[1], None), [1]);
    assert_eq!((find("", Some(State::InReview)), find("", Some(State::Draft))), (vec![1], vec![2, 0]));
    assert_eq!(find("nothing", None), Vec::<usize>::new());
    let page = store.list(&Query { words: Vec::new(), state: None, from: 1, most: 1 }).expect("a list");
    assert_eq!((page.found, page.records.len(), &page.records[0].id), (3, 1, &ids[1]));
}

//! Tampering with a store is found out, and what nobody wrote does not harm it.
//! Takes a store with a signed and amended record, and a table of changes made past the program; fails where `verify` does not
//! name one, and on a panic over foreign JSON. Leaves alone whoever knows the program and reckons all seals anew.

use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use rusqlite::Connection;
use spoken_exam::reading::Side;
use spoken_exam::record::remarks::{About, Remark};
use spoken_exam::record::{DraftRecord, Entry, FindingId, Moment, Review, Wish};
use spoken_exam::store::{KeepSound, NoDraft, Store, StoreError, draft as draft_json};

use crate::corpus::LEXICON;
use crate::store::{NOTE, author, check_sound, draft, recording};

/// A store with a record signed in two versions whose sound is kept, and one in review; gives the first one's id and sound.
fn store_in(folder: &Path) -> (String, PathBuf) {
    let place = folder.join("store");
    let mut store = Store::open(&place).expect("it opens");
    store.set_keep_sound(KeepSound::ForEver, Moment(1)).expect("it is set");
    let (file, of_sound) = recording(folder, b"some sound");
    let id = store.keep(&of_sound, Some(&file), Moment(1)).expect("it is kept");
    let on = store.record(&id).expect("it is there").draft_id();
    let confirm: Vec<Wish> = (1..=3).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
    store.decide(&on, &LEXICON, &author(0), &confirm).expect("decided");
    store.sign(&on, &LEXICON, &author(3)).expect("signed");
    store.decide(&on, &LEXICON, &author(3), &[Wish::Reject(FindingId::Drafted(2))]).expect("decided");
    store.amend(&on, &LEXICON, &author(4), "not seen").expect("amended");
    let by = author(0).by;
    let whose = Remark::new(About::Infant, "", "cot 7", &by, Moment(1)).expect("a remark");
    store.remark(&id, &[whose]).expect("it is taken");
    let second = store.keep(&draft(NOTE), None, Moment(2)).expect("it is kept");
    let on = store.record(&second).expect("it is there").draft_id();
    store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).expect("decided");
    check_sound(&store);
    let sound = store.sound(&id).expect("it is kept");
    (id, sound)
}

/// The change of a case: by SQL with the triggers gone, or on the recording's file.
enum Change {
    Sql(&'static str),
    File(fn(&Path)),
}

use Change::{File, Sql};

/// What is done past the program, and what must be named. ID stands for the first record.
const CASES: [(Change, &str); 33] = [
    (
        Sql("UPDATE remarks SET words = 'cot 8' WHERE number = 1"),
        "record ID: row 1 of remarks was altered after it was written",
    ),
    (Sql("DELETE FROM remarks"), "remarks: row 1 is missing at the end"),
    (
        Sql("UPDATE entries SET value = 'x', finding = 2 WHERE number = 1"),
        "record ID: entry 1 was altered after it was written",
    ),
    (Sql("UPDATE entries SET kind = 'reject' WHERE number = 3"), "record ID: entry 3 was altered after it was written"),
    (
        Sql("UPDATE entries SET kind = 'reject' WHERE number = 3"),
        "record ID: signed version 1: what it covers was altered",
    ),
    (
        Sql("UPDATE entries SET name = 'Somebody Else' WHERE number = 2"),
        "record ID: signed version 2: what it covers was altered",
    ),
    (Sql("UPDATE entries SET at_ms = at_ms + 1 WHERE number = 5"), "entry 1 was altered after it was written"),
    (Sql("UPDATE entries SET seen = 0 WHERE number = 3"), "record ID: entry 3 was altered after it was written"),
    (Sql("DELETE FROM entries WHERE number = 2"), "record ID: entry 2 is missing: entry 3 stands in its place"),
    (Sql("DELETE FROM entries WHERE number = 2"), "entries: row 2 is missing in front of row 3"),
    (Sql("DELETE FROM entries WHERE number = 5"), "entries: row 5 is missing at the end"),
    (Sql("DELETE FROM entries WHERE number = 4"), "record ID: signed version 2: decisions that it covers are missing"),
    (
        Sql("INSERT INTO entries (record, entry, seen, name, role, at_ms, kind, finding, seal) \
             SELECT record, 5, 4, name, role, at_ms, 'confirm', 2, seal FROM entries WHERE number = 4"),
        "record ID: entry 5 was altered after it was written",
    ),
    (
        Sql("UPDATE drafts SET json = replace(json, 'absent', 'present') WHERE number = 1"),
        "record ID: draft 1 was altered",
    ),
    (
        Sql("UPDATE drafts SET sha256 = (SELECT sha256 FROM drafts WHERE number = 2) WHERE number = 1"),
        "record ID: the row of draft 1 was altered after it was written",
    ),
    (Sql("DELETE FROM drafts WHERE number = 1"), "record ID: it has no draft"),
    (Sql("UPDATE drafts SET version = 2 WHERE number = 1"), "record ID: draft 1 is missing"),
    (
        Sql("UPDATE signatures SET name = 'Somebody Else' WHERE number = 1"),
        "record ID: signed version 1: what it covers was altered",
    ),
    (
        Sql("UPDATE signatures SET at_ms = 5 WHERE number = 2"),
        "record ID: the signature of version 2 was altered after it was written",
    ),
    (
        Sql("UPDATE signatures SET reason = 'x' WHERE number = 2"),
        "record ID: signed version 2: what it covers was altered",
    ),
    (
        Sql("UPDATE signatures SET sha256 = predecessor WHERE number = 2"),
        "record ID: signed version 2: what it covers was altered",
    ),
    (
        Sql("UPDATE signatures SET sha256 = substr(sha256, 2) || substr(sha256, 1, 1) WHERE number = 1"),
        "record ID: signed version 2 does not follow from the version before it",
    ),
    (Sql("DELETE FROM signatures WHERE number = 1"), "record ID: signed version 1 is missing"),
    (Sql("DELETE FROM signatures WHERE number = 2"), "signatures: row 2 is missing at the end"),
    (
        Sql("UPDATE records SET recording = NULL WHERE number = 1"),
        "record ID: row 1 of records was altered after it was written",
    ),
    (
        Sql("UPDATE records SET file_name = 'x' WHERE number = 1"),
        "record ID: row 1 of records was altered after it was written",
    ),
    (
        Sql("UPDATE store SET keep_sound = 'not-kept' WHERE number = 1"),
        "row 1 of store was altered after it was written",
    ),
    (Sql("DELETE FROM recording_events"), "record ID: nothing tells what became of recording"),
    (
        Sql("UPDATE recordings SET sha256 = replace(sha256, '1', '2')"),
        "refers to a row of recordings that is not there",
    ),
    (Sql("DROP TRIGGER entries_not_altered"), "`entries_not_altered` is missing from the database"),
    (File(|sound| fs::write(sound, b"some s0und").expect("written")), "record ID: its recording was altered"),
    (File(|sound| fs::remove_file(sound).expect("removed")), "record ID: its recording is missing"),
    (
        File(|sound| fs::write(sound.with_file_name("other.wav"), b"x").expect("written")),
        "other.wav was not put there by this program",
    ),
];

#[test]
fn every_change_past_the_program_is_named() {
    let original = tempfile::tempdir().expect("a folder");
    let (id, sound) = store_in(original.path());
    let place = original.path().join("store");
    let mut unnamed = Vec::new();
    for (number, (change, named)) in CASES.iter().enumerate() {
        let folder = tempfile::tempdir().expect("a folder");
        let copy = folder.path().join("store");
        copy_all(&place, &copy);
        match change {
            Sql(sql) => tamper(&copy, sql),
            File(change) => change(&copy.join(sound.strip_prefix(&place).expect("inside"))),
        }
        let faults = Store::open(&copy).expect("it opens").verify().expect("it is checked").faults;
        let lines: Vec<String> = faults.iter().map(ToString::to_string).collect();
        let named = named.replace("ID", &id);
        if !lines.iter().any(|line| line.contains(&named)) {
            unnamed.push(format!("case {number}: {named}\n  named were: {lines:?}"));
        }
    }
    assert!(unnamed.is_empty(), "{}", unnamed.join("\n"));
}

fn copy_all(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder").map(|entry| entry.expect("an entry").path()) {
        let target = to.join(entry.file_name().expect("a name"));
        if entry.is_dir() {
            copy_all(&entry, &target);
        } else {
            fs::copy(&entry, &target).expect("copied");
        }
    }
}

/// Runs SQL past the triggers, which are put back as they were.
fn tamper(place: &Path, sql: &str) {
    let connection = Connection::open(place.join("store.sqlite")).expect("it opens");
    let triggers: Vec<(String, String)> = connection
        .prepare("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        .and_then(|mut all| all.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect())
        .expect("they can be listed");
    connection.execute_batch("PRAGMA foreign_keys = OFF").expect("done");
    let dropped = sql.starts_with("DROP");
    if !dropped {
        triggers
            .iter()
            .for_each(|(name, _)| connection.execute_batch(&format!("DROP TRIGGER {name}")).expect("dropped"));
    }
    assert!(dropped || connection.execute(sql, []).expect("the change is made") > 0, "{sql} changes something");
    if dropped {
        connection.execute_batch(sql).expect("the change is made");
    } else {
        triggers.iter().for_each(|(_, sql)| connection.execute_batch(sql).expect("put back"));
    }
}

#[test]
fn what_was_altered_is_neither_shown_nor_signed() {
    let folder = tempfile::tempdir().expect("a folder");
    let (id, _) = store_in(folder.path());
    let place = folder.path().join("store");
    tamper(&place, "UPDATE drafts SET json = replace(json, 'absent', 'present') WHERE number = 1");
    let mut store = Store::open(&place).expect("it opens");
    let said = format!("record {id} is damaged: draft 1 was altered; run `spoken-exam store check`");
    assert_eq!(store.record(&id).unwrap_err().to_string(), said);
    assert_eq!(store.signed(&id, None).unwrap_err().to_string(), said);
    let on = spoken_exam::store::DraftId { record: id, version: 1 };
    assert!(matches!(store.amend(&on, &LEXICON, &author(4), "x"), Err(StoreError::Nonsense { .. })));
}

#[test]
fn a_damaged_file_is_told_and_never_a_panic() {
    let original = tempfile::tempdir().expect("a folder");
    store_in(original.path());
    let place = original.path().join("store");
    drop(Store::open(&place).expect("it opens"));
    let whole = fs::read(place.join("store.sqlite")).expect("it is there");
    let holds_something = |at: &usize| whole[*at..*at + 100].iter().filter(|byte| **byte != 0).count() > 90;
    let places: Vec<usize> = (0..whole.len() - 100).step_by(300).filter(holds_something).collect();
    let mut silent = Vec::new();
    for at in &places {
        let folder = tempfile::tempdir().expect("a folder");
        let copy = folder.path().join("store");
        copy_all(&place, &copy);
        let mut bytes = whole.clone();
        bytes[*at..*at + 100].iter_mut().for_each(|byte| *byte ^= 0x5a);
        fs::write(copy.join("store.sqlite"), bytes).expect("written");
        if Store::open(&copy).and_then(|store| store.verify()).is_ok_and(|verified| verified.faults.is_empty()) {
            silent.push(*at);
        }
    }
    // What was moved to other pages when the schema grew stands in its old place too, and is read there by nobody.
    silent.retain(|at| whole.windows(100).filter(|other| *other == &whole[*at..*at + 100]).count() == 1);
    println!("{} places damaged", places.len());
    assert!(places.len() > 50 && silent.is_empty(), "of {} damages not told: {silent:?}", places.len());
}

// --- What nobody wrote ---

#[derive(Debug, Clone)]
enum Step {
    Confirm(u64),
    Reject(u64),
    Change(u64, Side, usize),
    Add(Side, usize),
    RejectAdded(u64),
    Undo(u64),
}

const VALUES: [&str; 3] = ["present", "absent", "past-midline"];

impl Step {
    fn wish(&self) -> Wish {
        match *self {
            Self::Confirm(number) => Wish::Confirm(FindingId::Drafted(number)),
            Self::Reject(number) => Wish::Reject(FindingId::Drafted(number)),
            Self::Change(number, side, value) => Wish::Change {
                finding: FindingId::Drafted(number),
                side: Some(side),
                value: Some(VALUES[value].into()),
                approx: None,
            },
            Self::Add(side, value) => {
                Wish::Add { item: "ankle-clonus".into(), side, value: VALUES[value].into(), approx: false }
            }
            Self::RejectAdded(entry) => Wish::Reject(FindingId::Added(entry)),
            Self::Undo(entry) => Wish::Undo(entry),
        }
    }
}

fn steps() -> impl Strategy<Value = Vec<(Step, u64)>> {
    let side = || proptest::sample::select(vec![Side::Left, Side::Right, Side::None]);
    let step = prop_oneof![
        (0..5_u64).prop_map(Step::Confirm),
        (0..5_u64).prop_map(Step::Reject),
        (1..4_u64, side(), 0..3_usize).prop_map(|(number, side, value)| Step::Change(number, side, value)),
        (side(), 0..3_usize).prop_map(|(side, value)| Step::Add(side, value)),
        (1..20_u64).prop_map(Step::RejectAdded),
        (1..20_u64).prop_map(Step::Undo),
    ];
    // How far behind the author's sight is.
    proptest::collection::vec((step, 0..4_u64), 0..40)
}

fn in_words(review: &Review) -> Vec<String> {
    review.standings().iter().map(|standing| format!("{}: {}", standing.finding, standing.words())).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_is_decided_nothing_is_lost(steps in steps()) {
        let mut review = Review::new(draft(NOTE));
        let mut taken: Vec<Entry> = Vec::new();
        for (step, behind) in &steps {
            let before = review.clone();
            let author = author(review.last().saturating_sub(*behind));
            match review.decide(&LEXICON, &author, &step.wish()) {
                Ok(entry) => taken.push(entry.clone()),
                Err(_) => prop_assert_eq!(&review, &before, "a refused wish changes nothing"),
            }
        }
        prop_assert_eq!(review.entries(), &taken[..], "every entry stands, in order");
        let again = Review::replay(review.draft().clone(), taken.clone()).expect("a review");
        prop_assert_eq!(in_words(&again), in_words(&review));
        // Undoing everything from the end brings back the draft as nobody had touched it.
        let mut undone = review.clone();
        for entry in taken.iter().rev() {
            let author = author(undone.last());
            let _ = undone.decide(&LEXICON, &author, &Wish::Undo(entry.number));
        }
        prop_assert_eq!(in_words(&undone), in_words(&Review::new(review.draft().clone())));
        prop_assert_eq!(&undone.up_to(review.last()), &review, "and what was decided is still told");
    }

    #[test]
    fn foreign_json_is_refused_or_read_and_never_a_panic(text in "\\PC{0,80}", cut in 0..4000_usize, at in 0..4000_usize) {
        prop_assert!(draft_json::read(&text).is_err());
        let json = spoken_exam::export::to_json(&draft(NOTE)).expect("a draft");
        let cut: String = json.chars().take(cut).collect();
        prop_assert!(cut.len() + 1 >= json.len() || draft_json::read(&cut).is_err());
        // A stretch of it replaced by anything.
        let place = json.char_indices().map(|(place, _)| place).nth(at).unwrap_or(0);
        let changed = format!("{}{text}{}", &json[..place], &json[place..]);
        if let Ok(read) = draft_json::read(&changed) {
            prop_assert!(spoken_exam::export::to_json(&read).is_ok());
            prop_assert!(!Review::new(read).standings().is_empty());
        }
    }

    #[test]
    fn foreign_values_in_a_draft_are_refused_by_name(which in 0..6_usize, word in "[a-z ]{1,12}") {
        let json = spoken_exam::export::to_json(&draft(NOTE)).expect("a draft");
        let known = ["\"side\": \"left\"", "\"heard_by\": \"one\"", "\"item_told\": \"named\"", "\"recognised\": \"exact\"",
            "\"first_word\": 0", "\"past_word\": 0"][which];
        let name = known.split(": ").next().expect("a name");
        let value = if which < 4 { format!("\"{word}x\"") } else { format!("-{}", word.len()) };
        let changed = json.replacen(known, &format!("{name}: {value}"), 1);
        prop_assume!(changed != json);
        prop_assert!(matches!(draft_json::read(&changed), Err(NoDraft::Word { .. } | NoDraft::Json(_))), "{}", changed);
    }
}

#[test]
fn every_draft_of_the_corpus_is_read_back_to_the_byte() {
    let pairs = spoken_exam::score::pairs(Path::new("tests/corpus")).expect("the corpus");
    let mut read = 0;
    for text in pairs.into_iter().filter_map(|pair| pair.text) {
        let said = fs::read_to_string(&text).expect("it is there");
        let draft: DraftRecord = spoken_exam::flow::of_text(&LEXICON, &said, "note.txt").draft;
        let json = spoken_exam::export::to_json(&draft).expect("a draft");
        let again = draft_json::read(&json).expect("it is read");
        assert_eq!(spoken_exam::export::to_json(&again).expect("a draft"), json, "{}", text.display());
        read += 1;
    }
    assert_eq!(read, 28);
}

//! What the store reads back → records as they were, or what is wrong with them.
//! Takes one letter for what the rest is: `d` the JSON of a draft (`p`: and it is printed too), `e` rows of entries, signatures and
//! remarks about a draft, `w` the file of a recording that was not ended, `s` bytes put into a store's database, each with its
//! place. Leaves alone who may write such things: whoever can reach the disk.
//!
//! an entry that undoes itself, and is signed, is told as a fault, and does not hang

use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use rusqlite::Connection;
use rusqlite::types::Value;
use spoken_exam::audio::Sound;
use spoken_exam::computed::computed;
use spoken_exam::export::form::Form;
use spoken_exam::export::note::Subject;
use spoken_exam::export::pdf::Paper;
use spoken_exam::export::sheet::sheet;
use spoken_exam::export::{Whole, to_json, to_table, to_tsv};
use spoken_exam::flow;
use spoken_exam::record::remarks::{About, Remark, Remarks};
use spoken_exam::record::{Author, DraftRecord, FindingId, Moment, Person, Review, Wish, sign};
use spoken_exam::store::{KeepSound, Query, Store, draft};

use super::checks::LEXICON;

pub(super) fn target(bytes: &[u8]) {
    let Some((kind, rest)) = bytes.split_first() else { return };
    match kind {
        b'd' => read_back(&String::from_utf8_lossy(rest), false),
        b'p' => read_back(&String::from_utf8_lossy(rest), true),
        b'e' => rows(&String::from_utf8_lossy(rest)),
        b'w' => unfinished(rest),
        b's' => damaged(rest),
        _ => {}
    }
}

const NOTE: &str = "This is a girl, born at thirty nine weeks, two days old. Head thirty four centimetres.\n\
    No ankle clonus on the left.\nScarf sign on the right to the midline.";
const FIRST: &str = "018bcfe5-6800-7000-8000-000000000001";

fn author(seen: u64) -> Author {
    let by = Person::new("A. Examiner", "registrar").expect("a person");
    Author { by, at: Moment(1_700_000_000_000), seen }
}

// --- Drafts ---

fn read_back(json: &str, printed: bool) {
    let Ok(read) = draft::read(json) else { return };
    let written = to_json(&read).expect("a draft is written");
    let again = draft::read(&written).unwrap_or_else(|fault| panic!("its own JSON is refused: {fault}"));
    assert_eq!(again, read, "read back");
    assert_eq!(to_json(&again).expect("a draft is written"), written, "written anew");
    assert!(!to_table(&read).is_empty() && !to_tsv(&read).is_empty());
    signed(read, printed);
}

/// Confirms everything and signs it; every form can be written, or says why not.
fn signed(draft: DraftRecord, printed: bool) {
    let mut review = Review::new(draft);
    for number in 1..=review.draft().all_findings().count() as u64 {
        let author = author(review.last());
        if review.decide(&LEXICON, &author, &Wish::Confirm(FindingId::Drafted(number))).is_err() {
            let _ = review.decide(&LEXICON, &author, &Wish::Reject(FindingId::Drafted(number)));
        }
    }
    let Author { by, at, .. } = author(0);
    let remark = Remark::new(About::Infant, "", "cot 7", &by, at).expect("a remark");
    let remarks = Remarks(vec![remark]);
    let computed = computed(&LEXICON, &review, &remarks);
    let subject =
        Subject { id: FIRST, review: &review, signed: None, remarks: &remarks, computed: &computed, lexicon: &LEXICON };
    if printed {
        let _ = sheet(&subject, &[], Paper::A4, at);
    }
    let Ok(signed) = sign(&LEXICON, &review, &by, at) else { return };
    let whole =
        Whole { id: FIRST, signed: &signed, sha256: "0", remarks: &remarks, computed: &computed, lexicon: &LEXICON };
    for form in Form::ALL.into_iter().filter(|form| *form != Form::Pdf || printed) {
        if let Ok(bytes) = form.of(&whole, &[], Paper::A4) {
            assert!(!bytes.is_empty(), "{}", form.name());
        }
    }
}

// --- The database ---

/// The database of a store with a record in review, a signed and amended one, and one that nobody decided upon.
static DATABASE: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("store");
    let mut store = Store::open(&place).expect("it opens");
    store.set_keep_sound(KeepSound::ForEver, Moment(1)).expect("it is set");
    let draft = flow::of_text(&LEXICON, NOTE, "note.txt").draft;
    let ids = [1, 2, 3].map(|at| store.keep(&draft, None, Moment(at)).expect("it is kept"));
    let confirm = |number| Wish::Confirm(FindingId::Drafted(number));
    let on = store.record(&ids[0]).expect("it is there").draft_id();
    store.decide(&on, &LEXICON, &author(0), &[confirm(1)]).expect("decided");
    let kept = store.record(&ids[1]).expect("it is there");
    let (on, all) = (kept.draft_id(), kept.review.draft().all_findings().count() as u64);
    store.decide(&on, &LEXICON, &author(0), &(1..=all).map(confirm).collect::<Vec<_>>()).expect("decided");
    store.sign(&on, &LEXICON, &author(all)).expect("signed");
    let reject = [Wish::Reject(FindingId::Drafted(all))];
    store.decide_and_amend(&on, &LEXICON, &author(all), &reject, "not seen").expect("amended");
    drop(store);
    fs::read(place.join("store.sqlite")).expect("it can be read")
});

/// A store with this database.
fn placed(database: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("store.sqlite"), database).expect("it can be written");
    folder
}

/// Everything that reads is asked; an answer may be a fault, and must come.
fn asked(folder: &Path) {
    let Ok(store) = Store::open_existing(folder) else { return };
    let found = store.list(&Query { words: Vec::new(), state: None, from: 0, most: 20 });
    let ids: Vec<String> =
        found.map(|page| page.records.into_iter().map(|record| record.id).collect()).unwrap_or_default();
    for id in ids.iter().map(String::as_str).chain([FIRST]) {
        let _ = (store.record(id).map(|kept| kept.state()), store.signed(id, None), store.signed(id, Some(1)));
        let _ = (store.whole(&LEXICON, id).is_ok(), store.examinations(&LEXICON, id), store.sound(id));
        for form in Form::ALL.into_iter().filter(|form| *form != Form::Pdf) {
            let _ = store.exported(&LEXICON, id, (form, Paper::A4), true);
        }
    }
    let _ = (store.verify(), store.unfinished(), store.overdue(), store.keep_sound(), store.signed_records());
}

/// Rows as somebody puts them in past the program, a line each: `e`, `s` or `m`, then the columns, divided by bars; nothing is NULL.
fn rows(text: &str) {
    const COLUMNS: [(&str, &str, &str); 3] = [
        ("e", "entries", "entry, seen, name, role, at_ms, kind, finding, of_entry, item, side, value, approx"),
        ("s", "signatures", "version, draft, entries, name, role, at_ms, reason, predecessor, sha256"),
        ("m", "remarks", "about, prompt, words, name, role, at_ms"),
    ];
    let folder = placed(&DATABASE);
    let database = Connection::open(folder.path().join("store.sqlite")).expect("it opens");
    let _ = database.execute_batch("PRAGMA synchronous = OFF; BEGIN");
    for line in text.lines().take(100) {
        let mut cells = line.split('|');
        let kind = cells.next();
        let Some((_, table, columns)) = COLUMNS.iter().find(|(known, ..)| Some(*known) == kind) else { continue };
        let count = columns.split(", ").count();
        let mut values: Vec<Value> = cells.map(value).take(count).collect();
        values.resize(count, Value::Null);
        let places = vec!["?"; count].join(", ");
        let sql = format!(
            "INSERT INTO {table} (record, {columns}, seal) SELECT id, {places}, '' FROM records WHERE number = 3 LIMIT 1"
        );
        // Where the tables' own rules refuse a row it is left out.
        let _ = database.execute(&sql, rusqlite::params_from_iter(values));
    }
    let _ = database.execute_batch("COMMIT");
    drop(database);
    asked(folder.path());
}

fn value(cell: &str) -> Value {
    match cell.parse() {
        Ok(number) => Value::Integer(number),
        Err(_) if cell.is_empty() => Value::Null,
        Err(_) => Value::Text(cell.to_owned()),
    }
}

/// Bytes in other places: three for the place, one for what stands there.
fn damaged(changes: &[u8]) {
    let mut database = DATABASE.clone();
    let (changes, _) = changes.as_chunks::<4>();
    for [low, middle, high, byte] in changes {
        let at = u32::from_le_bytes([*low, *middle, *high, 0]) as usize % database.len();
        database[at] = *byte;
    }
    asked(placed(&database).path());
}

// --- Recordings that were not ended ---

fn unfinished(bytes: &[u8]) {
    let folder = placed(&DATABASE);
    let takings = folder.path().join("taking");
    fs::create_dir(&takings).expect("a folder");
    fs::write(takings.join(format!("{FIRST}.wav")), bytes).expect("it can be written");
    let store = Store::open(folder.path()).expect("it opens");
    if let Ok(found) = store.unfinished() {
        assert!(found.iter().all(|found| found.id == FIRST), "{found:?}");
    }
    let Ok(mut taking) = store.take_up(FIRST) else { return };
    let before = taking.recording().map(|recording| recording.samples.len());
    if taking.add(&[1, -1, 300]).is_ok()
        && let (Ok(before), Ok(after)) = (before, taking.recording())
    {
        assert_eq!(after.samples.len(), before + 3, "what is added stands behind what was there");
        assert_eq!(
            after.samples.all().expect("they can be read").last().map(|sample| (sample * 32_768.0).round()),
            Some(300.0)
        );
    }
    drop(taking);
    assert!(store.verify().is_ok());
}

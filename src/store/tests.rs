//! Tests of the store that need to look behind its door: refused rows, full disks, crashes between two steps.
//! Takes made-up folders; fails where something is altered, lost or left undone. Leaves alone what several programs do at
//! once, and tampering (`tests/suite/store.rs`).

use std::fs;
use std::path::PathBuf;
use std::sync::LazyLock;

use super::*;
use crate::lexicon::Lexicon;
use crate::reading;
use crate::record::remarks::{About, Remark};
use crate::record::{self, Author, DraftRecord, FindingId, Moment, Origin, Person, Sources, Wish};
use crate::speech::Utterance;

static LEXICON: LazyLock<Lexicon> = LazyLock::new(|| Lexicon::load(None).unwrap());

fn draft(name: &str) -> DraftRecord {
    draft_of("No ankle clonus on the left.", name)
}

/// A draft from a text, without `flow`, which stands beside the store.
pub(super) fn draft_of(text: &str, name: &str) -> DraftRecord {
    let said: Vec<Utterance> = text.lines().map(Utterance::from_text).collect();
    let origin = Origin { file_name: name.into(), sha256: seal::sha256(text.as_bytes()), length_ms: None };
    let sources = Sources { origin, model: None, other_models: Vec::new(), notices: Vec::new() };
    record::draft(&LEXICON, &said, &reading::read(&LEXICON, &said), sources)
}

fn author(seen: u64) -> Author {
    Author { by: Person::new("A. Examiner", "registrar").unwrap(), at: Moment(1000), seen }
}

/// A file with some sound, and the draft that was made of it.
fn recording(folder: &Path, sound: &[u8]) -> (PathBuf, DraftRecord) {
    let file = folder.join("visit.wav");
    fs::write(&file, sound).unwrap();
    let mut draft = draft("visit.wav");
    draft.source.sha256 = seal::sha256(sound);
    draft.source.length_ms = Some(1000);
    (file, draft)
}

fn sign(store: &mut Store, id: &str) -> Result<(), StoreError> {
    let on = store.record(id)?.draft_id();
    store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))])?;
    store.sign(&on, &LEXICON, &author(1)).map(drop)
}

#[test]
fn no_row_is_altered_deleted_or_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let (file, draft) = recording(folder.path(), b"sound");
    let id = store.keep(&draft, Some(&file), Moment(1)).unwrap();
    sign(&mut store, &id).unwrap();
    let by = Person::new("A. Examiner", "registrar").unwrap();
    store.remark(&id, &[Remark::new(About::Infant, "", "cot 7", &by, Moment(2)).unwrap()]).unwrap();
    let mut tried = 0;
    for table in seal::TABLES {
        let rows: i64 =
            store.connection.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap();
        assert!(rows > 0, "{table} is empty");
        for sql in [
            format!("UPDATE {table} SET seal = 'x'"),
            format!("DELETE FROM {table}"),
            format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table}"),
        ] {
            let refused = store.connection.execute(&sql, []).unwrap_err().to_string();
            assert!(refused.contains("the store only grows"), "{sql}: {refused}");
            tried += 1;
        }
    }
    assert_eq!(tried, 27);
    let gap = "INSERT INTO entries (record, entry, seen, name, role, at_ms, kind, finding, seal) \
               SELECT id, 7, 0, 'A', 'B', 1, 'confirm', 1, 'x' FROM records";
    assert!(store.connection.execute(gap, []).unwrap_err().to_string().contains("without a gap"));
}

#[test]
fn a_full_disk_is_told_and_leaves_everything_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let id = store.keep(&draft("a.txt"), None, Moment(1)).unwrap();
    let pages: i64 = store.connection.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
    store.connection.pragma_update(None, "max_page_count", pages).unwrap();
    let mut long = draft("b.txt");
    long.transcript[0].text = "word ".repeat(20_000);
    let error = store.keep(&long, None, Moment(2)).unwrap_err();
    assert!(matches!(error, StoreError::Full(_)), "{error:?}");
    let said = format!(
        "cannot write to {}: the disk is full; nothing was changed, make room and try again",
        folder.path().display()
    );
    assert_eq!(error.to_string(), said);
    let verified = store.verify().unwrap();
    assert_eq!((verified.faults, verified.records), (Vec::new(), 1));
    store.connection.pragma_update(None, "max_page_count", pages + 1000).unwrap();
    store.keep(&long, None, Moment(2)).unwrap();
    assert_eq!(store.record(&id).unwrap().at, Moment(1));
}

#[test]
fn one_refused_wish_takes_the_others_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let id = store.keep(&draft("a.txt"), None, Moment(1)).unwrap();
    let on = store.record(&id).unwrap().draft_id();
    let wishes = [Wish::Confirm(FindingId::Drafted(1)), Wish::Confirm(FindingId::Drafted(9))];
    let refused = store.decide(&on, &LEXICON, &author(0), &wishes).unwrap_err();
    assert!(matches!(refused, StoreError::Refused(_)), "{refused}");
    assert_eq!(store.record(&id).unwrap().review.entries(), []);
    assert_eq!(store.verify().unwrap().faults, []);
}

#[test]
fn what_a_crash_left_between_signing_and_deleting_is_done_at_the_next_opening() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let (file, draft) = recording(folder.path(), b"sound");
    let id = store.keep(&draft, Some(&file), Moment(1)).unwrap();
    let place = store.sound(&id).unwrap();
    // The signature's transaction went through, and the program was killed before the file was deleted.
    let hash = draft.source.sha256.clone();
    let event = |what: &str| [("recording", text(&hash)), ("what", text(what)), ("at_ms", Value::Integer(2))];
    store.write(|rows| rows.append("recording_events", &event("to-delete"))).unwrap();
    assert!(matches!(store.record(&id).unwrap().sound, Sound::ToDelete(_)) && place.is_file());
    let verified = store.verify().unwrap();
    let told = verified.notes.iter().filter(|note| note.contains("is still to be deleted")).count();
    assert_eq!((verified.faults.len(), told), (0, 1), "{:?}", verified.notes);
    drop(store);
    let store = Store::open(folder.path()).unwrap();
    assert!(store.record(&id).unwrap().sound == Sound::Deleted && !place.exists());
    drop(store);
    // Killed once more, behind the file's deletion and before it was noted.
    let mut store = Store::open(folder.path()).unwrap();
    store.write(|rows| rows.append("recording_events", &event("to-delete"))).unwrap();
    drop(store);
    let store = Store::open(folder.path()).unwrap();
    assert_eq!((store.record(&id).unwrap().sound, store.verify().unwrap().faults), (Sound::Deleted, Vec::new()));
}

#[test]
fn sound_is_kept_as_the_policy_says() {
    for (policy, after_keeping, after_signing) in
        [(KeepSound::ForEver, true, true), (KeepSound::UntilSigned, true, false), (KeepSound::NotKept, false, false)]
    {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(folder.path()).unwrap();
        assert_eq!(store.keep_sound().unwrap(), KeepSound::UntilSigned, "unless the owner says otherwise");
        store.set_keep_sound(policy, Moment(0)).unwrap();
        let (file, draft) = recording(folder.path(), b"sound");
        let id = store.keep(&draft, Some(&file), Moment(1)).unwrap();
        assert_eq!(store.sound(&id).is_ok(), after_keeping, "{policy}");
        sign(&mut store, &id).unwrap();
        assert_eq!(store.sound(&id).is_ok(), after_signing, "{policy}");
        let left = walk(&folder.path().join(folder::RECORDINGS));
        assert_eq!(left.len(), usize::from(after_signing), "{policy}: {left:?}");
        assert!(file.is_file(), "the file that was given stays where it is");
        assert_eq!(store.verify().unwrap().faults, []);
    }
}

fn walk(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.flat_map(|path| if path.is_dir() { walk(&path) } else { vec![path] }).collect()
}

#[test]
fn a_sound_of_two_records_stays_until_both_are_signed() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let (file, draft) = recording(folder.path(), b"sound");
    let ids = [1, 2].map(|at| store.keep(&draft, Some(&file), Moment(at)).unwrap());
    sign(&mut store, &ids[0]).unwrap();
    assert!(store.sound(&ids[1]).is_ok());
    sign(&mut store, &ids[1]).unwrap();
    assert_eq!(store.record(&ids[0]).unwrap().sound, Sound::Deleted);
    // Drafted again, it is there again.
    let third = store.keep(&draft, Some(&file), Moment(3)).unwrap();
    assert!(store.sound(&third).is_ok());
    assert_eq!(store.verify().unwrap().faults, []);
}

#[test]
fn a_stricter_policy_deletes_what_is_there_only_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    store.set_keep_sound(KeepSound::ForEver, Moment(0)).unwrap();
    let (file, draft) = recording(folder.path(), b"sound");
    let signed = store.keep(&draft, Some(&file), Moment(1)).unwrap();
    sign(&mut store, &signed).unwrap();
    let (file, draft) = recording(folder.path(), b"other sound");
    let unsigned = store.keep(&draft, Some(&file), Moment(2)).unwrap();
    store.set_keep_sound(KeepSound::UntilSigned, Moment(3)).unwrap();
    assert_eq!(store.overdue().unwrap(), 1);
    assert!(store.sound(&signed).is_ok());
    assert_eq!(store.delete_overdue(Moment(4)).unwrap(), 1);
    assert!(store.sound(&signed).is_err() && store.sound(&unsigned).is_ok());
    store.set_keep_sound(KeepSound::NotKept, Moment(5)).unwrap();
    assert_eq!(store.delete_overdue(Moment(6)).unwrap(), 1);
    assert!(store.sound(&unsigned).is_err());
    assert_eq!(store.verify().unwrap().faults, []);
}

#[test]
fn one_sound_is_deleted_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let (file, draft) = recording(folder.path(), b"sound");
    let id = store.keep(&draft, Some(&file), Moment(1)).unwrap();
    let place = store.sound(&id).unwrap();
    store.delete_sound(&id, Moment(2)).unwrap();
    assert!(!place.exists() && store.record(&id).unwrap().sound == Sound::Deleted);
    let said =
        format!("the sound of record {id} is not there: it was deleted, as was asked or as the store's policy says");
    assert_eq!(store.delete_sound(&id, Moment(3)).unwrap_err().to_string(), said);
    let text = store.keep(&draft_of("A boy.", "a.txt"), None, Moment(4)).unwrap();
    assert!(matches!(store.delete_sound(&text, Moment(5)), Err(StoreError::NoSound { .. })));
    sign(&mut store, &id).unwrap();
    assert_eq!(store.verify().unwrap().faults, []);
}

#[test]
fn a_lock_that_is_not_let_go_of_is_told_and_reading_does_not_wait_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let lock = folder::lock(folder.path()).unwrap();
    let waited = folder::lock_within(folder.path(), Duration::from_millis(50));
    assert!(matches!(waited, Err(StoreError::Busy(_))), "{waited:?}");
    let id = store.list(&Query { words: Vec::new(), state: None, from: 0, most: 1 }).unwrap();
    assert_eq!(id.found, 0);
    drop(lock);
    store.keep(&draft("a.txt"), None, Moment(1)).unwrap();
}

#[test]
fn a_store_can_be_handed_to_another_thread() {
    fn handed<T: Send>(_: T) {}
    let folder = tempfile::tempdir().unwrap();
    handed(Store::open(folder.path()).unwrap());
}

#[test]
fn what_is_no_store_or_a_newer_one_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(folder::DATABASE);
    assert!(matches!(Store::open_existing(folder.path()), Err(StoreError::NoStore(_))));
    assert!(!file.exists(), "nothing is made where nothing was asked for");

    fs::write(&file, "not a database, and longer than the hundred bytes of a header ".repeat(20)).unwrap();
    let before = fs::read(&file).unwrap();
    assert!(matches!(Store::open(folder.path()), Err(StoreError::NotAStore(_))));
    assert_eq!(fs::read(&file).unwrap(), before);

    fs::remove_file(&file).unwrap();
    Connection::open(&file).unwrap().execute_batch("CREATE TABLE other (x); PRAGMA user_version = 1").unwrap();
    assert!(matches!(Store::open(folder.path()), Err(StoreError::NotAStore(_))));

    fs::remove_file(&file).unwrap();
    drop(Store::open(folder.path()).unwrap());
    Connection::open(&file).unwrap().execute_batch("PRAGMA user_version = 9").unwrap();
    for opened in [Store::open(folder.path()), Store::open_to_read(folder.path())] {
        let said = format!(
            "the store in {} is of version 9, and this program knows versions up to 2; use the newer program",
            folder.path().display()
        );
        assert_eq!(opened.unwrap_err().to_string(), said);
    }
}

#[test]
fn a_store_that_may_only_be_read_is_read_and_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let id = Store::open(folder.path()).unwrap().keep(&draft("a.txt"), None, Moment(1)).unwrap();
    let mut store = Store::open_to_read(folder.path()).unwrap();
    assert_eq!(store.record(&id).unwrap().draft_id().version, 1);
    assert_eq!(store.verify().unwrap().faults, []);
    let on = store.record(&id).unwrap().draft_id();
    let refused = store.decide(&on, &LEXICON, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).unwrap_err();
    assert!(matches!(refused, StoreError::ReadOnly(_)), "{refused:?}");
}

#[test]
fn an_older_draft_cannot_be_decided_upon() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let mut first = draft("a.txt");
    let id = store.keep(&first, None, Moment(1)).unwrap();
    let old = store.record(&id).unwrap().draft_id();
    first.lexicon = "newer".into();
    assert_eq!(store.redraft(&id, &first, Moment(2)).unwrap(), 2);
    let confirm = [Wish::Confirm(FindingId::Drafted(1))];
    let refused = store.decide(&old, &LEXICON, &author(0), &confirm).unwrap_err();
    assert!(matches!(refused, StoreError::NewerDraft { seen: 1, now: 2, .. }), "{refused:?}");
    let kept = store.record(&id).unwrap();
    assert_eq!(kept.review.draft().lexicon, "newer");
    store.decide(&kept.draft_id(), &LEXICON, &author(0), &confirm).unwrap();
    assert!(matches!(store.redraft(&id, &first, Moment(3)), Err(StoreError::InReview(_))));
    assert_eq!(store.verify().unwrap().faults, []);
}

#[test]
fn nobody_signs_what_they_have_not_seen_nor_twice() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(folder.path()).unwrap();
    let id = store.keep(&draft("a.txt"), None, Moment(1)).unwrap();
    let on = store.record(&id).unwrap().draft_id();
    assert!(matches!(store.amend(&on, &LEXICON, &author(0), "why"), Err(StoreError::NotSigned(_))));
    let open = store.sign(&on, &LEXICON, &author(0)).unwrap_err().to_string();
    assert_eq!(open, "cannot sign: finding 1 is undecided: ankle-clonus left absent");
    store.decide(&on, &LEXICON, &author(0), &[Wish::Reject(FindingId::Drafted(1))]).unwrap();
    let unseen = store.sign(&on, &LEXICON, &author(0)).unwrap_err();
    assert!(matches!(unseen, StoreError::NotSeen { seen: 0, now: 1, .. }), "{unseen:?}");
    let signed = store.sign(&on, &LEXICON, &author(1)).unwrap();
    assert!(matches!(store.sign(&on, &LEXICON, &author(1)), Err(StoreError::Signed(_))));
    assert_eq!(store.signed(&id, None).unwrap(), signed);
    // Decisions behind the signature are no part of it until it is amended.
    store.decide(&on, &LEXICON, &author(1), &[Wish::Undo(1)]).unwrap();
    assert_eq!(store.signed(&id, None).unwrap(), signed);
    assert!(matches!(store.amend(&on, &LEXICON, &author(2), "why"), Err(StoreError::Undecided(_))));
    store.decide(&on, &LEXICON, &author(2), &[Wish::Confirm(FindingId::Drafted(1))]).unwrap();
    let amended = store.amend(&on, &LEXICON, &author(3), "heard again").unwrap();
    assert_eq!((amended.version(), amended.findings().len(), signed.findings().len()), (2, 1, 0));
    assert_eq!(store.signed(&id, Some(1)).unwrap(), signed);
    assert_eq!(store.signed(&id, None).unwrap(), amended);
    assert_eq!(store.verify().unwrap().faults, []);
}

//! Tests of recordings in the making that need to look behind the store's door: files cut, altered and locked, and crashes
//! between two steps.
//! Takes made-up sound; fails where a sample is lost, another, or told as if it were there. Leaves alone programs that are killed
//! (`tests/suite/takings.rs`).

use std::fs;
use std::io::{Seek, Write};

use super::*;
use crate::audio::{decode, wave_bytes};
use crate::store::tests::draft_of;
#[cfg(feature = "encrypted")]
use crate::store::{Passphrase, StoreError};
use crate::store::{Query, Sound, seal};

const AT: Moment = Moment(1_796_425_840_123);

/// Stores in which the same must hold; the second is encrypted, where this program can do that.
fn stores(folder: &Path) -> Vec<Store> {
    #[cfg(not(feature = "encrypted"))]
    return vec![Store::open(&folder.join("plain")).unwrap()];
    #[cfg(feature = "encrypted")]
    {
        let place = folder.join("sealed");
        Store::encrypt(&place, &passphrase()).unwrap();
        vec![Store::open(&folder.join("plain")).unwrap(), again(&place)]
    }
}

#[cfg(feature = "encrypted")]
fn passphrase() -> Passphrase {
    Passphrase::new("seven grey geese fly".to_owned())
}

/// The same store, opened once more.
fn again(folder: &Path) -> Store {
    #[cfg(feature = "encrypted")]
    return Store::open_with(folder, Some(&passphrase())).unwrap();
    #[cfg(not(feature = "encrypted"))]
    Store::open(folder).unwrap()
}

fn sound(length: usize) -> Vec<i16> {
    (0..length).map(|at| ((at * 7919 + length) % 65_536) as u16 as i16).collect()
}

fn as_recorded(samples: &[i16]) -> Vec<f32> {
    samples.iter().map(|sample| f32::from(*sample) / 32_768.0).collect()
}

fn draft_for(recording: &Recording) -> DraftRecord {
    let mut draft = draft_of("No ankle clonus on the left.", &recording.file_name);
    draft.source.sha256.clone_from(&recording.sha256);
    draft.source.length_ms = Some(recording.length_ms());
    draft
}

fn all(store: &Store) -> Vec<String> {
    let query = Query { words: Vec::new(), state: None, from: 0, most: 100 };
    store.list(&query).unwrap().records.into_iter().map(|record| record.id).collect()
}

#[test]
fn what_is_added_is_there_and_kept_as_a_record() {
    let folder = tempfile::tempdir().unwrap();
    for mut store in stores(folder.path()) {
        let mut taking = store.begin_taking(AT).unwrap();
        let said = sound(70_001);
        for block in said.chunks(1600) {
            taking.add(block).unwrap();
        }
        taking.synchronise().unwrap();
        assert_eq!((taking.began(), taking.length_ms()), (AT, 4375));
        let recording = taking.recording().unwrap();
        assert_eq!(recording.file_name, "dictation-20261204T231040Z.wav");
        assert_eq!(recording.samples.all().unwrap(), as_recorded(&said));
        assert_eq!(store.unfinished().unwrap(), [], "it is being made");
        let id = store.keep_taking(&draft_for(&recording), taking, Moment(2)).unwrap();
        assert_eq!(folder::entries(&store.place.takings()), Vec::<PathBuf>::new());
        let kept = store.sound_bytes(&id).unwrap();
        assert_eq!(decode(kept, &recording.file_name).unwrap(), recording);
        let verified = store.verify().unwrap();
        assert_eq!((verified.faults.len(), verified.notes.len(), verified.sounds), (0, 0, 1), "{verified:?}");
    }
}

#[test]
fn an_unfinished_one_is_told_taken_up_and_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    for store in stores(folder.path()) {
        let mut taking = store.begin_taking(AT).unwrap();
        let id = taking.id().to_owned();
        taking.add(&sound(16_000)).unwrap();
        assert!(matches!(again(store.folder()).unfinished().as_deref(), Ok([])), "it is being made");
        drop(taking);
        let told = Unfinished { id: id.clone(), began: AT, length_ms: 1000 };
        assert_eq!(again(store.folder()).unfinished().unwrap(), [told]);
        let mut taking = store.take_up(&id).unwrap();
        assert_eq!(store.unfinished().unwrap(), []);
        taking.add(&sound(8000)).unwrap();
        let recording = taking.recording().unwrap();
        assert_eq!(recording.samples.all().unwrap(), as_recorded(&[sound(16_000), sound(8000)].concat()));
        assert_eq!(recording.warnings, Vec::<String>::new());
        store.drop_taking(taking).unwrap();
        assert_eq!(store.unfinished().unwrap(), []);
        for id in [&*id, "", "../store", "018BCFE5-6800-7000-8000-000000000000"] {
            assert!(matches!(store.take_up(id), Err(StoreError::NoTaking(_))), "{id}");
        }
    }
}

#[test]
fn only_one_has_it_and_only_its_owner_reads_it() {
    let folder = tempfile::tempdir().unwrap();
    for store in stores(folder.path()) {
        let taking = store.begin_taking(AT).unwrap();
        assert!(matches!(again(store.folder()).take_up(taking.id()), Err(StoreError::TakingInUse(_))));
        assert!(!folder::is_open_to_others(taking.file.path()));
        assert!(!folder::is_open_to_others(&store.place.takings()));
        fn sent<T: Send>(value: T) -> T {
            value
        }
        drop(sent(taking));
    }
}

#[test]
fn a_plain_one_can_be_played_at_any_moment() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let mut taking = store.begin_taking(AT).unwrap();
    for seconds in 1..=3 {
        taking.add(&sound(16_000)).unwrap();
        let own = taking.recording().unwrap();
        let played = crate::audio::read(taking.file.path()).unwrap();
        assert_eq!((played.warnings.len(), played.length_ms(), played.sha256), (0, seconds * 1000, own.sha256));
    }
}

#[test]
fn a_block_that_was_cut_off_is_left_out_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    for store in stores(folder.path()) {
        let sealed = store.place.keys.is_some();
        let mut taking = store.begin_taking(AT).unwrap();
        taking.add(&sound(1600)).unwrap();
        let first = fs::metadata(taking.file.path()).unwrap().len();
        taking.add(&sound(1600)).unwrap();
        let (id, path) = (taking.id().to_owned(), taking.file.path().to_owned());
        drop(taking);
        let whole = fs::read(&path).unwrap();
        for cut in [1, 20, 200, 3199, whole.len() as u64 - first - 1] {
            fs::write(&path, &whole[..(first + cut) as usize]).unwrap();
            let left = if sealed { 0 } else { cut.min(3200) as usize / 2 };
            let wanted = [&sound(1600)[..], &sound(1600)[..left]].concat();
            let mut taking = store.take_up(&id).unwrap();
            let recording = taking.recording().unwrap();
            assert_eq!(recording.samples.all().unwrap(), as_recorded(&wanted), "{cut}");
            assert_eq!(recording.warnings.len(), usize::from(sealed), "{:?}", recording.warnings);
            assert_eq!(fs::metadata(&path).unwrap().len(), first + cut, "looking changes nothing");
            taking.add(&sound(800)).unwrap();
            drop(taking);
            let recording = store.take_up(&id).unwrap().recording().unwrap();
            assert_eq!(recording.samples.all().unwrap(), as_recorded(&[wanted, sound(800)].concat()), "{cut}");
        }
    }
}

#[cfg(feature = "encrypted")]
#[test]
fn what_was_altered_is_told_and_what_is_before_it_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let store = stores(folder.path()).remove(1);
    let mut taking = store.begin_taking(AT).unwrap();
    for _ in 0..10 {
        taking.add(&sound(1600)).unwrap();
    }
    let (id, path) = (taking.id().to_owned(), taking.file.path().to_owned());
    drop(taking);
    let whole = fs::read(&path).unwrap();
    let (head, block) = (21, 4 + 24 + 3200 + 16);
    assert_eq!(whole.len(), head + 10 * block);
    let check = |what: &str, bytes: &[u8], blocks: usize| {
        fs::write(&path, bytes).unwrap();
        let recording = store.take_up(&id).unwrap().recording().unwrap();
        assert_eq!(recording.samples.all().unwrap(), as_recorded(&sound(1600).repeat(blocks)), "{what}");
        let told = recording.warnings.iter().filter(|told| told.contains("was altered")).count();
        assert_eq!(told, 1, "{what}: {:?}", recording.warnings);
        let faults = store.verify().unwrap().faults;
        assert_eq!(faults.len(), 1, "{what}: {faults:?}");
        assert!(faults[0].what.contains(&id), "{what}: {faults:?}");
    };
    for at in [0, 30, head + 5 * block + 2, head + 5 * block + 10, head + 5 * block + 900, head + 6 * block - 1] {
        let mut other = whole.clone();
        other[at] ^= 1;
        check(&format!("bit of byte {at}"), &other, at.saturating_sub(head) / block);
    }
    let blocks: Vec<&[u8]> = whole[head..].chunks(block).collect();
    let with = |order: &[usize]| -> Vec<u8> {
        let blocks = order.iter().flat_map(|at| blocks[*at].iter().copied());
        whole[..head].iter().copied().chain(blocks).collect()
    };
    check("two exchanged", &with(&[0, 1, 3, 2, 4]), 2);
    check("one left out", &with(&[0, 1, 3, 4]), 2);
    check("one twice", &with(&[0, 1, 1, 2]), 2);
    let mut other = store.begin_taking(AT).unwrap();
    (0..3).for_each(|_| other.add(&sound(1600)).unwrap());
    let from_elsewhere = fs::read(other.file.path()).unwrap();
    store.drop_taking(other).unwrap();
    check("all of it from elsewhere", &from_elsewhere, 0);
    check("one from elsewhere", &[&whole[..head + block], &from_elsewhere[head + block..]].concat(), 1);
}

#[test]
fn a_crash_between_record_and_removal_leaves_one_record() {
    let folder = tempfile::tempdir().unwrap();
    for mut store in stores(folder.path()) {
        for opened_anew in [true, false] {
            let mut taking = store.begin_taking(AT).unwrap();
            taking.add(&sound(if opened_anew { 1600 } else { 3200 })).unwrap();
            let (path, recording) = (taking.file.path().to_owned(), taking.recording().unwrap());
            let file = fs::read(&path).unwrap();
            let id = store.keep_taking(&draft_for(&recording), taking, Moment(2)).unwrap();
            // As if the program had been killed just before.
            fs::write(&path, file).unwrap();
            let before = all(&store).len();
            if opened_anew {
                drop(again(store.folder()));
            } else {
                assert_eq!(store.unfinished().unwrap(), []);
            }
            assert!(!path.exists());
            assert!(all(&store).contains(&id) && all(&store).len() == before);
            assert!(store.sound_bytes(&id).is_ok());
        }
    }
}

#[test]
fn a_crash_before_the_record_leaves_the_unfinished_one() {
    let folder = tempfile::tempdir().unwrap();
    for mut store in stores(folder.path()) {
        let mut taking = store.begin_taking(AT).unwrap();
        taking.add(&sound(1600)).unwrap();
        let recording = taking.recording().unwrap();
        let id = taking.id().to_owned();
        // The sound was put in place, and no row was written.
        sound::arrive_taken(&store.rows(), &draft_for(&recording), &mut taking.file).unwrap();
        drop(taking);
        let mut store_again = again(store.folder());
        assert_eq!(store_again.unfinished().unwrap().len(), 1);
        let taking = store_again.take_up(&id).unwrap();
        let record = store_again.keep_taking(&draft_for(&recording), taking, Moment(2)).unwrap();
        assert_eq!((all(&store), store.unfinished().unwrap()), (vec![record], vec![]));
        assert_eq!(store.verify().unwrap().faults, []);
        store.set_keep_sound(crate::store::KeepSound::NotKept, Moment(3)).unwrap();
    }
}

#[test]
fn the_stores_policy_holds_and_another_recording_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for mut store in stores(folder.path()) {
        assert!(!store.keep_sound_was_chosen().unwrap());
        store.set_keep_sound(crate::store::KeepSound::UntilSigned, Moment(1)).unwrap();
        assert!(store.keep_sound_was_chosen().unwrap(), "said, though it held anyway");
        store.set_keep_sound(crate::store::KeepSound::NotKept, Moment(1)).unwrap();
        let mut taking = store.begin_taking(AT).unwrap();
        taking.add(&sound(1600)).unwrap();
        let (id, recording) = (taking.id().to_owned(), taking.recording().unwrap());
        taking.add(&sound(1)).unwrap();
        let refused = store.keep_taking(&draft_for(&recording), taking, Moment(2));
        assert!(matches!(refused, Err(StoreError::AnotherSound(_))), "{refused:?}");
        let mut taking = store.take_up(&id).unwrap();
        let recording = taking.recording().unwrap();
        let record = store.keep_taking(&draft_for(&recording), taking, Moment(2)).unwrap();
        assert_eq!(store.record(&record).unwrap().sound, Sound::NotKept);
        assert_eq!((store.place.sounds(), folder::entries(&store.place.takings())), (vec![], vec![]));
        assert_eq!(store.verify().unwrap().faults, []);
    }
}

#[test]
fn what_cannot_be_written_leaves_what_was_there() {
    let folder = tempfile::tempdir().unwrap();
    for store in stores(folder.path()) {
        let mut taking = store.begin_taking(AT).unwrap();
        taking.add(&sound(1600)).unwrap();
        let (id, path) = (taking.id().to_owned(), taking.file.path().to_owned());
        let before = fs::read(&path).unwrap();
        // A file that may only be read cannot be written to.
        let unwritable = File::open(&path).unwrap();
        drop(taking);
        let mut taking = store.take_up(&id).unwrap();
        taking.file = TakingFile::open(unwritable, path.clone(), store.place.keys.as_ref(), &id).unwrap();
        assert!(matches!(taking.add(&sound(1600)), Err(StoreError::Io { .. })));
        assert_eq!((taking.length_ms(), fs::read(&path).unwrap()), (100, before));
        assert_eq!(taking.recording().unwrap().samples.all().unwrap(), as_recorded(&sound(1600)));
    }
}

#[test]
fn what_else_lies_there_is_left_alone_and_told() {
    let folder = tempfile::tempdir().unwrap();
    for store in stores(folder.path()) {
        let takings = store.place.takings();
        let mut taking = store.begin_taking(AT).unwrap();
        taking.add(&sound(1600)).unwrap();
        drop(taking);
        fs::write(takings.join(".part-x"), b"half").unwrap();
        assert_eq!(store.verify().unwrap().notes.len(), 1, "{:?}", store.verify().unwrap().notes);
        drop(again(store.folder()));
        fs::write(takings.join("own.wav"), wave_bytes(&[1])).unwrap();
        assert_eq!(folder::entries(&takings).len(), 2);
        let verified = store.verify().unwrap();
        assert_eq!((verified.takings, verified.takings_ms, verified.faults.len()), (1, 100, 1), "{verified:?}");
        assert!(verified.faults[0].what.ends_with("own.wav was not put there by this program"));
    }
}

#[test]
fn a_plain_file_shorter_than_its_head_is_an_empty_recording() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let taking = store.begin_taking(AT).unwrap();
    let (id, path) = (taking.id().to_owned(), taking.file.path().to_owned());
    drop(taking);
    let mut file = OpenOptions::new().write(true).open(&path).unwrap();
    file.set_len(10).unwrap();
    file.rewind().and_then(|()| file.write_all(b"RIFF")).unwrap();
    let mut taking = store.take_up(&id).unwrap();
    assert_eq!(taking.length_ms(), 0);
    taking.add(&sound(1600)).unwrap();
    assert_eq!(crate::audio::read(&path).unwrap().samples.all().unwrap(), as_recorded(&sound(1600)));
    assert_eq!(taking.recording().unwrap().sha256, seal::sha256(&fs::read(&path).unwrap()));
}

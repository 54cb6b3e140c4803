//! Recordings in the making under hard conditions: killed programs, full disks, a store that is encrypted meanwhile.
//! Takes this test program started anew as a child that is killed; fails where sound that was told to be written is not there, a
//! sample is another, or a recording is lost or there twice. Leaves alone single steps (`src/store/taking/tests.rs`).

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::Duration;

use spoken_exam::audio::{Recording, Sound};
use spoken_exam::record::Moment;
use spoken_exam::store::{Query, Store, StoreError};

use crate::store::{Chance, NOTE, check_sound, child, draft, killed_after, printed, run, say};

/// Samples in a block: 0.1 s.
const BLOCK: usize = 1600;

/// The sound of block after block, another for each seed.
fn block(seed: u64, number: u64) -> Vec<i16> {
    let mut chance = Chance(seed.wrapping_mul(1_000_003) + number);
    (0..BLOCK).map(|_| chance.next(65_536) as u16 as i16).collect()
}

/// What the child does: a recording goes on, in blocks of 0.1 s, a hundred times as fast as they would be spoken.
pub(crate) fn take_on_and_on(folder: &Path, id: &str, seed: &str) {
    let store = crate::store_encrypted::open(folder);
    let mut taking = match id {
        "" => store.begin_taking(Moment(1_700_000_000_000)),
        id => store.take_up(id),
    }
    .expect("it is begun");
    let seed = seed.parse().expect("a number");
    for number in taking.length_ms() / 100.. {
        taking.add(&block(seed, number)).expect("it is written");
        say(&format!("added {number}"));
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// What the child does: recording after recording is ended and becomes a record.
pub(crate) fn take_and_keep_on_and_on(folder: &Path) {
    let json = fs::read_to_string(folder.with_extension("json")).expect("a draft");
    let mut draft = spoken_exam::store::draft::read(&json).expect("a draft");
    let mut store = crate::store_encrypted::open(folder);
    for number in 0.. {
        let mut taking = store.begin_taking(Moment(1_700_000_000_000)).expect("it is begun");
        let seed = u64::from(std::process::id()) << 20 | number;
        (0..20).for_each(|number| taking.add(&block(seed, number)).expect("it is written"));
        let recording = taking.recording().expect("it can be read");
        draft.source.sha256.clone_from(&recording.sha256);
        draft.source.file_name.clone_from(&recording.file_name);
        say(&format!("added {}", recording.sha256));
        store.keep_taking(&draft, taking, Moment(1)).expect("it is kept");
        say(&format!("kept {}", recording.sha256));
    }
}

/// Stores in which the same must hold; the second is encrypted, where this program can do that.
fn stores(folder: &Path) -> Vec<std::path::PathBuf> {
    let plain = folder.join("plain");
    drop(Store::open(&plain).expect("it opens"));
    #[cfg(not(feature = "encrypted"))]
    return vec![plain];
    #[cfg(feature = "encrypted")]
    {
        let sealed = folder.join("sealed");
        let passphrase = spoken_exam::store::Passphrase::new("seven grey geese fly".to_owned());
        Store::encrypt(&sealed, &passphrase).expect("it is made");
        vec![plain, sealed]
    }
}

fn as_recorded(samples: impl Iterator<Item = i16>) -> Vec<f32> {
    samples.map(|sample| f32::from(sample) / 32_768.0).collect()
}

fn only(store: &Store) -> (String, Recording) {
    let unfinished = store.unfinished().expect("a list");
    assert_eq!(unfinished.len(), 1, "{unfinished:?}");
    let id = unfinished[0].id.clone();
    let recording = store.take_up(&id).expect("nobody holds it").recording().expect("it can be read");
    assert_eq!(recording.length_ms(), unfinished[0].length_ms);
    (id, recording)
}

#[test]
fn killed_at_any_moment_all_sound_that_was_added_is_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut told_in_all, mut beyond) = (0, 0);
    for place in stores(folder.path()) {
        let mut chance = Chance(3);
        let mut id = String::new();
        for round in 0..25 {
            // Every fifth time it is a new recording; in between, one that was killed goes on.
            let seed = round / 5;
            if round % 5 == 0 {
                id.clear();
            }
            let child = child(&["take", &place.to_string_lossy(), &id, &seed.to_string()]);
            let lines = killed_after(child, true, Duration::from_micros(chance.next(30_000)));
            let told: Vec<u64> = lines.iter().filter_map(|line| line.strip_prefix("added ")?.parse().ok()).collect();
            let told = told.last().expect("it was at work") + 1;
            let store = crate::store_encrypted::open(&place);
            let recording;
            (id, recording) = only(&store);
            let blocks = (recording.samples.len() / BLOCK) as u64;
            assert!(blocks == told || blocks == told + 1, "round {round}: told {told}, there {blocks}");
            let wanted = (0..).flat_map(|number| block(seed, number)).take(recording.samples.len());
            assert!(recording.samples == as_recorded(wanted).into(), "round {round}: another sound");
            check_sound(&store);
            told_in_all += told;
            beyond += blocks - told;
            if round % 5 == 4 {
                // What is left after five kills becomes a record like any other.
                let mut draft = draft(NOTE);
                let mut store = store;
                let mut taking = store.take_up(&id).expect("nobody holds it");
                draft.source.sha256 = taking.recording().expect("it can be read").sha256;
                draft.source.file_name = recording.file_name.clone();
                let record = store.keep_taking(&draft, taking, Moment(2)).expect("it is kept");
                let kept = store.sound_bytes(&record).expect("it is kept");
                let read = spoken_exam::audio::decode(kept, &recording.file_name).expect("it is a wav");
                assert!(read.samples == recording.samples);
                assert!(store.unfinished().expect("a list").is_empty());
            }
        }
    }
    println!("50 kills, {told_in_all} blocks told, {beyond} times one more was there");
    assert!(told_in_all >= 100, "only {told_in_all} blocks were added between kills");
}

#[test]
fn killed_at_any_moment_a_recording_that_ends_is_a_record_or_unfinished() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut kept, mut left) = (0, 0);
    for place in stores(folder.path()) {
        let json = spoken_exam::export::to_json(&draft(NOTE)).expect("a draft");
        fs::write(place.with_extension("json"), json).expect("it can be written");
        let mut chance = Chance(11);
        let mut known: BTreeMap<String, bool> = BTreeMap::new();
        for round in 0..15 {
            let child = child(&["end", &place.to_string_lossy()]);
            for line in killed_after(child, true, Duration::from_micros(chance.next(200_000))) {
                if let Some(hash) = line.strip_prefix("added ") {
                    known.entry(hash.to_owned()).or_default();
                } else if let Some(hash) = line.strip_prefix("kept ") {
                    known.insert(hash.to_owned(), true);
                }
            }
            let mut times: BTreeMap<String, (usize, usize)> = BTreeMap::new();
            let store = crate::store_encrypted::open(&place);
            check_sound(&store);
            for unfinished in store.unfinished().expect("a list") {
                let mut taking = store.take_up(&unfinished.id).expect("nobody holds it");
                times.entry(taking.recording().expect("it can be read").sha256).or_default().0 += 1;
            }
            let query = Query { words: Vec::new(), state: None, from: 0, most: 10_000 };
            for record in store.list(&query).expect("a list").records {
                let of = store.record(&record.id).expect("it is there").review.draft().source.sha256.clone();
                times.entry(of).or_default().1 += 1;
            }
            for (hash, is_kept) in &known {
                let (unfinished, records) = times.get(hash).copied().unwrap_or_default();
                assert_eq!(unfinished + records, 1, "round {round}: {unfinished} unfinished, {records} records");
                assert!(!is_kept || records == 1, "round {round}: what was told to be kept is a record");
            }
            left = store.unfinished().expect("a list").len();
        }
        kept += known.values().filter(|kept| **kept).count();
    }
    println!("30 kills, {kept} recordings told to be kept, {left} unfinished at last");
    assert!(kept >= 8, "only {kept} were kept between kills");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_keeps_what_was_recorded_and_says_so() {
    let Some(disk) = crate::store::Disk::new("size=2m") else { return };
    let elsewhere = tempfile::tempdir().expect("a folder");
    for place in stores(elsewhere.path()) {
        let sealed = place.ends_with("sealed");
        let here = disk.0.path().join(if sealed { "sealed" } else { "plain" });
        let copied = std::process::Command::new("cp").arg("-r").arg(&place).arg(&here).status().expect("cp");
        assert!(copied.success());
        let store = crate::store_encrypted::open(&here);
        let ballast = disk.0.path().join("ballast");
        fs::write(&ballast, vec![0; 300_000]).expect("it can be written");
        let mut taking = store.begin_taking(Moment(1)).expect("it is begun");
        let mut blocks = 0;
        let error = loop {
            match taking.add(&block(1, blocks)) {
                Ok(()) => blocks += 1,
                Err(error) => break error,
            }
            assert!(blocks < 10_000, "a small disk fills up");
        };
        assert!(matches!(error, StoreError::TakingFull(_)), "{error:?}");
        assert!(
            error.to_string().ends_with("the disk is full; what was recorded before is kept, make room"),
            "{error}"
        );
        let wanted = |blocks: u64| as_recorded((0..blocks).flat_map(|number| block(1, number)));
        assert!(taking.recording().expect("it can be read").samples == wanted(blocks).into());
        // With room again it goes on, with the very block that was refused.
        fs::remove_file(&ballast).expect("it can be removed");
        taking.add(&block(1, blocks)).expect("there is room");
        let id = taking.id().to_owned();
        drop(taking);
        let mut taking = store.take_up(&id).expect("nobody holds it");
        assert!(taking.recording().expect("it can be read").samples == wanted(blocks + 1).into());
        assert!(blocks > 20, "{blocks}");
        store.drop_taking(taking).expect("it is deleted");
        println!("{blocks} blocks fitted");
    }
}

#[test]
fn the_program_tells_of_unfinished_recordings() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = Store::open(folder.path()).expect("it opens");
    let shown = || printed(&run(&["store", "show"], folder.path()));
    assert!(shown().ends_with("unfinished recordings: 0\n"), "{}", shown());
    let mut taking = store.begin_taking(Moment(1)).expect("it is begun");
    (0..25).for_each(|number| taking.add(&block(1, number)).expect("it is written"));
    assert!(shown().ends_with("unfinished recordings: 0\n"), "it is being made");
    drop(taking);
    assert!(shown().ends_with("unfinished recordings: 1\n"), "{}", shown());
    let checked = run(&["store", "check"], folder.path());
    assert_eq!(
        printed(&checked),
        "records: 0, signatures: 0, recordings: 0\nunfinished recordings: 1, 2 s\nfaults: 0\n"
    );
    assert_eq!(checked.status.code(), Some(0));
}

#[cfg(feature = "encrypted")]
#[test]
fn a_store_is_encrypted_with_its_unfinished_recordings_and_never_while_one_is_made() {
    let passphrase = spoken_exam::store::Passphrase::new("seven grey geese fly".to_owned());
    let folder = tempfile::tempdir().expect("a folder");
    let store = Store::open(folder.path()).expect("it opens");
    let mut taking = store.begin_taking(Moment(1_700_000_000_000)).expect("it is begun");
    (0..25).for_each(|number| taking.add(&block(1, number)).expect("it is written"));
    let recording = taking.recording().expect("it can be read");
    let id = taking.id().to_owned();
    drop(store);
    let refused = Store::encrypt(folder.path(), &passphrase);
    assert!(matches!(refused, Err(StoreError::TakingInUse(_))), "{refused:?}");
    assert!(!Store::is_encrypted(folder.path()));
    // It was only refused: the recording goes on and can be kept.
    taking.add(&[]).expect("it is written");
    drop(taking);
    let strange = folder.path().join("taking/own.wav");
    fs::write(&strange, b"own").expect("it can be written");
    let refused = Store::encrypt(folder.path(), &passphrase);
    assert!(matches!(refused, Err(StoreError::Foreign(_))), "{refused:?}");
    fs::remove_file(&strange).expect("it can be removed");
    let done = Store::encrypt(folder.path(), &passphrase).expect("it is encrypted");
    assert_eq!((done.records, done.sounds, done.takings), (0, 0, 1));
    assert!(!folder.path().join("taking").exists(), "nothing is left in plain");
    let store = Store::open_with(folder.path(), Some(&passphrase)).expect("it opens");
    let (sealed, same) = only(&store);
    assert_eq!((sealed, same), (id, recording));
    check_sound(&store);
}

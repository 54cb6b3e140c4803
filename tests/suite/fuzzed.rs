//! Every input that the fuzzing program kept, tried again.
//! Takes the files of `tests/fuzz/corpus`, a folder a target; fails where one panics, and where a target has none. Leaves alone
//! the search for new ones (`sh tests/fuzz/run`).

use std::fs;
use std::path::Path;

use crate::targets::TARGETS;

/// The least that a target's corpus holds.
const FEWEST: usize = 5;
/// The most that it may: it is replayed each time, and read by people.
const MOST_FILES: usize = 80;
const MOST_BYTES: usize = 200_000;

#[track_caller]
fn replay(target: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let (_, run) = TARGETS.iter().find(|(name, _)| *name == target).expect("a target");
    let mut files: Vec<_> =
        fs::read_dir(&folder).expect("a corpus").map(|entry| entry.expect("it can be read").path()).collect();
    files.sort();
    let (count, mut bytes) = (files.len(), 0);
    for file in files {
        let input = fs::read(&file).expect("it can be read");
        bytes += input.len();
        let began = std::time::Instant::now();
        println!("{} ({} bytes)", file.display(), input.len());
        run(&input);
        println!("    {} ms", began.elapsed().as_millis());
    }
    assert!((FEWEST..=MOST_FILES).contains(&count) && bytes <= MOST_BYTES, "{target}: {count} files, {bytes} bytes");
}

#[test]
fn sounds_that_were_found_by_fuzzing_are_refused_or_read() {
    replay("sound");
}

#[test]
fn models_that_were_found_by_fuzzing_are_refused_or_read() {
    replay("model");
}

#[test]
fn lexicon_files_that_were_found_by_fuzzing_are_refused_or_read() {
    replay("lexicon");
}

#[test]
fn texts_that_were_found_by_fuzzing_are_read() {
    replay("words");
}

#[test]
fn records_that_were_found_by_fuzzing_are_refused_or_read() {
    replay("record");
}

#[test]
fn requests_that_were_found_by_fuzzing_are_answered() {
    replay("page");
}

#[test]
fn every_target_is_replayed() {
    let here = include_str!("fuzzed.rs");
    for (target, _) in TARGETS {
        assert!(here.contains(&format!("replay(\"{target}\")")), "{target}");
    }
}

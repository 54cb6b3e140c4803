//! The rules of the house, as far as a machine can check them.
//! Takes the files of `src/`, `tests/` and `lexicon/`; fails with file and line where a rule is broken. Leaves alone
//! what only a reader can judge.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use regex::Regex;
use spoken_exam::lexicon::load;

use crate::corpus::LEXICON;

/// Lines that a file may have before its tests.
const MOST_LINES: usize = 400;
/// Lines that a function may have.
const MOST_IN_A_FUNCTION: usize = 50;

/// A file of the program, with what is checked in it.
struct File {
    /// Path from the project's folder, with slashes.
    path: String,
    /// All of it.
    text: String,
    /// Number of the line on which its own tests begin, from 0.
    tests_from: usize,
}

impl File {
    /// Lines before the tests, with their numbers from 1.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        let from = if is_test_file(&self.path) { 0 } else { self.tests_from };
        self.text.lines().take(from).enumerate().map(|(at, line)| (at + 1, line))
    }

    /// The entry of `src/` that it belongs to: a folder, or the file's own name.
    fn entry(&self) -> &str {
        let below = self.path.strip_prefix("src/").unwrap_or(&self.path);
        below.split('/').next().unwrap_or(below).trim_end_matches(".rs")
    }
}

fn is_test_file(path: &str) -> bool {
    path.ends_with("/tests.rs") || path.starts_with("tests/")
}

static SOURCES: LazyLock<Vec<File>> = LazyLock::new(|| rust_files("src"));

fn rust_files(folder: &str) -> Vec<File> {
    let mut paths = Vec::new();
    walk(Path::new(folder), &mut paths);
    let files: Vec<File> =
        paths.iter().filter(|path| path.extension().is_some_and(|e| e == "rs")).map(|path| file(path)).collect();
    assert!(!files.is_empty(), "{folder} has Rust files");
    files
}

fn walk(folder: &Path, paths: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> =
        std::fs::read_dir(folder).expect("it is a folder").map(|entry| entry.expect("it can be read").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            walk(&path, paths);
        } else {
            paths.push(path);
        }
    }
}

fn file(path: &Path) -> File {
    let text = std::fs::read_to_string(path).expect("it can be read");
    let tests_from = text.lines().position(|line| line == "#[cfg(test)]").unwrap_or(text.lines().count());
    File { path: path.to_string_lossy().replace('\\', "/"), text, tests_from }
}

#[track_caller]
fn check(faults: &[String], rule: &str) {
    assert!(faults.is_empty(), "{rule}:\n{}", faults.join("\n"));
}

/// The order of use: an entry may use only entries with a lower number.
const LEVELS: [(&str, u8); 17] = [
    ("span", 0),
    ("audio", 1),
    ("speech", 2),
    ("lexicon", 3),
    ("reading", 4),
    ("record", 5),
    ("computed", 6),
    ("export", 7),
    ("store", 8),
    ("flow", 8),
    ("live", 9),
    ("batch", 10),
    ("page", 10),
    ("setup", 9),
    ("score", 9),
    ("cli", 11),
    ("main", 12),
];

fn level(entry: &str) -> Option<u8> {
    LEVELS.iter().find(|(known, _)| *known == entry).map(|(_, level)| *level)
}

#[test]
fn a_stage_uses_only_stages_before_it() {
    let used = Regex::new(r"\b(?:crate|spoken_exam)::([a-z_]+)").expect("a pattern");
    let mut faults = Vec::new();
    for file in SOURCES.iter().filter(|file| file.entry() != "lib") {
        let Some(own) = level(file.entry()) else {
            faults.push(format!("{}: `{}` has no place in the order of use", file.path, file.entry()));
            continue;
        };
        for (at, line) in file.text.lines().enumerate().filter(|(_, line)| !is_comment(line)) {
            for found in used.captures_iter(line) {
                let entry = &found[1];
                if entry != file.entry() && level(entry).is_some_and(|level| level >= own) {
                    faults.push(format!("{}:{}: {} must not use {entry}", file.path, at + 1, file.entry()));
                }
            }
            if line.contains("use crate::{") {
                faults.push(format!("{}:{}: write one `use` for each stage", file.path, at + 1));
            }
        }
    }
    check(&faults, "an entry may use only entries with a lower number");
}

/// What lets the outside in, and the places in `src/` where it may.
const DOORS: [(&str, &[&str]); 36] = [
    ("csv", &["src/lexicon/rules/usual.rs", "src/export/"]),
    ("krilla", &["src/export/pdf/"]),
    ("skrifa", &["src/export/pdf/font.rs"]),
    ("statrs", &["src/computed/growth/distributions.rs", "src/computed/growth/curves.rs"]),
    ("axum", &["src/page/"]),
    ("tokio", &["src/page/", "src/batch/storage.rs"]),
    ("object_store", &["src/batch/storage.rs"]),
    ("futures_util", &["src/batch/storage.rs"]),
    ("walkdir", &["src/batch/source.rs", "src/batch/storage.rs"]),
    ("getrandom", &["src/page/", "src/cli/export.rs"]),
    ("rust_embed", &["src/page/"]),
    ("whisper_rs", &["src/speech/whisper.rs", "src/speech/bias.rs", "src/speech/voice.rs"]),
    ("symphonia", &["src/audio/"]),
    ("symphonia_adapter_libopus", &["src/audio/"]),
    ("rubato", &["src/audio/"]),
    ("cpal", &["src/audio/microphone.rs"]),
    ("alsa", &["src/audio/microphone.rs"]),
    ("rustfft", &["src/audio/", "src/setup/"]),
    ("zip", &["src/setup/"]),
    ("half", &["src/setup/"]),
    ("clap", &["src/cli/"]),
    ("anyhow", &["src/cli/", "src/main.rs"]),
    ("indicatif", &["src/cli/"]),
    ("console", &["src/cli/dictate/screen.rs"]),
    ("ctrlc", &["src/cli/"]),
    ("toml", &["src/lexicon/load.rs", "src/lexicon/rules/", "src/lexicon/codes.rs", "src/score/level.rs"]),
    (
        "serde",
        &[
            "src/lexicon/load.rs",
            "src/lexicon/entries.rs",
            "src/lexicon/rules/",
            "src/lexicon/codes.rs",
            "src/score/level.rs",
            "src/export/",
            "src/store/",
            "src/page/",
            "src/batch/",
        ],
    ),
    ("rusqlite", &["src/store/"]),
    ("argon2", &["src/store/encryption/"]),
    ("chacha20poly1305", &["src/store/encryption/", "src/audio/seal.rs"]),
    ("hmac", &["src/store/encryption/", "src/export/csv.rs"]),
    ("zeroize", &["src/store/"]),
    ("rpassword", &["src/cli/passphrase.rs"]),
    ("uuid", &["src/store/", "src/export/fhir/names.rs"]),
    ("jiff", &["src/record/person.rs", "src/record/remarks.rs", "src/export/csv.rs", "src/export/pdf/paint.rs"]),
    ("serde_json", &["src/export/", "src/setup/", "src/store/", "src/page/", "src/batch/"]),
];

#[test]
fn the_outside_comes_in_by_one_door_each() {
    let mut faults = Vec::new();
    for (library, doors) in DOORS {
        let used = Regex::new(&format!(r"(^|[^\w:.]){library}::")).expect("a pattern");
        for file in SOURCES.iter().filter(|file| !doors.iter().any(|door| file.path.starts_with(door))) {
            for (at, _) in file.code().filter(|(_, line)| !is_comment(line) && used.is_match(line)) {
                faults.push(format!("{}:{at}: {library} may be used only in {}", file.path, doors.join(", ")));
            }
        }
    }
    check(&faults, "each library has one door");
}

fn is_comment(line: &str) -> bool {
    line.trim_start().starts_with("//")
}

#[test]
fn every_file_says_on_top_what_it_is() {
    let files = SOURCES.iter().map(|file| (&file.path, &file.text));
    let tests = rust_files("tests");
    let silent = files.chain(tests.iter().map(|file| (&file.path, &file.text)));
    let faults: Vec<String> =
        silent.filter(|(_, text)| !text.starts_with("//! ")).map(|(path, _)| path.clone()).collect();
    check(&faults, "a file opens with `//!`");
}

#[test]
fn files_are_short() {
    let long = SOURCES.iter().filter(|file| !is_test_file(&file.path) && file.tests_from > MOST_LINES);
    let faults: Vec<String> = long.map(|file| format!("{}: {} lines", file.path, file.tests_from)).collect();
    check(&faults, "a file has at most 400 lines, tests apart");
}

#[test]
fn functions_are_short() {
    let head =
        Regex::new(r"^(\s*)(pub(\([a-z:]+\))? )?(const |async |unsafe |extern \S+ )*fn (\w+)").expect("a pattern");
    let mut faults = Vec::new();
    for file in SOURCES.iter() {
        let lines: Vec<(usize, &str)> = file.code().collect();
        for (start, line) in &lines {
            let Some(found) = head.captures(line) else { continue };
            let end = format!("{}}}", &found[1]);
            // A declaration without a body, and a body on the same line, have no such end before the next function.
            let whole = line.trim_end().ends_with('}') || line.trim_end().ends_with(';');
            let last = lines.iter().skip(*start).find(|(_, line)| *line == end).map(|(at, _)| *at);
            let length = last.filter(|_| !whole).map_or(1, |last| last - start + 1);
            if length > MOST_IN_A_FUNCTION {
                faults.push(format!("{}:{start}: {} has {length} lines", file.path, &found[5]));
            }
        }
    }
    check(&faults, "a function fits a screen: at most 50 lines");
}

#[test]
fn only_the_command_line_prints_and_nothing_gives_up() {
    let prints = Regex::new(r"\be?print(ln)?!|\bio::std(out|err)\(\)").expect("a pattern");
    let gives_up = Regex::new(r"\.unwrap\(\)|\.expect\(|\b(todo|unimplemented|dbg|panic)!").expect("a pattern");
    let mut faults = Vec::new();
    for file in SOURCES.iter() {
        for (at, line) in file.code().filter(|(_, line)| !is_comment(line)) {
            if prints.is_match(line) && file.entry() != "cli" {
                faults.push(format!("{}:{at}: prints", file.path));
            }
            if gives_up.is_match(line) {
                faults.push(format!("{}:{at}: gives up: {}", file.path, line.trim()));
            }
        }
    }
    check(&faults, "only `cli` prints, and nothing gives up outside tests");
}

/// Words of ids and names that are everyday English, or a unit's, and may stand in code.
const EVERYDAY: [&str; 31] = [
    "angle",
    "ankle",
    "anterior",
    "behavioural",
    "birth",
    "dorsiflexion",
    "extension",
    "facial",
    "finger",
    "habituation",
    "length",
    "light",
    "movement",
    "movements",
    "muscle",
    "posterior",
    "posture",
    "reflex",
    "reflexes",
    "response",
    "resting",
    "rotation",
    "seizures",
    "shape",
    "sound",
    "spontaneous",
    "state",
    "throughout",
    "tongue",
    "visual",
    "weight",
];

#[test]
fn no_word_of_the_trade_stands_in_the_code() {
    let mut trade: BTreeSet<String> = BTreeSet::new();
    for item in &LEXICON.items {
        let words = item.id.split('-').chain(item.name.split(|c: char| !c.is_alphanumeric()));
        trade.extend(words.map(str::to_lowercase));
        trade.insert(item.id.clone());
    }
    trade.retain(|word| !EVERYDAY.contains(&word.as_str()) && !is_short(word));
    let words = Regex::new(r"[A-Za-z]+(-[A-Za-z]+)*").expect("a pattern");
    let mut faults = Vec::new();
    for file in SOURCES.iter().filter(|file| !is_test_file(&file.path)) {
        for (at, line) in file.code().filter(|(_, line)| !is_comment(line)) {
            let line = line.split(" // ").next().unwrap_or(line);
            for word in words.find_iter(line).map(|found| found.as_str().to_lowercase()) {
                if trade.contains(&word) {
                    faults.push(format!("{}:{at}: {word}", file.path));
                }
            }
        }
    }
    check(&faults, "the trade's words stand in the lexicon, not in the code");
}

// Of words with up to four letters only those that nobody says elsewhere are the trade's.
fn is_short(word: &str) -> bool {
    word.len() <= 4 && word != "moro"
}

#[test]
fn every_lexicon_file_says_on_top_what_it_is() {
    let silent = load::built_in().into_iter().filter(|source| !source.text.starts_with("# "));
    let faults: Vec<String> = silent.map(|source| source.file).collect();
    check(&faults, "a lexicon file opens with a comment");
}

#[test]
fn every_mishearing_says_where_it_was_met_and_every_exception_why() {
    let entries = load::read(&load::built_in()).expect("the lexicon has no faults");
    let misheard = entries.misheard.iter().filter(|(_, entry)| entry.met.trim().is_empty()).map(|(place, _)| place);
    let never = entries.never.iter().filter(|(_, entry)| entry.because.trim().is_empty()).map(|(place, _)| place);
    let faults: Vec<String> = misheard.chain(never).map(|place| format!("{}:{}", place.file, place.line)).collect();
    check(&faults, "an entry says where it comes from");
}

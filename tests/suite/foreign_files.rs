//! What holds for lexicon files that nobody wrote: any file is taken, or refused with its name.
//! Takes files of any bytes, and the lexicon's own with faults put in; fails on a panic, on an error that names no place,
//! and where no answer comes. `PROPTEST_CASES=100000` tries that many of each kind. Leaves alone which faults are named
//! (`lexicon`).

use std::fmt::Debug;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

use proptest::prelude::*;
use proptest::sample::{Index, select};
use spoken_exam::lexicon::load::{self, Source};
use spoken_exam::lexicon::{Lexicon, LexiconError};

use crate::foreign::{cases, holds};
use crate::targets::checks::{check_error, check_own_phrases};

/// Loading a whole lexicon takes a hundred times as long as anything else here: one case in so many does.
const RARELY: u32 = 100;

/// A fault put into a file; places are taken modulo its length.
#[derive(Debug, Clone)]
enum Damage {
    Bit(Index, u8),
    Cut(Index, usize),
    End(Index),
    Swap(Index, Index),
    Twice(Index),
    Insert(Index, usize),
    Line(Index, usize),
}

/// Signs and values of TOML.
const SIGNS: &str =
    "[ ] [[ \n[ \" ''' \"\"\" = , { } # \\ \\u0000 \u{0} \r \u{feff} ß İ \"\" \"the\" \",\" nan -inf 1e999 -1 true";
/// Lines of the lexicon's own format, with values that it has no room for.
const LINES: [&str; 14] = [
    "denied = \"none\"\n",
    "units = [\"deg\", \"g\"]\n",
    "units = [\"\"]\n",
    "units = [\"beats\"]\nplausible = [9, -1]\n",
    "units = [\"g\", \"kg\"]\nplausible = [nan, inf]\n",
    "members = [\"scarf-sign\"]\n",
    "general = { good = \"normal\" }\n",
    "keeps-all = true\n",
    "told-as-history = true\n",
    "says = []\n",
    "[scarf-sign]\nname = \"\"\nregion = \"\"\nsides = \"paired\"\nmembers = [\"scarf-sign\"]\n",
    "[[never]]\nphrase = \"left\"\nbecause = \"\"\n",
    "left = \"right\"\nright = \"left\"\n",
    "no = \"\"\n",
];
/// What is put into files: all of these, and some of them very often.
static ODD: LazyLock<Vec<String>> = LazyLock::new(|| {
    let many = [("[", 3_000), ("{a=", 3_000), ("a.", 3_000), ("\"a\",", 500), ("é", 500), ("a ", 2_000)];
    let repeated = many.iter().map(|(piece, times)| piece.repeat(*times));
    SIGNS.split(' ').chain(LINES).map(str::to_owned).chain(repeated).collect()
});

fn damaged(bytes: Vec<u8>, damage: &Damage) -> Vec<u8> {
    if bytes.is_empty() {
        return bytes;
    }
    let mut bytes = bytes;
    match damage {
        Damage::Bit(at, bit) => {
            let at = at.index(bytes.len());
            bytes[at] ^= 1 << bit;
        }
        Damage::Cut(at, length) => {
            let from = at.index(bytes.len());
            let to = bytes.len().min(from + length);
            drop(bytes.drain(from..to));
        }
        Damage::End(at) => bytes.truncate(at.index(bytes.len())),
        Damage::Insert(at, piece) => {
            let at = at.index(bytes.len());
            drop(bytes.splice(at..at, ODD[*piece].bytes()));
        }
        Damage::Swap(one, other) => {
            let mut lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
            let (one, other) = (one.index(lines.len()), other.index(lines.len()));
            lines.swap(one, other);
            bytes = lines.concat();
        }
        Damage::Line(at, line) => {
            let mut lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
            lines.insert(at.index(lines.len()), LINES[*line].as_bytes());
            bytes = lines.concat();
        }
        Damage::Twice(at) => {
            let mut lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
            let at = at.index(lines.len());
            lines.insert(at, lines[at]);
            bytes = lines.concat();
        }
    }
    bytes
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![
        3 => (any::<Index>(), 0..8_u8).prop_map(|(at, bit)| Damage::Bit(at, bit)),
        3 => (any::<Index>(), 1..80_usize).prop_map(|(at, length)| Damage::Cut(at, length)),
        1 => any::<Index>().prop_map(Damage::End),
        3 => (any::<Index>(), any::<Index>()).prop_map(|(one, other)| Damage::Swap(one, other)),
        2 => any::<Index>().prop_map(Damage::Twice),
        3 => (any::<Index>(), 0..ODD.len()).prop_map(|(at, piece)| Damage::Insert(at, piece)),
        3 => (any::<Index>(), 0..LINES.len()).prop_map(|(at, line)| Damage::Line(at, line)),
    ]
}

/// A file of a lexicon.
struct File {
    /// Its name below the lexicon's folder.
    name: String,
    bytes: Vec<u8>,
}

impl Debug for File {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} with \"{}\"", self.name, self.bytes.escape_ascii())
    }
}

/// A few tables of one of the lexicon's own files, most of them with faults put in.
fn damaged_file() -> impl Strategy<Value = File> {
    let damages = proptest::collection::vec(damage(), 0..5);
    (select(load::built_in()), any::<Index>(), 1..5_usize, damages).prop_map(|(source, from, count, damages)| {
        let bytes = damages.iter().fold(stretch(&source.text, from, count).into_bytes(), damaged);
        File { name: source.file, bytes }
    })
}

/// So many tables of a file, from one that opens an entry.
fn stretch(text: &str, from: Index, count: usize) -> String {
    let opens: Vec<usize> = text.match_indices("\n[").map(|(at, _)| at + 1).collect();
    let is_entry = |at: &&usize| text[**at..].lines().next().is_some_and(|header| !header.contains('.'));
    let entries: Vec<usize> = opens.iter().filter(is_entry).copied().collect();
    let Some(start) = entries.get(from.index(entries.len().max(1))) else { return text.to_owned() };
    let end = opens.iter().filter(|at| *at > start).nth(count - 1).copied().unwrap_or(text.len());
    text[*start..end].to_owned()
}

/// Any bytes, any characters, or TOML's signs in any order, under each name that is read in its own way.
fn foreign_file() -> impl Strategy<Value = File> {
    let names = ["a.toml", "language/a.toml", "language/spelling.toml", "misheard.toml", "never.toml"];
    let toml = proptest::collection::vec(
        prop_oneof![
            (0..ODD.len()).prop_map(|piece| ODD[piece].clone()),
            "[a-z]{1,5} ?= ?",
            "\n",
            "\\[[a-z.-]{1,5}\\]\n"
        ],
        0..20,
    );
    let bytes = prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..200),
        any::<String>().prop_map(String::into_bytes),
        toml.prop_map(|pieces| pieces.concat().into_bytes()),
    ];
    (select(names.to_vec()), bytes).prop_map(|(name, bytes)| File { name: name.to_owned(), bytes })
}

/// What stands beside the file in question: sides, denials and the spelling of the lexicon itself.
static BESIDE: LazyLock<Vec<Source>> = LazyLock::new(|| {
    let wanted = ["language/negation.toml", "language/sides.toml", "language/spelling.toml"];
    load::built_in().into_iter().filter(|source| wanted.contains(&source.file.as_str())).collect()
});

/// The lexicon with one file read from a folder, in place of the one by that name among `beside` if there is one.
fn loaded(File { name, bytes }: &File, beside: &[Source]) -> (Vec<Source>, Result<Lexicon, LexiconError>) {
    // One folder for all cases of a test, since making and removing folders takes longer than everything else.
    thread_local! { static FOLDER: tempfile::TempDir = tempfile::tempdir().expect("a folder can be made"); }
    let read = FOLDER.with(|folder| {
        let path = folder.path().join(name);
        if std::fs::write(&path, bytes).is_err() {
            std::fs::create_dir_all(path.parent().unwrap_or(folder.path())).expect("a folder can be made");
            std::fs::write(&path, bytes).expect("a file can be written");
        }
        let read = load::from_folder(folder.path());
        std::fs::remove_file(&path).expect("a file can be removed");
        read
    });
    let mut sources: Vec<Source> = beside.iter().filter(|source| source.file != *name).cloned().collect();
    match read {
        Ok(read) => sources.extend(read),
        Err(error) => return (sources, Err(error)),
    }
    let lexicon = Lexicon::from_sources(&sources);
    (sources, lexicon)
}

/// Checks what comes of a file; tells whether it was taken.
fn check_file(file: &File, beside: &[Source]) -> bool {
    let (sources, lexicon) = loaded(file, beside);
    match &lexicon {
        Ok(lexicon) => check_own_phrases(lexicon),
        Err(error) => check_error(&file.name, &sources, error),
    }
    lexicon.is_ok()
}

#[test]
fn any_file_is_taken_or_refused_by_name() {
    holds(cases(), foreign_file, |file| _ = check_file(file, &BESIDE));
}

#[test]
fn any_fault_put_into_the_lexicon_is_taken_or_refused_by_name() {
    static TAKEN: AtomicUsize = AtomicUsize::new(0);
    holds(cases(), damaged_file, |file| {
        TAKEN.fetch_add(usize::from(check_file(file, &BESIDE)), Relaxed);
    });
    let (taken, cases) = (TAKEN.load(Relaxed), cases() as usize);
    println!("{taken} of {cases} damaged files taken");
    assert!(taken > cases / 20 && taken < cases - cases / 20, "{taken} of {cases} damaged files taken");
}

#[test]
fn any_fault_laid_over_the_whole_lexicon_is_taken_or_refused_by_name() {
    let whole = || damaged_file().prop_map(|file| File { name: format!("mine/{}", file.name), ..file });
    holds((cases() / RARELY).max(1), whole, |file| _ = check_file(file, &load::built_in()));
}

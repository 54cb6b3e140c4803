//! What the fuzzing program tries, and the suite replays.
//! Takes any bytes; panics where the program panics or breaks a promise. Each target reads its bytes in its own way, as told in
//! its file. Leaves alone where the bytes come from: `main.rs` and libFuzzer, or the corpora (`tests/suite/fuzzed.rs`).
//!
//! `TARGETS[0]` is the sound: bytes of a file of any format

pub(crate) mod checks;
mod lexicon;
mod model;
mod page;
mod record;
mod sound;
mod words;

/// A target.
pub(crate) type Target = fn(&[u8]);

/// All targets, by the names of their corpora.
pub(crate) const TARGETS: [(&str, Target); 6] = [
    ("sound", sound::target),
    ("model", model::target),
    ("lexicon", lexicon::target),
    ("words", words::target),
    ("record", record::target),
    ("page", page::target),
];

//! The fuzzing program: libFuzzer tries whatever reaches code that was not reached before.
//! Takes the name of a target in `SPOKEN_EXAM_FUZZ` and libFuzzer's own arguments; ends with the input on which a target panics,
//! takes too long or too much memory. Leaves alone what a target checks (`targets`), and the building (`run`).
//!
//! `sh tests/fuzz/run sound 600`
#![no_main]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stderr, reason = "a fault ends it, and it says why")]

mod targets;

use std::panic::{catch_unwind, set_hook};
use std::sync::{LazyLock, Mutex, PoisonError};

use targets::{TARGETS, Target};

static CHOSEN: LazyLock<Target> = LazyLock::new(|| {
    let name = std::env::var("SPOKEN_EXAM_FUZZ").unwrap_or_default();
    let names: Vec<&str> = TARGETS.iter().map(|(name, _)| *name).collect();
    let chosen = TARGETS.iter().find(|(known, _)| *known == name);
    chosen.unwrap_or_else(|| panic!("SPOKEN_EXAM_FUZZ is `{name}`; there are {names:?}")).1
});

/// What panics of this input said. Not every panic is a fault: a decoding library's is caught and becomes an error.
static SAID: Mutex<String> = Mutex::new(String::new());

libfuzzer_sys::fuzz_target!(
    init: set_hook(Box::new(|panic| {
        let trace = std::backtrace::Backtrace::capture();
        SAID.lock().unwrap_or_else(PoisonError::into_inner).push_str(&format!("{panic}\n{trace}\n"));
    })),
    |bytes: &[u8]| {
        SAID.lock().unwrap_or_else(PoisonError::into_inner).clear();
        if catch_unwind(|| CHOSEN(bytes)).is_err() {
            eprintln!("{}", SAID.lock().unwrap_or_else(PoisonError::into_inner));
            std::process::abort();
        }
    }
);

//! What is told of a panic: its place, and nothing else.
//! Takes nothing; from then on a panic prints file and line of the program. Its message is left out: Rust's own messages quote the
//! text that was cut wrongly, and that may be a narration. Leaves alone what becomes of the thread.
//!
//! "error: a fault of the program itself, at src/reading/clauses.rs:12; ..."

use std::panic::{Location, set_hook};

use super::output;

/// Tells places of panics, and not their messages. Panics of libraries that are caught (`audio`) are told as well.
#[doc(hidden)]
pub fn tell_places_of_panics_alone() {
    set_hook(Box::new(|panic| {
        let place = panic.location().map_or_else(|| "an unknown place".to_owned(), Location::to_string);
        output::say(&format!("error: a fault of the program itself, at {place}; what was put in the store is safe"));
    }));
}

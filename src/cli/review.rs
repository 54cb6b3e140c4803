//! The command `review`.
//! Takes a store and, if one is named, a record; serves the page on the loopback address until it is stopped, and prints the
//! secret address that opens it. Leaves alone what the page shows (`page`).
//!
//! `spoken-exam review 018bcfe5-6800` prints `http://127.0.0.1:40123/open/…#/018bcfe5-6800-7…`

use std::sync::Arc;

use anyhow::{Context, Result};

use super::args::ReviewArgs;
use super::{Outcome, output, store};
use crate::lexicon::Lexicon;
use crate::page::{self, Desk, Stop};
use crate::record::Person;

/// Serves the page.
pub(super) fn run(args: &ReviewArgs) -> Result<Outcome> {
    let by = match (&args.by, &args.role) {
        (Some(name), Some(role)) => Some(Person::new(name, role).context("cannot name the reviewer")?),
        _ => None,
    };
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let store = store::open(&args.store)?;
    let fragment = match &args.record {
        Some(id) => format!("#/{}", store.find(id)?),
        None => String::new(),
    };
    let (listener, port) = page::listen(args.port)?;
    let desk = Desk::new(store, lexicon, port)?.with_own_lexicon(args.lexicon.laid_over.clone()).with_reviewer(by);
    let stop = Stop::default();
    let stopped = stop.clone();
    ctrlc::set_handler(move || stopped.now()).context("cannot watch for Ctrl-C")?;
    output::print(&format!("{}{fragment}\n", desk.address()))?;
    output::say(
        "Open this address in a browser of this machine. Whoever has it may decide and sign: keep it to yourself.",
    );
    output::say("Ctrl-C ends the page; what was decided is kept.");
    page::serve(listener, Arc::new(desk), &stop)?;
    Ok(Outcome::Done)
}

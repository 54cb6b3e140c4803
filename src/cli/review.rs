//! The command `review`.
//! Takes a store and, if one is named, a record; serves the page on the loopback address until it is stopped, and prints the
//! secret address that opens it. Leaves alone what the page shows (`page`).
//!
//! `spoken-exam review 018bcfe5-6800` prints `http://127.0.0.1:40123/open/…#/018bcfe5-6800-7…`

use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context, Result};

use super::args::{HearingArgs, ReviewArgs};
use super::{Outcome, lexicon, listen, output, stop, store};
use crate::lexicon::Lexicon;
use crate::page::{self, Desk, Stop};
use crate::record::Person;
use crate::store::Store;

/// Serves the page.
pub(super) fn run(args: &ReviewArgs) -> Result<Outcome> {
    let by = match (&args.by, &args.role) {
        (Some(name), Some(role)) => Some(Person::new(name, role).context("cannot name the reviewer")?),
        _ => None,
    };
    let lexicon = lexicon::load_with(args.lexicon.laid_over.as_deref(), args.attention.as_deref())?;
    // Whoever begins with a dictation has no store yet; a folder that was named, or a record, must be there.
    let store = match (&args.store.folder, &args.record) {
        (None, None) => store::open_or_make(None, args.store.passphrase_file.as_deref())?,
        _ => store::open(&args.store)?,
    };
    let record = args.record.as_deref().map(|id| store.find(id)).transpose()?;
    let (own_lexicon, hearing) = (args.lexicon.laid_over.clone(), args.hearing.clone());
    serve(store, lexicon.into(), &Served { own_lexicon, by, port: args.port, record, hearing })
}

/// What is served, and to whom.
pub(super) struct Served {
    /// The folder of phrases that is laid over the built-in ones.
    pub(super) own_lexicon: Option<PathBuf>,
    /// Who is going to decide.
    pub(super) by: Option<Person>,
    /// The port; 0 for one that is free.
    pub(super) port: u16,
    /// The record that is opened; none for the list.
    pub(super) record: Option<String>,
    /// How a dictation hears.
    pub(super) hearing: HearingArgs,
}

/// Serves the page until Ctrl-C.
pub(super) fn serve(store: Store, lexicon: Arc<Lexicon>, served: &Served) -> Result<Outcome> {
    let fragment = served.record.as_ref().map(|id| format!("#/{id}")).unwrap_or_default();
    let (listener, port) = page::listen(served.port)?;
    let desk =
        Desk::new(store, lexicon, port)?.with_own_lexicon(served.own_lexicon.clone()).with_reviewer(served.by.clone());
    let desk = desk.with_dictation(listen::dictation(served.hearing.clone()));
    let stop = Stop::default();
    let stopped = stop.clone();
    stop::at_each(move || stopped.now())?;
    output::print(&format!("{}{fragment}\n", desk.address()))?;
    output::say(
        "Open this address in a browser of this machine. Whoever has it may decide and sign: keep it to yourself.",
    );
    output::say("Ctrl-C ends the page; what was decided is kept.");
    page::serve(listener, Arc::new(desk), &stop)?;
    Ok(Outcome::Done)
}

//! What stands beside the phrases: rules for what is reckoned from a record, and codes for its interchange.
//! Takes the files that say so; gives them compiled, and every fault. Leaves alone what rules come to (`computed`).
//!
//! `codes.toml` gives the code of an item in an open terminology, where one was verified

use crate::lexicon::codes::Codes;
use crate::lexicon::compile::Item;
use crate::lexicon::load::{Entries, Fault, Source};
use crate::lexicon::rules::Rules;

/// Rules and codes.
#[derive(Debug, Clone, Default)]
pub struct Beside {
    /// Codes of items for interchange.
    pub codes: Codes,
    /// Rules for what is reckoned and what is worth a second look.
    pub rules: Rules,
}

impl Beside {
    /// Of the lexicon's files; faults are added to `faults`.
    pub(super) fn new(entries: &Entries, items: &[Item], faults: &mut Vec<Fault>) -> Self {
        let codes = Codes::new(named(entries, "codes.toml"), items, faults);
        let rules = Rules::new(|name| named(entries, name).collect(), items, faults);
        Self { codes, rules }
    }
}

// The files of this name, whatever folder they lie in.
fn named<'a>(entries: &'a Entries, name: &'a str) -> impl Iterator<Item = &'a Source> {
    entries.beside.iter().filter(move |source| source.file.rsplit('/').next() == Some(name))
}

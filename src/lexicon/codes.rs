//! Codes of items for interchange, as `codes.toml` files declare them.
//! Takes those files and the items; gives codes, and every fault. Leaves alone the form of an exchange (`export`).
//!
//! `[head-circumference]` with `loinc = "9843-4"` gives that code for that item

use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source};

/// Codes of items.
#[derive(Debug, Clone, Default)]
pub struct Codes {}

impl Codes {
    /// Of these files, a later one taking precedence; faults are added to `faults`.
    pub(super) fn new<'a>(_files: impl Iterator<Item = &'a Source>, _items: &[Item], _faults: &mut Vec<Fault>) -> Self {
        Self {}
    }
}

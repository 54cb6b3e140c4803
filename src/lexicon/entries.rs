//! What the lexicon's files may declare, entry by entry.
//! Takes nothing; the shapes of the entries, as TOML has them. Leaves alone where they stand (`load`) and what they mean
//! beside others (`compile`).
//!
//! `[scarf-sign]` with `names`, `body` and `values` is an [`ItemEntry`]

use std::collections::BTreeMap;

use serde::Deserialize;

/// An item or a group of items, as declared.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ItemEntry {
    /// How the record shows it.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// `paired` or `single`.
    pub sides: SidesEntry,
    /// Units, the first of which is the item's own.
    #[serde(default)]
    pub units: Vec<String>,
    /// Units that say the item by themselves ("six beats").
    #[serde(default)]
    pub unit_alone: Vec<String>,
    /// Units that say the item while only the infant has been spoken of ("a girl, thirty hours").
    #[serde(default)]
    pub unit_at_start: Vec<String>,
    /// Limits in the item's own unit; outside them a value is flagged.
    pub plausible: Option<[f64; 2]>,
    /// Values that general words stand for.
    #[serde(default)]
    pub general: BTreeMap<String, String>,
    /// Items that a statement about this group is written for.
    #[serde(default)]
    pub members: Vec<String>,
    /// Whether it is told as history ("born at thirty-six weeks") and counts all the same.
    #[serde(default)]
    pub told_as_history: bool,
    /// Whether several values may stand, each with its time.
    #[serde(default)]
    pub keeps_all: bool,
    /// Phrases that say the item.
    #[serde(default)]
    pub names: Vec<String>,
    /// Phrases that say this item or a neighbour.
    #[serde(default)]
    pub shared: Vec<String>,
    /// The manoeuvre, told by what is done.
    #[serde(default)]
    pub done_by: Vec<String>,
    /// Parts of the body.
    #[serde(default)]
    pub body: Vec<String>,
    /// Values by id.
    #[serde(default)]
    pub values: BTreeMap<String, ValueEntry>,
}

/// Whether left and right are found apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SidesEntry {
    /// Left and right are two findings.
    Paired,
    /// One finding.
    Single,
}

/// A value with its phrases.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ValueEntry {
    /// Say item and value.
    #[serde(default)]
    pub alone: Vec<String>,
    /// Say the value of the item named or in progress.
    #[serde(default)]
    pub say: Vec<String>,
    /// Everyday words: only right beside the item.
    #[serde(default)]
    pub loose: Vec<String>,
    /// The value that denying this one means.
    pub denied: Option<String>,
    /// Utterances with what they must give.
    #[serde(default)]
    pub takes: Vec<String>,
    /// Utterances that must give nothing.
    #[serde(default)]
    pub skips: Vec<String>,
}

/// A family of words of the language.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CueEntry {
    /// Its phrases.
    pub says: Vec<String>,
}

/// A mishearing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MisheardEntry {
    /// What the recogniser wrote.
    pub heard: String,
    /// What was said.
    pub said: String,
    /// Where it was met.
    pub met: String,
}

/// A phrase without meaning.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeverEntry {
    /// The phrase.
    pub phrase: String,
    /// Why it must not be matched.
    pub because: String,
}

/// The attention word, as declared.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AttentionEntry {
    /// The word, or two.
    pub word: Option<String>,
    /// What recognisers write for it.
    #[serde(default)]
    pub heard: Vec<String>,
    /// What may stand before it.
    #[serde(default)]
    pub before: Vec<String>,
    /// What may stand around the phrase behind it.
    #[serde(default)]
    pub around: Vec<String>,
}

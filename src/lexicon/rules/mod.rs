//! Rules for what is reckoned from a record and what may be worth a second look: `computed.toml`, `usual.csv`, `prompts.toml`.
//! Takes those files and the items; gives rules whose items and values all exist, and every fault with file and line. A file of
//! a user's folder adds rules, takes the place of those with the same id, and switches rules off. Leaves alone infants.
//! Files, in reading order: `conditions` `usual` `prompts` `reckoning`.
//!
//! the row `e034` says that an angle over 120° is worth a second look from 38 weeks on in an infant born at term

mod conditions;
mod prompts;
mod reckoning;
mod usual;

pub use conditions::{Condition, OfItem};
pub use prompts::{PromptRule, Sentences};
pub use reckoning::{Reckoning, SizeNote, SizeRule, StateRule};
pub use usual::{Born, UsualRule};

use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source};

/// Everything that the files say.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rules {
    /// Which items say age, sex, size and state.
    pub reckoning: Reckoning,
    /// What is usual at which age.
    pub usual: Vec<UsualRule>,
    /// What commonly warrants a senior's look.
    pub prompts: Vec<PromptRule>,
    /// The sentences of prompts.
    pub sentences: Sentences,
    /// Ids of rules that somebody switched off.
    pub off: Vec<String>,
}

/// How sure the source of a rule is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// The paper's abstract was read.
    VerifiedAbstract,
    /// Another publication that reports it was read.
    VerifiedSecondary,
    /// Reckoned from a published scale.
    Derived,
    /// Nobody looked it up.
    FromMemory,
    /// Common practice, no source.
    CommonPractice,
}

impl Status {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::VerifiedAbstract, Self::VerifiedSecondary, Self::Derived, Self::FromMemory, Self::CommonPractice];

    /// Its name in the data.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::VerifiedAbstract => "verified-abstract",
            Self::VerifiedSecondary => "verified-secondary",
            Self::Derived => "derived",
            Self::FromMemory => "from-memory",
            Self::CommonPractice => "common-practice",
        }
    }

    /// What must stand beside it; nothing where a publication says it.
    #[must_use]
    pub fn mark(self) -> Option<&'static str> {
        match self {
            Self::VerifiedAbstract | Self::VerifiedSecondary => None,
            Self::Derived => Some("inferred"),
            Self::FromMemory => Some("from memory"),
            Self::CommonPractice => Some("common practice, no source"),
        }
    }

    fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|status| status.name() == name)
    }
}

/// How pressing a prompt is, most pressing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Commonly reviewed by a senior at once.
    Now,
    /// Commonly reviewed by a senior promptly.
    Soon,
    /// A local pathway of its own.
    Pathway,
    /// Commonly looked at again.
    Recheck,
}

impl Level {
    /// All of them, most pressing first.
    pub const ALL: [Self; 4] = [Self::Now, Self::Soon, Self::Pathway, Self::Recheck];

    /// Its name in the data.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Now => "now",
            Self::Soon => "soon",
            Self::Pathway => "pathway",
            Self::Recheck => "recheck",
        }
    }

    fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|level| level.name() == name)
    }
}

/// Where a rule is from, and how sure that is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cited {
    /// Its id: `e034`.
    pub rule: String,
    /// Its source.
    pub source: String,
    /// How sure.
    pub status: Status,
}

impl Rules {
    /// Of these files, in their order; faults are added to `faults`.
    pub(super) fn new<'a>(
        named: impl Fn(&'static str) -> Vec<&'a Source>,
        items: &[Item],
        faults: &mut Vec<Fault>,
    ) -> Self {
        let mut rules = Self::default();
        for source in named("computed.toml") {
            keep(rules.read_reckoning(source, items), faults);
        }
        for source in named("usual.csv") {
            rules.read_usual(source, items, faults);
        }
        for source in named("prompts.toml") {
            rules.read_prompts(source, items, faults);
        }
        let off = std::mem::take(&mut rules.off);
        rules.usual.retain(|rule| !off.contains(&rule.cited.rule));
        rules.prompts.retain(|rule| !off.contains(&rule.cited.rule));
        rules.off = off;
        rules
    }
}

fn keep(read: Result<(), Vec<Fault>>, faults: &mut Vec<Fault>) {
    if let Err(found) = read {
        faults.extend(found);
    }
}

/// The item with this id, if it is one and no group.
fn item_with<'a>(items: &'a [Item], id: &str) -> Result<&'a Item, String> {
    let known = items.iter().find(|item| item.id == id && item.members.is_empty());
    known.ok_or_else(|| format!("`{id}` is not an item; see the ids in the other files"))
}

#[cfg(test)]
mod tests;

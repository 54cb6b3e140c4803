//! The value of the reading: statements, each one thing said about one item.
//! Values only. Leaves alone how they are found (`reader`) and what they come to together (`findings`).
//!
//! "no clonus on the left, I think" is ankle-clonus, left, absent, observed, hedged

use crate::lexicon::{How, ItemIx};
use crate::reading::stance::Stance;
use crate::reading::values::{Told, Value};
use crate::span::Span;

/// The side of a statement or finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// The infant's left.
    Left,
    /// The infant's right.
    Right,
    /// Both sides.
    Both,
    /// A paired item whose side was not said.
    Unstated,
    /// An item without sides.
    None,
}

impl Side {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Left, Self::Right, Self::Both, Self::Unstated, Self::None];

    /// Its name in records and in the corpus.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Both => "both",
            Self::Unstated => "unstated",
            Self::None => "none",
        }
    }

    /// The other of left and right; anything else stays.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            other => other,
        }
    }
}

/// The words that a statement rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The whole stretch: item, value and side, as far as they stand in one sentence.
    pub quote: Span,
    /// Where the item was told, if in this sentence.
    pub item: Option<Span>,
    /// Where the value was said.
    pub value: Span,
    /// Where the side was said.
    pub sides: Vec<Span>,
    /// How the least sure of these was recognised.
    pub how: How,
    /// How the item was told.
    pub told: Told,
}

/// Why a finding needs the reviewer's eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reason {
    /// The words were heard unclearly, or only sound like those of the lexicon.
    HeardUnclearly,
    /// The item was guessed from a part of the body or from what went long before.
    ItemUncertain,
    /// The value could be another one.
    ValueUncertain,
    /// A paired item without a side.
    SideUnstated,
    /// Said twice with different values, without a word of correction.
    SaidTwiceDifferently,
    /// A number outside what is plausible.
    OutsideLimits,
    /// The examiner was not sure.
    Hedged,
}

impl Reason {
    /// All reasons, in the order in which they are shown.
    pub const ALL: [Self; 7] = [
        Self::HeardUnclearly,
        Self::ItemUncertain,
        Self::ValueUncertain,
        Self::SideUnstated,
        Self::SaidTwiceDifferently,
        Self::OutsideLimits,
        Self::Hedged,
    ];

    /// Its plain words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::HeardUnclearly => "heard unclearly",
            Self::ItemUncertain => "item uncertain",
            Self::ValueUncertain => "value uncertain",
            Self::SideUnstated => "side unstated",
            Self::SaidTwiceDifferently => "said twice differently",
            Self::OutsideLimits => "outside plausible limits",
            Self::Hedged => "hedged",
        }
    }
}

/// One thing said about one item.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    /// The item.
    pub item: ItemIx,
    /// The side.
    pub side: Side,
    /// The value.
    pub value: Value,
    /// What kind of speech it was.
    pub stance: Stance,
    /// "I think", "probably".
    pub hedged: bool,
    /// "about", "roughly".
    pub approx: bool,
    /// Said of a group that the item belongs to.
    pub by_group: bool,
    /// Said by a general word ("good", "fine") that a specific value outweighs.
    pub general: bool,
    /// A word of correction or a repeat stands before it.
    pub corrects: bool,
    /// Words around it, or its item's name, may have been misheard without a trace.
    pub heard_poorly: bool,
    /// The words it rests on.
    pub because: Evidence,
    /// Reasons for doubt known from the words alone.
    pub reasons: Vec<Reason>,
}

impl Statement {
    /// Takes in a reason for doubt, once.
    pub(super) fn doubt(&mut self, reason: Reason) {
        if !self.reasons.contains(&reason) {
            self.reasons.push(reason);
        }
    }
}

//! What a reviewer does with a draft, as values.
//! Takes and gives values only: a wish, the entry that it becomes with who, when and what its author had seen, and why a wish
//! is refused. Leaves alone how wishes are checked and what entries come to (`review`).
//!
//! "Finding 3 is on the right" is a wish; checked, it is entry 7 by A. Examiner, registrar

use std::fmt;

use thiserror::Error;

use crate::reading::Side;
use crate::record::person::{Moment, Person};
use crate::record::stated::{NotStated, Stated};

/// Which finding: one of the draft, or one that was added by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FindingId {
    /// Its number in [`all_findings`](crate::record::DraftRecord::all_findings), from 1.
    Drafted(u64),
    /// The number of the entry that added it.
    Added(u64),
}

impl FindingId {
    /// It as programs write it: `d3` of the draft, `a17` added by entry 17.
    #[must_use]
    pub fn written(self) -> String {
        match self {
            Self::Drafted(number) => format!("d{number}"),
            Self::Added(entry) => format!("a{entry}"),
        }
    }
}

impl fmt::Display for FindingId {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Drafted(number) => write!(out, "finding {number}"),
            Self::Added(entry) => write!(out, "the finding that entry {entry} added"),
        }
    }
}

/// What is wanted, not checked yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wish {
    /// The finding is right as drafted.
    Confirm(FindingId),
    /// It has another value, another side, or both; what is not given stays.
    Change {
        /// Which.
        finding: FindingId,
        /// The side it has.
        side: Option<Side>,
        /// The value it has, as records write it.
        value: Option<String>,
        /// Whether it is "about" so.
        approx: Option<bool>,
    },
    /// It was not found.
    Reject(FindingId),
    /// Something was found that the draft lacks, or was not tested.
    Add {
        /// Id of the item.
        item: String,
        /// left or right for a paired item, none for another.
        side: Side,
        /// The value, as records write it.
        value: String,
        /// Whether it is "about" so.
        approx: bool,
    },
    /// The entry with this number does not hold any more.
    Undo(u64),
}

/// What an entry does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decision {
    /// The finding is right as drafted.
    Confirm(FindingId),
    /// It is this instead.
    Change(FindingId, Stated),
    /// It was not found.
    Reject(FindingId),
    /// This was found as well.
    Add(Stated),
    /// The entry with this number does not hold any more.
    Undo(u64),
}

/// A wish that was checked, with who and when. Never altered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its number in the record, from 1, without a gap.
    pub number: u64,
    /// The number of the last entry its author had seen; 0 for none.
    pub seen: u64,
    /// Who.
    pub by: Person,
    /// When.
    pub at: Moment,
    /// What.
    pub decision: Decision,
}

/// Who wishes something, when, and what they had seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Author {
    /// Who.
    pub by: Person,
    /// When.
    pub at: Moment,
    /// The number of the last entry they had seen; 0 for none.
    pub seen: u64,
}

/// Why a wish is refused. Nothing is changed by it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Refused {
    /// Somebody else decided the same finding in between.
    #[error(
        "{finding} was decided in between: entry {} by {} says {now}; look at it and decide again",
        since.number,
        since.by
    )]
    AskedAgain {
        /// Which finding.
        finding: FindingId,
        /// The last entry about it.
        since: Box<Entry>,
        /// What stands there now.
        now: String,
    },
    /// There is no such finding.
    #[error("{finding} is not there; the draft has {drafted}, and what is added has the number of its entry")]
    NoFinding {
        /// Which was named.
        finding: FindingId,
        /// How many the draft has.
        drafted: u64,
    },
    /// A decision stands already.
    #[error("{finding} is decided already: entry {entry} says {now}; undo entry {entry} first, or change or reject it")]
    Decided {
        /// Which finding.
        finding: FindingId,
        /// The entry that stands.
        entry: u64,
        /// What stands there now.
        now: String,
    },
    /// A change to what it is.
    #[error("{finding} is {now} already; confirm it, or name another value or side")]
    SameAsBefore {
        /// Which finding.
        finding: FindingId,
        /// What stands there now.
        now: String,
    },
    /// There is no such entry, or none that can be undone.
    #[error("entry {entry} cannot be undone: {because}")]
    NotUndone {
        /// The entry.
        entry: u64,
        /// Why.
        because: String,
    },
    /// The author cannot have seen that.
    #[error("entry {seen} cannot have been seen: the last one is {last}")]
    SeenTooMuch {
        /// What the author says.
        seen: u64,
        /// The last entry.
        last: u64,
    },
    /// The item, side or value is none of the lexicon's.
    #[error(transparent)]
    NotStated(#[from] NotStated),
}

impl Decision {
    /// What it did, in a word.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Confirm(_) => "confirmed",
            Self::Change(..) => "changed",
            Self::Reject(_) => "rejected",
            Self::Add(_) => "added",
            Self::Undo(_) => "undone",
        }
    }
}

impl Entry {
    /// The finding that an entry decides; an undo decides none.
    #[must_use]
    pub fn finding(&self) -> Option<FindingId> {
        match &self.decision {
            Decision::Confirm(finding) | Decision::Change(finding, _) | Decision::Reject(finding) => Some(*finding),
            Decision::Add(_) => Some(FindingId::Added(self.number)),
            Decision::Undo(_) => None,
        }
    }
}

/// What is stated, in one line.
#[must_use]
pub fn said(stated: Option<&Stated>) -> String {
    let Some(stated) = stated else { return "rejected".to_owned() };
    let side = if stated.side == Side::None { "" } else { stated.side.name() };
    let about = if stated.approx { "about" } else { "" };
    let words = [stated.item.as_str(), side, about, stated.value.as_str()];
    words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

//! A reviewed draft → a signed record.
//! Takes a review and who signs it when; gives a record if nothing is undecided. A signed record is never altered: an
//! amendment is a new version, with a reason and further decisions, that names the one before. Only these functions make one.
//! Leaves alone where it is kept and what proves that nobody altered it there (`store`).
//!
//! a review with one undecided finding gives no record, but the name of that finding

use thiserror::Error;

use crate::lexicon::Lexicon;
use crate::reading::{Reason, Side};
use crate::record::decisions::{Decision, Entry, FindingId, said};
use crate::record::draft::{CONTEXT_REGION, DraftFinding, DraftRecord, Figures};
use crate::record::person::{Moment, Person};
use crate::record::review::{Review, Standing};

/// What somebody has signed.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedRecord {
    version: u32,
    review: Review,
    findings: Vec<SignedFinding>,
    signer: Person,
    at: Moment,
    reason: Option<String>,
}

/// A finding that somebody stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedFinding {
    /// Which of the review it is.
    pub finding: FindingId,
    /// Id of the item.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// left, right or none; unstated where that was confirmed.
    pub side: Side,
    /// The value as the lexicon or a unit writes it.
    pub value: String,
    /// The number in it, where it is one.
    pub figures: Option<Figures>,
    /// "about".
    pub approx: bool,
    /// The examiner was not sure, and it was confirmed as said.
    pub hedged: bool,
    /// It was said of a group, and it was confirmed as said.
    pub by_group: bool,
    /// The entry that decided it.
    pub decided: Entry,
    /// What the draft said, with the words it rests on; `None` where it was added by hand.
    pub drafted: Option<DraftFinding>,
}

impl SignedFinding {
    /// Whether it tells whose record it is rather than what was found.
    #[must_use]
    pub fn is_context(&self) -> bool {
        self.region == CONTEXT_REGION
    }
}

/// Why a review cannot be signed. There may be several reasons; all are told.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Undecided {
    /// Nobody decided a finding.
    #[error("{finding} is undecided: {drafted}{}", why(reasons))]
    Finding {
        /// Which.
        finding: FindingId,
        /// What the draft says.
        drafted: String,
        /// Why it needs the eye.
        reasons: Vec<Reason>,
    },
    /// Two findings about one item and side would stand, one of them made by hand.
    #[error("{one} and {other} both stand ({one_says}; {other_says}); change or reject one of them")]
    Twice {
        /// One of them.
        one: FindingId,
        /// What it says.
        one_says: String,
        /// The other.
        other: FindingId,
        /// What it says.
        other_says: String,
    },
    /// An amendment without a reason.
    #[error("no reason was given; an amendment says why it is made, in one line")]
    NoReason,
    /// An amendment that amends nothing.
    #[error("nothing was decided since version {version} was signed; decide first, then amend")]
    NothingNew {
        /// The version that stands.
        version: u32,
    },
    /// The review is of another draft, or lacks decisions that were signed.
    #[error("this review does not go on from version {version}; amend the record that was signed")]
    AnotherReview {
        /// The version that stands.
        version: u32,
    },
}

fn why(reasons: &[Reason]) -> String {
    let words: Vec<&str> = reasons.iter().map(|reason| reason.words()).collect();
    if words.is_empty() { String::new() } else { format!(" ({})", words.join(", ")) }
}

/// Signs a review for the first time.
///
/// # Errors
/// If anything is undecided; all of it is named.
pub fn sign(lexicon: &Lexicon, review: &Review, by: &Person, at: Moment) -> Result<SignedRecord, Vec<Undecided>> {
    let open = [undecided(review), twice(lexicon, review)].concat();
    if open.is_empty() { Ok(SignedRecord::of(review, 1, by, at, None)) } else { Err(open) }
}

/// Signs further decisions about a record that was signed, as a new version. The old one stays as it is.
///
/// # Errors
/// If anything is undecided, if there is no reason, or if nothing was decided since.
pub fn amend(
    lexicon: &Lexicon,
    signed: &SignedRecord,
    review: &Review,
    (by, at): (&Person, Moment),
    reason: &str,
) -> Result<SignedRecord, Vec<Undecided>> {
    let version = signed.version;
    let mut open = [undecided(review), twice(lexicon, review)].concat();
    let reason = reason.trim();
    if reason.is_empty() || reason.contains(char::is_control) {
        open.push(Undecided::NoReason);
    }
    if review.up_to(signed.review.last()) != signed.review {
        open.push(Undecided::AnotherReview { version });
    } else if review.last() == signed.review.last() {
        open.push(Undecided::NothingNew { version });
    }
    if !open.is_empty() {
        return Err(open);
    }
    Ok(SignedRecord::of(review, version + 1, by, at, Some(reason.to_owned())))
}

fn undecided(review: &Review) -> Vec<Undecided> {
    let open = review.undecided().into_iter().map(|standing| Undecided::Finding {
        finding: standing.finding,
        drafted: said(standing.stands.as_ref()),
        reasons: standing.drafted.map(|drafted| drafted.reasons.clone()).unwrap_or_default(),
    });
    open.collect()
}

// Two sides that were exchanged are two changes, of which the first alone would stand beside what is still to be changed. So
// this is asked when signing and not before. What the draft itself has twice (an item that keeps all) may stand.
fn twice(lexicon: &Lexicon, review: &Review) -> Vec<Undecided> {
    let keeps_all = |item: &str| lexicon.item_named(item).is_some_and(|item| item.keeps_all);
    let by_hand = |standing: &Standing<'_>| {
        standing.decided.is_some_and(|entry| matches!(entry.decision, Decision::Change(..) | Decision::Add(_)))
    };
    let standings = review.standings();
    let mut found = Vec::new();
    for (at, one) in standings.iter().enumerate() {
        for other in standings.iter().skip(at + 1) {
            let (Some(first), Some(second)) = (&one.stands, &other.stands) else { continue };
            let same = (&first.item, first.side) == (&second.item, second.side);
            let differs = !keeps_all(&first.item) || first.value == second.value;
            if same && differs && (by_hand(one) || by_hand(other)) {
                found.push(Undecided::Twice {
                    one: one.finding,
                    one_says: said(Some(first)),
                    other: other.finding,
                    other_says: said(Some(second)),
                });
            }
        }
    }
    found
}

impl SignedRecord {
    /// A version that was signed before, read back. Everything must have been decided.
    ///
    /// # Errors
    /// If something is undecided, which no signed record is.
    pub fn recorded(
        review: &Review,
        version: u32,
        (by, at): (&Person, Moment),
        reason: Option<String>,
    ) -> Result<Self, Vec<Undecided>> {
        let open = undecided(review);
        if open.is_empty() { Ok(Self::of(review, version, by, at, reason)) } else { Err(open) }
    }

    fn of(review: &Review, version: u32, by: &Person, at: Moment, reason: Option<String>) -> Self {
        let standings = review.standings();
        let findings = standings.iter().filter_map(|standing| signed_finding(review.draft(), standing)).collect();
        Self { version, review: review.clone(), findings, signer: by.clone(), at, reason }
    }

    /// 1 for the record as first signed, one more for each amendment.
    #[must_use]
    pub fn version(&self) -> u32 {
        self.version
    }

    /// The version that this one amends.
    #[must_use]
    pub fn predecessor(&self) -> Option<u32> {
        self.version.checked_sub(1).filter(|version| *version > 0)
    }

    /// The review that was signed: the draft with every decision that the signature covers.
    #[must_use]
    pub fn review(&self) -> &Review {
        &self.review
    }

    /// The draft that was reviewed.
    #[must_use]
    pub fn draft(&self) -> &DraftRecord {
        self.review.draft()
    }

    /// Every decision that was signed, in order.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        self.review.entries()
    }

    /// What was found, context first, in the draft's order; what was added by hand stands last.
    #[must_use]
    pub fn findings(&self) -> &[SignedFinding] {
        &self.findings
    }

    /// What the draft had and a person rejected, with the entry that did.
    #[must_use]
    pub fn rejected(&self) -> Vec<Standing<'_>> {
        self.review.standings().into_iter().filter(|standing| standing.stands.is_none()).collect()
    }

    /// Who signed it.
    #[must_use]
    pub fn signer(&self) -> &Person {
        &self.signer
    }

    /// When.
    #[must_use]
    pub fn at(&self) -> Moment {
        self.at
    }

    /// Why it was amended; `None` for version 1.
    #[must_use]
    pub fn reason(&self) -> Option<&str> {
        self.reason.as_deref()
    }
}

fn signed_finding(draft: &DraftRecord, standing: &Standing<'_>) -> Option<SignedFinding> {
    let stated = standing.stands.clone()?;
    let decided = standing.decided?.clone();
    let drafted = standing.drafted;
    let as_said = drafted.filter(|drafted| drafted.value == stated.value);
    // An item that came into the lexicon later goes by its id.
    let (name, region) = draft.name_and_region(&stated.item).unwrap_or((&stated.item, ""));
    let (name, region) = (name.to_owned(), region.to_owned());
    Some(SignedFinding {
        finding: standing.finding,
        name,
        region,
        item: stated.item,
        side: stated.side,
        value: stated.value,
        figures: stated.figures,
        approx: stated.approx,
        hedged: as_said.is_some_and(|drafted| drafted.hedged),
        by_group: as_said.is_some_and(|drafted| drafted.by_group),
        decided,
        drafted: drafted.cloned(),
    })
}

#[cfg(test)]
mod tests;

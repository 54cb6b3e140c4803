//! What stands in a review: the findings that anything is reckoned from.
//! Takes a review (of a draft, or of what was signed); gives what stands, rejected findings left out. Leaves alone who decided.
//!
//! a finding that was changed to the right side stands on the right

use crate::lexicon::Lexicon;
use crate::lexicon::compile::OPEN_VALUES;
use crate::reading::Side;
use crate::record::words::{plain_value, side_words};
use crate::record::{Figures, FindingId, Review};
use crate::span::Span;

/// A finding that stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Which.
    pub finding: FindingId,
    /// Its item's id.
    pub item: String,
    /// Its item's name for people.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// left, right, none or unstated.
    pub side: Side,
    /// Its value as records write it.
    pub value: String,
    /// The number in it.
    pub figures: Option<Figures>,
    /// "about".
    pub approx: bool,
    /// Said with doubt.
    pub hedged: bool,
    /// Whether somebody decided it.
    pub decided: bool,
    /// Whether it needs the eye, and nobody has decided it.
    pub unclear: bool,
    /// Whether nobody said it: it was added or changed by hand.
    pub by_hand: bool,
    /// Where it was said.
    pub place: Option<Span>,
}

impl Held {
    /// It for people: "scarf sign left past midline".
    #[must_use]
    pub fn words(&self) -> String {
        let words = [self.name.as_str(), side_words(self.side), self.value_words().as_str()].map(str::to_owned);
        words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
    }

    /// Its value for people: "about 95°".
    #[must_use]
    pub fn value_words(&self) -> String {
        let value = plain_value(&self.value, self.figures.as_ref());
        if self.approx { format!("about {value}") } else { value }
    }

    /// Whether something was found out: it was tested, and something was elicited.
    #[must_use]
    pub fn is_result(&self) -> bool {
        !matches!(self.value.as_str(), "not-tested" | "not-elicited")
    }

    /// Whether it says more than normal or abnormal.
    #[must_use]
    pub fn is_specific(&self) -> bool {
        !OPEN_VALUES.contains(&self.value.as_str())
    }
}

/// What stands in a review, in its order.
#[must_use]
pub fn held(lexicon: &Lexicon, review: &Review) -> Vec<Held> {
    let standing = review.standings().into_iter().filter_map(|standing| {
        let stated = standing.stands?;
        let (name, region) = review.draft().name_and_region_by(lexicon, &stated.item);
        let as_said = standing.drafted.filter(|drafted| drafted.value == stated.value && drafted.side == stated.side);
        Some(Held {
            finding: standing.finding,
            name: name.to_owned(),
            region: region.to_owned(),
            hedged: as_said.is_some_and(|drafted| drafted.hedged),
            decided: standing.decided.is_some(),
            unclear: standing.decided.is_none() && standing.drafted.is_some_and(|drafted| !drafted.is_clear()),
            by_hand: as_said.is_none(),
            place: standing.drafted.map(|drafted| drafted.proof.quote.span),
            item: stated.item,
            side: stated.side,
            value: stated.value,
            figures: stated.figures,
            approx: stated.approx,
        })
    });
    standing.collect()
}

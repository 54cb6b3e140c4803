//! Whether what stands meets a rule's conditions.
//! Takes conditions about an item and what stands; gives the findings that meet one. "normal", "not tested" and "not elicited"
//! meet none: they never make anybody look again. Leaves alone rules and ages.
//!
//! `sides-differ>=20deg` is met by 90° left and 110° right

use super::Size;
use super::amounts::Extent;
use super::held::Held;
use crate::lexicon::rules::Condition;
use crate::reading::Side;
use crate::record::{Figures, FindingId};

/// What conditions are held against.
pub(super) struct Facts<'a> {
    pub(super) held: &'a [Held],
    pub(super) sizes: &'a [Size],
}

impl Facts<'_> {
    /// What stands of an item.
    fn of(&self, item: &str) -> impl Iterator<Item = &Held> {
        self.held.iter().filter(move |held| held.item == item)
    }

    /// The findings of an item that meet one of the conditions, in the record's order, none twice. `expected` is what is usual of
    /// it: sides of which both are usual do not differ where one of them is told in other words.
    pub(super) fn met(&self, item: &str, any: &[Condition], expected: &[Condition]) -> Vec<FindingId> {
        let mut met: Vec<FindingId> = Vec::new();
        for condition in any {
            let found = match condition {
                Condition::SidesDiffer(by) => self.sides(item, *by, expected),
                Condition::Only(value) if self.of(item).any(|held| held.value != *value) => Vec::new(),
                condition => {
                    self.of(item).filter(|held| self.meets(held, condition)).map(|held| held.finding).collect()
                }
            };
            met.extend(found);
        }
        met.sort_unstable();
        met.dedup();
        met
    }

    /// Whether what stands is one of these; `None` where that cannot be told.
    pub(super) fn is_one_of(&self, held: &Held, any: &[Condition]) -> Option<bool> {
        if !held.is_specific() {
            return None;
        }
        // "4 beats" is neither "absent" nor "unsustained" in so many words.
        let of_words =
            |condition: &Condition| matches!(condition, Condition::Value(_) | Condition::Only(_) | Condition::Not(_));
        let mut unsure = held.figures.is_some() && any.iter().all(of_words);
        for condition in any {
            let within = match condition {
                Condition::Within(from, to, unit) => {
                    extent(held, unit).map_or(Some(false), |it| it.is_within(*from, *to))
                }
                Condition::ZWithin(..) if self.z(held).is_none() => None,
                condition => Some(self.meets(held, condition)),
            };
            match within {
                Some(true) => return Some(true),
                Some(false) => {}
                None => unsure = true,
            }
        }
        if unsure { None } else { Some(false) }
    }

    fn meets(&self, held: &Held, condition: &Condition) -> bool {
        match condition {
            Condition::Value(value) | Condition::Only(value) => held.value == *value,
            Condition::Not(value) => held.is_specific() && held.value != *value,
            Condition::Over(bound, unit) => extent(held, unit).is_some_and(|it| it.is_over(*bound)),
            Condition::Under(bound, unit) => extent(held, unit).is_some_and(|it| it.is_under(*bound)),
            Condition::Within(from, to, unit) => {
                extent(held, unit).is_some_and(|it| it.is_within(*from, *to) == Some(true))
            }
            Condition::ZUnder(bound) => self.z(held).is_some_and(|z| z < *bound),
            Condition::ZOver(bound) => self.z(held).is_some_and(|z| z > *bound),
            Condition::ZWithin(from, to) => self.z(held).is_some_and(|z| z >= *from && z <= *to),
            Condition::SidesDiffer(_) => false,
        }
    }

    fn z(&self, held: &Held) -> Option<f64> {
        let size = self.sizes.iter().find(|size| size.finding == held.finding)?;
        size.outcome.as_ref().ok().map(|score| score.z)
    }

    fn sides(&self, item: &str, by: f64, expected: &[Condition]) -> Vec<FindingId> {
        let on = |side: Side| self.of(item).find(|held| held.side == side && held.is_result());
        let (Some(left), Some(right)) = (on(Side::Left), on(Side::Right)) else { return Vec::new() };
        let differ = match (extent_of(left), extent_of(right)) {
            (Some((one, unit)), Some((other, its))) if unit == its => {
                let apart = one.apart(other);
                apart > 0.0 && apart >= by
            }
            _ => self.differ_in_words(left, right, expected),
        };
        if differ { vec![left.finding, right.finding] } else { Vec::new() }
    }

    // "normal" on one side and "present" on the other are no difference, nor are "present" and "grade 2", where both are usual.
    fn differ_in_words(&self, left: &Held, right: &Held, expected: &[Condition]) -> bool {
        let usual = |held: &Held| held.value == "normal" || self.is_one_of(held, expected) == Some(true);
        let told_alike = left.is_specific() && right.is_specific() && left.figures.is_some() == right.figures.is_some();
        left.value != right.value && (told_alike || !(usual(left) && usual(right)))
    }
}

fn extent(held: &Held, unit: &str) -> Option<Extent> {
    held.figures.as_ref().and_then(|figures| Extent::of(figures, unit))
}

pub(super) fn extent_of(held: &Held) -> Option<(Extent, &str)> {
    let figures: &Figures = held.figures.as_ref()?;
    Some((Extent::of(figures, &figures.unit)?, &figures.unit))
}

//! Sets of items, a bit each.
//! Takes places of items; tells whether two sets have one in common. Leaves alone what the items are.
//!
//! the items that "recoil" may name and those of which "brisk" is a value share arm-recoil

use crate::lexicon::compile::ItemIx;

/// Items that have a bit of their own; the rare ones beyond stand in a list.
const BITS: usize = 128;

/// Items, a bit each.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ItemSet {
    bits: u128,
    beyond: Vec<ItemIx>,
}

impl ItemSet {
    pub(super) fn add(&mut self, item: ItemIx) {
        if item < BITS {
            self.bits |= 1 << item;
        } else if !self.beyond.contains(&item) {
            self.beyond.push(item);
        }
    }

    pub(super) fn extend(&mut self, other: &Self) {
        self.bits |= other.bits;
        other.beyond.iter().for_each(|item| self.add(*item));
    }

    pub(super) fn union(&self, other: &Self) -> Self {
        let mut both = self.clone();
        both.extend(other);
        both
    }

    pub(super) fn is_empty(&self) -> bool {
        self.bits == 0 && self.beyond.is_empty()
    }

    /// Whether the two have an item in common.
    pub(super) fn shares(&self, other: &Self) -> bool {
        self.bits & other.bits != 0 || self.beyond.iter().any(|item| other.beyond.contains(item))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_share_an_item_however_many_items_there_are() {
        for (one, other, shared) in [
            (&[1, 127][..], &[127][..], true),
            (&[1, 2], &[3, 129], false),
            (&[500], &[3, 500], true),
            (&[128], &[0], false),
            (&[], &[0], false),
        ] {
            let set = |items: &[ItemIx]| {
                let mut set = ItemSet::default();
                items.iter().for_each(|item| set.add(*item));
                set
            };
            assert_eq!(set(one).shares(&set(other)), shared, "{one:?} {other:?}");
            assert_eq!(set(one).is_empty(), one.is_empty());
            assert!(one.is_empty() || set(one).union(&set(other)).shares(&set(one)));
        }
    }
}

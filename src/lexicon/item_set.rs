//! Sets of items, a bit each.
//! Takes places of items; tells which are in a set, and whether two sets have one in common. Leaves alone what the items
//! are.
//!
//! the items that "recoil" may name and those of which "brisk" is a value share arm-recoil

use crate::lexicon::compile::ItemIx;

/// Items that have a bit of their own; the rare ones beyond stand in a list.
const BITS: usize = 128;

/// Items, a bit each.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ItemSet {
    bits: u128,
    beyond: Vec<ItemIx>,
}

impl ItemSet {
    /// Takes in an item.
    pub fn add(&mut self, item: ItemIx) {
        if item < BITS {
            self.bits |= 1 << item;
        } else if let Err(place) = self.beyond.binary_search(&item) {
            self.beyond.insert(place, item);
        }
    }

    /// Takes in all items of another set.
    pub fn extend(&mut self, other: &Self) {
        self.bits |= other.bits;
        other.beyond.iter().for_each(|item| self.add(*item));
    }

    /// Takes in all items of a list.
    pub fn add_all(&mut self, items: &[ItemIx]) {
        items.iter().for_each(|item| self.add(*item));
    }

    /// Whether an item is in it.
    #[must_use]
    pub fn contains(&self, item: ItemIx) -> bool {
        if item < BITS { self.bits >> item & 1 == 1 } else { self.beyond.binary_search(&item).is_ok() }
    }

    /// Its items in order of the record.
    pub fn iter(&self) -> impl Iterator<Item = ItemIx> + '_ {
        let mut bits = self.bits;
        let low = std::iter::from_fn(move || {
            let item = (bits != 0).then(|| bits.trailing_zeros() as ItemIx)?;
            bits &= bits - 1;
            Some(item)
        });
        low.chain(self.beyond.iter().copied())
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
            assert_eq!(set(one).iter().collect::<Vec<_>>(), one);
            assert!(one.iter().all(|item| set(one).contains(*item)));
            assert_eq!(set(one).contains(3), one.contains(&3));
        }
    }
}

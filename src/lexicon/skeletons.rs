//! Names by the order of their consonants.
//! Takes rows of sounds with a number each; gives the numbers of those whose consonants agree with other sounds but for
//! one more, one less or one other. Leaves alone how near they are.
//!
//! "palmer grass" and "palmar grasp" agree but for one consonant

use std::ops::RangeInclusive;

use crate::lexicon::phonemes::kind;

/// Rows of more consonants than this are not kept.
const MOST: u32 = 15;
/// Of fewer consonants none may be one more.
const FEWEST: u32 = 3;
/// How many shelves there are, as a power of two.
const SHELF_BITS: u32 = 15;
/// How many bits tell that a key is on no shelf, as a power of two.
const SEEN_BITS: u32 = 19;

/// The kind of every sound. Recognisers take m for n and s for sh more often than not.
static KINDS: [u8; 128] = kinds();

const fn kinds() -> [u8; 128] {
    let mut kinds = [0; 128];
    let mut at = 0;
    while at < 128 {
        kinds[at] = match kind(at as u8) {
            8 => 7,
            6 => 5,
            kind => kind,
        };
        at += 1;
    }
    kinds
}

/// The consonants of a row of sounds, four bits each, the last one lowest; alike ones beside each other are one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Skeleton {
    bits: u64,
    count: u32,
}

impl Skeleton {
    pub(super) fn of(sounds: &[u8]) -> Self {
        let mut skeleton = Self { bits: 0, count: 0 };
        for sound in sounds {
            let kind = u64::from(KINDS[usize::from(*sound & 127)]);
            if kind != 0 && skeleton.bits & 15 != kind {
                skeleton.bits = skeleton.bits << 4 | kind;
                skeleton.count += 1;
            }
        }
        skeleton
    }

    /// Itself and, unless it is to agree as it is or is too short, itself without each of its consonants.
    fn keys(self, fewest: u32) -> ([u32; MOST as usize + 1], usize) {
        let mut keys = [0; MOST as usize + 1];
        if !(2..=MOST).contains(&self.count) {
            return (keys, 0);
        }
        let key = |bits: u64| (bits.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 32) as u32;
        keys[0] = key(self.bits);
        let less = if self.count < fewest { 0 } else { self.count as usize };
        for (place, without) in keys.iter_mut().skip(1).take(less).enumerate() {
            let below = (1 << (4 * place)) - 1;
            *without = key(self.bits & below | self.bits >> 4 & !below);
        }
        (keys, less + 1)
    }
}

/// A key of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Entry {
    key: u32,
    number: u32,
    /// What the row weighs, in hundredths of a consonant.
    weight: u16,
}

/// Numbers of rows by their skeletons.
#[derive(Debug, Default)]
pub(super) struct Skeletons {
    /// Where each shelf begins among the entries, and where the last one ends.
    shelves: Vec<u32>,
    /// Keys with the number of a row, in order.
    entries: Vec<Entry>,
    /// A bit for every key that there is: most keys are not, and this tells so without a walk to the shelves.
    seen: Vec<u64>,
}

impl Skeletons {
    /// Rows by their skeletons, each with its weight; those of fewer consonants than `fewest` are found only where all of
    /// theirs agree.
    pub(super) fn new(rows: impl Iterator<Item = (Skeleton, u32)>, fewest: u32) -> Self {
        let mut entries: Vec<Entry> = Vec::new();
        for (number, (row, weight)) in rows.enumerate() {
            let weight = u16::try_from(weight).unwrap_or(u16::MAX);
            let (keys, count) = row.keys(fewest);
            entries.extend(keys.iter().take(count).map(|key| Entry { key: *key, number: number as u32, weight }));
        }
        entries.sort_unstable();
        entries.dedup();
        let mut seen = vec![0; 1 << (SEEN_BITS - 6)];
        let mut shelves = vec![0; (1 << SHELF_BITS) + 1];
        for entry in &entries {
            shelves[shelf(entry.key) + 1] += 1;
            let bit = seen_bit(entry.key);
            seen[bit / 64] |= 1 << (bit % 64);
        }
        for at in 1..shelves.len() {
            shelves[at] += shelves[at - 1];
        }
        Self { shelves, entries, seen }
    }

    /// The numbers of rows that agree with a skeleton but for a consonant and weigh about the same, each once.
    pub(super) fn near(&self, skeleton: Skeleton, weights: RangeInclusive<u16>, loosely: bool, near: &mut Vec<u32>) {
        near.clear();
        let is_seen = |key: &u32| self.seen[seen_bit(*key) / 64] >> (seen_bit(*key) % 64) & 1 == 1;
        let (keys, count) = skeleton.keys(if loosely { FEWEST } else { MOST + 1 });
        for key in keys.iter().take(count).filter(|key| is_seen(key)) {
            let shelf = shelf(*key);
            let (from, to) = (self.shelves[shelf] as usize, self.shelves[shelf + 1] as usize);
            for entry in &self.entries[from..to] {
                if entry.key == *key && weights.contains(&entry.weight) && !near.contains(&entry.number) {
                    near.push(entry.number);
                }
            }
        }
    }
}

fn seen_bit(key: u32) -> usize {
    (key & ((1 << SEEN_BITS) - 1)) as usize
}

fn shelf(key: u32) -> usize {
    (key >> (32 - SHELF_BITS)) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_consonant_more_less_or_other_is_found_and_two_are_not() {
        let rows = [&b"polm@rgrasp"[..], b"klon@s", b"skarfsin"];
        let skeletons = Skeletons::new(rows.iter().map(|row| (Skeleton::of(row), 500)), 3);
        let mut near = Vec::new();
        for (sounds, expected) in [
            (&b"pom@rgras"[..], &[][..]),
            (b"polm@rgras", &[0]),
            (b"klonis", &[1]),
            (b"kron@s", &[1]),
            (b"skafsin", &[2]),
            (b"", &[]),
            (b"aeiou", &[]),
        ] {
            skeletons.near(Skeleton::of(sounds), 400..=600, true, &mut near);
            near.sort_unstable();
            assert_eq!(near, expected, "{}", String::from_utf8_lossy(sounds));
        }
    }
}

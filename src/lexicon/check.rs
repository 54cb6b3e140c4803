//! What a sound lexicon should know of itself: names that are easily taken for another item's.
//! Takes a lexicon; gives pairs of names of different items whose sounds lie near. Faults of files are found while they
//! are loaded (`load`, `compile`). Leaves alone whether a pair does harm: it needs care when heard.
//!
//! "palmar grasp" and "plantar grasp" are a pair

use crate::lexicon::compile::{Lexicon, Meaning};

/// Two names of different items that sound alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Alike {
    /// A name and the id of its item.
    pub one: (String, String),
    /// The other name and the id of its item.
    pub other: (String, String),
    /// How alike they sound, 0 to 1.
    pub closeness: f32,
}

/// Pairs of names of different items that sound alike, closest first; of each pair of items the closest pair of names.
#[must_use]
pub fn alike(lexicon: &Lexicon) -> Vec<Alike> {
    let mut pairs: Vec<Alike> = Vec::new();
    for (one, other, closeness) in lexicon.sound.near_pairs(lexicon) {
        let name = |phrase: usize| {
            let phrase = &lexicon.phrases[phrase];
            let item = phrase.meanings.iter().find_map(|meaning| match meaning {
                Meaning::Name(item) => Some(lexicon.items[*item].id.clone()),
                _ => None,
            });
            (phrase.text.clone(), item.unwrap_or_default())
        };
        let pair = Alike { one: name(one), other: name(other), closeness };
        let items = |pair: &Alike| {
            let mut ids = [pair.one.1.clone(), pair.other.1.clone()];
            ids.sort();
            ids
        };
        match pairs.iter_mut().find(|known| items(known) == items(&pair)) {
            Some(known) if pair.closeness > known.closeness => *known = pair,
            Some(_) => {}
            None => pairs.push(pair),
        }
    }
    pairs.sort_by(|a, b| b.closeness.total_cmp(&a.closeness).then_with(|| a.one.cmp(&b.one)));
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_palm_and_the_sole_are_known_to_sound_alike() {
        let lexicon = Lexicon::load(None).unwrap();
        let pairs = alike(&lexicon);
        let has = |a: &str, b: &str| {
            pairs.iter().any(|p| (p.one.1 == a && p.other.1 == b) || (p.one.1 == b && p.other.1 == a))
        };
        assert!(has("palmar-grasp", "plantar-grasp"), "{pairs:?}");
        assert!(!has("moro", "spine"));
        assert!(pairs.windows(2).all(|pair| pair[0].closeness >= pair[1].closeness));
    }
}

//! Words written nearly as the lexicon has them.
//! Takes a word that the lexicon does not know; gives the one word of its phrases that differs by a letter or two.
//! Leaves alone short words and numbers: one slip there is another word.
//!
//! "fontanele" gives "fontanelle"; "popiteal" gives "popliteal"

use std::collections::{HashMap, HashSet};
use std::hash::BuildHasherDefault;

use crate::lexicon::compile::{Meaning, Phrase};
use crate::lexicon::english::is_english;
use crate::lexicon::vocabulary::WordHasher;

/// Words of fewer letters are matched exactly or not at all.
const SHORTEST: usize = 6;
/// From this many letters on, two may differ.
const LONG: usize = 9;

/// The words that phrases of items and values are made of.
#[derive(Debug, Default)]
pub struct SpellingIndex {
    /// First byte and number of letters → words.
    words: HashMap<(u8, usize), Vec<Known>, BuildHasherDefault<WordHasher>>,
}

#[derive(Debug)]
struct Known {
    word: Box<str>,
    letters: u32,
    /// Its second and third byte.
    inner: [u8; 2],
}

impl SpellingIndex {
    /// An index over the words of all phrases.
    #[must_use]
    pub fn new(phrases: &[Phrase]) -> Self {
        let mut index = Self::default();
        let mut taken: HashSet<&str> = HashSet::new();
        let of_items =
            |phrase: &&Phrase| phrase.meanings.iter().any(|m| matches!(m, Meaning::Name(_) | Meaning::Value(..)));
        for phrase in phrases.iter().filter(|phrase| !phrase.misheard).filter(of_items) {
            for word in phrase.text.split(' ').filter(|word| word.len() >= SHORTEST) {
                let (Some(first), count) = (word.bytes().next(), word.chars().count()) else {
                    continue;
                };
                if count >= SHORTEST && taken.insert(word) {
                    let known = Known { word: word.into(), letters: letters_in(word), inner: inner_of(word) };
                    index.words.entry((first, count)).or_default().push(known);
                }
            }
        }
        index
    }

    /// The one word that another word is nearly spelled like; nothing where two are equally near, or where it is one of
    /// the index's own words.
    #[must_use]
    pub fn near(&self, word: &str) -> Option<&str> {
        let first = word.bytes().next().filter(|first| word.len() >= SHORTEST && !first.is_ascii_digit())?;
        let count = if word.is_ascii() { word.len() } else { word.chars().count() };
        if count < SHORTEST {
            return None;
        }
        // "Recording" is no slip for "recoiling": an English word is one letter off at most.
        let most = if count < LONG || is_english(word) { 1 } else { 2 };
        let (letters, inner) = (letters_in(word), inner_of(word));
        let mut best: Option<(usize, &str)> = None;
        let mut tied = false;
        for length in count - most..=count + most {
            // A letter more or less leaves one letter that only one of the words has, a changed one two.
            let unlike = 2 * most - length.abs_diff(count);
            for known in self.words.get(&(first, length)).into_iter().flatten() {
                // Words of one meaning share their second letter too, or the slip is there and the third agrees.
                let begin_alike = known.inner[0] == inner[0] || known.inner[1] == inner[1];
                if !begin_alike || (known.letters ^ letters).count_ones() as usize > unlike {
                    continue;
                }
                let distance = strsim::osa_distance(word, &known.word);
                match best {
                    Some((nearest, _)) if distance == nearest => tied = true,
                    Some((nearest, _)) if distance > nearest => {}
                    _ if distance <= most => (best, tied) = (Some((distance, &*known.word)), false),
                    _ => {}
                }
            }
        }
        best.filter(|(distance, _)| !tied && *distance > 0).map(|(_, known)| known)
    }
}

fn inner_of(word: &str) -> [u8; 2] {
    [1, 2].map(|at| word.as_bytes().get(at).copied().unwrap_or_default())
}

/// The different letters of a word, a bit each.
fn letters_in(word: &str) -> u32 {
    word.bytes().fold(0, |letters, byte| letters | 1 << (byte & 31))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_pen_is_forgiven_and_another_word_is_not() {
        let phrase = |text: &str| Phrase {
            text: text.to_owned(),
            meanings: vec![Meaning::Name(0)],
            plural: false,
            over_commas: false,
            misheard: false,
            by_sound: false,
        };
        let index = SpellingIndex::new(&[phrase("anterior fontanelle"), phrase("popliteal angle")]);
        assert_eq!(index.near("fontanele"), Some("fontanelle"));
        assert_eq!(index.near("popiteal"), Some("popliteal"));
        assert_eq!(index.near("poplitael"), Some("popliteal"));
        for other in ["angel", "interior", "popliteal", "fountain", "angles", "1234567"] {
            assert_eq!(index.near(other), None, "{other}");
        }
    }
}

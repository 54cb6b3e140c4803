//! Words written nearly as the lexicon has them.
//! Takes a word that the lexicon does not know; gives the one word of its phrases that differs by a letter or two.
//! Leaves alone short words and numbers: one slip there is another word.
//!
//! "fontanele" gives "fontanelle"; "popiteal" gives "popliteal"

use std::collections::{BTreeMap, HashSet};

use crate::lexicon::compile::{Meaning, Phrase};
use crate::lexicon::phrases::Spelling;

/// Words of fewer letters are matched exactly or not at all.
const SHORTEST: usize = 6;
/// From this many letters on, two may differ.
const LONG: usize = 9;

/// The words that phrases of items and values are made of.
#[derive(Debug, Default)]
pub struct SpellingIndex {
    /// First letter and number of letters → words.
    words: BTreeMap<(char, usize), Vec<String>>,
    known: HashSet<String>,
}

impl SpellingIndex {
    /// An index over the words of all phrases.
    #[must_use]
    pub fn new(phrases: &[Phrase], variants: &Spelling) -> Self {
        let mut index = Self { known: variants.keys().cloned().collect(), ..Self::default() };
        let mut taken: HashSet<String> = HashSet::new();
        for phrase in phrases.iter().filter(|phrase| !phrase.misheard) {
            let of_items = phrase.meanings.iter().any(|m| matches!(m, Meaning::Name(_) | Meaning::Value(..)));
            for word in phrase.text.split(' ') {
                if !index.known.contains(word) {
                    index.known.insert(word.to_owned());
                }
                let letters = word.chars().count();
                if of_items && letters >= SHORTEST && !taken.contains(word) {
                    taken.insert(word.to_owned());
                    let first = word.chars().next().unwrap_or(' ');
                    index.words.entry((first, letters)).or_default().push(word.to_owned());
                }
            }
        }
        index
    }

    /// Whether the lexicon has the word anywhere.
    #[must_use]
    pub fn knows(&self, word: &str) -> bool {
        self.known.contains(word)
    }

    /// The one word that an unknown word is nearly spelled like; nothing where two are equally near.
    #[must_use]
    pub fn near(&self, word: &str) -> Option<&str> {
        let letters = word.chars().count();
        if letters < SHORTEST || self.knows(word) || word.starts_with(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let most = if letters < LONG { 1 } else { 2 };
        let first = word.chars().next()?;
        let mut best: Option<(usize, &str)> = None;
        let mut tied = false;
        for length in letters - most..=letters + most {
            for known in self.words.get(&(first, length)).into_iter().flatten() {
                // Words of one meaning share their second letter too, or the slip is there and the third agrees.
                if word.as_bytes().get(1) != known.as_bytes().get(1)
                    && word.as_bytes().get(2) != known.as_bytes().get(2)
                {
                    continue;
                }
                let distance = strsim::osa_distance(word, known);
                match best {
                    Some((nearest, _)) if distance == nearest => tied = true,
                    Some((nearest, _)) if distance > nearest => {}
                    _ if distance <= most => (best, tied) = (Some((distance, known.as_str())), false),
                    _ => {}
                }
            }
        }
        best.filter(|_| !tied).map(|(_, known)| known)
    }
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
        };
        let index = SpellingIndex::new(&[phrase("anterior fontanelle"), phrase("popliteal angle")], &Spelling::new());
        assert_eq!(index.near("fontanele"), Some("fontanelle"));
        assert_eq!(index.near("popiteal"), Some("popliteal"));
        assert_eq!(index.near("poplitael"), Some("popliteal"));
        for other in ["angel", "interior", "popliteal", "fountain", "angles", "1234567"] {
            assert_eq!(index.near(other), None, "{other}");
        }
    }
}

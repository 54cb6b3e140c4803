//! Sets of words of the language, a bit each.
//! Takes families of words; tells which are in a set. Leaves alone what they do to a sentence.
//!
//! "no" is a negation, and may be a correction or an answer

use crate::lexicon::LanguageWord;

/// Words of the language, a bit each: rules ask for them all the time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct WordSet(u64);

impl WordSet {
    /// Takes in a word.
    pub fn push(&mut self, word: LanguageWord) {
        self.0 |= 1 << word as u64;
    }

    /// Takes in all words of another set.
    pub fn extend(&mut self, other: Self) {
        self.0 |= other.0;
    }

    /// Leaves out a word.
    pub fn remove(&mut self, word: LanguageWord) {
        self.0 &= !(1 << word as u64);
    }

    /// Whether a word is in it.
    #[must_use]
    pub fn contains(self, word: LanguageWord) -> bool {
        self.0 >> word as u64 & 1 == 1
    }

    /// Whether no word is in it.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_in_the_set_until_it_is_left_out() {
        let mut words = WordSet::default();
        assert!(words.is_empty());
        words.push(LanguageWord::SideLeft);
        let mut others = WordSet::default();
        others.push(LanguageWord::Approx);
        words.extend(others);
        assert!(words.contains(LanguageWord::SideLeft) && words.contains(LanguageWord::Approx));
        assert!(!words.contains(LanguageWord::Negation));
        words.remove(LanguageWord::SideLeft);
        assert!(!words.contains(LanguageWord::SideLeft) && !words.is_empty());
    }
}

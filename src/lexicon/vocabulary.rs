//! Words → what the lexicon knows of each, looked up once a word.
//! Takes the words of an utterance; gives each its symbol, as phrases are compared by symbols and not by letters.
//! Leaves alone what a phrase means.
//!
//! "the infants' center" gives nothing for "the", which does not count, and one symbol for "center" and "centre"

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

use crate::lexicon::compile::{Meaning, Phrase, Word as LanguageWord};
use crate::lexicon::english::is_english;
use crate::lexicon::phrases::Spelling;
use crate::lexicon::spelling::SpellingIndex;
use crate::speech::Word;

/// A word by its number.
pub(super) type Symbol = u16;

/// The symbol of a word that stands in no phrase.
const STRANGER: Symbol = 0;

/// How many different words all phrases may have together.
pub(super) const MOST_WORDS: usize = 128 * 128 - 1;

/// How many bits tell with which words phrases open, as a power of two.
const OPENING_BITS: u32 = 20;

/// A symbol as the automaton sees it: the first byte is never below 128 and the second always, so that no match can
/// begin in the middle of a word.
pub(super) fn bytes_of(symbol: Symbol) -> [u8; 2] {
    [128 | (symbol >> 7) as u8, (symbol & 127) as u8]
}

/// What the lexicon knows of a word of an utterance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heard {
    /// Its symbol; nothing for a word that does not count.
    pub symbol: Option<Symbol>,
    /// The phrase that is this one word, by its place among the phrases.
    pub phrase: Option<u32>,
    /// Whether it was taken for a word that is spelled a little otherwise.
    pub respelled: bool,
    /// Whether no phrase has it as it stands and nothing is known of its spelling.
    pub odd: bool,
    /// Whether it is a side or a negation: one slip there reverses the meaning.
    pub small: bool,
}

/// Every word of every phrase.
#[derive(Debug, Default)]
pub(super) struct Vocabulary {
    short: HashMap<u128, Heard, BuildHasherDefault<WordHasher>>,
    long: HashMap<Box<str>, Heard, BuildHasherDefault<WordHasher>>,
    /// Bits for the two or three words that phrases open with; now and then one more.
    openings: Vec<u64>,
}

impl Vocabulary {
    /// The words of all phrases and all variants; where they are more than [`MOST_WORDS`], how many.
    pub(super) fn new(phrases: &[Phrase], variants: &Spelling) -> Result<Self, usize> {
        let mut vocabulary = Self { openings: vec![0; 1 << (OPENING_BITS - 6)], ..Self::default() };
        // Phrases that stand for what was misheard come last: their words alone do not make a word known.
        for misheard in [false, true] {
            for (ix, phrase) in phrases.iter().enumerate().filter(|(_, phrase)| phrase.misheard == misheard) {
                vocabulary.add(ix, phrase);
            }
        }
        let words = vocabulary.short.len() + vocabulary.long.len();
        if words > MOST_WORDS {
            return Err(words);
        }
        for (written, canonical) in variants {
            let none = Heard { symbol: Some(STRANGER).filter(|_| !canonical.is_empty()), ..Heard::ODD };
            let heard = Heard { odd: false, ..vocabulary.get(canonical).copied().unwrap_or(none) };
            vocabulary.insert(written, heard);
        }
        Ok(vocabulary)
    }

    fn add(&mut self, ix: usize, phrase: &Phrase) {
        let mut opening = [STRANGER; 3];
        for (place, word) in phrase.text.split(' ').enumerate() {
            let next = (self.short.len() + self.long.len() + 1).min(MOST_WORDS) as Symbol;
            let new = Heard { symbol: Some(next), odd: phrase.misheard, ..Heard::ODD };
            let mut known = self.get(word).copied().unwrap_or(new);
            if word.len() == phrase.text.len() {
                known.phrase = u32::try_from(ix).ok();
                known.small = phrase.meanings.iter().any(is_small);
            }
            self.insert(word, known);
            if let Some(symbol) = opening.get_mut(place) {
                *symbol = known.symbol.unwrap_or(STRANGER);
            }
        }
        let bit = opening_bit(opening);
        self.openings[bit / 64] |= 1 << (bit % 64);
    }

    fn get(&self, word: &str) -> Option<&Heard> {
        match short_key(word) {
            Some(key) => self.short.get(&key),
            None => self.long.get(word),
        }
    }

    fn insert(&mut self, word: &str, heard: Heard) {
        match short_key(word) {
            Some(key) => self.short.insert(key, heard),
            None => self.long.insert(word.into(), heard),
        };
    }

    /// The symbol of a word in the lexicon's spelling.
    pub(super) fn symbol_of(&self, word: &str) -> Option<Symbol> {
        self.get(word).and_then(|known| known.symbol)
    }

    /// Whether a phrase of several words could begin where these words stand.
    pub(super) fn can_open(&self, one: Symbol, next: Symbol, third: Option<Symbol>) -> bool {
        let has = |third: Symbol| {
            let bit = opening_bit([one, next, third]);
            self.openings[bit / 64] >> (bit % 64) & 1 == 1
        };
        has(STRANGER) || third.is_some_and(has)
    }

    /// What the automaton sees of a phrase in the lexicon's spelling.
    pub(super) fn symbols_of(&self, phrase: &str) -> Vec<u8> {
        phrase.split(' ').flat_map(|word| bytes_of(self.symbol_of(word).unwrap_or(STRANGER))).collect()
    }

    /// What is known of a word; a word nearly spelled like one of the lexicon's is taken for it.
    pub(super) fn hear(&self, spelling: &SpellingIndex, word: &Word) -> Heard {
        let known = self.get(&word.plain).copied();
        if let Some(known) = known.filter(|known| !known.odd) {
            return known;
        }
        if let Some(near) = spelling.near(&word.plain).and_then(|near| self.get(near)) {
            return Heard { respelled: true, odd: true, ..*near };
        }
        let odd = word.plain.len() >= 2 && !word.plain.as_bytes()[0].is_ascii_digit();
        Heard { odd, ..known.unwrap_or(Heard::ODD) }
    }
}

impl Heard {
    /// Whether the word is neither English nor one of the lexicon's own.
    pub(super) fn is_no_word(&self, word: &str) -> bool {
        self.odd && (self.respelled || self.symbol == Some(STRANGER)) && !is_english(word)
    }

    const ODD: Self = Self { symbol: Some(STRANGER), phrase: None, respelled: false, odd: true, small: false };
}

// Words of up to fifteen bytes are told apart by one number, so that looking one up follows no pointer.
fn short_key(word: &str) -> Option<u128> {
    let bytes = word.as_bytes();
    let behind = |from: usize| bytes.iter().skip(from).rev().fold(0, |key, byte| key << 8 | u64::from(*byte));
    let (low, high) = match (bytes.len(), bytes.first_chunk(), bytes.last_chunk()) {
        (16.., ..) => return None,
        (length @ 9.., Some(first), Some(last)) => {
            (u64::from_le_bytes(*first), u64::from_le_bytes(*last) >> (8 * (16 - length)))
        }
        (8, Some(first), _) => (u64::from_le_bytes(*first), 0),
        (length @ 4.., ..) => {
            let four = |from: usize| bytes.get(from..from + 4).and_then(|four| four.first_chunk().copied());
            let (first, last) = (four(0).unwrap_or_default(), four(length - 4).unwrap_or_default());
            let behind = u64::from(u32::from_le_bytes(last)) >> (8 * (8 - length));
            (u64::from(u32::from_le_bytes(first)) | behind << 32, 0)
        }
        _ => (behind(0), 0),
    };
    Some(u128::from(high) << 64 | u128::from(low) | (bytes.len() as u128) << 120)
}

fn opening_bit([one, next, third]: [Symbol; 3]) -> usize {
    let words = u64::from(one) << 32 | u64::from(next) << 16 | u64::from(third);
    (words.wrapping_mul(MIX) >> (64 - OPENING_BITS)) as usize
}

fn is_small(meaning: &Meaning) -> bool {
    use LanguageWord::{Negation, SideBoth, SideLeft, SideNeither, SideOther, SideRight, SideThat};
    matches!(meaning, Meaning::Word(SideLeft | SideRight | SideBoth | SideNeither | SideOther | SideThat | Negation))
}

/// Words are short and come from the lexicon's own files: mixing eight bytes at a time is enough.
#[derive(Debug, Default, Clone)]
pub(super) struct WordHasher(u64);

/// Words that are asked for all the time.
pub(super) type Words = HashSet<String, BuildHasherDefault<WordHasher>>;

const MIX: u64 = 0x9E37_79B9_7F4A_7C15;

impl Hasher for WordHasher {
    fn write(&mut self, bytes: &[u8]) {
        let (eights, rest) = bytes.as_chunks::<8>();
        for eight in eights {
            self.write_u64(u64::from_le_bytes(*eight));
        }
        let last = rest.iter().rev().fold(rest.len() as u64, |last, byte| last << 8 | u64::from(*byte));
        self.write_u64(last);
    }

    fn write_u8(&mut self, byte: u8) {
        self.0 ^= u64::from(byte);
    }

    fn write_u128(&mut self, number: u128) {
        self.write_u64(number as u64);
        self.write_u64((number >> 64) as u64);
    }

    fn write_u64(&mut self, number: u64) {
        self.0 = (self.0.rotate_left(5) ^ number).wrapping_mul(MIX);
    }

    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_a_key_of_its_own() {
        let mut seen = HashMap::new();
        let words = [
            "",
            "a",
            "b",
            "ab",
            "ba",
            "abab",
            "ababa",
            "ababab",
            "bababa",
            "sucking",
            "sucking1",
            "sucking12",
            "asymmetrically",
            "asymmetricallyx",
        ];
        for word in words {
            assert_eq!(seen.insert(short_key(word), word), None, "{word}");
            assert!(short_key(word).is_some(), "{word}");
        }
        assert_eq!(short_key("circumferentially"), None);
    }

    #[test]
    fn a_symbol_is_told_from_the_middle_of_another() {
        for number in [0, 1, 127, 128, MOST_WORDS as Symbol] {
            let [first, second] = bytes_of(number);
            assert!(first >= 128 && second < 128);
        }
    }
}

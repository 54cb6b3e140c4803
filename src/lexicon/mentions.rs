//! The value of the lexicon stage: mentions.
//! Takes an utterance; gives every stretch of its words that the lexicon knows, overlapping ones included, in order of
//! place. Leaves alone which of several overlapping ones holds: that depends on what is in progress.
//!
//! "strong suck" gives "strong" (good; a value of suck), "suck" (item suck), and "strong suck" where that is a phrase

use aho_corasick::Anchored;
use aho_corasick::automaton::Automaton;

use crate::lexicon::compile::{Lexicon, Meaning, Phrase, Word as LanguageWord};
use crate::lexicon::gist::Gist;
use crate::lexicon::hearing::Hearing;
use crate::lexicon::quantities::{Quantity, quantities_in};
use crate::lexicon::vocabulary::{Heard, Symbol, bytes_of};
use crate::speech::Utterance;
use crate::speech::{Stop, Word};

/// How a mention was recognised.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum How {
    /// The words as the lexicon has them.
    Exact,
    /// A word of it is spelled a little otherwise.
    Spelling,
    /// The words as a recogniser is known to mishear them.
    Misheard,
    /// Words that sound like a phrase; closeness from 0 to 1.
    Sound(f32),
}

/// What a mention says.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// A phrase of the lexicon, by its place in [`Lexicon::phrases`].
    Phrase(usize),
    /// A number, a range or a bound.
    Quantity(Box<Quantity>),
}

/// A stretch of words that the lexicon knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Mention {
    /// Index of its first word in the utterance.
    pub first: usize,
    /// Index behind its last word.
    pub past: usize,
    /// What it says.
    pub said: Said,
    /// How it was recognised.
    pub how: How,
}

impl Mention {
    /// Everything that its words can mean; empty for a quantity.
    #[must_use]
    pub fn meanings<'a>(&self, lexicon: &'a Lexicon) -> &'a [Meaning] {
        self.phrase(lexicon).map_or(&[], |phrase| &phrase.meanings)
    }

    /// The phrase, where it is one.
    #[must_use]
    pub fn phrase<'a>(&self, lexicon: &'a Lexicon) -> Option<&'a Phrase> {
        match self.said {
            Said::Phrase(ix) => lexicon.phrases.get(ix),
            Said::Quantity(_) => None,
        }
    }

    /// What its words say in short; nothing for a quantity.
    #[must_use]
    pub fn gist<'a>(&self, lexicon: &'a Lexicon) -> Option<&'a Gist> {
        match self.said {
            Said::Phrase(ix) => lexicon.gists.get(ix),
            Said::Quantity(_) => None,
        }
    }

    /// How many words it covers.
    #[must_use]
    pub fn len(&self) -> usize {
        self.past - self.first
    }

    /// Whether it covers no word; never true of what [`mentions_in`] gives.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.past == self.first
    }
}

/// Every mention of an utterance that was heard well, in order of first word, longer before shorter.
#[must_use]
pub fn mentions_in(lexicon: &Lexicon, utterance: &Utterance) -> Vec<Mention> {
    mentions_heard(lexicon, utterance, Hearing::Well)
}

/// Every mention of an utterance, in order of first word, longer before shorter. Of one heard poorly, what the words sound
/// like is told with less closeness where few phrases can stand.
#[must_use]
pub fn mentions_heard(lexicon: &Lexicon, utterance: &Utterance, hearing: Hearing) -> Vec<Mention> {
    mentions_by(lexicon, &utterance.words, &heard(lexicon, &utterance.words), hearing)
}

/// Every mention of every utterance of a narration, and how well it was heard.
#[must_use]
pub fn mentions_of_all(lexicon: &Lexicon, utterances: &[Utterance]) -> (Vec<Vec<Mention>>, Hearing) {
    let all: Vec<Vec<Heard>> = utterances.iter().map(|utterance| heard(lexicon, &utterance.words)).collect();
    let words = || utterances.iter().zip(&all).flat_map(|(utterance, heard)| utterance.words.iter().zip(heard));
    let none = words().filter(|(word, heard)| heard.is_no_word(&word.plain)).map(|(word, _)| word.plain.as_str());
    let hearing = Hearing::by_words(none, words().count());
    let mentions = utterances.iter().zip(&all);
    (mentions.map(|(utterance, heard)| mentions_by(lexicon, &utterance.words, heard, hearing)).collect(), hearing)
}

fn mentions_by(lexicon: &Lexicon, words: &[Word], heard: &[Heard], hearing: Hearing) -> Vec<Mention> {
    let mut mentions = exact(lexicon, words, heard);
    for quantity in quantities_in(words) {
        mentions.push(Mention {
            first: quantity.first,
            past: quantity.past,
            said: Said::Quantity(Box::new(quantity)),
            how: How::Exact,
        });
    }
    if heard.iter().any(|word| word.odd) {
        mentions.extend(lexicon.sound.near(lexicon, (words, hearing), heard, &mentions));
    }
    mentions.sort_by(|a, b| a.first.cmp(&b.first).then(b.past.cmp(&a.past)));
    mentions
}

/// The part of [`mentions_in`] that compares words alone: no numbers, nothing by its sound; in order of first word.
#[must_use]
pub fn phrases_in(lexicon: &Lexicon, utterance: &Utterance) -> Vec<Mention> {
    exact(lexicon, &utterance.words, &heard(lexicon, &utterance.words))
}

pub(super) fn heard(lexicon: &Lexicon, words: &[Word]) -> Vec<Heard> {
    words.iter().map(|word| lexicon.vocabulary.hear(&lexicon.near_spelling, word)).collect()
}

// "On the right to the midline", "Left short of it. Right to the midline.": behind "the" and where a sentence begins,
// "right" is the side and not a part of "right to the midline".
fn opens_with_a_side(lexicon: &Lexicon, words: &[Word], heard: &[Heard], first: usize, phrase: &Phrase) -> bool {
    let behind_the = first > 0 && words[first - 1].stop == Stop::None && words[first - 1].plain == "the";
    let is_right = |ix: u32| {
        let phrase = lexicon.phrases.get(ix as usize);
        phrase.is_some_and(|phrase| phrase.meanings.contains(&Meaning::Word(LanguageWord::SideRight)))
    };
    let begins = first == 0 || words[first - 1].stop > Stop::Comma;
    (behind_the || begins)
        && heard[first].phrase.is_some_and(is_right)
        && phrase.meanings.iter().any(|m| matches!(m, Meaning::Value(..)))
        && phrase.text.contains(' ')
}

fn exact(lexicon: &Lexicon, words: &[Word], heard: &[Heard]) -> Vec<Mention> {
    let mut mentions = Vec::with_capacity(2 * words.len());
    // "The" and other words without a symbol do not count.
    let counted: Vec<(usize, Symbol)> =
        heard.iter().enumerate().filter_map(|(at, word)| word.symbol.map(|symbol| (at, symbol))).collect();
    for (place, &(first, symbol)) in counted.iter().enumerate() {
        if let Some(ix) = heard[first].phrase {
            mentions.extend(mention(lexicon, words, heard, (first, first + 1), ix as usize));
        }
        let third = counted.get(place + 2).map(|(_, third)| *third);
        if counted.get(place + 1).is_some_and(|(_, next)| lexicon.vocabulary.can_open(symbol, *next, third)) {
            phrases_from(lexicon, words, heard, &counted[place..], &mut mentions);
        }
    }
    mentions
}

// Phrases of several words that begin with the first of those given.
fn phrases_from(
    lexicon: &Lexicon,
    words: &[Word],
    heard: &[Heard],
    counted: &[(usize, Symbol)],
    mentions: &mut Vec<Mention>,
) {
    let (phrases, anchored) = (&lexicon.automaton, Anchored::Yes);
    let (Some((first, _)), Ok(mut state)) = (counted.first(), phrases.start_state(anchored)) else {
        return;
    };
    for (count, (last, symbol)) in counted.iter().enumerate() {
        // No phrase runs over the end of a sentence.
        if last > first && words[*first..*last].last().is_some_and(|word| word.stop > Stop::Comma) {
            return;
        }
        for byte in bytes_of(*symbol) {
            state = phrases.next_state(anchored, state, byte);
        }
        if phrases.is_dead(state) {
            return;
        }
        if phrases.is_match(state) {
            let pattern = phrases.match_pattern(state, 0);
            // A phrase that only ends here, and began later, is met where it begins.
            let is_whole = phrases.pattern_len(pattern) == 2 * (count + 1);
            if let Some(ix) = lexicon.several.get(pattern.as_usize()).filter(|_| is_whole) {
                mentions.extend(mention(lexicon, words, heard, (*first, last + 1), *ix));
            }
        }
    }
}

fn mention(
    lexicon: &Lexicon,
    words: &[Word],
    heard: &[Heard],
    (first, past): (usize, usize),
    ix: usize,
) -> Option<Mention> {
    let phrase = lexicon.phrases.get(ix)?;
    // "Legs floppy, arms stiff" does not say "floppy arms".
    let most = if phrase.over_commas { Stop::Comma } else { Stop::None };
    if words[first..past - 1].iter().any(|word| word.stop > most)
        || opens_with_a_side(lexicon, words, heard, first, phrase)
    {
        return None;
    }
    let how = match heard[first..past].iter().any(|word| word.respelled) {
        true => How::Spelling,
        false if phrase.misheard => How::Misheard,
        false => How::Exact,
    };
    Some(Mention { first, past, said: Said::Phrase(ix), how })
}

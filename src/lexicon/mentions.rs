//! The value of the lexicon stage: mentions.
//! Takes an utterance; gives every stretch of its words that the lexicon knows, overlapping ones included, in order of
//! place. Leaves alone which of several overlapping ones holds: that depends on what is in progress.
//!
//! "strong suck" gives "strong" (good; a value of suck), "suck" (item suck), and "strong suck" where that is a phrase

use crate::lexicon::compile::{Lexicon, Meaning, Phrase, Word as LanguageWord};
use crate::lexicon::quantities::{Quantity, quantities_in};
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
    Quantity(Quantity),
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

/// Every mention of an utterance, in order of first word, longer before shorter.
#[must_use]
pub fn mentions_in(lexicon: &Lexicon, utterance: &Utterance) -> Vec<Mention> {
    let mut mentions = exact(lexicon, &utterance.words);
    for quantity in quantities_in(&utterance.words) {
        mentions.push(Mention {
            first: quantity.first,
            past: quantity.past,
            said: Said::Quantity(quantity),
            how: How::Exact,
        });
    }
    mentions.extend(lexicon.sound.near(lexicon, &utterance.words, &mentions));
    mentions.sort_by(|a, b| a.first.cmp(&b.first).then(b.past.cmp(&a.past)));
    mentions
}

// "On the right to the midline": behind "the", "right" is the side and not a part of "right to the midline".
fn opens_with_a_side(lexicon: &Lexicon, words: &[Word], first: usize, phrase: usize) -> bool {
    let is_side = |ix: &Phrase| ix.meanings.contains(&Meaning::Word(LanguageWord::SideRight));
    let text = &lexicon.phrases[phrase].text;
    let behind_the = first > 0 && words[first - 1].stop == Stop::None && words[first - 1].plain == "the";
    behind_the
        && lexicon.phrases[phrase].meanings.iter().any(|m| matches!(m, Meaning::Value(..)))
        && text.split_once(' ').is_some_and(|(opening, _)| lexicon.phrase(opening).is_some_and(is_side))
}

fn exact(lexicon: &Lexicon, words: &[Word]) -> Vec<Mention> {
    let mut text = String::from(" ");
    // Where each word that counts begins in the text, and which word it is; "the" does not count.
    let mut starts = Vec::with_capacity(words.len() + 1);
    let mut counted = Vec::with_capacity(words.len());
    let mut respelled = vec![false; words.len()];
    for (at, word) in words.iter().enumerate() {
        let near = lexicon.near_spelling.near(&word.plain);
        respelled[at] = near.is_some();
        let variant = lexicon.spelling.get(&word.plain).map(String::as_str);
        let spelled = variant.or(near).unwrap_or(&word.plain);
        if !spelled.is_empty() {
            starts.push(text.len() - 1);
            counted.push(at);
            text.push_str(spelled);
            text.push(' ');
        }
    }
    starts.push(text.len() - 1);
    let mut mentions = Vec::new();
    for found in lexicon.automaton.find_overlapping_iter(&text) {
        let (Ok(from), Ok(to)) = (starts.binary_search(&found.start()), starts.binary_search(&(found.end() - 1)))
        else {
            continue;
        };
        let (Some(first), Some(last)) = (counted.get(from), counted.get(to.wrapping_sub(1))) else { continue };
        let (first, past) = (*first, last + 1);
        let ix = found.pattern().as_usize();
        // "Legs floppy, arms stiff" does not say "floppy arms".
        let most = if lexicon.phrases[ix].over_commas { Stop::Comma } else { Stop::None };
        if words[first..past - 1].iter().all(|word| word.stop <= most) && !opens_with_a_side(lexicon, words, first, ix)
        {
            let how = match respelled[first..past].contains(&true) {
                true => How::Spelling,
                false if lexicon.phrases[ix].misheard => How::Misheard,
                false => How::Exact,
            };
            mentions.push(Mention { first, past, said: Said::Phrase(ix), how });
        }
    }
    mentions
}

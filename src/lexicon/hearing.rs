//! How well a narration was heard, from its words alone.
//! Takes utterances; gives whether so many of their words are no words at all that the rest is to be trusted less. Leaves
//! alone how surely the recogniser heard each word, which not every transcript tells.
//!
//! "Clowness sustained right. Palmer grass pubsent. Puples fixed." was heard poorly

use std::collections::HashSet;

use crate::lexicon::compile::Lexicon;
use crate::lexicon::english::is_english;

/// So many different words in a hundred that are no words tell of poor hearing. Narrations written down had 0.6 at most,
/// what two speech models made of synthetic voices 0.9 and more in nine of ten.
const POOR: f32 = 0.7;
/// Fewer tell nothing: names and dialect are none of English either.
const FEWEST: usize = 3;

/// How well a narration was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Hearing {
    /// Its words are words.
    #[default]
    Well,
    /// Too many of its words are none: others were misheard without a trace.
    Poorly,
}

impl Hearing {
    /// How well a narration was heard of which these words are none, among so many.
    pub(super) fn by_words<'a>(none: impl Iterator<Item = &'a str>, words: usize) -> Self {
        let different: HashSet<&str> = none.collect();
        let share = 100.0 * different.len() as f32 / words.max(1) as f32;
        if different.len() >= FEWEST && share >= POOR { Self::Poorly } else { Self::Well }
    }
}

impl Lexicon {
    /// Whether a word is an everyday word that changes nothing about a finding.
    #[must_use]
    pub fn is_plain(&self, word: &str) -> bool {
        self.plain.contains(word)
    }

    /// Whether a word is neither one of the lexicon's own nor English: it was surely misheard, or is a name.
    #[must_use]
    pub fn is_no_word(&self, word: &str) -> bool {
        let letters = word.chars().all(char::is_alphabetic);
        letters && self.vocabulary.symbol_of(word).is_none() && !is_english(word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lexicon::mentions::{heard, mentions_of_all};
    use crate::speech::Utterance;

    #[test]
    fn words_that_are_none_tell_of_poor_hearing() {
        let lexicon = Lexicon::load(None).unwrap();
        let well =
            "Bed one. Girl, thirty-six plus four, eleven days old now. Moro absent, both arms. Sorry, Nerys. Absent.";
        for (said, hearing) in [
            (well, Hearing::Well),
            ("", Hearing::Well),
            ("Clowness sustained.", Hearing::Well),
            (
                "Clowness sustained right. Palmer grass pubsent. Tung, trimmer none. Negeops, right, two plus.",
                Hearing::Poorly,
            ),
        ] {
            assert_eq!(mentions_of_all(&lexicon, &[Utterance::from_text(said)]).1, hearing, "{said}");
        }
        let is_word = |word: &str| !heard(&lexicon, &Utterance::from_text(word).words)[0].is_no_word(word);
        assert!(is_word("galant") && is_word("72") && is_word("garden"));
        assert!(!is_word("clowness"));
    }
}

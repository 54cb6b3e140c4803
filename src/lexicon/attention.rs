//! What a lexicon tells of orders: the attention word, another one in its place, and the sets of items.
//! Takes a compiled lexicon; gives what `commands` and `sets` hold. Leaves alone what an order does.
//!
//! `with_attention("clipboard")` gives a lexicon that listens to "clipboard"

use sha2::{Digest, Sha256};

use crate::lexicon::commands::{Command, Commands, Understood};
use crate::lexicon::compile::{Lexicon, Meaning};
use crate::lexicon::load::{Entries, LexiconError, hexadecimal};
use crate::lexicon::quantities::quantities_in;
use crate::lexicon::sets::ExamSet;
use crate::speech::Word;
use crate::speech::words::words_of;

impl Lexicon {
    /// The word that orders begin with.
    #[must_use]
    pub fn attention(&self) -> &str {
        &self.commands.attention
    }

    /// The same lexicon with another attention word. Its identity is another one.
    ///
    /// # Errors
    /// A word that would be taken for something else, or not be heard surely.
    pub fn with_attention(mut self, word: &str) -> Result<Self, LexiconError> {
        let plain =
            self.fit_for_attention(word).map_err(|why| LexiconError::Attention { word: word.to_owned(), why })?;
        if plain != self.commands.attention {
            self.commands.set_attention(&plain, &[]);
            let both = [self.identity.as_bytes(), &[0], plain.as_bytes()].concat();
            self.identity = hexadecimal(&Sha256::digest(both));
        }
        Ok(self)
    }

    /// Sets of items, in order of the files.
    #[must_use]
    pub fn sets(&self) -> &[ExamSet] {
        &self.sets
    }

    /// How many words address the program at the beginning of a sentence; and whether by the attention word as it is spelled.
    #[must_use]
    pub fn addressed(&self, words: &[Word]) -> Option<(usize, bool)> {
        self.commands.addressed(words)
    }

    /// The order that words behind the attention word are.
    #[must_use]
    pub fn order_in(&self, words: &[Word], exact_only: bool) -> Option<Understood> {
        self.commands.understood(words, exact_only)
    }

    /// An order as it is spoken: "Notebook, take that back."
    #[must_use]
    pub fn order_words(&self, command: Command) -> String {
        let mut attention = self.attention().chars();
        let first = attention.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
        format!("{first}{}, {}.", attention.as_str(), self.commands.example(command))
    }

    /// The lexicon, if the attention word that its files declare can be one.
    pub(super) fn with_sound_attention(self, entries: &Entries) -> Result<Self, LexiconError> {
        let word = self.commands.attention.clone();
        match (Commands::place(entries), self.fit_for_attention(&word)) {
            (Some(place), Err(why)) if !word.is_empty() => {
                Err(LexiconError::Faults(vec![place.fault(format!("`{word}` cannot be the attention word: {why}"))]))
            }
            _ => Ok(self),
        }
    }

    /// A word as it is compared; an error says why it cannot be the attention word.
    fn fit_for_attention(&self, word: &str) -> Result<String, String> {
        let plain = self.commands.attention_of(word)?;
        let words = words_of(&plain);
        if !quantities_in(&words).is_empty() {
            return Err("it says a number".to_owned());
        }
        let whole = std::iter::once(plain.as_str()).chain(plain.split(' '));
        if let Some(phrase) = whole.clone().find_map(|text| self.phrase(text)) {
            return Err(format!("`{}` means something in the examination", phrase.text));
        }
        let names = |meaning: &Meaning| matches!(meaning, Meaning::Name(_) | Meaning::Shared(_) | Meaning::DoneBy(_));
        let mut named = self.phrases.iter().filter(|phrase| phrase.meanings.iter().any(names));
        if let Some(phrase) = named.find(|phrase| phrase.text.split(' ').any(|part| part == plain)) {
            return Err(format!("it stands in `{}`, which names something in the examination", phrase.text));
        }
        if whole.clone().all(|text| self.is_plain(text) || text.contains(' ')) {
            return Err("it is said in passing all the time; take a word that is not".to_owned());
        }
        Ok(plain)
    }
}

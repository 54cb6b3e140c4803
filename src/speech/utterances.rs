//! The value of the speech stage: utterances with their words.
//! Takes text or a recogniser's output; gives values only. Leaves alone what is said in them.

use crate::span::SoundSpan;
use crate::speech::words::{Word, words_of};

/// A stretch of speech between pauses.
#[derive(Debug, Clone, PartialEq)]
pub struct Utterance {
    /// The text as written or heard.
    pub text: String,
    /// Its words in order.
    pub words: Vec<Word>,
    /// Place in the recording, where there is one.
    pub sound: Option<SoundSpan>,
}

impl Utterance {
    /// An utterance from a line of text, without sound.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        Self { text: text.to_owned(), words: words_of(text), sound: None }
    }

    /// A text that begins with a capital where the word at `first` does; `None` if there is no such word.
    #[must_use]
    pub fn beginning_alike(&self, first: usize, text: &str) -> Option<String> {
        let start = self.words.get(first)?.start;
        let capital = self.text.get(start..)?.starts_with(char::is_uppercase);
        let mut letters = text.chars();
        Some(match letters.next().filter(|_| capital) {
            Some(first) => first.to_uppercase().chain(letters).collect(),
            None => text.to_owned(),
        })
    }

    /// The utterance with another text in the place of its words from `first` to before `past`: the new words last as long as
    /// those, and are as sure as the least sure of them. `None` if there are no such words, or one of them was written as one
    /// with a word outside ("here's").
    #[must_use]
    pub fn with(&self, (first, past): (usize, usize), text: &str) -> Option<Self> {
        let replaced = self.words.get(first..past)?;
        let (start, end) = (replaced.first()?.start, replaced.last()?.end);
        let touches = |word: Option<&Word>| word.is_some_and(|word| word.start < end && word.end > start);
        if touches(first.checked_sub(1).and_then(|at| self.words.get(at))) || touches(self.words.get(past)) {
            return None;
        }
        let text = format!("{}{text}{}", self.text.get(..start)?, self.text.get(end..)?);
        let mut words = words_of(&text);
        let new = (words.len() + past).checked_sub(self.words.len())?;
        let sound = SoundSpan::around(replaced.iter().filter_map(|word| word.sound));
        let probability = replaced.iter().filter_map(|word| word.probability).reduce(f32::min);
        for (at, word) in words.iter_mut().enumerate() {
            let own = match at {
                _ if at < first => self.words.get(at),
                _ if at < new => None,
                _ => self.words.get(at + past - new),
            };
            (word.sound, word.probability) = own.map_or((sound, probability), |old| (old.sound, old.probability));
        }
        Some(Self { text, words, sound: self.sound })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_put_in_the_place_of_others() {
        let mut said = Utterance::from_text("And, my steps do plus. Here's one.");
        for (at, word) in (0u64..).zip(&mut said.words) {
            word.sound = Some(SoundSpan { start_ms: at, end_ms: at + 1 });
            word.probability = Some(at as f32);
        }
        let put = said.with((1, 3), "biceps").unwrap();
        assert_eq!(put.text, "And, biceps do plus. Here's one.");
        let words: Vec<(&str, u64, u64, f32)> = put
            .words
            .iter()
            .map(|word| {
                let sound = word.sound.unwrap();
                (word.plain.as_str(), sound.start_ms, sound.end_ms, word.probability.unwrap())
            })
            .collect();
        assert_eq!(words[..3], [("and", 0, 1, 0.0), ("biceps", 1, 3, 1.0), ("do", 3, 4, 3.0)]);
        assert_eq!(words.last(), Some(&("one", 7, 8, 7.0)));
        // More words than stood there leave those behind it their times.
        let last = said.with((1, 2), "a b c").unwrap().words.last().and_then(|word| word.sound);
        assert_eq!(last, Some(SoundSpan { start_ms: 7, end_ms: 8 }));
        assert_eq!(said.with((5, 6), "hear"), None);
        assert_eq!(said.with((4, 6), "plush ear"), None);
        assert_eq!(said.with((5, 7), "ears").unwrap().text, "And, my steps do plus. ears one.");
        assert_eq!(said.with((3, 3), "two"), None);
        assert_eq!(said.with((7, 9), "two"), None);
    }
}

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
}

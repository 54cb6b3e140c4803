//! A place in the words and in the sound, carried by everything above.
//! Takes and gives nothing: values only. Leaves alone what was said there.

/// A stretch of words within one utterance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// Index of the utterance, from 0.
    pub utterance: usize,
    /// Index of the first word, from 0.
    pub first: usize,
    /// Index behind the last word; never less than `first`.
    pub past: usize,
}

impl Span {
    /// The smallest stretch that covers both; spans of different utterances keep the later one.
    #[must_use]
    pub fn cover(self, other: Self) -> Self {
        if self.utterance != other.utterance {
            return self.max(other);
        }
        Self { utterance: self.utterance, first: self.first.min(other.first), past: self.past.max(other.past) }
    }

    /// Whether the two share a word.
    #[must_use]
    pub fn overlaps(self, other: Self) -> bool {
        self.utterance == other.utterance && self.first < other.past && other.first < self.past
    }

    /// How many words it holds.
    #[must_use]
    pub fn len(self) -> usize {
        self.past - self.first
    }

    /// Whether it holds no word.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.past == self.first
    }
}

/// A stretch of the recording, in milliseconds from its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SoundSpan {
    /// Start in milliseconds.
    pub start_ms: u64,
    /// End in milliseconds; never before the start.
    pub end_ms: u64,
}

impl SoundSpan {
    /// The smallest stretch that holds all of them; `None` for none.
    #[must_use]
    pub fn around(spans: impl IntoIterator<Item = Self>) -> Option<Self> {
        let cover = |one: Self, other: Self| Self {
            start_ms: one.start_ms.min(other.start_ms),
            end_ms: one.end_ms.max(other.end_ms),
        };
        spans.into_iter().reduce(cover)
    }
}

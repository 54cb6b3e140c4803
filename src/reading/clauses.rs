//! Utterance → sentences and segments.
//! Takes the words of an utterance with their stops; gives sentences, each cut into segments at commas, pauses and
//! joining words. Leaves alone what is said in them.
//!
//! "Left biceps two plus, and the right is brisk." gives one sentence with the segments "Left biceps two plus" and
//! "and the right is brisk"

use crate::speech::{Stop, Utterance};

/// A stretch of a sentence between commas, pauses and joining words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Segment {
    /// Index of its first word in the utterance.
    pub first: usize,
    /// Index behind its last word.
    pub past: usize,
}

/// A sentence of an utterance.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    /// Index of the utterance.
    pub utterance: usize,
    /// Its segments, in order; at least one.
    pub segments: Vec<Segment>,
    /// Whether it ends with a question mark.
    pub question: bool,
}

impl Sentence {
    /// Index of its first word.
    #[must_use]
    pub fn first(&self) -> usize {
        self.segments.first().map_or(0, |segment| segment.first)
    }

    /// Index behind its last word.
    #[must_use]
    pub fn past(&self) -> usize {
        self.segments.last().map_or(0, |segment| segment.past)
    }

    /// The part of it from a word to before another; `None` where that has no words.
    #[must_use]
    pub fn between(&self, first: usize, past: usize) -> Option<Self> {
        let clipped = |segment: &Segment| Segment { first: segment.first.max(first), past: segment.past.min(past) };
        let segments = self.segments.iter().map(clipped).filter(|segment| segment.first < segment.past).collect();
        let part = Self { utterance: self.utterance, segments, question: self.question && past >= self.past() };
        (!part.segments.is_empty()).then_some(part)
    }

    /// The segment that holds a word; the last one for a word behind the end.
    #[must_use]
    pub fn segment_of(&self, word: usize) -> usize {
        self.segments.iter().position(|segment| word < segment.past).unwrap_or(self.segments.len().saturating_sub(1))
    }
}

/// Words before which a new segment begins.
const JOINS: [&str; 7] = ["and", "but", "whereas", "although", "except", "while", "because"];

/// The sentences of an utterance; none where it has no words. Inside a stretch of `whole` no segment begins: "forty and
/// two" is one number.
#[must_use]
pub fn sentences(index: usize, utterance: &Utterance, whole: &[(usize, usize)]) -> Vec<Sentence> {
    let is_inside = |at: usize| whole.iter().any(|(first, past)| *first < at && at < *past);
    let mut sentences = Vec::new();
    let mut segments: Vec<Segment> = Vec::new();
    let mut first = 0;
    for (at, word) in utterance.words.iter().enumerate() {
        if at > first && JOINS.contains(&word.plain.as_str()) && !is_inside(at) {
            segments.push(Segment { first, past: at });
            first = at;
        }
        if word.stop != Stop::None {
            segments.push(Segment { first, past: at + 1 });
            first = at + 1;
        }
        if word.stop >= Stop::End {
            let question = word.stop == Stop::Question;
            sentences.push(Sentence { utterance: index, segments: std::mem::take(&mut segments), question });
        }
    }
    if first < utterance.words.len() {
        segments.push(Segment { first, past: utterance.words.len() });
    }
    if !segments.is_empty() {
        sentences.push(Sentence { utterance: index, segments, question: false });
    }
    sentences
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(line: &str, cut: &[&[&str]]) {
        let utterance = Utterance::from_text(line);
        let found: Vec<Vec<String>> = sentences(0, &utterance, &[])
            .iter()
            .map(|sentence| {
                let text = |s: &Segment| {
                    let words: Vec<&str> = utterance.words[s.first..s.past].iter().map(|w| w.plain.as_str()).collect();
                    words.join(" ")
                };
                sentence.segments.iter().map(text).collect()
            })
            .collect();
        assert_eq!(found, cut, "line: {line}");
    }

    #[test]
    fn sentences_are_cut_at_stops_and_segments_at_commas_and_joins() {
        check("Left two, and right three. Good", &[&["left two", "and right three"], &["good"]]);
        check("Wait... there", &[&["wait", "there"]]);
        check("Is it? No", &[&["is it"], &["no"]]);
        check("", &[]);
    }
}

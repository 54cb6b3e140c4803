//! A recogniser's tokens → utterances, a sentence each.
//! Takes pieces of text with their times and probabilities; gives the text as heard, and words that carry the times
//! and probabilities of the pieces they are made of.
//! Leaves alone spelling and punctuation, and whether the words deserve belief (`rejection`).
//!
//! " Mor" "o" " is" " full" "." " Good" "." gives "Moro is full." and "Good."

use crate::span::SoundSpan;
use crate::speech::utterances::Utterance;
use crate::speech::words::{Word, words_of};

/// A token as the recogniser wrote it.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its bytes: not always whole characters.
    pub bytes: Vec<u8>,
    /// Its place in the sound.
    pub sound: SoundSpan,
    /// Its probability, 0 to 1.
    pub probability: f32,
}

/// The mean of the logarithms of the probabilities: 0 is certain, -1 is poor. 0 for no pieces.
#[must_use]
pub fn mean_log_probability(pieces: &[Piece]) -> f32 {
    let sum: f32 = pieces.iter().map(|piece| piece.probability.max(1e-6).ln()).sum();
    if pieces.is_empty() { 0.0 } else { sum / pieces.len() as f32 }
}

/// The text of pieces as heard, without the space before it.
#[must_use]
pub fn text_of(pieces: &[Piece]) -> String {
    Line::of(pieces).text.trim().to_owned()
}

/// The utterances of pieces in order of time; a new one begins behind every full stop and question mark.
#[must_use]
pub fn utterances_of(pieces: &[Piece]) -> Vec<Utterance> {
    let line = Line::of(pieces);
    sentences(&line.text).into_iter().filter_map(|(start, end)| line.utterance(start, end)).collect()
}

/// The whole text and where each piece lies in it.
struct Line<'a> {
    text: String,
    /// First byte and byte behind the last of a piece in the text; pieces that share a character share its bytes.
    places: Vec<(usize, usize, &'a Piece)>,
}

impl<'a> Line<'a> {
    fn of(pieces: &'a [Piece]) -> Self {
        let mut line = Self { text: String::new(), places: Vec::with_capacity(pieces.len()) };
        let mut open: Vec<u8> = Vec::new();
        let mut waiting: Vec<&Piece> = Vec::new();
        for (index, piece) in pieces.iter().enumerate() {
            open.extend(&piece.bytes);
            waiting.push(piece);
            // A character may be spread over up to four tokens: keep them until it is whole.
            let broken = std::str::from_utf8(&open).is_err_and(|error| error.error_len().is_none());
            if broken && index + 1 < pieces.len() {
                continue;
            }
            let start = line.text.len();
            line.text.push_str(&String::from_utf8_lossy(&open));
            open.clear();
            line.places.extend(waiting.drain(..).map(|piece| (start, line.text.len(), piece)));
        }
        line
    }

    fn utterance(&self, start: usize, end: usize) -> Option<Utterance> {
        let text = self.text.get(start..end)?;
        let mut words = words_of(text);
        for word in &mut words {
            self.fill(word, start);
        }
        let first = words.iter().find_map(|word| word.sound)?;
        let end_ms = words.iter().filter_map(|word| word.sound).map(|sound| sound.end_ms).max()?;
        let sound = SoundSpan { start_ms: first.start_ms, end_ms: end_ms.max(first.start_ms) };
        Some(Utterance { text: text.to_owned(), words, sound: Some(sound) })
    }

    /// A word is no surer than its least sure piece.
    fn fill(&self, word: &mut Word, offset: usize) {
        let (start, end) = (word.start + offset, word.end + offset);
        for &(from, past, piece) in self.places.iter().filter(|(from, past, _)| *from < end && *past > start) {
            // A comma in one token with a word's end, or a space before it, is part of that word's piece; a piece
            // that shares nothing but a space with the word is not.
            let shared = self.text.get(from.max(start)..past.min(end)).unwrap_or_default();
            if shared.trim().is_empty() {
                continue;
            }
            let sound = word.sound.get_or_insert(piece.sound);
            sound.start_ms = sound.start_ms.min(piece.sound.start_ms);
            sound.end_ms = sound.end_ms.max(piece.sound.end_ms);
            word.probability = Some(word.probability.map_or(piece.probability, |p| p.min(piece.probability)));
        }
    }
}

/// Titles and Latin whose full stop ends no sentence.
const ABBREVIATIONS: [&str; 9] = ["dr", "mr", "mrs", "ms", "prof", "st", "vs", "e.g", "i.e"];

/// First byte and byte behind the last of each sentence, spaces around it left out.
fn sentences(text: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut start = 0;
    let mut push = |start: usize, end: usize| {
        let sentence = text.get(start..end).unwrap_or_default();
        let begins = start + sentence.len() - sentence.trim_start().len();
        if !sentence.trim().is_empty() {
            found.push((begins, begins + sentence.trim().len()));
        }
    };
    for (at, mark) in text.char_indices().filter(|(_, c)| matches!(c, '.' | '?' | '!')) {
        let behind = at + mark.len_utf8();
        let rest = text.get(behind..).unwrap_or_default();
        let closing =
            rest.chars().take_while(|c| matches!(c, '"' | '”' | '’' | ')')).map(char::len_utf8).sum::<usize>();
        let rest = rest.get(closing..).unwrap_or_default();
        // "34.6" and "..." hold stops that end nothing; so do "Dr. Green" and "hmm... no".
        let dots = mark == '.' && text.get(..at).is_some_and(|before| before.ends_with('.'));
        let ends = rest.starts_with(char::is_whitespace) && !dots && !abbreviated(text.get(..at).unwrap_or_default());
        if ends && !rest.trim_start().starts_with(char::is_lowercase) {
            push(start, behind + closing);
            start = behind + closing;
        }
    }
    push(start, text.len());
    found
}

fn abbreviated(before: &str) -> bool {
    let word = before.rsplit(char::is_whitespace).next().unwrap_or_default().to_lowercase();
    ABBREVIATIONS.contains(&word.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pieces of 100 ms each, their probability falling from 0.9 in tenths.
    fn pieces(texts: &[&[u8]]) -> Vec<Piece> {
        let piece = |(at, text): (u64, &&[u8])| Piece {
            bytes: text.to_vec(),
            sound: SoundSpan { start_ms: at * 100, end_ms: at * 100 + 100 },
            probability: 0.9 - at as f32 / 10.0,
        };
        (0..).zip(texts).map(piece).collect()
    }

    #[test]
    fn words_carry_the_times_and_the_least_probability_of_their_pieces() {
        let heard = utterances_of(&pieces(&[b" Mor", b"o", b" is", b" 34", b".", b"6", b"."]));
        assert_eq!(heard.len(), 1);
        assert_eq!(heard[0].text, "Moro is 34.6.");
        let words: Vec<(&str, u64, u64, i32)> = heard[0]
            .words
            .iter()
            .map(|word| {
                let sound = word.sound.unwrap();
                let tenths = (word.probability.unwrap() * 10.0).round() as i32;
                (word.plain.as_str(), sound.start_ms, sound.end_ms, tenths)
            })
            .collect();
        assert_eq!(words, [("moro", 0, 200, 8), ("is", 200, 300, 7), ("34.6", 300, 600, 4)]);
        assert_eq!(heard[0].sound, Some(SoundSpan { start_ms: 0, end_ms: 600 }));
    }

    #[test]
    fn words_are_those_of_the_text() {
        for text in ["It's two, no, three.", "90° on the left!", "38+4 weeks - yes", "…"] {
            for heard in utterances_of(&pieces(&[text.as_bytes()])) {
                let bare = |words: &[Word]| -> Vec<Word> {
                    words.iter().map(|word| Word { sound: None, probability: None, ..word.clone() }).collect()
                };
                assert_eq!(bare(&heard.words), words_of(&heard.text));
                assert!(heard.words.iter().all(|word| word.sound.is_some()), "{text}");
            }
        }
    }

    #[test]
    fn a_character_over_several_tokens_is_one() {
        let heard = utterances_of(&pieces(&[b" 90", b"\xc2", b"\xb0", b" yes"]));
        assert_eq!(heard[0].text, "90° yes");
        assert_eq!(heard[0].words[1].sound, Some(SoundSpan { start_ms: 100, end_ms: 300 }));
        assert_eq!(text_of(&pieces(&[b" a", b"\xc2"])), "a\u{fffd}");
    }

    #[test]
    fn each_sentence_is_an_utterance() {
        let check = |text: &str, sentences: &[&str]| {
            let heard = utterances_of(&pieces(&[text.as_bytes()]));
            let texts: Vec<&str> = heard.iter().map(|heard| heard.text.as_str()).collect();
            assert_eq!(texts, sentences);
        };
        check(" The left is 34.6. Good? Yes!", &["The left is 34.6.", "Good?", "Yes!"]);
        check(" Hmm... no. Dr. Green said so.", &["Hmm... no.", "Dr. Green said so."]);
        check(" He said \"stop.\" And I did", &["He said \"stop.\"", "And I did"]);
        check(" no full stop", &["no full stop"]);
        check("", &[]);
        check(" ... ", &[]);
    }
}

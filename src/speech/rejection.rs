//! What was written for a stretch of sound → whether to believe that it was speech.
//! Takes pieces and the recogniser's own chance of there being no speech; gives the reason to drop them, or none.
//! Leaves alone single doubtful words: they keep their low probability and others judge them.
//!
//! `[BLANK_AUDIO]` is not speech; "thank you thank you thank you thank you thank you" is a recogniser that is lost.

use crate::speech::tokens::{Piece, mean_log_probability, text_of};
use crate::speech::transcriber::Unheard;
use crate::speech::words::words_of;

/// Above this the recogniser says that it hears no speech …
const NO_SPEECH: f32 = 0.5;
/// … which counts only if what it wrote is this poor: quiet speech can be sure and marked as silence all the same.
const POOR: f32 = -0.8;
/// Poorer than this nothing is believed.
const HOPELESS: f32 = -1.6;
/// A single word this many times in a row is a loop; parents and examiners say "no, no, no, no".
const SINGLE_REPEATS: usize = 8;
/// Several words this many times in a row are a loop.
const REPEATS: usize = 4;
/// Loops are looked for up to this many words.
const LONGEST_LOOP: usize = 12;

/// Why the pieces should be dropped, if they should. `no_speech` is a probability, 0 to 1.
#[must_use]
pub fn fault(pieces: &[Piece], no_speech: f32) -> Option<Unheard> {
    let text = text_of(pieces);
    let spoken = outside_brackets(&text);
    let words: Vec<String> = words_of(&spoken).into_iter().map(|word| word.plain).collect();
    let sureness = mean_log_probability(pieces);
    if words.is_empty() {
        let silent = text.is_empty() && no_speech <= NO_SPEECH;
        return Some(if silent { Unheard::NoWords } else { Unheard::NotSpeech });
    }
    if no_speech > NO_SPEECH && sureness < POOR {
        return Some(Unheard::NotSpeech);
    }
    if is_loop(&words) {
        return Some(Unheard::Repeated);
    }
    (sureness < HOPELESS).then_some(Unheard::Unsure)
}

/// The text without "[…]", "(…)", "*…*" and what stands between notes: that is how a recogniser names other sounds.
fn outside_brackets(text: &str) -> String {
    let mut spoken = String::new();
    let mut closing = None;
    for c in text.chars() {
        match (closing, c) {
            (Some(end), c) if c == end => closing = None,
            (Some(_), _) => {}
            (None, '[') => closing = Some(']'),
            (None, '(') => closing = Some(')'),
            (None, '*' | '♪' | '♫') => closing = Some(c),
            (None, c) => spoken.push(c),
        }
    }
    spoken
}

/// Whether some words come again and again without anything between.
fn is_loop(words: &[String]) -> bool {
    (1..=LONGEST_LOOP.min(words.len() / REPEATS)).any(|length| {
        let needed = if length == 1 { SINGLE_REPEATS } else { REPEATS };
        let mut same = 0;
        words.iter().zip(words.iter().skip(length)).any(|(word, later)| {
            same = if word == later { same + 1 } else { 0 };
            same >= length * (needed - 1)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::SoundSpan;

    #[track_caller]
    fn check(text: &str, probability: f32, no_speech: f32, expected: Option<Unheard>) {
        let sound = SoundSpan { start_ms: 0, end_ms: 0 };
        let piece = |word: &str| Piece { bytes: word.as_bytes().to_vec(), sound, probability };
        let pieces: Vec<Piece> = text.split_inclusive(' ').map(piece).collect();
        assert_eq!(fault(&pieces, no_speech), expected, "text: {text}");
    }

    #[test]
    fn speech_is_believed() {
        check("The Moro is full and symmetric.", 0.9, 0.1, None);
        check("Quiet but sure.", 0.9, 0.9, None);
        check("Unclear, with no doubt of speech.", 0.4, 0.1, None);
        check("No, no, no, no, no. Left, right, left, right.", 0.9, 0.1, None);
        check("Good. Good. Good. (laughs) Good.", 0.9, 0.1, None);
    }

    #[test]
    fn other_sounds_are_not() {
        check("", 0.9, 0.1, Some(Unheard::NoWords));
        check("", 0.9, 0.9, Some(Unheard::NotSpeech));
        check("[BLANK_AUDIO]", 0.9, 0.1, Some(Unheard::NotSpeech));
        check("(baby crying) [MUSIC]", 0.9, 0.1, Some(Unheard::NotSpeech));
        check("♪ la la la ♪ *coughs*", 0.9, 0.1, Some(Unheard::NotSpeech));
        check("...", 0.9, 0.1, Some(Unheard::NotSpeech));
        check("you", 0.2, 0.9, Some(Unheard::NotSpeech));
        check("Thank you for watching", 0.1, 0.1, Some(Unheard::Unsure));
    }

    #[test]
    fn loops_are_found_whatever_their_length() {
        check("Thank you. Thank you. Thank you. Thank you.", 0.9, 0.1, Some(Unheard::Repeated));
        check("so it is the the the the the the the the", 0.9, 0.1, Some(Unheard::Repeated));
        check(&"and the tone of the arm is good, ".repeat(5), 0.9, 0.1, Some(Unheard::Repeated));
        check(&"and the tone of the arm is good, ".repeat(3), 0.9, 0.1, None);
    }
}

//! Findings in words for people.
//! Takes a finding of a draft; gives its value, side and flags as a person would write them. Leaves alone layout.
//!
//! `>=10beats` gives "at least 10 beats", `past-midline` gives "past midline"

use crate::record::DraftFinding;
pub use crate::record::words::{figures_words, plain_value, side_words};
use crate::span::SoundSpan;

/// The value of a finding for people: "about 95°", "at least 10 beats", "past midline".
#[must_use]
pub fn value_words(finding: &DraftFinding) -> String {
    let value = plain_value(&finding.value, finding.figures.as_ref());
    if finding.approx { format!("about {value}") } else { value }
}

/// What was examined, with its side: "scarf sign left".
#[must_use]
pub fn place_of(finding: &DraftFinding) -> String {
    format!("{} {}", finding.name, side_words(finding.side)).trim_end().to_owned()
}

/// A finding in a line: "scarf sign left: past midline".
#[must_use]
pub fn line_of(finding: &DraftFinding) -> String {
    format!("{}: {}", place_of(finding), value_words(finding))
}

/// Minutes and seconds into the recording: "1:07".
#[must_use]
pub fn clock(ms: u64) -> String {
    format!("{}:{:02}", ms / 60_000, ms / 1000 % 60)
}

/// A stretch of a recording: "1:07 to 1:09:".
#[must_use]
pub fn span_words(sound: SoundSpan) -> String {
    format!("{} to {}:", clock(sound.start_ms), clock(sound.end_ms))
}

/// Where words are: "at 1:07" in a recording, "line 12" in a text.
#[must_use]
pub fn place_words(utterance: usize, sound: Option<SoundSpan>) -> String {
    sound.map_or_else(|| format!("line {}", utterance + 1), |sound| format!("at {}", clock(sound.start_ms)))
}

/// A text in at most `width` characters; what is cut from its end is shown by dots.
#[must_use]
pub fn shortened(text: &str, width: usize) -> String {
    let text: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.chars().count() <= width {
        return text;
    }
    let kept: String = text.chars().take(width.saturating_sub(3)).collect();
    format!("{}...", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_texts_end_in_dots_and_never_break_a_letter() {
        assert_eq!(shortened("tonus größer als gedacht", 12), "tonus grö...");
        assert_eq!(shortened("short\n text", 12), "short text");
        assert_eq!((clock(67_900), clock(0)), ("1:07".into(), "0:00".into()));
    }
}

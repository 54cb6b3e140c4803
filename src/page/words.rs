//! Words of the page, and places in the words of a line.
//! Takes reasons, hearings and drafts; gives plain sentences. Takes a line; gives where each of its words stands, as a browser
//! counts letters (UTF-16). Leaves alone how it looks.
//!
//! in "größer, left" the word "left" goes from 8 to 12

use serde::Serialize;

use crate::lexicon::How;
use crate::reading::values::Told;
use crate::reading::{HeardBy, Reason};
use crate::record::{DraftRecord, Quote};
use crate::speech::words::words_of;
use crate::store::Signature;

/// From one place in a line to another, in UTF-16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub(super) struct Stretch {
    pub(super) start: usize,
    pub(super) end: usize,
}

/// The words of a line.
pub(super) struct LineWords<'a> {
    text: &'a str,
    /// As bytes.
    words: Vec<(usize, usize)>,
    /// Where letters are counted otherwise than bytes: the first byte that stands behind such a letter, and how many units
    /// fewer there are up to it.
    shorter_by: Vec<(usize, usize)>,
}

impl<'a> LineWords<'a> {
    pub(super) fn of(text: &'a str) -> Self {
        let words = words_of(text).iter().map(|word| (word.start, word.end)).collect();
        let mut shorter_by = Vec::new();
        let mut fewer = 0;
        for (at, letter) in text.char_indices().filter(|(_, letter)| !letter.is_ascii()) {
            fewer += letter.len_utf8() - letter.len_utf16();
            shorter_by.push((at + letter.len_utf8(), fewer));
        }
        Self { text, words, shorter_by }
    }

    /// All of them.
    pub(super) fn all(&self) -> Vec<Stretch> {
        self.words.iter().map(|(start, end)| self.counted(*start, *end)).collect()
    }

    /// Where a quote stands; `None` if it does not stand there, so that no other words are marked for it.
    pub(super) fn stretch(&self, quote: &Quote) -> Option<Stretch> {
        let words = self.words.get(quote.span.first..quote.span.past)?;
        let (start, end) = (words.first()?.0, words.last()?.1);
        (self.text.get(start..end)? == quote.text).then(|| self.counted(start, end))
    }

    fn counted(&self, start: usize, end: usize) -> Stretch {
        let unit = |byte: usize| {
            let before = self.shorter_by.partition_point(|(at, _)| *at <= byte);
            byte - before.checked_sub(1).and_then(|at| self.shorter_by.get(at)).map_or(0, |(_, fewer)| *fewer)
        };
        Stretch { start: unit(start), end: unit(end) }
    }
}

/// Why a finding needs the eye, in a sentence.
pub(super) fn reason_why(reason: Reason) -> &'static str {
    match reason {
        Reason::HeardUnclearly => "The words were heard unclearly, or only sound like these.",
        Reason::ItemUncertain => "It is not certain what this was said of.",
        Reason::ValueUncertain => "The value could be another one.",
        Reason::SideUnstated => "Left or right was not said.",
        Reason::SaidTwiceDifferently => "It was said twice, differently, and not corrected.",
        Reason::OutsideLimits => "The number is outside what is plausible; it is kept as it was said.",
        Reason::Hedged => "It was said with doubt.",
    }
}

/// Which hearings came to a finding, in a sentence; nothing where there was only one, or it is text.
pub(super) fn heard_by_words(heard_by: HeardBy) -> Option<&'static str> {
    Some(match heard_by {
        HeardBy::One => return None,
        HeardBy::All => "All hearings came to this.",
        HeardBy::Two => "Two hearings came to this, and none to anything else.",
        HeardBy::SoundAlone => "Several hearings came to this, but by words that only sound like it.",
        HeardBy::Contested => "Other words fit the sound as well.",
        HeardBy::Otherwise => "Another hearing came to something else.",
        HeardBy::FirstAlone => "Only the first hearing came to this.",
        HeardBy::OtherAlone => "Only another hearing than the first understood this.",
    })
}

/// How the words were recognised.
pub(super) fn how_words(how: How) -> &'static str {
    match how {
        How::Exact => "word for word",
        How::Spelling => "in another spelling",
        How::Misheard => "as what is often written for it",
        How::Sound(_) => "by its sound",
    }
}

/// How the item was told.
pub(super) fn told_words(told: Told) -> &'static str {
    match told {
        Told::Named => "it was named",
        Told::InProgress => "it was being examined",
        Told::Body => "a part of the body told it",
    }
}

/// What holds of every record, signed or not.
const ALWAYS: [&str; 5] = [
    "Software made the text from speech. Check who examined, when, and which infant.",
    "The words that each finding came from are one step away: choose the finding.",
    "What is listed as not mentioned was not said, which does not make it normal.",
    "A clear line can be wrong too.",
    "This is no full newborn check: colour, breathing, glucose, feeding and jaundice can matter more.",
];

/// What every screen about a record says. From the project's cautions: common practice, no source.
pub(super) fn cautions(draft: &DraftRecord, signed: Option<&Signature>, decided_since: u64) -> Vec<String> {
    let mut cautions = vec![match signed {
        None => "DRAFT, not confirmed: it is no record until a licensed clinician has confirmed it by name and time."
            .to_owned(),
        Some(signature) => {
            format!("Confirmed by {}, as version {}; the time stands beside it.", signature.by, signature.version)
        }
    }];
    if decided_since > 0 {
        cautions.push("DRAFT, not confirmed: what was decided since it was signed.".to_owned());
    }
    cautions.extend(ALWAYS.map(str::to_owned));
    if draft.lacks_sound() {
        cautions
            .push("Some of the sound was lost, dropped or held no speech: what was said there is missing.".to_owned());
    }
    let unclear = draft.all_findings().filter(|finding| finding.reasons.contains(&Reason::HeardUnclearly)).count();
    if unclear > 0 {
        let findings = if unclear == 1 { "One finding was".to_owned() } else { format!("{unclear} findings were") };
        cautions.push(format!("{findings} heard unclearly."));
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::Span;

    #[test]
    fn places_are_counted_as_browsers_count() {
        let line = LineWords::of("größer, 👶 left");
        let quote = |first, past, text: &str| Quote {
            text: text.to_owned(),
            span: Span { utterance: 0, first, past },
            sound: None,
        };
        let last = line.all().len() - 1;
        assert_eq!(line.stretch(&quote(0, 1, "größer")), Some(Stretch { start: 0, end: 6 }));
        // The drawing of an infant is two units long.
        assert_eq!(line.stretch(&quote(last, last + 1, "left")), Some(Stretch { start: 11, end: 15 }));
        assert_eq!(line.stretch(&quote(last, last + 1, "right")), None);
        assert_eq!(line.stretch(&quote(last, last + 9, "left")), None);
        assert_eq!(line.stretch(&quote(last, last, "")), None);
    }
}

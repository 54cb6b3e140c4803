//! What was understood → whether it stands against what it could be taken for.
//! Takes findings with the utterances they rest on, and a recogniser. The other side, a number that sounds alike, the sentence
//! with its denial and without, and values that sound alike are put before the sound, and what does not lead is marked. Leaves
//! alone words that came to nothing (`again`), and what needs the eye anyway.
//!
//! "Plantar grasp, 15 on the left" is weighed against "50", "right" and "No plantar grasp"

use crate::audio::Sound;
use crate::flow::again::contest;
use crate::flow::hearings::Together;
use crate::lexicon::Lexicon;
use crate::reading::{Finding, HeardBy, Value};
use crate::span::Span;
use crate::speech::{Contest, SpeechError, Stop, Transcriber, Utterance, Word};

/// By how many nats a finding must lead over each kind of thing that it could be taken for. Of some 1,500 findings in 24
/// recordings of synthetic voices, of those that lead by less every second one was wrong, of all others every seventh;
/// sides told nothing there, and theirs is what single words needed.
const LEAD_OF_SIDE: f32 = 3.0;
const LEAD_OF_NUMBER: f32 = 6.0;
const LEAD_OF_DENIAL: f32 = 2.0;
const LEAD_OF_VALUE: f32 = 2.0;
/// How many values are tried in the place of one.
const MOST: usize = 2;

/// What words could be taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Side,
    Number,
    Denial,
    Value,
}

impl Kind {
    /// The lead that is needed.
    fn needed(self) -> f32 {
        match self {
            Self::Side => LEAD_OF_SIDE,
            Self::Number => LEAD_OF_NUMBER,
            Self::Denial => LEAD_OF_DENIAL,
            Self::Value => LEAD_OF_VALUE,
        }
    }
}

/// A text of an utterance that would say something else.
#[derive(Debug, Clone, PartialEq)]
struct Other {
    at: usize,
    text: String,
    kind: Kind,
}

/// Marks what does not stand, of what was said from the utterance `since` on.
///
/// # Errors
/// If the recogniser fails or was stopped.
pub(super) fn weigh(
    lexicon: &Lexicon,
    all: &mut Together,
    (sound, since): (&dyn Sound, usize),
    judge: &mut dyn Transcriber,
) -> Result<(), SpeechError> {
    let said = &all.utterances;
    let asked = |found: &Finding| {
        let mut others = if is_open(found) { others(lexicon, said, found) } else { Vec::new() };
        others.retain(|other| other.at >= since);
        others
    };
    let others: Vec<Vec<Other>> = all.reading.findings.iter().map(asked).collect();
    let contests = contests(said, &others);
    let asked: Vec<Contest> = contests.iter().map(|(_, contest)| contest.clone()).collect();
    let Some(scores) = judge.scores(sound, &asked)? else { return Ok(()) };
    let lead = |other: &Other| {
        let place = contests.iter().position(|(at, _)| *at == other.at)?;
        let (own, texts) = (scores.get(place)?, contests.get(place)?.1.texts.iter());
        let text = texts.skip(1).position(|text| *text == other.text)?;
        Some(own.first()? - own.get(text + 1)?)
    };
    for (found, others) in all.reading.findings.iter_mut().zip(&others) {
        // What was not asked about when somebody listened is no number, and does not lead.
        let contests = |other: &Other| lead(other).is_some_and(|lead| lead.is_nan() || lead < other.kind.needed());
        if others.iter().any(contests) {
            found.heard_by = HeardBy::Contested;
        }
    }
    Ok(())
}

/// Whether an answer could change what is thought of a finding.
pub(super) fn is_open(found: &Finding) -> bool {
    !matches!(found.heard_by, HeardBy::SoundAlone | HeardBy::Otherwise | HeardBy::OtherAlone)
}

/// For each utterance that is asked about its own text and all that it could be.
fn contests(said: &[Utterance], others: &[Vec<Other>]) -> Vec<(usize, Contest)> {
    let mut places: Vec<usize> = others.iter().flatten().map(|other| other.at).collect();
    places.sort_unstable();
    places.dedup();
    let of_place = |at: usize| {
        let mut texts: Vec<&String> = Vec::new();
        for other in others.iter().flatten().filter(|other| other.at == at) {
            if !texts.contains(&&other.text) {
                texts.push(&other.text);
            }
        }
        Some((at, contest(&|at| said.get(at), at, &mut texts.into_iter())?))
    };
    places.into_iter().filter_map(of_place).collect()
}

/// What the words of a finding could be taken for.
fn others(lexicon: &Lexicon, said: &[Utterance], found: &Finding) -> Vec<Other> {
    let (because, item) = (&found.stands.because, found.stands.item);
    let mut all = denials(lexicon, said, found);
    let mut put = |span: Span, kind: Kind, new: &str| all.extend(other(said, span, kind, new));
    for span in because.sides.iter().flat_map(|side| single_words(*side)) {
        lexicon.other_side(words(said, span)).into_iter().for_each(|side| put(span, Kind::Side, side));
    }
    if let Value::Choice(value) = found.stands.value {
        let values = lexicon.other_values(item, value, words(said, because.value));
        values.into_iter().take(MOST).for_each(|value| put(because.value, Kind::Value, value));
    }
    for span in single_words(because.value) {
        let number = words(said, span).first().and_then(|word| other_number(&word.plain));
        number.into_iter().for_each(|number| put(span, Kind::Number, &number));
    }
    all
}

fn words(said: &[Utterance], span: Span) -> &[Word] {
    said.get(span.utterance).and_then(|said| said.words.get(span.first..span.past)).unwrap_or_default()
}

fn single_words(span: Span) -> impl Iterator<Item = Span> {
    (span.first..span.past).map(move |at| Span { first: at, past: at + 1, ..span })
}

/// The utterance without each of its denials; where there is none, with one in front.
fn denials(lexicon: &Lexicon, said: &[Utterance], found: &Finding) -> Vec<Other> {
    let quote = found.stands.because.quote;
    let text = |span: Span| {
        let word = words(said, span).first()?;
        said.get(span.utterance)?.text.get(word.start..word.end)
    };
    let is_denial = |span: &Span| lexicon.denies(words(said, *span));
    let without = |denial: Span| {
        let next = text(Span { first: denial.past, past: denial.past + 1, ..denial })?;
        other(said, Span { past: denial.past + 1, ..denial }, Kind::Denial, next)
    };
    let denials: Vec<Span> = single_words(quote).filter(is_denial).collect();
    if !denials.is_empty() {
        return denials.into_iter().filter_map(without).collect();
    }
    let first = Span { past: quote.first + 1, ..quote };
    let before = quote.first.checked_sub(1).and_then(|at| said.get(quote.utterance)?.words.get(at));
    let begins = before.is_none_or(|word| word.stop >= Stop::Pause);
    let denied = text(first).filter(|_| begins && matches!(found.stands.value, Value::Choice(_)));
    denied
        .and_then(|word| other(said, first, Kind::Denial, &format!("no {}", word.to_lowercase())))
        .into_iter()
        .collect()
}

/// An utterance with other words in a place, which begin as those did.
fn other(said: &[Utterance], span: Span, kind: Kind, new: &str) -> Option<Other> {
    let said = said.get(span.utterance).filter(|said| said.sound.is_some())?;
    let with = said.with((span.first, span.past), &said.beginning_alike(span.first, new)?)?;
    Some(Other { at: span.utterance, text: with.text, kind })
}

/// A number that sounds like a word of digits: "30" for "13", "114" for "140".
fn other_number(digits: &str) -> Option<String> {
    let number: u32 = digits.parse().ok().filter(|number| *number < 1000)?;
    let (hundreds, rest) = (number / 100 * 100, number % 100);
    let other = match rest {
        13..=19 => (rest - 10) * 10,
        30 | 40 | 50 | 60 | 70 | 80 | 90 => rest / 10 + 10,
        _ => return None,
    };
    Some((hundreds + other).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::hearings::{gathered, lines_of};
    use crate::speech::scripted::Scripted;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// Who came to the findings of a line that was heard alike twice, where the recogniser gives texts these chances.
    fn weighed(line: &str, chances: &[(&str, f32)]) -> Vec<HeardBy> {
        let mut scripted = Scripted::of_lines(&[(0, 3000, line)]).with_chances(chances);
        let samples = vec![0.0; 64_000];
        let heard = scripted.transcribe(&samples, &mut |_| ()).unwrap().utterances;
        let mut all = gathered(lexicon(), lines_of(heard.clone()), &[heard]).marked(lexicon());
        weigh(lexicon(), &mut all, (&samples, 0), &mut scripted).unwrap();
        all.reading.findings.iter().map(|finding| finding.heard_by).collect()
    }

    #[test]
    fn what_does_not_lead_over_what_it_could_be_is_contested() {
        for (line, other, needed) in [
            ("Clonus absent on the left.", "Clonus absent on the right.", LEAD_OF_SIDE),
            ("Popliteal angle 130 on the left.", "Popliteal angle 113 on the left.", LEAD_OF_NUMBER),
            ("Popliteal angle 119 on the left.", "Popliteal angle 190 on the left.", LEAD_OF_NUMBER),
            ("No clonus on the left.", "Clonus on the left.", LEAD_OF_DENIAL),
            ("Clonus sustained on the left.", "No clonus sustained on the left.", LEAD_OF_DENIAL),
            ("Clonus sustained on the left.", "Clonus unsustained on the left.", LEAD_OF_VALUE),
        ] {
            for (lead, expected) in [(needed - 0.1, HeardBy::Contested), (needed + 0.1, HeardBy::Two)] {
                let found = weighed(line, &[(line, -10.0), (other, -10.0 - lead)]);
                assert_eq!(found, [expected], "{line}: {other} {lead} behind");
            }
        }
    }

    #[test]
    fn nothing_changes_where_the_recogniser_cannot_tell() {
        assert_eq!(weighed("Clonus absent on the left.", &[]), [HeardBy::Two]);
    }

    #[test]
    fn numbers_that_sound_alike_are_known() {
        for (digits, other) in [("13", Some("30")), ("30", Some("13")), ("140", Some("114")), ("219", Some("290"))] {
            assert_eq!(other_number(digits).as_deref(), other);
        }
        for digits in ["20", "12", "100", "5", "1.3", "", "130kg", "9999999999"] {
            assert_eq!(other_number(digits), None, "{digits}");
        }
    }
}

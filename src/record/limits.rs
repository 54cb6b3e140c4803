//! Reasons for doubt that only the whole record shows.
//! Takes a statement with the words it rests on; gives whether the recogniser was too unsure of them.
//! Leaves alone plausible limits of numbers: the reading knows them as soon as it knows the unit.
//!
//! "brisk" with a probability of 0.2 is heard unclearly; typed text has no probabilities and never is

use crate::reading::values::Told;
use crate::reading::{Evidence, Finding, HeardBy, Reason, Value};
use crate::span::Span;
use crate::speech::Utterance;

/// Below this probability of a word that carries item, value or side, a finding is "heard unclearly". From 0 to 1.
// Chosen from memory and measured once, on two samples (synthetic voices) heard with tiny.en: below it lay 14 of 50
// right findings and 2 of 7 wrong ones. It tells them apart poorly; more sound must be heard before it is moved.
pub const HEARD_CLEARLY: f32 = 0.4;

/// Whether a word that the finding hangs on was given a probability below [`HEARD_CLEARLY`].
#[must_use]
pub fn heard_unclearly(utterances: &[Utterance], because: &Evidence) -> bool {
    least_probability(utterances, because).is_some_and(|least| least < HEARD_CLEARLY)
}

/// The least probability of the words for item, value and side; `None` for text that nobody spoke.
#[must_use]
pub fn least_probability(utterances: &[Utterance], because: &Evidence) -> Option<f32> {
    let spans = because.item.iter().chain([&because.value]).chain(&because.sides);
    spans.filter_map(|span| least_of(utterances, *span)).reduce(f32::min)
}

fn least_of(utterances: &[Utterance], span: Span) -> Option<f32> {
    let words = utterances.get(span.utterance)?.words.get(span.first..span.past)?;
    words.iter().filter_map(|word| word.probability).reduce(f32::min)
}

/// The reasons of the reading, and "heard unclearly" where the recogniser was unsure; in order, none twice. What all
/// of three hearings came to was heard clearly, whatever each thinks of it; what two came to where its item is said: both
/// may have lost the name of another.
#[must_use]
pub fn reasons(utterances: &[Utterance], finding: &Finding) -> Vec<Reason> {
    let mut reasons = finding.reasons.clone();
    let because = &finding.stands.because;
    let unclear = match finding.heard_by {
        HeardBy::All if !(because.told == Told::InProgress && matches!(finding.stands.value, Value::Amount(_))) => {
            false
        }
        HeardBy::Two if because.told != Told::InProgress => false,
        HeardBy::Otherwise | HeardBy::OtherAlone | HeardBy::SoundAlone | HeardBy::Contested => true,
        HeardBy::All | HeardBy::Two | HeardBy::FirstAlone | HeardBy::One => {
            reasons.contains(&Reason::HeardUnclearly) || heard_unclearly(utterances, because)
        }
    };
    reasons.retain(|reason| *reason != Reason::HeardUnclearly);
    if unclear {
        reasons.push(Reason::HeardUnclearly);
    }
    reasons.sort();
    reasons.dedup();
    reasons
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lexicon::How;
    use crate::reading::{Side, Stance, Statement};

    fn heard(probabilities: &[f32]) -> Utterance {
        let mut utterance = Utterance::from_text("the tone is on the left brisk");
        for (word, probability) in utterance.words.iter_mut().zip(probabilities) {
            word.probability = Some(*probability);
        }
        utterance
    }

    fn evidence() -> Evidence {
        let span = |first, past| Span { utterance: 0, first, past };
        Evidence {
            quote: span(0, 7),
            item: Some(span(1, 2)),
            value: span(6, 7),
            sides: vec![span(5, 6)],
            how: How::Exact,
            told: Told::Named,
        }
    }

    #[test]
    fn only_the_words_that_carry_the_finding_count() {
        let unsure_of_small_words = heard(&[0.1, 0.9, 0.1, 0.1, 0.1, 0.8, 0.9]);
        assert_eq!(least_probability(std::slice::from_ref(&unsure_of_small_words), &evidence()), Some(0.8));
        assert!(!heard_unclearly(&[unsure_of_small_words], &evidence()));
        assert!(heard_unclearly(&[heard(&[0.9, 0.9, 0.9, 0.9, 0.9, 0.3, 0.9])], &evidence()), "the side");
        assert_eq!(least_probability(&[Utterance::from_text("the tone is on the left brisk")], &evidence()), None);
    }

    fn finding(heard_by: HeardBy, known: &[Reason], told: Told, how: How) -> Finding {
        let stands = Statement {
            item: 0,
            side: Side::Left,
            value: Value::Choice(0),
            stance: Stance::Observed,
            hedged: false,
            approx: false,
            by_group: false,
            general: false,
            corrects: false,
            heard_poorly: false,
            because: Evidence { told, how, ..evidence() },
            reasons: known.to_vec(),
        };
        Finding { stands, replaced: Vec::new(), reasons: known.to_vec(), heard_by }
    }

    #[test]
    fn a_reason_stands_once_and_in_order() {
        let unsure = heard(&[0.9, 0.3, 0.9, 0.9, 0.9, 0.9, 0.9]);
        let known = [Reason::Hedged, Reason::HeardUnclearly];
        let finding = finding(HeardBy::One, &known, Told::Named, How::Exact);
        assert_eq!(reasons(&[unsure], &finding), [Reason::HeardUnclearly, Reason::Hedged]);
    }

    #[test]
    fn what_several_hearings_came_to_was_heard() {
        let unsure = [heard(&[0.9, 0.3, 0.9, 0.9, 0.9, 0.9, 0.9])];
        for (heard_by, told, how, unclear) in [
            (HeardBy::One, Told::Named, How::Exact, true),
            (HeardBy::FirstAlone, Told::Named, How::Exact, true),
            (HeardBy::Two, Told::Named, How::Exact, false),
            (HeardBy::Two, Told::Named, How::Sound(0.8), false),
            (HeardBy::SoundAlone, Told::Named, How::Sound(0.8), true),
            (HeardBy::Contested, Told::Named, How::Exact, true),
            (HeardBy::Two, Told::InProgress, How::Exact, true),
            (HeardBy::All, Told::InProgress, How::Sound(0.8), false),
            (HeardBy::OtherAlone, Told::Named, How::Exact, true),
            (HeardBy::Otherwise, Told::Named, How::Exact, true),
        ] {
            let found = reasons(&unsure, &finding(heard_by, &[Reason::Hedged], told, how));
            assert_eq!(found.contains(&Reason::HeardUnclearly), unclear, "{heard_by:?} {told:?} {how:?}");
            assert!(found.contains(&Reason::Hedged));
        }
        // What was heard surely needs no second hearing, and a quarrel is told all the same.
        let sure = [heard(&[0.9; 7])];
        assert_eq!(reasons(&sure, &finding(HeardBy::FirstAlone, &[], Told::Named, How::Exact)), []);
        let quarrel = finding(HeardBy::Otherwise, &[], Told::Named, How::Exact);
        assert_eq!(reasons(&sure, &quarrel), [Reason::HeardUnclearly]);
    }
}

//! How far a denial reaches: what stands between a denying word and what it may deny.
//! Takes a denying word and a name or a result behind it; tells whether that is denied, was not looked at, or has nothing to do with
//! the denial. Leaves alone what a denied thing comes to (`negation`).
//!
//! "No clonus" denies clonus; "couldn't test for clonus" and "not worried about clonus" do not

use crate::lexicon::{General, LanguageWord as Word, Lexicon};
use crate::reading::reader::Read;
use crate::reading::tokens::{Token, is_covered, is_odd};

/// What a denial does to something behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reach {
    /// It denies it.
    Denied,
    /// It denies that somebody looked: the result is that it was not tested, or not elicited.
    Unseen(General),
    /// It denies it, or a kind of it that a word nobody knows tells.
    Odd,
    /// It all but denies it: little of it is there.
    Nearly,
    /// It denies something else.
    Elsewhere,
}

/// Words between a denial and what it denies.
const WITHIN: &[&str] = &[
    "a",
    "an",
    "any",
    "the",
    "his",
    "her",
    "its",
    "much",
    "more",
    "other",
    "single",
    "such",
    "of",
    "one",
    "bit",
    "hint",
    "trace",
    "sign",
    "signs",
    "evidence",
    "suggestion",
    "beat",
    "beats",
    "or",
    "nor",
    "and",
    "either",
    "see",
    "seeing",
    "seen",
    "saw",
    "find",
    "finding",
    "found",
    "feel",
    "feeling",
    "felt",
    "detect",
    "detecting",
    "detected",
    "elicit",
    "eliciting",
    "elicited",
    "get",
    "getting",
    "got",
    "notice",
    "noticing",
    "noticed",
    "observe",
    "observed",
    "have",
    "having",
    "has",
    "had",
    "show",
    "shows",
    "showing",
    "hear",
    "give",
    "gives",
    "make",
    "is",
    "are",
    "was",
    "were",
    "be",
    "been",
    "there",
    "ever",
    "really",
    "actually",
    "quite",
    "very",
    "real",
    "obvious",
    "definite",
    "clear",
    "proper",
    "frank",
    "visible",
    "sustained",
    "further",
];

/// ... and what else may stand between it and a result.
const BEFORE_RESULTS: &[&str] = &[
    "it", "he", "she", "they", "that", "this", "him", "them", "to", "at", "in", "on", "as", "so", "too", "all", "my",
    "come", "comes", "coming", "go", "goes", "going", "far", "reach", "look", "looks", "looking", "feels", "move",
    "moves", "moving", "hold", "holds",
];

/// Verbs of looking: whoever denies them tells that something was not looked at.
const ACTS: &[&str] = &[
    "test",
    "testing",
    "tested",
    "check",
    "checking",
    "checked",
    "examine",
    "examining",
    "examined",
    "do",
    "doing",
    "done",
    "did",
    "try",
    "trying",
    "tried",
    "assess",
    "assessing",
    "assessed",
    "measure",
    "measuring",
    "measured",
    "judge",
    "attempt",
    "attempted",
    "perform",
    "evaluate",
];

/// "Look at", "look for": looking is also how something is.
const LOOKS: [&str; 3] = ["look", "looking", "looked"];

/// Words before "no" that leave a little.
const NEARLY: [&str; 4] = ["almost", "practically", "virtually", "nearly"];

/// Words of one who could not.
const COULD: [&str; 6] = ["can", "can't", "cannot", "could", "couldn't", "able"];

/// What the denying word nearest before a token, in its segment, does to it.
pub(super) fn reach(lexicon: &Lexicon, read: &Read<'_>, at: usize) -> Reach {
    let token = &read.tokens[at];
    let denies =
        |other: &&Token| other.segment == token.segment && other.is(Word::Negation) && other.generals.is_empty();
    let Some(negation) = read.tokens[..at].iter().rev().find(denies) else {
        // "No tremor, clonic movements": denied with what stands before.
        let odd = token.first.checked_sub(1).is_some_and(|before| {
            before >= read.sentence.first() && is_odd(lexicon, &read.tokens, &read.utterance.words, before)
        });
        return if odd { Reach::Odd } else { Reach::Denied };
    };
    let words = &read.utterance.words;
    let word = |ix: usize| words[ix].plain.as_str();
    let between = || negation.past..token.first;
    let looked = |ix: usize| LOOKS.contains(&word(ix)) && matches!(word(ix + 1), "at" | "for" | "into");
    if between().any(|ix| ACTS.contains(&word(ix)) || looked(ix)) {
        let from = negation.first.saturating_sub(2).max(read.sentence.first());
        // "You don't test hearing with a whisper": so it is done, or not, by anybody.
        if (from..negation.first).any(|ix| word(ix) == "you") {
            return Reach::Elsewhere;
        }
        let could = (from..negation.past).any(|ix| COULD.contains(&word(ix)));
        return Reach::Unseen(if could { General::NotElicited } else { General::NotTested });
    }
    let more: &[&str] = if token.is_result() { BEFORE_RESULTS } else { &[] };
    let within = |ix: usize| is_covered(&read.tokens, ix) || WITHIN.contains(&word(ix)) || more.contains(&word(ix));
    let mut foreign = between().filter(|ix| !within(*ix));
    let nearly = negation.first.checked_sub(1).is_some_and(|before| {
        before >= read.sentence.first()
            && (NEARLY.contains(&word(before)) || word(before) == "to" && before > 0 && word(before - 1) == "next")
    });
    match (foreign.next(), foreign.next()) {
        (None, _) if nearly => Reach::Nearly,
        (None, _) => Reach::Denied,
        (Some(ix), None) if ix + 1 == token.first && is_odd(lexicon, &read.tokens, words, ix) => Reach::Odd,
        _ => Reach::Elsewhere,
    }
}

#[cfg(test)]
mod tests {
    use crate::lexicon::Lexicon;
    use crate::reading::{Reason, Value, read};
    use crate::speech::Utterance;

    #[test]
    fn only_what_a_denial_reaches_is_absent() {
        let lexicon = Lexicon::load(None).unwrap();
        for (said, value, uncertain) in [
            ("No tremor.", Some("absent"), false),
            ("I can't see any tremor.", Some("absent"), false),
            ("There's no sign of any tremor.", Some("absent"), false),
            ("I couldn't test the gag.", Some("not-elicited"), false),
            ("I haven't checked the gag.", Some("not-tested"), false),
            ("Not worried about the tremor.", None, false),
            ("You don't test hearing with a whisper.", None, false),
            ("Practically no head lag.", Some("none"), true),
            ("It's not that the suck is weak.", None, false),
            ("I couldn't see whether the gag is present.", None, false),
        ] {
            let findings = read(&lexicon, &[Utterance::from_text(said)]).findings;
            let given = findings.first().map(|finding| match &finding.stands.value {
                Value::Choice(value) => lexicon.items[finding.stands.item].values[*value].id.as_str(),
                Value::Amount(_) => "a number",
            });
            assert_eq!((given, findings.len()), (value, usize::from(value.is_some())), "{said}");
            let doubted = findings.iter().any(|finding| finding.reasons.contains(&Reason::ValueUncertain));
            assert_eq!(doubted, uncertain, "{said}");
        }
    }
}

//! Number words that are no numbers.
//! Takes a place in the words; tells whether "one", "two"… there point at something instead of counting it.
//! Leaves alone homophones and numbers of other things ("cot four": `mod.rs`).
//!
//! "this one is slower" says no number, "right one, left one plus" says two

use super::number_words::{plain, runs_on, starts_number};
use super::shapes::SpokenNumber;
use super::units::unit_at;
use crate::speech::words::Word;

/// Words before "one" that make it a pronoun, whatever follows.
const BEFORE_ONE: &[&str] = &[
    "this", "that", "the", "other", "another", "each", "every", "no", "any", "which", "some", "last", "next", "first",
    "second", "same", "square", "someone", "not", "neither", "either", "anyone", "third", "my", "your", "his", "her",
    "our",
];
/// Words before "one" that make it a pronoun if nothing numeric follows: "waiting for one", "I couldn't bring one out".
const LOOSE_BEFORE_ONE: &[&str] = &[
    "for", "like", "with", "felt", "us", "gave", "gives", "got", "bring", "little", "had", "have", "has", "give",
    "see", "need", "want", "took", "take", "than", "as", "if", "what", "when", "where", "draw", "find", "only", "just",
    "in", "from", "to", "young", "dear", "or", "but", "by",
];
/// Words two before "one" that make it a pronoun: "the slow one", "a big one".
const TWO_BEFORE_ONE: &[&str] =
    &["the", "this", "that", "a", "an", "another", "my", "your", "his", "her", "every", "what"];
/// Words behind "one" that make it a pronoun, though they may follow a measurement: "one of them", "one is slower".
const BEHIND_ONE: &[&str] = &["of", "is", "was", "that", "which", "where", "for", "from", "when", "if"];
/// Words before a small number that make it point: "these two", "all four".
const BEFORE_FEW: &[&str] = &[
    "these", "those", "own", "all", "other", "another", "first", "last", "next", "every", "which", "us", "you", "my",
    "your",
];
/// Words behind "of" that make the number before it count persons or things: "two of them".
const BEHIND_OF: &[&str] = &["them", "you", "us", "these", "those", "the", "my", "his", "her", "our", "your", "which"];

/// Whether the number word at `at` says no number. Nothing before `floor` is looked at.
pub(super) fn is_no_number(words: &[Word], at: usize, floor: usize) -> bool {
    let before = |back: usize| match at.checked_sub(back) {
        Some(index) if index >= floor && runs_on(words, index + 1) => plain(words, index),
        _ => "",
    };
    match plain(words, at) {
        "one" | "1" => is_pronoun(words, at, before(1), if before(1).is_empty() { "" } else { before(2) }),
        "two" | "three" | "four" | "five" | "six" | "2" | "3" | "4" => {
            let of_them =
                runs_on(words, at + 1) && plain(words, at + 1) == "of" && BEHIND_OF.contains(&plain(words, at + 2));
            let points = BEFORE_FEW.contains(&before(1)) || before(1) == "the" && !followed_by_number(words, at);
            of_them || points && !followed_by_number(words, at)
        }
        _ => false,
    }
}

/// Words that may follow a measurement without a stop: what comes after them is said about it, or is new.
const FOLLOWERS: &[&str] = &[
    "a",
    "about",
    "across",
    "after",
    "again",
    "all",
    "already",
    "an",
    "and",
    "as",
    "at",
    "because",
    "before",
    "behind",
    "bilaterally",
    "both",
    "but",
    "by",
    "each",
    "either",
    "equal",
    "exactly",
    "for",
    "from",
    "he",
    "here",
    "i",
    "if",
    "in",
    "is",
    "it",
    "left",
    "long",
    "maybe",
    "no",
    "not",
    "now",
    "of",
    "off",
    "on",
    "or",
    "over",
    "perhaps",
    "right",
    "round",
    "same",
    "she",
    "so",
    "symmetric",
    "symmetrical",
    "that",
    "the",
    "then",
    "there",
    "they",
    "this",
    "though",
    "throughout",
    "to",
    "today",
    "too",
    "until",
    "was",
    "we",
    "when",
    "where",
    "which",
    "while",
    "wide",
    "with",
    "without",
    "yes",
    "you",
];

/// Whether a bare number seems to count the word at `past`.
pub(super) fn counts_next_word(words: &[Word], past: usize, spoken: &SpokenNumber) -> bool {
    let bare =
        spoken.unit().is_none() && spoken.pluses == 0 && spoken.out_of.is_none() && spoken.said.single().is_some();
    bare && runs_on(words, past) && !FOLLOWERS.contains(&plain(words, past))
}

fn is_pronoun(words: &[Word], at: usize, before: &str, two_before: &str) -> bool {
    let behind = plain(words, at + 1);
    // "one day old" counts days, "one day he will" and "one at a time" do not count.
    let idiom = match behind {
        "day" => matches!(plain(words, at + 2), "he" | "she" | "you" | "we" | "they" | "it"),
        "at" => plain(words, at + 2) == "a",
        _ => BEHIND_ONE.contains(&behind),
    };
    if runs_on(words, at + 1) && idiom {
        return true;
    }
    // "that is one" gives a count, "that slow one" does not.
    let there = two_before == "there" && before == "is";
    let verb =
        !there && matches!(before, "" | "is" | "was" | "are" | "makes" | "gives" | "gets" | "say" | "says" | "grade");
    let pointed = there || BEFORE_ONE.contains(&before) || TWO_BEFORE_ONE.contains(&two_before) && !verb;
    // "nothing like one", "one presses here", "right one drags": alone, it counts only where a result may end.
    let alone = runs_on(words, at + 1) && !FOLLOWERS.contains(&behind) || LOOSE_BEFORE_ONE.contains(&before);
    (pointed || alone) && !followed_by_number(words, at)
}

// "on the right one ten", "on the left one beat": what follows shows that it counts.
fn followed_by_number(words: &[Word], at: usize) -> bool {
    let next = plain(words, at + 1);
    runs_on(words, at + 1)
        && (matches!(next, "plus" | "point" | "hundred" | "oh")
            || matches!(next, "to" | "or" | "over") && starts_number(plain(words, at + 2))
            || next == "out" && plain(words, at + 2) == "of"
            || starts_number(next)
            || next == "and" && matches!(plain(words, at + 2), "a" | "half")
            || unit_at(words, at + 1).is_some_and(|(unit, _)| unit != super::units::Unit::Foreign))
}

//! The words around a number that bound it, soften it or take it away.
//! Takes the words before and behind a number; gives its bound, "about", "exactly", and where these words start and end.
//! Leaves alone hedges ("I think"), which are not the number's, and the number itself.
//!
//! "just under" before a number is a bound and "about" at once; "or so" behind it is "about"

use std::sync::LazyLock;

use super::number_words::{plain, runs_on, says, starts_number};
use super::shapes::Bound;
use crate::speech::words::{Stop, Word};

/// What a phrase beside a number does to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Limits(Bound),
    LimitsAbout(Bound),
    About,
    Exactly,
    /// "between", "from": another number follows.
    Opens,
    /// A change or a time, no measurement.
    Elsewhere,
    /// It only colours the number.
    Colour,
}

use Mark::{About, Colour, Elsewhere, Exactly, Limits, LimitsAbout, Opens};

const UNDER: Mark = Limits(Bound::Under);
const OVER: Mark = Limits(Bound::Over);
const AT_MOST: Mark = Limits(Bound::AtMost);
const AT_LEAST: Mark = Limits(Bound::AtLeast);
const JUST_UNDER: Mark = LimitsAbout(Bound::Under);
const JUST_OVER: Mark = LimitsAbout(Bound::Over);
const AT_MOST_ABOUT: Mark = LimitsAbout(Bound::AtMost);
const AT_LEAST_ABOUT: Mark = LimitsAbout(Bound::AtLeast);

// The longest phrase that fits is taken, so "no more than" is never read as "more than". Common practice, no source.
const BEFORE: &[(Mark, &str)] = &[
    (
        UNDER,
        "less than|under|below|short of|shy of|fewer than|smaller than|tighter than|well under|narrower than|lower than",
    ),
    (
        UNDER,
        "stops short of|not as much as|not even|anything under|well below|not reach|not get to|not make it to|not come to",
    ),
    (UNDER, "not quite reach|not quite get to|never reaches"),
    (JUST_UNDER, "just under|just below|just less than|just short of|just shy of|nearly|almost|not quite|very nearly"),
    (
        JUST_UNDER,
        "a little under|a bit under|a shade under|a touch under|a hair under|a little less than|a bit less than",
    ),
    (JUST_UNDER, "slightly less than|slightly under|nearly but not quite"),
    (
        OVER,
        "more than|over|above|greater than|beyond|past|exceeds|exceeding|in excess of|well over|wider than|bigger than",
    ),
    (OVER, "larger than|higher than|anything over|well above|well past"),
    (
        JUST_OVER,
        "just over|just above|just past|just more than|a little over|a bit over|a shade over|a touch over|a hair over",
    ),
    (JUST_OVER, "a bit more than|a little more than|slightly more than|slightly over"),
    (
        AT_MOST,
        "at most|at the most|at the very most|no more than|not more than|not over|not above|a maximum of|maximum of",
    ),
    (
        AT_MOST,
        "maximum|max|up to|within|as far as|not past|not beyond|never past|not go beyond|not go past|not get past",
    ),
    (AT_MOST, "not go over|no further than|never more than|scarcely|not exceed|not go further than|a bare|never over"),
    (AT_MOST, "no bigger than|no wider than"),
    (AT_LEAST, "at least|at the very least|no less than|not less than|no fewer than|not under|not below|a minimum of"),
    (AT_LEAST, "minimum of|minimum|upwards of|easily|a good|a full|anything from"),
    (About, "about|around|roughly|approximately|approx|circa|round about|round|just about|close to|near|near enough"),
    (About, "more or less|in the region of|in the order of|somewhere around|somewhere near|somewhere about|ballpark"),
    (About, "in the neighbourhood of|getting on for|coming up to|call it|say|something like|pretty much|nigh on"),
    (About, "as near as|touching|rounding to|a rough|some|maybe about|at a rough guess|only about|to about"),
    (About, "rough estimate|guesstimate|eyeballing it|near as dammit|if i eyeball it"),
    (Exactly, "exactly|bang on|precisely|dead on|spot on"),
    (Opens, "between|in between|somewhere between|anywhere between|from|anywhere from|either|varies from|ranging from"),
    (Opens, "varies between|ranging between|roughly between|about between"),
    (Elsewhere, "count to|counts to|counting to|gained|lost|up by|down by|grown by|half past|quarter past|quarter to"),
    (Colour, "only|barely|just"),
];

const BEHIND: &[(Mark, &str)] = &[
    (AT_LEAST, "or more|and up|and upwards|upwards|or above|or over|minimum|or better|if not more|and still going"),
    (
        AT_LEAST,
        "and counting|at least|at the very least|at the least|and more|or greater|and going|or higher|or beyond",
    ),
    (AT_MOST, "or less|or fewer|or under|or below|tops|at the outside|maximum|max|if that"),
    (AT_MOST, "at most|at the most|at best|at the very most|at the maximum|or lower"),
    (AT_MOST_ABOUT, "or a bit less|or a little less|or slightly less|or just under|or a touch less"),
    (AT_LEAST_ABOUT, "or a bit more|or a little more|or slightly more|or just over|or a touch more"),
    (JUST_OVER, "and a bit|and a little bit"),
    (
        About,
        "or so|or thereabouts|thereabouts|or there or thereabouts|there or thereabouts|give or take|ish|more or less",
    ),
    (About, "odd|roughly|approximately|approx|about|near enough|or near enough|by eye"),
    (About, "near as dammit|eyeballing it|if i eyeball it|rough estimate|guesstimate"),
    (
        Exactly,
        "and no further|no further|exactly|on the dot|to the day|dead|precisely|on the nose|on the button|on the nail",
    ),
    (Elsewhere, "up on|down on|up from|down from|more than yesterday|less than yesterday|more than last|bigger than"),
    (
        Elsewhere,
        "smaller than|heavier|lighter|o'clock|in the morning|in the afternoon|in the evening|at night|above birth|below birth",
    ),
];

/// A phrase by the word that touches the number, which finds it; the others follow, away from the number.
type Phrase = (&'static str, Vec<&'static str>, Mark);

static BY_LAST_WORD: LazyLock<Vec<Phrase>> = LazyLock::new(|| indexed(BEFORE, true));
static BY_FIRST_WORD: LazyLock<Vec<Phrase>> = LazyLock::new(|| indexed(BEHIND, false));

fn indexed(table: &[(Mark, &'static str)], backwards: bool) -> Vec<Phrase> {
    let mut phrases: Vec<Phrase> = Vec::new();
    for (mark, phrase) in table.iter().flat_map(|(mark, row)| row.split('|').map(move |phrase| (*mark, phrase))) {
        let mut words: Vec<&str> = phrase.split(' ').collect();
        if backwards {
            words.reverse();
        }
        phrases.extend(words.first().copied().map(|key| (key, words, mark)));
    }
    phrases.sort_by(|one, other| one.0.cmp(other.0));
    phrases
}

/// The phrases that touch the number with `word`.
fn touching<'a>(phrases: &'a [Phrase], word: &'a str) -> impl Iterator<Item = &'a Phrase> {
    let start = phrases.partition_point(|phrase| phrase.0 < word);
    phrases[start..].iter().take_while(move |phrase| phrase.0 == word)
}

/// What the words around a number make of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Around {
    /// The bound; `Is` where none was said.
    pub bound: Bound,
    /// "about".
    pub about: bool,
    /// "exactly".
    pub exact: bool,
    /// "between", "from": another number is to follow.
    pub opens: bool,
    /// It is no measurement.
    pub elsewhere: bool,
    /// A bound that stands before verbs of movement only frames the number: "comes up to ninety".
    pub up_to: bool,
}

impl Around {
    pub(super) const NOTHING: Self =
        Self { bound: Bound::Is, about: false, exact: false, opens: false, elsewhere: false, up_to: false };

    fn take(&mut self, mark: Mark) {
        match mark {
            Limits(bound) => self.bound = bound,
            LimitsAbout(bound) => (self.bound, self.about) = (bound, true),
            About => self.about = true,
            Exactly => self.exact = true,
            Opens => self.opens = true,
            Elsewhere => self.elsewhere = true,
            Colour => {}
        }
    }
}

/// Adds what stands before `at`, not looking before `floor`; gives where it starts.
pub(super) fn before(words: &[Word], floor: usize, at: usize, around: &mut Around) -> usize {
    let mut start = at;
    for _ in 0..3 {
        if start <= floor || !runs_on(words, start) {
            break;
        }
        let longest = touching(&BY_LAST_WORD, plain(words, start - 1))
            .filter(|(_, phrase, _)| stands_before(words, floor, start, phrase))
            .max_by_key(|(_, phrase, _)| phrase.len());
        let Some((_, phrase, mark)) = longest else { break };
        let first = start - phrase.len();
        if !is_frame(words, floor, first, phrase) {
            around.take(*mark);
            around.up_to |= phrase.as_slice() == ["to", "up"];
        }
        start = first;
    }
    start
}

/// Adds what stands from `at`; gives where it ends.
pub(super) fn behind(words: &[Word], at: usize, around: &mut Around) -> usize {
    let mut end = at;
    for _ in 0..3 {
        let longest = touching(&BY_FIRST_WORD, plain(words, end))
            .filter(|(_, phrase, _)| stands_behind(words, end, phrase))
            .max_by_key(|(_, phrase, _)| phrase.len());
        let Some((_, phrase, mark)) = longest else { break };
        around.take(*mark);
        end += phrase.len();
    }
    end
}

/// Whether `phrase`, told backwards, runs up to `at` without a stop.
fn stands_before(words: &[Word], floor: usize, at: usize, phrase: &[&str]) -> bool {
    phrase
        .iter()
        .enumerate()
        .all(|(back, word)| at > floor + back && runs_on(words, at - back) && plain(words, at - back - 1) == *word)
}

/// Whether `phrase` stands at `at`, and belongs to the number before it.
fn stands_behind(words: &[Word], at: usize, phrase: &[&str]) -> bool {
    if !says(words, at, phrase) {
        return false;
    }
    let past = at + phrase.len();
    let ends = !runs_on(words, past);
    // "eight beats, about." belongs to the eight, "ninety, at least a hundred" to the hundred.
    if !runs_on(words, at) {
        return ends && at > 0 && words.get(at - 1).is_some_and(|word| word.stop == Stop::Comma);
    }
    ends || !(starts_number(plain(words, past)) || matches!(plain(words, past), "a" | "the"))
}

/// Words that look like a bound, but only lead up to the number.
fn is_frame(words: &[Word], floor: usize, first: usize, phrase: &[&str]) -> bool {
    let led_by = match first.checked_sub(1) {
        Some(index) if index >= floor && runs_on(words, first) => plain(words, index),
        _ => "",
    };
    match phrase {
        // "the knee opens up to ninety", "back up to 3200"
        ["to", "up"] | ["as", "far", "as"] => {
            const MOVES: &[&str] = &[
                "open",
                "opens",
                "opened",
                "comes",
                "come",
                "came",
                "goes",
                "go",
                "went",
                "gets",
                "get",
                "got",
                "extends",
                "back",
                "brings",
                "bring",
                "moves",
                "straightens",
                "flexes",
                "climbs",
                "me",
            ];
            MOVES.contains(&led_by)
        }
        // "I would say ninety" hedges, "the scales say 3200" reports.
        ["say"] => !led_by.is_empty() && led_by != "and",
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::words::words_of;

    #[track_caller]
    fn check(said: &str, bound: Bound, about: bool) {
        let words = words_of(&format!("{said} ninety"));
        let mut around = Around::NOTHING;
        before(&words, 0, words.len() - 1, &mut around);
        assert_eq!((around.bound, around.about), (bound, about), "before: {said}");
    }

    #[test]
    fn the_longest_phrase_counts() {
        check("it is no more than", Bound::AtMost, false);
        check("it is more than", Bound::Over, false);
        check("just under", Bound::Under, true);
        check("at least about", Bound::AtLeast, true);
        check("the knee opens up to", Bound::Is, false);
        check("up to", Bound::AtMost, false);
        check("I would say", Bound::Is, false);
        check("call it", Bound::Is, true);
        check("the cot", Bound::Is, false);
    }

    #[test]
    fn a_detached_phrase_needs_an_end() {
        let read = |said: &str| {
            let mut around = Around::NOTHING;
            behind(&words_of(said), 1, &mut around);
            (around.bound, around.about)
        };
        assert_eq!(read("eight, about."), (Bound::Is, true));
        assert_eq!(read("ninety, at least a hundred"), (Bound::Is, false));
        assert_eq!(read("ninety or a bit less"), (Bound::AtMost, true));
        assert_eq!(read("ninety. Or less"), (Bound::Is, false));
    }
}

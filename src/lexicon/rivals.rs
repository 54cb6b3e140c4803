//! What else may have been said, for the sound to decide.
//! Takes an utterance; gives stretches of its words that are no exact name, value, side or number, each with phrases that they
//! sound a little like: names and values that are told by sound, and grades. Far more than is right: these are questions to
//! the recogniser, not answers. Leaves alone which of them was said.
//!
//! "my steps do plus on the right" gives "biceps" for "my steps" and "two plus" for "do plus"

use crate::lexicon::closed_sets::Row;
use crate::lexicon::compile::Lexicon;
use crate::lexicon::mentions::{How, Mention, Said, heard, mentions_in};
use crate::lexicon::phonemes::{LONGEST, distance, sound_out, weight_of};
use crate::lexicon::sounded::Line;
use crate::speech::{Stop, Utterance};

/// Words for which others may have been said.
#[derive(Debug, Clone, PartialEq)]
pub struct Rival {
    /// Index of the first of the words in the utterance.
    pub first: usize,
    /// Index behind the last.
    pub past: usize,
    /// What may have been said.
    pub phrase: String,
    /// How alike they sound, from 0 to 1.
    pub closeness: f32,
    /// Whether one of the words is none of English: it was surely misheard.
    pub no_word: bool,
    /// Whether the phrase names an item.
    pub is_name: bool,
}

/// Windows of up to this many words are compared.
const WIDEST: usize = 4;
/// Rows of fewer sounds are like everything.
const LEAST_SOUNDS: usize = 3;
/// The closeness that is needed of short phrases, and of others.
const OF_SHORT: f32 = 0.55;
const OF_LONG: f32 = 0.5;
/// A phrase that weighs no more than three consonants is short.
const SHORT: u32 = 300;
/// How many phrases a stretch of words is given at most.
const MOST_PHRASES: usize = 4;
/// How many an utterance is given at most.
const MOST: usize = 24;

/// Grades as they are spoken, each by words that are spelled as these sound.
const GRADES: [(&str, &str); 4] =
    [("one plus", "wun plus"), ("two plus", "too plus"), ("three plus", "three plus"), ("four plus", "for plus")];

/// What else may have been said, the likest first.
#[must_use]
pub fn rivals_in(lexicon: &Lexicon, utterance: &Utterance) -> Vec<Rival> {
    let exact: Vec<Mention> =
        mentions_in(lexicon, utterance).into_iter().filter(|mention| !matches!(mention.how, How::Sound(_))).collect();
    let words = heard(lexicon, &utterance.words);
    let line = Line::new(&lexicon.sound, &utterance.words, &words, &exact);
    let taken = taken(lexicon, utterance, &words, &exact);
    let grades = grades();
    let mut rivals: Vec<(f32, Rival)> = Vec::new();
    for first in 0..utterance.words.len() {
        for past in first + 1..=utterance.words.len().min(first + WIDEST) {
            let runs_on = past == first + 1 || utterance.words[past - 2].stop < Stop::Pause;
            if !runs_on || taken[past - 1] == Taken::Closed {
                break;
            }
            if words[first].symbol.is_some() && words[past - 1].symbol.is_some() && may_be_misheard(&taken[first..past])
            {
                let no_word = (first..past).any(|at| words[at].is_no_word(&utterance.words[at].plain));
                let found = of_window(lexicon, &grades, line.sounds(first, past), (first, past));
                rivals.extend(found.into_iter().map(|(explained, rival)| (explained, Rival { no_word, ..rival })));
            }
        }
    }
    rivals.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.first.cmp(&b.1.first)).then(a.1.past.cmp(&b.1.past)));
    rivals.truncate(MOST);
    rivals.into_iter().map(|(_, rival)| rival).collect()
}

fn grades() -> Vec<(&'static str, Vec<u8>)> {
    let sounds = |spelled: &str| {
        let mut sounds = Vec::new();
        spelled.split(' ').for_each(|word| sound_out(word, &mut sounds));
        sounds
    };
    GRADES.iter().map(|(said, spelled)| (*said, sounds(spelled))).collect()
}

/// What a word already says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Taken {
    Free,
    /// It is a name or a value.
    Said,
    /// It is a side, a negation or a number, which no sound may change.
    Closed,
}

fn taken(
    lexicon: &Lexicon,
    utterance: &Utterance,
    words: &[crate::lexicon::vocabulary::Heard],
    exact: &[Mention],
) -> Vec<Taken> {
    let mut taken: Vec<Taken> = words.iter().map(|word| if word.small { Taken::Closed } else { Taken::Free }).collect();
    debug_assert_eq!(taken.len(), utterance.words.len());
    for mention in exact {
        let says = match mention.said {
            Said::Quantity(_) => Taken::Closed,
            Said::Phrase(phrase) => {
                let says =
                    lexicon.sound.traits(phrase).is_some_and(|says| !says.names.is_empty() || !says.given.is_empty());
                if says { Taken::Said } else { Taken::Free }
            }
        };
        taken[mention.first..mention.past].iter_mut().for_each(|known| *known = (*known).max(says));
    }
    taken
}

// What is said already may be the rest of a longer name, at one end: "that recoil".
fn may_be_misheard(taken: &[Taken]) -> bool {
    let free = |taken: &&Taken| **taken == Taken::Free;
    let (before, after) = (taken.iter().take_while(free).count(), taken.iter().rev().take_while(free).count());
    let all = taken.iter().filter(free).count();
    all > 0 && (before == all || after == all)
}

// The likest phrases, of those that say the same the likest alone, each with how much of the sound it explains.
fn of_window(
    lexicon: &Lexicon,
    grades: &[(&str, Vec<u8>)],
    sounds: &[u8],
    (first, past): (usize, usize),
) -> Vec<(f32, Rival)> {
    if !(LEAST_SOUNDS..=LONGEST).contains(&sounds.len()) {
        return Vec::new();
    }
    let weight = weight_of(sounds);
    let alike = |row: &[u8], its_weight: u32| {
        let heavier = weight.max(its_weight);
        let least = if heavier <= SHORT { OF_SHORT } else { OF_LONG };
        let apart = distance((sounds, weight), (row, its_weight), ((1.0 - least) * heavier as f32) as u32)?;
        (apart > 0 || heavier > SHORT).then_some((1.0 - apart as f32 / heavier as f32, heavier))
    };
    let mut near: Vec<(f32, u32, Option<&Row>, &str)> = Vec::new();
    for row in lexicon.sound.rows() {
        let text = lexicon.phrases.get(row.phrase).map_or("", |phrase| phrase.text.as_str());
        near.extend(alike(&row.sounds, row.weight).map(|(closeness, heavier)| (closeness, heavier, Some(row), text)));
    }
    for (text, sounds) in grades {
        let found = alike(sounds, weight_of(sounds));
        near.extend(found.map(|(closeness, heavier)| (closeness, heavier, None, *text)));
    }
    near.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.3.cmp(b.3)));
    let mut kept: Vec<(f32, u32, Option<&Row>, &str)> = Vec::new();
    for one in near {
        let same = |other: &&(f32, u32, Option<&Row>, &str)| match (other.2, one.2) {
            (Some(a), Some(b)) => a.says == b.says,
            _ => false,
        };
        if !kept.iter().any(|other| same(&other)) {
            kept.push(one);
        }
    }
    kept.truncate(MOST_PHRASES);
    let rival = |(closeness, heavier, row, text): (f32, u32, Option<&Row>, &str)| {
        let explained = (closeness - 0.4) * heavier as f32;
        let is_name = row.is_some_and(|row| row.says.iter().any(|(_, value)| value.is_none()));
        (explained, Rival { first, past, phrase: text.to_owned(), closeness, no_word: false, is_name })
    };
    kept.into_iter().map(rival).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    fn is_asked(said: &str, words: &str, phrase: &str) -> bool {
        let utterance = Utterance::from_text(said);
        rivals_in(lexicon(), &utterance).iter().any(|rival| {
            let plain: Vec<&str> = utterance.words[rival.first..rival.past].iter().map(|w| w.plain.as_str()).collect();
            plain.join(" ") == words && rival.phrase == phrase
        })
    }

    #[test]
    fn what_sounds_a_little_alike_is_asked_about() {
        for (said, words, phrase) in [
            ("My steps do plus on the right.", "my steps", "biceps"),
            ("My steps do plus on the right.", "do plus", "two plus"),
            ("Plan is done, right or left.", "plan is", "clonus"),
            ("That recoil so on the right.", "that recoil", "leg recoil"),
        ] {
            assert!(is_asked(said, words, phrase), "{said}: {:?}", rivals_in(lexicon(), &Utterance::from_text(said)));
        }
    }

    #[test]
    fn what_is_said_already_is_not_asked_about() {
        for said in ["Biceps two plus on the right.", "Clonus absent.", "Left, right, no, 40.", "", "The."] {
            assert_eq!(rivals_in(lexicon(), &Utterance::from_text(said)), [], "{said}");
        }
    }

    #[test]
    fn an_utterance_is_asked_about_within_bounds() {
        let said =
            "My steps do plus on the tight planner grass pubsent and the art of coil slow with trim or none ".repeat(4);
        let rivals = rivals_in(lexicon(), &Utterance::from_text(&said));
        assert_eq!(rivals.len(), MOST);
        assert!(rivals.iter().all(|rival| rival.closeness >= OF_LONG && rival.past > rival.first));
    }
}

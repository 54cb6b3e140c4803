//! Sides: which side each result of a sentence was said of.
//! Takes the tokens of a sentence and the places of its results; gives a side, or none, for each result.
//! Leaves alone what a side not said may be: that is never guessed.
//!
//! "right one hundred, left ninety" gives right for the first number, left for the second

use crate::lexicon::LanguageWord as Word;
use crate::reading::clauses::Sentence;
use crate::reading::statements::Side;
use crate::reading::tokens::Token;
use crate::speech::{Stop, Utterance};

/// A side as it was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Said {
    /// The left.
    Left,
    /// The right.
    Right,
    /// Both sides.
    Both,
    /// The one not spoken of last.
    Other,
    /// "That side": the one spoken of before.
    That,
    /// Both, and the result is denied.
    Neither,
}

impl Said {
    /// The side it says by itself, where it says one.
    #[must_use]
    pub fn single(self) -> Option<Side> {
        match self {
            Self::Left => Some(Side::Left),
            Self::Right => Some(Side::Right),
            _ => None,
        }
    }

    /// What two sides said of one result come to.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        if self == other { self } else { Self::Both }
    }
}

/// A side with the place where it was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// The side.
    pub said: Said,
    /// Index of its first word.
    pub first: usize,
    /// Index behind its last word.
    pub past: usize,
    /// Its segment.
    pub segment: usize,
}

/// The sides said in a sentence, fillers ("Right, the hips") left out.
#[must_use]
pub fn sides_said(sentence: &Sentence, utterance: &Utterance, tokens: &[Token], due: bool) -> Vec<Place> {
    tokens
        .iter()
        .filter_map(|token| said_by(token).map(|said| (token, said)))
        .filter(|(token, said)| !(*said == Said::Right && is_filler(sentence, utterance, tokens, token, due)))
        .filter(|(token, _)| !is_concession(utterance, token))
        .map(|(token, said)| Place { said, first: token.first, past: token.past, segment: token.segment })
        .fold(Vec::new(), |mut places: Vec<Place>, mut place| {
            if place.said == Said::That {
                let single = places.iter().rev().find(|before| before.said.single().is_some());
                place.said = single.map_or(Said::That, |before| before.said);
            }
            places.push(place);
            places
        })
}

fn said_by(token: &Token) -> Option<Said> {
    let sides = [
        (Word::SideLeft, Said::Left),
        (Word::SideRight, Said::Right),
        (Word::SideBoth, Said::Both),
        (Word::SideNeither, Said::Neither),
        (Word::SideOther, Said::Other),
        (Word::SideThat, Said::That),
    ];
    sides.iter().find(|(word, _)| token.is(*word)).map(|(_, said)| *said)
}

// "Nothing in that either way, it comes and goes": whatever the case, and no side, where no item's result stands before it.
fn is_concession(utterance: &Utterance, token: &Token) -> bool {
    let words = &utterance.words[token.first..token.past];
    let either_way = matches!(words, [either, way] if either.plain == "either" && way.plain == "way");
    let before = &utterance.words[..token.first];
    let opens = before.last().is_none_or(|word| word.stop > Stop::Comma);
    either_way && (opens || before.last().is_some_and(|word| matches!(word.plain.as_str(), "that" | "it" | "this")))
}

// "Right, left knee jerk" and "Right, let's try the hips" begin with "okay"; "Right, two. Left, three." does not.
fn is_filler(sentence: &Sentence, utterance: &Utterance, tokens: &[Token], token: &Token, due: bool) -> bool {
    let opens = token.first == sentence.first() && token.past == token.first + 1;
    let apart = utterance.words.get(token.first).is_some_and(|word| word.stop != Stop::None);
    if !opens || !apart {
        return false;
    }
    let next = tokens.iter().find(|other| other.first >= token.past);
    match next {
        // "Left. Resisted. Right. Partial."
        None => utterance.words.len() == 1 && !due,
        Some(next) => {
            said_by(next).is_some() && next.first == token.past
                || !next.names.is_empty()
                || next.is(Word::Plan)
                || next.is(Word::Turn)
        }
    }
}

/// A result's place, for which a side is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// Index of its first word.
    pub first: usize,
    /// Its segment.
    pub segment: usize,
    /// The segment behind it that names its item, where the item is named only there.
    pub named_in: Option<usize>,
}

/// What [`assign`] found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Assigned {
    /// A side for each result, in order; several places where several sides were joined.
    pub sides: Vec<Vec<Place>>,
    /// A side said with no result behind it: it holds for what comes next.
    pub left_over: Option<Place>,
    /// Segments whose sides can be understood in two ways.
    pub unsure: Vec<usize>,
}

/// Gives each result of a sentence its side.
#[must_use]
pub fn assign(
    sentence: &Sentence,
    utterance: &Utterance,
    tokens: &[Token],
    places: &[Place],
    wanted: &[Wanted],
    boundaries: &[usize],
) -> Assigned {
    let mut assigned = Assigned { sides: vec![Vec::new(); wanted.len()], ..Assigned::default() };
    if places.is_empty() {
        return assigned;
    }
    let mut heading: Option<Place> = None;
    let mut topic = false;
    for segment in 0..sentence.segments.len() {
        let here: Vec<Place> = places.iter().filter(|place| place.segment == segment).copied().collect();
        let results: Vec<usize> = (0..wanted.len()).filter(|ix| wanted[*ix].segment == segment).collect();
        if boundaries.contains(&segment) && !topic {
            heading = None;
        }
        match (here.is_empty(), results.is_empty()) {
            (true, true) => {}
            (true, false) => take_heading(&mut assigned, &results, heading),
            (false, true) => {
                let before = (0..wanted.len()).rev().find(|ix| wanted[*ix].segment < segment);
                let bare = is_bare(sentence, utterance, tokens, &here);
                let takes = |ix: &usize| {
                    named_here(wanted, &assigned, *ix, segment)
                        || bare && belongs_back((utterance, tokens), places, wanted, &assigned, *ix, segment, &here)
                };
                if let Some(ix) = before.filter(takes) {
                    give_back(&mut assigned, ix, bare, &here);
                } else {
                    // "On the right, biceps brisk, triceps reduced": a side ahead of everything holds for all of it.
                    topic = bare && before.is_none();
                    (heading, assigned.left_over) = (here.last().copied(), here.last().copied());
                }
            }
            (false, false) => {
                pair(utterance, &here, &results, wanted, &mut assigned);
                assigned.left_over = None;
                heading = here.last().copied().filter(|place| place.first < wanted[results[0]].first);
                topic = false;
            }
        }
    }
    assigned
}

fn take_heading(assigned: &mut Assigned, results: &[usize], heading: Option<Place>) {
    results.iter().for_each(|ix| assigned.sides[*ix].extend(heading));
    assigned.left_over = None;
}

// "At most ninety, the right popliteal": the side stands with the item named behind the result.
fn named_here(wanted: &[Wanted], assigned: &Assigned, ix: usize, segment: usize) -> bool {
    wanted[ix].named_in == Some(segment) && assigned.sides[ix].is_empty()
}

// "Biceps brisk, triceps brisk, on both sides": results without a side share the one behind them.
fn give_back(assigned: &mut Assigned, ix: usize, bare: bool, here: &[Place]) {
    let shared = (0..=ix).rev().take_while(|other| *other == ix || assigned.sides[*other].is_empty());
    let all: Vec<usize> = if bare && assigned.sides[ix].is_empty() { shared.collect() } else { vec![ix] };
    for other in all {
        assigned.sides[other].extend(here);
    }
}

/// Words beside a side that say nothing of their own.
const BESIDE_SIDES: [&str; 26] = [
    "to", "over", "and", "on", "the", "in", "of", "as", "well", "too", "side", "hand", "one", "sorry", "no", "at",
    "is", "for", "that", "but", "two", "sides", "are", "they", "look", "looks",
];

// "Up on the right, down on the left": a word that the lexicon does not know here may be a result.
fn is_bare(sentence: &Sentence, utterance: &Utterance, tokens: &[Token], here: &[Place]) -> bool {
    let Some(place) = here.first() else { return false };
    let segment = sentence.segments[place.segment];
    (segment.first..segment.past).all(|at| {
        here.iter().any(|place| place.first <= at && at < place.past)
            || tokens.iter().any(|t| t.first <= at && at < t.past && !t.body.is_empty() && !t.is_result())
            || BESIDE_SIDES.contains(&utterance.words[at].plain.as_str())
    })
}

// A side alone belongs to the result before it if that has none yet, or the other one, and no result follows for it.
fn belongs_back(
    (utterance, tokens): (&Utterance, &[Token]),
    places: &[Place],
    wanted: &[Wanted],
    assigned: &Assigned,
    ix: usize,
    segment: usize,
    here: &[Place],
) -> bool {
    let next_side = places.iter().map(|place| place.segment).find(|other| *other > segment).unwrap_or(usize::MAX);
    let result_follows = wanted.iter().any(|w| w.segment > segment && w.segment < next_side);
    let known = &assigned.sides[ix];
    let new = here.iter().all(|place| known.iter().all(|k| k.said != place.said));
    if known.is_empty() {
        !result_follows || wanted[ix].segment + 1 == segment && wanted.len() > 1 && wanted[0].first < places[0].first
    } else {
        // "Left arm increased, right arm ...": what a side of its own is said of waits for a result of its own.
        let single = |places: &[Place]| places.iter().all(|place| place.said.single().is_some());
        let corrected =
            |from: usize| tokens.iter().any(|t| t.is(Word::Replace) && t.first >= from && t.past <= here[0].first);
        let apart = single(known)
            && single(here)
            && !is_joined(utterance, here)
            && !known.iter().all(|place| corrected(place.past));
        new && !result_follows && !apart
    }
}

/// Words that join a side to a result that has one already.
const JOINING: [&str; 9] = ["and", "too", "also", "well", "likewise", "same", "or", "but", "sorry"];

// "Present on the left, and on the right."
fn is_joined(utterance: &Utterance, here: &[Place]) -> bool {
    let (Some(one), Some(last)) = (here.first(), here.last()) else { return false };
    let before = utterance.words[..one.first].iter().rev().take_while(|word| word.stop == Stop::None).take(3);
    let behind = utterance.words[last.past - 1..].windows(2).take(2).take_while(|pair| pair[0].stop == Stop::None);
    let mut beside = before.chain(behind.map(|pair| &pair[1]));
    beside.any(|word| JOINING.contains(&word.plain.as_str()))
}

// "two on the left three on the right" and "left two right three": the first of the two tells the order.
fn pair(utterance: &Utterance, here: &[Place], results: &[usize], wanted: &[Wanted], assigned: &mut Assigned) {
    let side_first = here[0].first < wanted[results[0]].first;
    if results.len() == 1 {
        // "Planters at left equivocal right": one of the two had a result that was not understood.
        let single = here.iter().all(|place| place.said.single().is_some());
        let behind: Vec<Place> = here.iter().filter(|place| place.first > wanted[results[0]].first).copied().collect();
        if side_first && single && !behind.is_empty() && !is_joined(utterance, &behind) {
            assigned.unsure.push(here[0].segment);
        }
        assigned.sides[results[0]].extend(here);
        return;
    }
    // "Right two left two right one left": whether the sides stand before or behind their results cannot be told.
    let around =
        side_first && here.last().is_some_and(|place| results.iter().all(|ix| wanted[*ix].first < place.first));
    if around && here.len() > results.len() && here.iter().all(|place| place.said.single().is_some()) {
        assigned.unsure.push(here[0].segment);
    }
    for (k, ix) in results.iter().enumerate() {
        let from = wanted[*ix].first;
        let next = results.get(k + 1).map_or(usize::MAX, |next| wanted[*next].first);
        let before = here.iter().rev().find(|place| place.first < from);
        let behind = here.iter().find(|place| place.first > from && place.first < next);
        let chosen = if side_first { before.or(behind) } else { behind.or(before) };
        assigned.sides[*ix].extend(chosen.or(here.first()));
    }
}

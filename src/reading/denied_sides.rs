//! "Not the other side": a side of which nothing is said but that it is not so.
//! Takes the results of a sentence; gives one more for each side that is denied beside a result of the opposite side.
//! Leaves alone sides with a result of their own (`sides`), and what has no contrary (`negation`).
//!
//! "Galant present on the left, not on the right" is present on the left and absent on the right

use crate::lexicon::{General, LanguageWord as Word, Lexicon};
use crate::reading::negation;
use crate::reading::reader::{Kind, Read};
use crate::reading::sides::Place;
use crate::reading::statements::Side;
use crate::reading::values::{Bound, Value, general_value};

/// Words beside a denied side that say nothing of their own.
const BESIDE: [&str; 22] = [
    "the", "a", "on", "to", "at", "of", "in", "with", "but", "and", "one", "side", "hand", "foot", "does", "do", "did",
    "is", "was", "just", "though", "however",
];

/// Results that are denied of a side: for each its place among the tokens, and what it comes to. `before` is what was said last, with
/// its side.
pub(super) fn denied_sides(
    lexicon: &Lexicon,
    read: &Read<'_>,
    kinds: &[(usize, Kind)],
    before: impl Fn() -> Option<(Bound, Side)>,
) -> Vec<(usize, Bound)> {
    let mut found = Vec::new();
    for segment in 0..read.sentence.segments.len() {
        let Some((at, place)) = denied_alone(read, segment) else { continue };
        let opposite = |side: Option<Side>| side.is_some() && side != place.said.single();
        let here = kinds.iter().rev().find_map(|(token, kind)| match kind {
            Kind::Result(bound) if read.tokens[*token].segment < segment => Some((read.tokens[*token].segment, bound)),
            _ => None,
        });
        let denied = match here {
            Some((other, bound)) => opposite(only_side(&read.places, other)).then(|| bound.clone()),
            // "Right doesn't.", in a sentence of its own.
            None if read.sentence.segments.len() == 1 => {
                before().filter(|(_, side)| opposite(Some(*side))).map(|(bound, _)| bound)
            }
            None => None,
        };
        found.extend(denied.and_then(|bound| Some((at, absent(lexicon, Bound { token: at, ..bound })?))));
    }
    found
}

/// The denying word and the side of a segment that says nothing else.
fn denied_alone(read: &Read<'_>, segment: usize) -> Option<(usize, Place)> {
    let mut places = read.places.iter().filter(|place| place.segment == segment && place.said.single().is_some());
    let (place, None) = (*places.next()?, places.next()) else { return None };
    let at = read.tokens.iter().position(|token| token.segment == segment && token.is(Word::Negation))?;
    let bounds = read.sentence.segments[segment];
    let says_nothing = |word: usize| {
        let token = read.tokens.iter().position(|token| token.first <= word && word < token.past);
        let of_it = token.is_some_and(|ix| ix == at || read.tokens[ix].first == place.first);
        let more = token.is_some_and(|ix| read.tokens[ix].is_result() || !read.named[ix].is_empty());
        of_it || !more && BESIDE.contains(&read.utterance.words[word].plain.as_str())
    };
    (bounds.first..bounds.past).all(says_nothing).then_some((at, place))
}

/// The only side that is said of a result of this segment: in it, or ahead of it.
fn only_side(places: &[Place], segment: usize) -> Option<Side> {
    let last = places.iter().rev().find(|place| place.segment <= segment)?;
    let mut here = places.iter().filter(|place| place.segment == last.segment);
    let (place, None) = (here.next()?, here.next()) else { return None };
    place.said.single()
}

/// What is there on one side is missing on the other; what has other contraries is not told by "not".
fn absent(lexicon: &Lexicon, bound: Bound) -> Option<Bound> {
    let [item] = bound.items[..] else { return None };
    let item = &lexicon.items[item];
    let Value::Choice(value) = bound.value else { return None };
    let there = item.paired && general_value(item, General::There) == Some(value);
    let denied = there.then(|| negation::deny(lexicon, bound)).flatten()?;
    Some(Bound { general: Some(General::Nothing), ..denied })
}

//! "The rest": those of a group of which nothing was said yet.
//! Takes a sentence and what was said before; tells whether a result is of the rest, and of which sides of an item it then is.
//! Leaves alone exceptions that stand behind the result (`corrections`).
//!
//! "Reflexes: left ankle three, the rest two" leaves the left ankle at three

use crate::lexicon::ItemIx;
use crate::reading::reader::Read;
use crate::reading::stance::Stance;
use crate::reading::statements::{Side, Statement};
use crate::speech::Word;

/// Words that say the rest, each with words behind which it does not: "above all else".
const REST: [(&[&str], &[&str]); 11] = [
    (&["the", "rest"], &[]),
    (&["rest", "of", "them"], &[]),
    (&["everything", "else"], &[]),
    (&["all", "else"], &["above", "before"]),
    (&["the", "others"], &[]),
    (&["all", "others"], &[]),
    (&["the", "remaining"], &[]),
    (&["the", "remainder"], &[]),
    (&["everywhere", "else"], &[]),
    (&["elsewhere"], &[]),
    (&["otherwise"], &[]),
];

/// Whether a result is said of the rest: in its own segment, or in the one before where that says nothing else.
pub(super) fn is_of_the_rest(read: &Read<'_>, at: usize) -> bool {
    let segment = read.tokens[at].segment;
    let silent = |segment: usize| {
        let here = |ix: &usize| read.tokens[*ix].segment == segment;
        let tells = |ix: usize| read.tokens[ix].is_result() || !read.named[ix].is_empty();
        !(0..read.tokens.len()).filter(here).any(tells)
    };
    says_rest(read, segment) || segment.checked_sub(1).is_some_and(|before| says_rest(read, before) && silent(before))
}

/// Whether a segment says the rest.
pub(super) fn says_rest(read: &Read<'_>, segment: usize) -> bool {
    let bounds = read.sentence.segments[segment];
    says_in(&read.utterance.words[bounds.first..bounds.past])
}

fn says_in(words: &[Word]) -> bool {
    (0..words.len()).any(|at| {
        let before = at.checked_sub(1).map_or("", |before| words[before].plain.as_str());
        let said = |phrase: &[&str]| {
            let here = words[at..].iter().map(|word| word.plain.as_str());
            here.take(phrase.len()).eq(phrase.iter().copied())
        };
        REST.iter().any(|(phrase, but)| said(phrase) && !but.contains(&before))
    })
}

/// The side that is left of an item, of which something may have been said; nothing where all of it was.
pub(super) fn side_left(said: &[Statement], item: ItemIx, side: Side) -> Option<Side> {
    let sides = || said.iter().filter(|one| one.item == item && one.stance == Stance::Observed).map(|one| one.side);
    let told = |side: Side| sides().any(|one| one == side);
    let whole = sides().any(|one| !matches!(one, Side::Left | Side::Right));
    match (told(Side::Left), told(Side::Right)) {
        _ if whole => None,
        (false, false) => Some(side),
        (true, true) => None,
        (left, _) => {
            let other = if left { Side::Right } else { Side::Left };
            (!matches!(side, Side::Left | Side::Right) || side == other).then_some(other)
        }
    }
}

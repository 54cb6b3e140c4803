//! Quantities beside each other: neighbours and counting.
//! Takes the quantities of an utterance; marks those with only a comma between them and runs of somebody counting.
//! Gives, when asked, two neighbours as one quantity. Leaves alone whether they are one: the item decides.
//!
//! "one, two, three, four, five, and let go" is five quantities, all counting

use super::number_words::plain;
use super::shapes::{Join, Origin, Quantity};
use crate::speech::words::{Stop, Word};

/// So many consecutive numbers are somebody counting.
const COUNTING: usize = 3;

/// Marks neighbours, counting, and what belongs to a number that is measured elsewhere.
pub(super) fn mark(found: &mut [Quantity], words: &[Word]) {
    for index in 1..found.len() {
        let (before, rest) = found.split_at_mut(index);
        let (Some(previous), Some(quantity)) = (before.last_mut(), rest.first_mut()) else { continue };
        let stop = words.get(previous.past.wrapping_sub(1)).map_or(Stop::End, |word| word.stop);
        let joined = quantity.first == previous.past;
        quantity.follows_neighbour = joined && stop <= Stop::Comma;
        if joined && is_clock(words, previous.past - 1, quantity.first) {
            previous.spoken.origin = Origin::Elsewhere;
            quantity.spoken.origin = Origin::Elsewhere;
        }
        // "Apgars nine and ten"
        let and = quantity.first == previous.past + 1 && plain(words, previous.past) == "and" && stop <= Stop::Comma;
        if previous.spoken.origin == Origin::Elsewhere
            && previous.spoken.unit().is_none()
            && (quantity.follows_neighbour || and)
        {
            quantity.spoken.origin = Origin::Elsewhere;
        }
    }
    mark_counting(found, words);
}

/// "10:42": figures on both sides of a single sign that is no point and no comma.
fn is_clock(words: &[Word], first: usize, second: usize) -> bool {
    let figures =
        |at: usize| plain(words, at).bytes().all(|byte| byte.is_ascii_digit()) && !plain(words, at).is_empty();
    let touching = words.get(first).zip(words.get(second)).is_some_and(|(one, two)| one.end + 1 == two.start);
    let colon = words.get(first).is_some_and(|word| word.stop == Stop::Pause);
    second == first + 1 && touching && colon && figures(first) && figures(second)
}

fn mark_counting(found: &mut [Quantity], words: &[Word]) {
    for quantity in found.iter_mut() {
        quantity.counting = counts_within(quantity);
    }
    let mut start = 0;
    for end in 1..=found.len() {
        // "one... two... three": whoever counts slowly pauses, so only the end of a sentence ends the run.
        let goes_on = found.get(end).zip(found.get(end - 1)).is_some_and(|(next, last)| {
            let stop = words.get(last.past.wrapping_sub(1)).map_or(Stop::End, |word| word.stop);
            next.first == last.past && stop <= Stop::Pause && whole(last).map(|value| value + 1) == whole(next)
        });
        if goes_on {
            continue;
        }
        if end - start >= COUNTING {
            found[start..end].iter_mut().for_each(|quantity| quantity.counting = true);
        }
        start = end;
    }
}

/// "one two three four", without commas.
fn counts_within(quantity: &Quantity) -> bool {
    let parts = &quantity.spoken.said.parts;
    parts.len() >= COUNTING
        && parts.windows(2).all(|pair| match pair {
            [one, next] => {
                next.join == Join::RunOn && one.number.as_whole().map(|value| value + 1) == next.number.as_whole()
            }
            _ => false,
        })
}

fn whole(quantity: &Quantity) -> Option<i64> {
    let spoken = &quantity.spoken;
    let plain = spoken.then.is_none() && spoken.origin == Origin::Number;
    spoken.said.single().filter(|_| plain)?.number.as_whole()
}

impl Quantity {
    /// This and its neighbour as one: "ninety, a hundred" is a range of degrees, "34, 6" a length, by what they are read
    /// as. `None` if `next` does not follow this one, or either is more than a number.
    #[must_use]
    pub fn joined_with(&self, next: &Self) -> Option<Self> {
        let plain = |quantity: &Self| quantity.spoken.then.is_none() && quantity.spoken.origin == Origin::Number;
        if !next.follows_neighbour
            || next.first != self.past
            || !plain(self)
            || !plain(next)
            || self.spoken.unit().is_some()
        {
            return None;
        }
        let mut both = self.clone();
        let others = next.spoken.said.parts.iter().enumerate().map(|(index, part)| {
            let mut part = *part;
            if index == 0 {
                part.join = Join::Comma;
            }
            part
        });
        both.spoken.said.parts.extend(others);
        both.spoken.about |= next.spoken.about;
        both.spoken.bound = next.spoken.bound;
        both.spoken.pluses = next.spoken.pluses;
        both.past = next.past;
        Some(both)
    }

    /// The same number with `unit`, if none was said: "thirty hours old, sorry, thirty-three" goes on in hours.
    #[must_use]
    pub fn or_in(mut self, unit: super::units::Unit) -> Self {
        if self.spoken.unit().is_none() {
            super::set_last_unit(&mut self.spoken, unit);
        }
        self
    }
}

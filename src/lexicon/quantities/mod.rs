//! Words → the numbers that they say.
//! Takes the words of an utterance; gives every number, range or bound as it was spoken, left to right, never
//! overlapping. A quantity gets a value only when it is read in an item's unit: `Quantity::read_as`.
//! Leaves alone corrections ("ninety, no, a hundred" is two quantities), sides, hedges and which item is meant.
//! Files, in reading order: `shapes` `decimal` `units` `number_words` `pronouns` `parts` `bounds` `special` `runs`
//! `amounts` `readings`.
//!
//! "right one ten, left at least ninety degrees" gives 1 | 10 and at-least 90 degrees, read as 110deg and >=90deg

mod amounts;
mod bounds;
mod decimal;
mod number_words;
mod parts;
mod pronouns;
mod readings;
mod runs;
mod shapes;
mod special;
mod units;

pub use amounts::{Amount, Figure, Measure, Point, Reading};
pub use decimal::Decimal;
pub use shapes::{Bound, Join, Link, Origin, Part, Quantity, Said, SpokenNumber};
pub use units::Unit;

use crate::speech::words::{Stop, Word};
use bounds::Around;
use number_words::{plain, runs_on, starts_number};
use parts::{Parts, parts_at, unit_behind};

/// Every number said in `words`. Any words are accepted; none of them gives an empty list.
#[must_use]
pub fn quantities_in(words: &[Word]) -> Vec<Quantity> {
    let mut found: Vec<Quantity> = Vec::new();
    let (mut at, mut floor) = (0, 0);
    while at < words.len() {
        let Some((next, quantity)) = could_start(plain(words, at)).then(|| quantity_at(words, floor, at)).flatten()
        else {
            at += 1;
            continue;
        };
        at = next.max(at + 1);
        if let Some(quantity) = quantity {
            floor = at;
            found.push(quantity);
        }
    }
    runs::mark(&mut found, words);
    found
}

/// Whether a quantity could start with this word: most words are turned away by their first letters and length.
fn could_start(word: &str) -> bool {
    const OPENINGS: [&[u8; 3]; 30] = [
        b"zer", b"nou", b"nau", b"one", b"two", b"thr", b"fou", b"fiv", b"six", b"sev", b"eig", b"nin", b"ten", b"ele",
        b"twe", b"thi", b"fif", b"for", b"hun", b"tho", b"poi", b"hal", b"rig", b"ter", b"plu", b"too", b"fre", b"won",
        b"fir", b"sec",
    ];
    match word.as_bytes() {
        [b'0'..=b'9' | b'.', ..] | b"a" | b"an" | b"t" | b"to" => true,
        [b'e' | b'f' | b'h' | b'n' | b'o' | b'p' | b'r' | b's' | b't' | b'w' | b'z', _, _, ..] => {
            word.len() <= LONGEST_START && OPENINGS.iter().any(|opening| word.as_bytes().starts_with(*opening))
        }
        _ => false,
    }
}

/// Letters of "seventeenish", the longest word that a quantity starts with.
const LONGEST_START: usize = 12;

/// The quantity whose number starts at `at`, and the index to go on from; without a quantity the words up to there are
/// number words that say no number.
fn quantity_at(words: &[Word], floor: usize, at: usize) -> Option<(usize, Option<Quantity>)> {
    let word = plain(words, at);
    let article = word == "a" && matches!(plain(words, at + 1), "hundred" | "thousand");
    if !article && !starts_number(word) {
        let quantity = special::quantity_at(words, floor, at)?;
        return Some((quantity.past, Some(quantity)));
    }
    if pronouns::is_no_number(words, at, floor) {
        return Some((at + 1, None));
    }
    let mut around = Around::NOTHING;
    let first = bounds::before(words, floor, at, &mut around);
    let between = around.opens && !matches!(plain(words, first), "from" | "either");
    let read = parts_at(words, at, between)?;
    let quantity = match special::counted_days(words, &read.said, read.next) {
        Some((spoken, past)) => quantity_of(first, past, SpokenNumber { about: around.about, ..spoken }),
        None => completed(words, floor, unit_in_front(words, floor, first), around, read),
    };
    Some((quantity.past, Some(quantity)))
}

fn quantity_of(first: usize, past: usize, spoken: SpokenNumber) -> Quantity {
    Quantity { first, past, spoken, follows_neighbour: false, counting: false, counts_next_word: false }
}

/// "day two", "grade at least two": where the unit before the number stands.
fn unit_in_front(words: &[Word], floor: usize, first: usize) -> (usize, Option<Unit>) {
    let before = |back: usize| match first.checked_sub(back) {
        Some(index) if index >= floor && runs_on(words, index + 1) => plain(words, index),
        _ => "",
    };
    if before(1) == "life" && before(2) == "of" && before(3) == "day" {
        return (first - 3, Some(Unit::Day));
    }
    match units::leading_unit(before(1)) {
        Some(unit) => (first - 1, Some(unit)),
        None => (first, None),
    }
}

/// Adds to a number what follows it: pluses, "out of four", a unit, bounds, the other number of a pair.
fn completed(words: &[Word], floor: usize, start: (usize, Option<Unit>), around: Around, read: Parts) -> Quantity {
    let (first, front) = start;
    let mut spoken = SpokenNumber {
        said: read.said,
        then: None,
        bound: Bound::Is,
        up_to: false,
        about: read.about,
        exact: read.exact,
        pluses: 0,
        out_of: None,
        origin: Origin::Number,
    };
    let mut around = around;
    let mut past = tail(words, read.next, &mut spoken, &mut around);
    if let Some((link, second, next)) = pair_at(words, past, around, &mut spoken) {
        spoken.then = Some((link, second));
        past = tail(words, next, &mut spoken, &mut around);
    }
    if let (Some(unit), None) = (front, spoken.unit()) {
        set_last_unit(&mut spoken, unit);
        spoken.origin = Origin::UnitFirst;
    }
    (spoken.bound, spoken.up_to) = (around.bound, around.up_to);
    spoken.about |= around.about;
    spoken.exact |= around.exact;
    past = special::elsewhere(words, floor, first, past, around, &mut spoken);
    let first = special::minus(words, floor, first, &mut spoken);
    let counts_next_word = pronouns::counts_next_word(words, past, &spoken);
    Quantity { counts_next_word, ..quantity_of(first, past, spoken) }
}

/// What may follow a number in any order: "two plus beats", "ten or more beats", "two plus out of four".
fn tail(words: &[Word], at: usize, spoken: &mut SpokenNumber, around: &mut Around) -> usize {
    let mut next = at;
    while runs_on(words, next) && matches!(plain(words, next), "plus" | "plusses" | "pluses") {
        spoken.pluses = spoken.pluses.saturating_add(1);
        next += 1;
    }
    if let Some((most, behind)) = out_of_at(words, next) {
        spoken.out_of = Some(most);
        next = behind;
    }
    for _ in 0..2 {
        if spoken.last().unit().is_none()
            && let Some((unit, behind)) = unit_behind(words, next)
        {
            set_last_unit(spoken, unit);
            next = behind;
        }
        let behind = bounds::behind(words, next, around);
        if behind == next {
            break;
        }
        next = behind;
    }
    next
}

/// "out of four", "over four", "/4".
fn out_of_at(words: &[Word], at: usize) -> Option<(Decimal, usize)> {
    if !runs_on(words, at) {
        return None;
    }
    let from = match plain(words, at) {
        "out" if plain(words, at + 1) == "of" => at + 2,
        "over" | "of" => at + 1,
        _ => return None,
    };
    let (most, next) = number_words::number_at(words, from, number_words::PLAIN)?;
    Some((most.value, next))
}

fn set_last_unit(spoken: &mut SpokenNumber, unit: Unit) {
    let said = match spoken.then.as_mut() {
        Some((_, second)) => second,
        None => &mut spoken.said,
    };
    if let Some(part) = said.parts.last_mut() {
        part.unit = Some(unit);
    }
}

/// The other number of a pair: "to ninety", "or four", "maybe three", "by three".
fn pair_at(words: &[Word], at: usize, around: Around, spoken: &mut SpokenNumber) -> Option<(Link, Said, usize)> {
    let comma = words.get(at.checked_sub(1)?)?.stop == Stop::Comma;
    if !runs_on(words, at) && !comma {
        return None;
    }
    let mut next = at + 1;
    let link = match plain(words, at) {
        "to" | "through" | "dash" | "til" | "till" => Link::To,
        "up" if !comma && plain(words, at + 1) == "to" => {
            next += 1;
            Link::To
        }
        "and" if around.opens => Link::To,
        "hyphen" => Link::Hyphen,
        "or" => Link::Or,
        "by" if !comma => Link::By,
        "maybe" | "perhaps" | "possibly" | "even" if comma => Link::Or,
        _ => return None,
    };
    while matches!(plain(words, next), "maybe" | "perhaps" | "possibly" | "even" | "about" | "around" | "roughly") {
        spoken.about |= matches!(plain(words, next), "about" | "around" | "roughly");
        next += 1;
    }
    if !runs_on(words, next) || pronouns::is_no_number(words, next, 0) {
        return None;
    }
    let second = parts_at(words, next, false)?;
    spoken.about |= second.about;
    Some((link, second.said, second.next))
}

impl SpokenNumber {
    fn last(&self) -> &Said {
        self.then.as_ref().map_or(&self.said, |(_, second)| second)
    }
}

#[cfg(test)]
mod tests;

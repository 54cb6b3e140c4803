//! Words → the parts of one number, with the units said behind them.
//! Takes words from a place; gives every part that hangs on the first ("three kilos two hundred" has two) and the
//! index behind them. Leaves alone what the parts come to: "thirty-four six" is 34 | 6 whatever was measured.
//!
//! "thirty-eight weeks and four days" is 38 weeks | and 4 days

use super::decimal::Decimal;
use super::number_words::{
    INSIDE, Manner, Number, PLAIN, fraction_at, is_oh, number_at, plain, runs_on, says, starts_number,
};
use super::pronouns::is_no_number;
use super::shapes::{Join, Part, Said};
use super::units::{Unit, unit_at};
use crate::speech::words::{Stop, Word};

/// No number is said in more parts; a longer run is somebody counting.
const MOST_PARTS: usize = 24;
/// Weeks of gestation lie between these: only behind such a number do "and four", "plus four" say days.
const WEEKS: std::ops::RangeInclusive<i64> = 20..=46;

/// The parts of a number, what hangs on them, and where they end.
pub(super) struct Parts {
    /// The parts.
    pub said: Said,
    /// Index behind the last of their words.
    pub next: usize,
    /// "ninetyish".
    pub about: bool,
    /// "and no days".
    pub exact: bool,
}

/// The number that starts at `at`. `between` holds "and" back for the other number of "between eighty and ninety".
pub(super) fn parts_at(words: &[Word], at: usize, between: bool) -> Option<Parts> {
    let (number, next) = number_at(words, at, Manner { oh: false, and: true })?;
    let mut read = Parts { said: Said { parts: Vec::new() }, next, about: number.about, exact: false };
    push(&mut read, words, Join::Start, number);
    while read.said.parts.len() < MOST_PARTS {
        let Some((join, number, next)) = joined_at(words, &mut read, between) else { break };
        read.next = next;
        read.about |= number.about;
        push(&mut read, words, join, number);
    }
    Some(read)
}

fn push(read: &mut Parts, words: &[Word], join: Join, number: Number) {
    let Number { mut value, width, mut fraction, .. } = number;
    let unit = unit_behind(words, read.next);
    if let Some((_, next)) = unit {
        read.next = next;
        // "two kilos and a half"
        if runs_on(words, next)
            && let Some((half, next)) = fraction_at(words, next)
        {
            (value, fraction, read.next) = (value.plus(half), true, next);
        }
    }
    read.said.parts.push(Part { join, number: value, width, fraction, unit: unit.map(|(unit, _)| unit) });
}

/// The unit at `at`, unless a stop stands before it.
pub(super) fn unit_behind(words: &[Word], at: usize) -> Option<(Unit, usize)> {
    if !runs_on(words, at) {
        return None;
    }
    // "Two little beats": what colours the beats says nothing of their number.
    let coloured = || COLOURS.contains(&plain(words, at)) && runs_on(words, at + 1);
    unit_at(words, at)
        .or_else(|| if coloured() { unit_at(words, at + 1).filter(|(unit, _)| *unit == Unit::Beat) } else { None })
}

/// Words between a number and its beats.
const COLOURS: [&str; 12] =
    ["little", "small", "tiny", "good", "clear", "definite", "brief", "quick", "weak", "brisk", "short", "wee"];

fn joined_at(words: &[Word], read: &mut Parts, between: bool) -> Option<(Join, Number, usize)> {
    let at = read.next;
    if !runs_on(words, at) {
        return days_behind_comma(words, read);
    }
    match plain(words, at) {
        "and" if !between => and_at(words, read),
        "plus" => plus_at(words, read),
        word if starts_number(word) || is_oh(word) || word == "a" => run_on_at(words, read),
        _ => None,
    }
}

/// "thirty-eight weeks, four days by early scan", "thirty-nine weeks, and two days"
fn days_behind_comma(words: &[Word], read: &Parts) -> Option<(Join, Number, usize)> {
    let at = read.next;
    let comma = words.get(at.checked_sub(1)?)?.stop == Stop::Comma;
    let weeks = read.said.parts.last()?.unit == Some(Unit::Week);
    let and = usize::from(plain(words, at) == "and" && runs_on(words, at + 1));
    let (number, next) = if comma && weeks { number_at(words, at + and, PLAIN)? } else { return None };
    let days = matches!(unit_behind(words, next), Some((Unit::Day, _)));
    (days && is_day_of_week(number)).then_some((Join::And, number, next))
}

fn and_at(words: &[Word], read: &mut Parts) -> Option<(Join, Number, usize)> {
    let at = read.next;
    let last = *read.said.parts.last()?;
    if says(words, at, &["and", "no", "days"]) {
        read.exact = true;
        read.next = at + 3;
        return None;
    }
    let weeks = last.unit == Some(Unit::Week);
    if weeks && says(words, at, &["and", "a", "day"]) {
        return Some((Join::And, Number { value: Decimal::whole(1), width: 1, fraction: false, about: false }, at + 3));
    }
    // "thirty-three weeks and exactly two days"
    let exactly = weeks && matches!(plain(words, at + 1), "exactly" | "precisely" | "just" | "only");
    let from = at + 1 + usize::from(exactly);
    if is_no_number(words, from, 0) {
        return None;
    }
    let (number, next) = number_at(words, from, INSIDE).filter(|_| runs_on(words, from))?;
    if let Some(behind) = sevenths_at(words, next) {
        return Some((Join::Sevenths, number, behind));
    }
    let unit = unit_behind(words, next).map(|(unit, _)| unit);
    // "thirty-four and two plus on the left": the second number is a grade.
    let graded = unit.is_none() && plain(words, next) == "plus";
    let fits = match (last.unit, unit) {
        (Some(Unit::Week), None | Some(Unit::Day)) => is_day_of_week(number),
        (Some(whole), part) => is_smaller_unit(whole, part, number),
        (None, Some(Unit::Millimetre)) => number.width == 1,
        (None, None | Some(Unit::Day)) => are_weeks(&read.said) && is_day_of_week(number),
        _ => false,
    };
    (fits && !graded).then_some((Join::And, number, next))
}

fn plus_at(words: &[Word], read: &Parts) -> Option<(Join, Number, usize)> {
    let at = read.next;
    let last = read.said.parts.last()?;
    let weeks = last.unit == Some(Unit::Week) || last.unit.is_none() && are_weeks(&read.said);
    if !weeks || last.join == Join::Plus || words.get(at)?.stop > Stop::Pause {
        return None;
    }
    let (number, next) = number_at(words, at + 1, INSIDE).or_else(|| homophone_at(words, at + 1))?;
    let unit = unit_behind(words, next).map(|(unit, _)| unit);
    let graded = unit.is_none() && runs_on(words, next) && plain(words, next) == "plus";
    let days = number.width <= 2 && matches!(unit, None | Some(Unit::Day | Unit::Week));
    (days && !graded).then_some((Join::Plus, number, next))
}

// "fourty plus won": behind a plus, at the end of what is said, only a number makes sense.
fn homophone_at(words: &[Word], at: usize) -> Option<(Number, usize)> {
    let value = match plain(words, at) {
        "won" => 1,
        "to" | "too" => 2,
        "for" => 4,
        _ => return None,
    };
    let ends = !runs_on(words, at + 1) || unit_at(words, at + 1).is_some_and(|(unit, _)| unit == Unit::Day);
    let number = Number { value: Decimal::whole(value), width: 1, fraction: false, about: false };
    (ends && runs_on(words, at)).then_some((number, at + 1))
}

fn run_on_at(words: &[Word], read: &Parts) -> Option<(Join, Number, usize)> {
    let at = read.next;
    let last = *read.said.parts.last()?;
    if is_no_number(words, at, read.next) || last.fraction && last.unit.is_none() {
        return None;
    }
    let (number, next) = number_at(words, at, INSIDE)?;
    if is_oh(plain(words, at)) && !oh_fits(words, last, next) {
        return None;
    }
    if let Some(behind) = sevenths_at(words, next) {
        return Some((Join::Sevenths, number, behind));
    }
    let unit = unit_behind(words, next).map(|(unit, _)| unit);
    let fits = match last.unit {
        None => last.number.places() == 0,
        Some(Unit::Week) => is_day_of_week(number) && matches!(unit, None | Some(Unit::Day)),
        Some(whole) => is_smaller_unit(whole, unit, number),
    };
    // "right two, two plus": a number that has its own plus is said for itself.
    let graded = unit.is_none() && runs_on(words, next) && plain(words, next) == "plus" && number.width == 1;
    (fits && !(graded && last.width == 1)).then_some((Join::RunOn, number, next))
}

// "three two four oh" ends in a digit, "a hundred and twenty, oh dear" does not.
fn oh_fits(words: &[Word], last: Part, next: usize) -> bool {
    let goes_on = runs_on(words, next) && (starts_number(plain(words, next)) || is_oh(plain(words, next)));
    let ends = !runs_on(words, next) || unit_at(words, next).is_some();
    goes_on || ends && last.width == 1
}

fn sevenths_at(words: &[Word], at: usize) -> Option<usize> {
    if !runs_on(words, at) {
        return None;
    }
    match plain(words, at) {
        "seventh" | "sevenths" => Some(at + 1),
        "over" if matches!(plain(words, at + 1), "7" | "seven") => Some(at + 2),
        _ => None,
    }
}

fn is_day_of_week(number: Number) -> bool {
    number.width <= 1 && number.value.as_whole().is_some_and(|days| (0..=6).contains(&days))
}

/// "three eight" are weeks as well as "thirty-eight".
fn are_weeks(said: &Said) -> bool {
    match said.parts.as_slice() {
        [whole] => whole.number.as_whole().is_some_and(|weeks| WEEKS.contains(&weeks)),
        [tens, ones] if tens.width == 1 && ones.width == 1 && ones.join == Join::RunOn => {
            tens.number.times(10, 0).plus(ones.number).as_whole().is_some_and(|weeks| WEEKS.contains(&weeks))
        }
        _ => false,
    }
}

/// Whether `number` can be the small change of `whole`: grams of a kilo, ounces of a pound, millimetres of a centimetre.
fn is_smaller_unit(whole: Unit, part: Option<Unit>, number: Number) -> bool {
    let most = match (whole, part) {
        (Unit::Kilogram, None | Some(Unit::Gram)) => 999,
        (Unit::Pound, None | Some(Unit::Ounce)) => 15,
        (Unit::Centimetre, Some(Unit::Millimetre)) => 9,
        // "three kilos two forty": the digits of the grams one by one.
        (Unit::Gram | Unit::Ounce | Unit::Millimetre, _) => return false,
        _ => return false,
    };
    number.value.places() == 0 && number.value.as_whole().is_some_and(|value| value <= most)
}

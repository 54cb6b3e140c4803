//! Quantities that are not said as a plain number.
//! Takes a place in the words; gives "a right angle", "a couple of beats", "term plus four", "plus plus", "a kilo and a
//! half", and tells numbers of something else ("ten past two", "cot four") from measurements.
//! Leaves alone everything that starts with an ordinary number.
//!
//! "half a dozen beats" is about six beats

use super::bounds::{self, Around};
use super::decimal::Decimal;
use super::number_words::{INSIDE, PLAIN, fraction_at, number_at, plain, runs_on, says, starts_number};
use super::parts::unit_behind;
use super::shapes::{Bound, Join, Link, Origin, Part, Quantity, Said, SpokenNumber};
use super::units::{Unit, names_something_else, single_unit_of, unit_at};
use crate::speech::words::{Stop, Word};

/// A full-term pregnancy, in weeks, that "term plus four" counts from. Common practice, no source.
const TERM: Decimal = Decimal::whole(40);

/// The special quantity that starts at `at`.
pub(super) fn quantity_at(words: &[Word], floor: usize, at: usize) -> Option<Quantity> {
    let (spoken, past) = match plain(words, at) {
        "a" | "an" | "half" => with_article(words, at)?,
        "right" if at == floor || plain(words, at.wrapping_sub(1)) != "a" => right_angle(words, at)?,
        "term" | "t" => term_plus(words, at)?,
        "plus" | "plusses" => pluses(words, at)?,
        "to" | "too" | "for" | "free" => homophone_grade(words, at)?,
        "won" => homophone_hundred(words, at)?,
        "first" | "second" | "third" | "fourth" | "fifth" | "sixth" | "seventh" => day_of_life(words, at)?,
        "fortnight" => (number(Decimal::whole(1), Some(Unit::Fortnight)), at + 1),
        _ => return None,
    };
    let mut spoken = spoken;
    let mut around = Around::NOTHING;
    let first = bounds::before(words, floor, at, &mut around);
    let past = bounds::behind(words, past, &mut around);
    if around.bound != Bound::Is {
        spoken.bound = around.bound;
    }
    spoken.about |= around.about;
    // "a degree of head lag", "a day like this": an article alone counts nothing.
    let bare = spoken.origin == Origin::Number
        && plain(words, at).starts_with('a')
        && spoken.then.is_none()
        && spoken
            .said
            .single()
            .is_some_and(|part| part.number == Decimal::whole(1) && part.unit != Some(Unit::Fortnight));
    let counts = around.bound != Bound::Is || matches!(plain(words, past), "old") || around.about && past > at + 2;
    (!bare || counts).then(|| super::quantity_of(first, past, spoken))
}

fn number(value: Decimal, unit: Option<Unit>) -> SpokenNumber {
    let part = Part { join: Join::Start, number: value, width: 1, fraction: false, unit };
    SpokenNumber {
        said: Said { parts: vec![part] },
        then: None,
        bound: Bound::Is,
        up_to: false,
        about: false,
        exact: false,
        pluses: 0,
        out_of: None,
        origin: Origin::Number,
    }
}

fn with_article(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    for said in [&["a", "couple", "of"][..], &["a", "couple"], &["half", "a", "dozen"], &["a", "dozen"]] {
        if says(words, at, said) {
            return counted_word(words, at + said.len(), said);
        }
    }
    if says(words, at, &["a", "right", "angle"]) {
        return right_angle(words, at + 1);
    }
    // "half a kilo", "half a centimetre"
    if says(words, at, &["half", "a"]) || says(words, at, &["half", "an"]) {
        let unit = single_unit_of(plain(words, at + 2)).filter(|_| runs_on(words, at + 2))?;
        return Some((number(Decimal::new(5, 1), Some(unit)), at + 3));
    }
    if plain(words, at) == "half" || !runs_on(words, at + 1) {
        return None;
    }
    let unit = single_unit_of(plain(words, at + 1))?;
    let mut spoken = number(Decimal::whole(1), Some(unit));
    let next = at + 2;
    if !runs_on(words, next) {
        return Some((spoken, next));
    }
    if let Some((fraction, next)) = fraction_at(words, next) {
        return Some((number(Decimal::whole(1).plus(fraction), Some(unit)), next));
    }
    // "a beat or two"
    if plain(words, next) == "or"
        && let Some((second, behind)) = number_at(words, next + 1, PLAIN)
    {
        let part = Part { join: Join::Start, number: second.value, width: 1, fraction: false, unit: Some(unit) };
        spoken.then = Some((Link::Or, Said { parts: vec![part] }));
        return Some((spoken, behind));
    }
    if matches!(plain(words, next), "over" | "late" | "overdue") {
        return overdue(words, number_in_days(Decimal::whole(1), unit)?, next);
    }
    Some((spoken, next))
}

/// "a couple of beats", "a couple or three beats", "half a dozen beats": only with something counted behind them.
fn counted_word(words: &[Word], at: usize, said: &[&str]) -> Option<(SpokenNumber, usize)> {
    let couple = said.contains(&"couple");
    let value = if couple {
        2
    } else if said.contains(&"half") {
        6
    } else {
        12
    };
    let mut spoken = number(Decimal::whole(value), None);
    spoken.about = couple || value == 6;
    let mut next = at;
    if couple
        && plain(words, next) == "or"
        && runs_on(words, next)
        && let Some((second, behind)) = number_at(words, next + 1, PLAIN)
    {
        let part = Part { join: Join::Start, number: second.value, width: 1, fraction: false, unit: None };
        spoken.then = Some((Link::Or, Said { parts: vec![part] }));
        next = behind;
    }
    let (unit, next) = unit_behind(words, next)?;
    super::set_last_unit(&mut spoken, unit);
    Some((spoken, next))
}

fn right_angle(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    let angle = says(words, at, &["right", "angle"]) || says(words, at, &["right", "angles"]);
    let spoken = || SpokenNumber { origin: Origin::RightAngle, ..number(Decimal::whole(90), Some(Unit::Degree)) };
    angle.then(|| (spoken(), at + 2))
}

/// "term plus four", "T plus ten": days past forty weeks.
fn term_plus(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    if !says(words, at, &[plain(words, at), "plus"]) || !runs_on(words, at + 2) {
        return None;
    }
    let (days, next) = number_at(words, at + 2, INSIDE)?;
    let past = match unit_behind(words, next) {
        Some((Unit::Day, past)) => past,
        Some(_) => return None,
        None => next,
    };
    Some((weeks_and(TERM, Join::Plus, days.value, Origin::Term), past))
}

fn weeks_and(weeks: Decimal, join: Join, days: Decimal, origin: Origin) -> SpokenNumber {
    let mut spoken = number(weeks, Some(Unit::Week));
    spoken.said.parts.push(Part { join, number: days, width: 2, fraction: false, unit: Some(Unit::Day) });
    spoken.origin = origin;
    spoken
}

fn number_in_days(value: Decimal, unit: Unit) -> Option<Decimal> {
    match unit {
        Unit::Day => Some(value),
        Unit::Week => Some(value.times(7, 0)),
        Unit::Fortnight => Some(value.times(14, 0)),
        _ => None,
    }
}

/// "a week over", "ten days overdue": counted from a date that was not said.
fn overdue(words: &[Word], days: Decimal, at: usize) -> Option<(SpokenNumber, usize)> {
    let ends = at + 1 >= words.len() || !runs_on(words, at + 1) || plain(words, at) == "overdue";
    ends.then(|| (weeks_and(TERM, Join::Plus, days, Origin::Overdue), at + 1))
}

/// "the third day of life": as "day three".
fn day_of_life(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    const ORDINALS: [&str; 7] = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh"];
    let day = ORDINALS.iter().position(|ordinal| *ordinal == plain(words, at))?;
    if !says(words, at + 1, &["day", "of", "life"]) || !runs_on(words, at + 1) {
        return None;
    }
    let mut spoken = number(Decimal::whole(i64::try_from(day).ok()? + 1), Some(Unit::Day));
    spoken.origin = Origin::UnitFirst;
    Some((spoken, at + 4))
}

/// "three days short of thirty-nine", "ten days overdue": days that are counted from somewhere, ending at `next`.
pub(super) fn counted_days(words: &[Word], said: &Said, next: usize) -> Option<(SpokenNumber, usize)> {
    let count = said.single()?;
    let days = number_in_days(count.number, count.unit?)?;
    if !runs_on(words, next) {
        return None;
    }
    if matches!(plain(words, next), "over" | "overdue" | "late") {
        return overdue(words, days, next);
    }
    if !says(words, next, &["short", "of"]) || !runs_on(words, next + 2) {
        return None;
    }
    let (weeks, next) = number_at(words, next + 2, PLAIN)?;
    let past = match unit_behind(words, next) {
        Some((Unit::Week, past)) => past,
        Some(_) => return None,
        None => next,
    };
    Some((weeks_and(weeks.value, Join::ShortOf, days, Origin::Number), past))
}

/// "plus plus", "plus two"; a lone "plus" only where nothing else was said.
fn pluses(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    let mut past = at + 1;
    while runs_on(words, past) && plain(words, past) == "plus" {
        past += 1;
    }
    let count = past - at;
    let mut spoken = number(Decimal::whole(i64::try_from(count).ok()?), None);
    if count == 1 && runs_on(words, past) {
        // "+3"
        let (grade, next) = number_at(words, past, PLAIN)?;
        let single = grade.width == 1 && grade.value.places() == 0 && unit_at(words, next).is_none();
        let mut spoken = number(grade.value, None);
        spoken.pluses = 1;
        return single.then_some((spoken, next));
    }
    let alone = (at == 0 || !runs_on(words, at)) && !runs_on(words, past);
    spoken.origin = Origin::Pluses;
    spoken.pluses = u8::try_from(count).ok()?;
    (count > 1 || alone).then_some((spoken, past))
}

/// "too plus", "to plus", "free plus": before a plus they can only be two and three; "for plus" may be itself.
fn homophone_grade(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    if plain(words, at + 1) != "plus" || !runs_on(words, at + 1) {
        return None;
    }
    if runs_on(words, at + 2) && (starts_number(plain(words, at + 2)) || plain(words, at + 2) == "plus") {
        return None;
    }
    let unsure = plain(words, at) == "for";
    let value = match plain(words, at) {
        "for" => 4,
        "free" => 3,
        _ => 2,
    };
    let mut spoken = number(Decimal::whole(value), None);
    spoken.pluses = 1;
    spoken.origin = if unsure { Origin::UnsureHomophone } else { Origin::Homophone };
    Some((spoken, at + 2))
}

/// "won ten": nothing but "one ten" is said like this.
fn homophone_hundred(words: &[Word], at: usize) -> Option<(SpokenNumber, usize)> {
    let (rest, next) = number_at(words, at + 1, PLAIN).filter(|_| runs_on(words, at + 1))?;
    if rest.width != 2 || rest.value.places() > 0 {
        return None;
    }
    let mut spoken = number(Decimal::whole(1), None);
    spoken.said.parts.push(Part { join: Join::RunOn, number: rest.value, width: 2, fraction: false, unit: None });
    if let Some((unit, past)) = unit_behind(words, next) {
        super::set_last_unit(&mut spoken, unit);
        return Some((spoken, past));
    }
    Some((spoken, next))
}

/// Marks a number that is no measurement of this exam: a clock time, a change, a place. Gives where it ends.
pub(super) fn elsewhere(
    words: &[Word],
    floor: usize,
    first: usize,
    past: usize,
    around: Around,
    spoken: &mut SpokenNumber,
) -> usize {
    let clock = matches!(plain(words, past), "past" | "to")
        && runs_on(words, past)
        && spoken.unit().is_none()
        && runs_on(words, past + 1)
        && number_at(words, past + 1, PLAIN).is_some_and(|(hour, _)| hour.value.is_below(Decimal::whole(13)));
    if clock {
        spoken.origin = Origin::Elsewhere;
        return past + 2;
    }
    if around.elsewhere || named_in_front(words, floor, first) || is_hour(words, floor, first, past, spoken) {
        spoken.origin = Origin::Elsewhere;
    }
    past
}

/// "at four this morning"
fn is_hour(words: &[Word], floor: usize, first: usize, past: usize, spoken: &SpokenNumber) -> bool {
    let at = first > floor && runs_on(words, first) && plain(words, first - 1) == "at";
    let part_of_day = says(words, past, &["this", "morning"])
        || says(words, past, &["this", "afternoon"])
        || says(words, past, &["this", "evening"])
        || says(words, past, &["last", "night"])
        || plain(words, past) == "tonight";
    let hour = spoken.said.single().is_some_and(|part| part.number.is_below(Decimal::whole(13)));
    at && hour && spoken.unit().is_none() && part_of_day && runs_on(words, past)
}

/// "cot four", "glucose was three point one"
fn named_in_front(words: &[Word], floor: usize, first: usize) -> bool {
    let mut at = first;
    for _ in 0..3 {
        if at <= floor || words.get(at - 1).is_none_or(|word| word.stop > Stop::Comma) {
            return false;
        }
        at -= 1;
        let word = plain(words, at);
        if names_something_else(word) {
            return true;
        }
        if !matches!(word, "is" | "was" | "of" | "at" | "are" | "were") {
            return false;
        }
    }
    false
}

/// "minus ten"
pub(super) fn minus(words: &[Word], floor: usize, first: usize, spoken: &mut SpokenNumber) -> usize {
    let said = first > floor && runs_on(words, first) && plain(words, first - 1) == "minus";
    if let (true, Some(part)) = (said, spoken.said.parts.first_mut()) {
        part.number = part.number.negated();
        return first - 1;
    }
    first
}

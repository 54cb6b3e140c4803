//! Lengths and angles.
//! Takes the parts of a number and its unit; gives centimetres or degrees. Leaves alone limits, bounds and ranges.
//!
//! "thirty-four six" is 34.6 cm, "one ten" is 110 degrees

use super::super::decimal::Decimal;
use super::super::shapes::{Join, Part, Said};
use super::super::units::Unit;
use super::{Attempt, Settled, in_a_row, neighbours, range_of};

/// An inch in hundredths of a centimetre, exactly.
const INCH: (i64, u8) = (254, 2);

/// A length in centimetres.
pub(super) fn length(said: &Said, unit: Option<Unit>) -> Attempt {
    match unit {
        None | Some(Unit::Centimetre | Unit::Millimetre | Unit::Inch) => {}
        // No finger has a size.
        Some(Unit::Finger) => return Attempt::Unsettled,
        Some(_) => return Attempt::Not,
    }
    let sure = |value: Decimal| Attempt::Settled(Settled::plain(value, Unit::Centimetre));
    match said.parts.as_slice() {
        [whole] => sure(converted(whole.number, unit)),
        // "thirty-four and six millimetres", "three centimetres five millimetres"
        [whole, tenth] if tenth.unit == Some(Unit::Millimetre) && (whole.unit.is_some() || tenth.join == Join::And) => {
            sure(whole.number.plus(tenth.number.times(1, 1)))
        }
        [whole, tenth] if unit != Some(Unit::Millimetre) && is_whole(whole, 2) && tenth.width == 1 => {
            tenths(whole, tenth)
        }
        parts => {
            if let Some((low, high)) = neighbours(parts, if unit == Some(Unit::Millimetre) { 20 } else { 2 }) {
                return range_of((converted(low, unit), converted(high, unit)), Unit::Centimetre);
            }
            // "thirty-four sixty", said like a price
            if let ([whole, behind], None | Some(Unit::Centimetre)) = (parts, unit)
                && is_whole(whole, 2)
                && behind.join == Join::RunOn
                && behind.number.places() == 0
                && behind.width == 2
            {
                let value = whole.number.plus(behind.number.times(1, 2));
                return Attempt::Settled(Settled::plain(value, Unit::Centimetre).asked(None));
            }
            in_a_row(parts).map_or(Attempt::Not, |value| sure(converted(value, unit)))
        }
    }
}

/// Two digits and one: the last is tenths.
fn tenths(whole: &Part, tenth: &Part) -> Attempt {
    if tenth.number.places() > 0 || tenth.fraction {
        return Attempt::Not;
    }
    let value = Settled::plain(whole.number.plus(tenth.number.times(1, 1)), Unit::Centimetre);
    match tenth.join {
        Join::RunOn | Join::Comma => Attempt::Settled(value),
        Join::And => Attempt::Settled(value.asked(None)),
        _ => Attempt::Not,
    }
}

fn converted(value: Decimal, unit: Option<Unit>) -> Decimal {
    match unit {
        Some(Unit::Millimetre) => value.times(1, 1),
        Some(Unit::Inch) => value.times(INCH.0, INCH.1),
        _ => value,
    }
}

fn is_whole(part: &Part, width: u8) -> bool {
    part.width == width && part.number.places() == 0 && !part.fraction
}

/// An angle in degrees.
pub(super) fn angle(said: &Said, unit: Option<Unit>) -> Attempt {
    if !matches!(unit, None | Some(Unit::Degree)) {
        return Attempt::Not;
    }
    let parts = said.parts.as_slice();
    let degrees = |value: Decimal| Attempt::Settled(Settled::plain(value, Unit::Degree));
    if let Some(value) = one_angle(parts) {
        return degrees(value);
    }
    // "one oh" breaks off before its last digit, or leaves its hundred out.
    if let [one, nought] = parts
        && (one.number, nought.number) == (Decimal::whole(1), Decimal::whole(0))
    {
        let ten = Settled::plain(Decimal::whole(10), Unit::Degree);
        return Attempt::Settled(ten.asked(Some(super::Point::Plain(Decimal::whole(100)))));
    }
    if let Some(neighbours) = neighbouring_angles(parts) {
        return neighbours;
    }
    // "two ten" is more than there is, "thirty-four six" is said of something else.
    match in_a_row(parts) {
        Some(value) if parts.first().is_some_and(|part| part.width == 1) && value.is_below(Decimal::whole(361)) => {
            degrees(value)
        }
        _ => Attempt::Not,
    }
}

/// "eighty ninety", "one ten, one fifteen": two neighbours, at most 30 degrees apart; or the same angle twice.
fn neighbouring_angles(parts: &[Part]) -> Option<Attempt> {
    for cut in 1..parts.len().min(4) {
        let (low, high) = parts.split_at(cut);
        let (Some(low), Some(high)) = (one_angle(low), one_angle(high)) else { continue };
        let large = !low.is_below(Decimal::whole(10)) && parts.iter().any(|part| part.width > 1);
        if !large || !tied(parts, cut) {
            continue;
        }
        if low.compare(high).is_eq() {
            return Some(Attempt::Settled(Settled::plain(low, Unit::Degree)));
        }
        if low.is_below(high) && high.is_below(low.plus(Decimal::whole(31))) {
            return Some(range_of((low, high), Unit::Degree));
        }
    }
    None
}

fn tied(parts: &[Part], cut: usize) -> bool {
    parts.get(cut).is_some_and(|part| matches!(part.join, Join::RunOn | Join::Comma))
}

/// One angle of up to three parts: "one ten", "one oh five", "nine five". A single "one" before 05 to 80 is a hundred.
fn one_angle(parts: &[Part]) -> Option<Decimal> {
    let hangs_on = parts.iter().skip(1).all(|part| part.join == Join::RunOn && part.number.places() == 0);
    match parts {
        [single] => Some(single.number),
        _ if !hangs_on => None,
        [one, rest] if one.number == Decimal::whole(1) && rest.width == 2 => {
            Some(rest.number.plus(Decimal::whole(100)))
        }
        [one, tens, units] if one.number == Decimal::whole(1) && tens.width == 1 && units.width == 1 => in_a_row(parts),
        [tens, units] if tens.width == 1 && units.width == 1 && tens.number.as_whole() > Some(1) => in_a_row(parts),
        _ => None,
    }
}

//! Weights.
//! Takes the parts of a number and its unit; gives grams or kilograms, as they were said: without a unit, size decides.
//! Leaves alone limits, bounds and ranges.
//!
//! "three two hundred" is 3200 g, "three point four" 3.4 kg, "seven pounds two" 3232 g

use super::super::decimal::Decimal;
use super::super::shapes::{Join, Part, Said};
use super::super::units::Unit;
use super::{Attempt, Point, Settled, in_a_row};

/// A pound and an ounce in grams: 453.592 and 28.3495, as the arithmetic of the reference has them.
const POUND: (i64, u8) = (453_592, 3);
const OUNCE: (i64, u8) = (283_495, 4);

/// Numbers below this are kilograms where no unit was said.
const LEAST_GRAMS: Decimal = Decimal::whole(10);

/// A weight in grams or kilograms.
pub(super) fn weight(said: &Said, unit: Option<Unit>) -> Attempt {
    let parts = said.parts.as_slice();
    match unit {
        None => without_unit(parts),
        Some(Unit::Pound | Unit::Ounce) => imperial(parts),
        Some(Unit::Kilogram | Unit::Gram) if parts.first().is_some_and(|part| part.unit == Some(Unit::Kilogram)) => {
            kilos_and_grams(parts)
        }
        Some(Unit::Gram) => in_a_row(parts).map_or(Attempt::Not, |value| sure(value, Unit::Gram)),
        Some(Unit::Kilogram) => match parts {
            [whole] => sure(whole.number, Unit::Kilogram),
            // "three two kilos" has lost its point.
            [whole, tenths] if whole.width == 1 && tenths.join == Join::RunOn && tenths.number.places() == 0 => {
                let value = whole.number.plus(behind_point(tenths.number, tenths.width));
                Attempt::Settled(Settled::plain(value, Unit::Kilogram).asked(None))
            }
            _ => Attempt::Not,
        },
        Some(_) => Attempt::Not,
    }
}

fn sure(value: Decimal, unit: Unit) -> Attempt {
    Attempt::Settled(Settled::plain(value, unit))
}

fn behind_point(digits: Decimal, places: u8) -> Decimal {
    digits.times(1, places)
}

fn without_unit(parts: &[Part]) -> Attempt {
    if let [single] = parts {
        let unit = if single.number.is_below(LEAST_GRAMS) { Unit::Kilogram } else { Unit::Gram };
        return sure(single.number, unit);
    }
    if super::counted_up(parts).is_some() && parts.len() > 4 {
        return Attempt::Not;
    }
    let Some(value) = in_a_row(parts) else { return Attempt::Not };
    let (Some(digits), Some(first)) = (value.as_whole(), parts.first().map(|part| part.width)) else {
        // "three four point six" is no weight.
        return Attempt::Not;
    };
    let grams = Settled::plain(value, Unit::Gram);
    let kilos = Settled::plain(value.times(1, if digits < 100 { 1 } else { 2 }), Unit::Kilogram);
    match digits {
        // "three four" may be a number that was cut off.
        10..100 if first == 1 => Attempt::Settled(kilos.asked(None)),
        // "nine eighty" is 980 g; "three twenty" is 320 g or 3.2 kg.
        500..1000 if first == 1 => Attempt::Settled(grams),
        100..500 if first == 1 => {
            let mut asked = kilos.asked(None);
            asked.other = Some((grams.point, Unit::Gram));
            Attempt::Settled(asked)
        }
        // "thirty-four six"
        100..1000 => Attempt::Settled(Settled::plain(value.times(10, 0), Unit::Gram).asked(None)),
        1000..10_000 => Attempt::Settled(grams),
        _ => Attempt::Not,
    }
}

/// "three kilos two hundred", "three kilos and twenty grams", "two kilos eighty"
fn kilos_and_grams(parts: &[Part]) -> Attempt {
    let Some((kilos, rest)) = parts.split_first() else { return Attempt::Not };
    let Some(last) = rest.last() else { return sure(kilos.number, Unit::Kilogram) };
    let digits = match rest {
        [one] => one.number,
        _ => match in_a_row(rest) {
            Some(digits) => digits,
            None => return Attempt::Not,
        },
    };
    let width = rest.iter().fold(0_u8, |sum, part| sum.saturating_add(part.width));
    let as_grams = Settled::plain(kilos.number.plus(digits.times(1, 3)), Unit::Kilogram);
    if last.unit == Some(Unit::Gram) || width >= 3 {
        return Attempt::Settled(as_grams);
    }
    let as_places = kilos.number.plus(behind_point(digits, width)).trimmed();
    if width == 1 {
        return Attempt::Settled(Settled::plain(as_places, Unit::Kilogram).asked(None));
    }
    Attempt::Settled(as_grams.asked(Some(Point::Plain(as_places))))
}

fn imperial(parts: &[Part]) -> Attempt {
    let mut grams = Decimal::whole(0);
    for (index, part) in parts.iter().enumerate() {
        let (digits, places) = match (part.unit, index) {
            (Some(Unit::Pound), _) => POUND,
            // "seven pounds two"
            (Some(Unit::Ounce), _) | (None, 1) => OUNCE,
            // "seven to eight pounds": the unit of the other number holds for this one.
            (None, 0) => POUND,
            _ => return Attempt::Not,
        };
        grams = grams.plus(part.number.times(digits, places));
    }
    sure(Decimal::whole(grams.rounded()), Unit::Gram)
}

//! Weeks of gestation, and ages.
//! Takes the parts of a number and its unit; gives weeks and days, or an age in the unit that was said.
//! Leaves alone limits, bounds and ranges.
//!
//! "thirty-nine and three" is 39+3 weeks, "day three" is 3 days, or 2

use super::super::decimal::Decimal;
use super::super::shapes::{Join, Origin, Part, Said, SpokenNumber};
use super::super::units::Unit;
use super::{Attempt, Point, Settled, in_a_row, neighbours, range_of};

/// Fewer days are an age, not a gestation: 20 weeks.
const LEAST_DAYS: i64 = 140;

/// Weeks, with days if days were said.
pub(super) fn gestation(said: &Said, unit: Option<Unit>, spoken: &SpokenNumber) -> Attempt {
    let parts = said.parts.as_slice();
    match (parts, unit) {
        ([days], Some(Unit::Day)) => return from_days(days.number),
        (_, None | Some(Unit::Week | Unit::Day)) => {}
        _ => return Attempt::Not,
    }
    match parts {
        [weeks] => whole_weeks(weeks, spoken),
        [head @ .., days] if days.join != Join::RunOn || head.len() > 1 || days.width == 1 => {
            let weeks = match head {
                [single] => Some(single.number),
                _ => in_a_row(head),
            };
            match weeks.and_then(Decimal::as_whole) {
                Some(weeks) if (10..100).contains(&weeks) => with_days(weeks, days, spoken),
                // "three eight"
                _ => in_a_row(parts).map_or(Attempt::Not, |weeks| Attempt::Settled(Settled::plain(weeks, Unit::Week))),
            }
        }
        _ => neighbours(parts, 2).map_or(Attempt::Unsettled, |pair| range_of(pair, Unit::Week)),
    }
}

fn from_days(days: Decimal) -> Attempt {
    match days.as_whole() {
        Some(days) if days >= LEAST_DAYS => weeks_of_days(days),
        _ => Attempt::Not,
    }
}

fn weeks_of_days(days: i64) -> Attempt {
    Attempt::Settled(Settled::sure(Point::Weeks { weeks: days / 7, days: days % 7 }, Unit::Week))
}

fn whole_weeks(said: &Part, spoken: &SpokenNumber) -> Attempt {
    let number = said.number;
    let at = |weeks: i64, days: i64| Point::Weeks { weeks: weeks + days / 7, days: days % 7 };
    if number.places() > 0 {
        // "thirty-eight point four" is said for 38+4, and "a half" is no whole number of days.
        let weeks = number.whole_part();
        let days = number.times(7, 0).plus(Decimal::whole(-7 * weeks));
        let (below, nearest) = (at(weeks, days.whole_part()), at(weeks, days.rounded()));
        let said_days = Some(number.digits_behind()).filter(|days| !said.fraction && (0..=6).contains(days));
        let (first, other) = match said_days {
            Some(days) if number.places() == 1 => (at(weeks, days), nearest),
            _ if said.fraction => (below, nearest),
            _ => (nearest, nearest),
        };
        return Attempt::Settled(Settled::sure(first, Unit::Week).asked(Some(other).filter(|other| *other != first)));
    }
    match number.as_whole() {
        Some(weeks) if spoken.exact => Attempt::Settled(Settled::sure(at(weeks, 0), Unit::Week)),
        // Recognisers write "thirty-eight four" as 384.
        Some(run @ 200..=466) if said.width == 3 && said.unit.is_none() && run % 10 <= 6 => {
            Attempt::Settled(Settled::sure(at(run / 10, run % 10), Unit::Week).asked(None))
        }
        _ => Attempt::Settled(Settled::plain(number, Unit::Week)),
    }
}

fn with_days(weeks: i64, days: &Part, spoken: &SpokenNumber) -> Attempt {
    let Some(count) = days.number.as_whole().filter(|count| (0..=400).contains(count)) else {
        return Attempt::Unsettled;
    };
    let point = Point::Weeks { weeks: weeks + count / 7, days: count % 7 };
    let settled = Settled::sure(point, Unit::Week);
    match (days.join, spoken.origin) {
        (_, Origin::Term) => Attempt::Settled(settled),
        (_, Origin::Overdue) => Attempt::Settled(settled.asked(None)),
        (Join::ShortOf, _) if count < weeks * 7 => weeks_of_days(weeks * 7 - count),
        (Join::Comma | Join::RunOn, _) if weeks < count && count <= weeks + 2 => {
            range_of((Decimal::whole(weeks), Decimal::whole(count)), Unit::Week)
        }
        _ if count <= 6 && days.width == 1 => Attempt::Settled(settled),
        _ => Attempt::Unsettled,
    }
}

/// An age in hours, days or weeks.
pub(super) fn age(said: &Said, unit: Option<Unit>, spoken: &SpokenNumber) -> Attempt {
    let Some(first) = said.parts.first() else { return Attempt::Not };
    let sure = |value: Decimal, unit: Unit| Attempt::Settled(Settled::plain(value, unit));
    match (said.parts.as_slice(), unit) {
        ([weeks, days], Some(Unit::Week | Unit::Day))
            if weeks.unit == Some(Unit::Week) && days.join != Join::ShortOf =>
        {
            match (weeks.number.as_whole(), days.number.as_whole()) {
                (Some(weeks), Some(days @ 0..=6)) => {
                    Attempt::Settled(Settled::sure(Point::Weeks { weeks, days }, Unit::Week))
                }
                _ => Attempt::Unsettled,
            }
        }
        ([_], Some(Unit::Fortnight)) => sure(first.number.times(2, 0), Unit::Week),
        // A month is none of the units, and has no fixed length.
        ([_], Some(Unit::Month)) => {
            let weeks = Settled::plain(first.number.times(4, 0), Unit::Week).asked(None);
            Attempt::Settled(Settled { approx: true, ..weeks })
        }
        // "Day three": some count the day of birth as 0, some as 1.
        ([_], Some(Unit::Day)) if spoken.origin == Origin::UnitFirst => {
            let before = first.number.plus(Decimal::whole(-1));
            let other = Some(Point::Plain(before)).filter(|_| !before.is_below(Decimal::whole(0)));
            Attempt::Settled(Settled::plain(first.number, Unit::Day).asked(other))
        }
        ([_], Some(unit @ (Unit::Hour | Unit::Day | Unit::Week))) => sure(first.number, unit),
        (parts, Some(unit @ (Unit::Hour | Unit::Day | Unit::Week))) => match neighbours(parts, 12) {
            Some(pair) => range_of(pair, unit),
            None => in_a_row(parts).map_or(Attempt::Unsettled, |value| sure(value, unit)),
        },
        _ => Attempt::Not,
    }
}

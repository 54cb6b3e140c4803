//! Amounts: numbers in a unit, as records write them; and the measure that asks for one.
//! Takes what `readings` made of a spoken number; gives its text and whether it lies within plausible limits.
//! Leaves alone how it was said.
//!
//! The amount at-least 10 beats is written `>=10beats`

use std::fmt;

use super::decimal::Decimal;
use super::shapes::Bound;
use super::units::Unit;

/// What an item is measured in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measure {
    /// Units that its values are written in.
    pub units: Vec<Unit>,
    /// Least and greatest plausible value, in the first unit; beyond them a value is kept, but flagged.
    pub plausible: Option<(Decimal, Decimal)>,
}

impl Measure {
    /// The measure with `units` as records write them ("cm", "g|kg", "h|d|wk"); `None` if one is unknown.
    #[must_use]
    pub fn parse(units: &str, plausible: Option<(Decimal, Decimal)>) -> Option<Self> {
        let units: Option<Vec<Unit>> = units.split('|').map(|unit| Unit::from_written(unit.trim())).collect();
        Some(Self { units: units.filter(|units| !units.is_empty())?, plausible })
    }

    /// What kind of quantity it is; `None` if nothing can be read in its units.
    pub(super) fn kind(&self) -> Option<Kind> {
        let kind_of = |unit: Unit| match unit {
            Unit::Centimetre => Some(Kind::Length),
            Unit::Degree => Some(Kind::Angle),
            Unit::Gram | Unit::Kilogram => Some(Kind::Weight),
            Unit::Week => Some(Kind::Gestation),
            Unit::Day | Unit::Hour => Some(Kind::Age),
            Unit::Beat => Some(Kind::Beats),
            Unit::Grade => Some(Kind::Grade),
            _ => None,
        };
        // Weeks beside hours or days are an age, weeks alone a gestation.
        self.units.iter().copied().find_map(kind_of)
    }

    /// Whether `point`, in `unit`, is beyond the plausible limits.
    pub(super) fn is_outside(&self, point: Point, unit: Unit) -> bool {
        let Some((least, most)) = self.plausible else { return false };
        let (value, more) = match point {
            Point::Plain(value) => (value, false),
            Point::Weeks { weeks, days } => (Decimal::whole(weeks), days > 0),
        };
        let value = match (unit, self.units.first()) {
            (Unit::Kilogram, Some(Unit::Gram)) => value.times(1000, 0),
            (Unit::Gram, Some(Unit::Kilogram)) => value.times(1, 3),
            _ => value,
        };
        value.is_below(least) || most.is_below(value) || more && !value.is_below(most)
    }
}

/// The kinds of quantity, each with its own way of being spoken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Length,
    Angle,
    Weight,
    Gestation,
    Age,
    Beats,
    Grade,
}

/// One value on a scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Point {
    /// A number.
    Plain(Decimal),
    /// Weeks and days, "38+4"; days 0 to 6.
    Weeks {
        /// Completed weeks.
        weeks: i64,
        /// Days beyond them, 0 to 6.
        days: i64,
    },
}

impl fmt::Display for Point {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Plain(value) => write!(out, "{value}"),
            Self::Weeks { weeks, days } => write!(out, "{weeks}+{days}"),
        }
    }
}

/// One value or a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Figure {
    /// One value.
    One(Point),
    /// From the lesser to the greater.
    Range(Point, Point),
}

/// A number in an item's unit. Its text is what records hold: `34.6cm`, `80-90deg`, `>=10beats`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Amount {
    /// The value.
    pub figure: Figure,
    /// The unit it is written in.
    pub unit: Unit,
    /// How it limits what was seen.
    pub bound: Bound,
    /// "about" was said, or words to that effect.
    pub approx: bool,
    /// Beyond the plausible limits of the measure.
    pub outside: bool,
}

impl fmt::Display for Amount {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = self.unit.written().unwrap_or_default();
        match self.figure {
            Figure::One(point) => write!(out, "{}{point}{unit}", self.bound.sign()),
            Figure::Range(from, to) => write!(out, "{from}-{to}{unit}"),
        }
    }
}

/// What a quantity comes to in a measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// This.
    Is(Amount),
    /// A careful listener cannot settle it: propose the first, offer the other.
    Ask(Amount, Option<Amount>),
    /// A number was said for it, but no amount can be proposed ("one finger breadth", "thirty-seven eight" weeks).
    Unsettled,
    /// The quantity is of another kind.
    Not,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_written_as_records_hold_them() {
        let amount = |figure, unit, bound| Amount { figure, unit, bound, approx: false, outside: false }.to_string();
        let one = |digits, places| Figure::One(Point::Plain(Decimal::new(digits, places)));
        assert_eq!(amount(one(3460, 2), Unit::Centimetre, Bound::Is), "34.6cm");
        assert_eq!(amount(one(10, 0), Unit::Beat, Bound::AtLeast), ">=10beats");
        assert_eq!(amount(Figure::One(Point::Weeks { weeks: 40, days: 0 }), Unit::Week, Bound::Is), "40+0wk");
        let range = Figure::Range(Point::Plain(Decimal::whole(80)), Point::Plain(Decimal::whole(90)));
        assert_eq!(amount(range, Unit::Degree, Bound::Is), "80-90deg");
    }

    #[test]
    fn limits_are_those_of_the_first_unit() {
        let weight = Measure::parse("g|kg", Some((Decimal::whole(300), Decimal::whole(6500))));
        let outside =
            |value, unit| weight.as_ref().is_some_and(|measure| measure.is_outside(Point::Plain(value), unit));
        assert!(!outside(Decimal::new(32, 1), Unit::Kilogram));
        assert!(outside(Decimal::new(66, 1), Unit::Kilogram));
        assert!(outside(Decimal::whole(200), Unit::Gram));
        assert_eq!(Measure::parse("g|stone", None), None);
    }
}

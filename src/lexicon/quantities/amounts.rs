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

    /// The amount that is written so, if it is in one of the units; whether it is beyond the limits is told with it.
    #[must_use]
    pub fn amount(&self, written: &str) -> Option<Amount> {
        let amount = Amount::parse(written).filter(|amount| self.units.contains(&amount.unit))?;
        let (from, to) = match amount.figure {
            Figure::One(point) => (point, point),
            Figure::Range(from, to) => (from, to),
        };
        let outside = self.is_outside(from, amount.unit) || self.is_outside(to, amount.unit);
        Some(Amount { outside, ..amount })
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

impl Point {
    fn parse(written: &str, unit: Unit) -> Option<Self> {
        let Some((weeks, days)) = written.split_once('+') else { return Decimal::parse(written).map(Self::Plain) };
        let whole =
            |digits: &str| Decimal::parse(digits).filter(|_| digits.bytes().all(|b| b.is_ascii_digit()))?.as_whole();
        let days = whole(days).filter(|days| *days <= 6)?;
        (unit == Unit::Week).then_some(Self::Weeks { weeks: whole(weeks)?, days })
    }

    /// As days or plainly, to compare two of one unit.
    fn size(self, weeks: bool) -> Decimal {
        match self {
            Self::Plain(value) if weeks => value.times(7, 0),
            Self::Plain(value) => value,
            Self::Weeks { weeks, days } => Decimal::whole(weeks.saturating_mul(7).saturating_add(days)),
        }
    }
}

impl Figure {
    /// The range, if it goes from the lesser to the greater.
    fn in_order(self) -> Option<Self> {
        match self {
            Self::Range(from, to) => {
                let weeks = [from, to].iter().any(|point| matches!(point, Point::Weeks { .. }));
                from.size(weeks).is_below(to.size(weeks)).then_some(self)
            }
            Self::One(_) => Some(self),
        }
    }
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

impl Amount {
    /// The amount that records write so: `34.6cm`, `80-90deg`, `>=10beats`, `38+4wk`. Nothing is guessed: without a unit, or
    /// with anything around it, it is `None`.
    #[must_use]
    pub fn parse(written: &str) -> Option<Self> {
        // The longer signs first, or `>=` would be read as `>`.
        const BOUNDS: [Bound; 5] = [Bound::AtLeast, Bound::AtMost, Bound::Over, Bound::Under, Bound::Is];
        let (bound, rest) = BOUNDS.into_iter().find_map(|bound| Some((bound, written.strip_prefix(bound.sign())?)))?;
        let (figure, unit) = rest.split_at(rest.find(|c: char| c.is_ascii_alphabetic())?);
        let unit = Unit::from_written(unit)?;
        // The first character may be a minus.
        let dash = figure.char_indices().skip(1).find(|(_, c)| *c == '-').map(|(at, _)| at);
        let figure = match dash {
            None => Figure::One(Point::parse(figure, unit)?),
            Some(at) if bound == Bound::Is => {
                let (from, to) = (Point::parse(&figure[..at], unit)?, Point::parse(&figure[at + 1..], unit)?);
                Figure::Range(from, to).in_order()?
            }
            Some(_) => return None,
        };
        Some(Self { figure, unit, bound, approx: false, outside: false })
    }
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
    fn amounts_are_read_as_they_are_written() {
        for written in
            ["34.6cm", "80-90deg", ">=10beats", "<34.6cm", "38+4wk", "38+4-39+0wk", "-5deg", "-10--5deg", "2wk"]
        {
            assert_eq!(Amount::parse(written).map(|amount| amount.to_string()).as_deref(), Some(written));
        }
        assert_eq!(Amount::parse("34.60cm").map(|amount| amount.to_string()).as_deref(), Some("34.6cm"));
        for nothing in [
            "",
            "34.6",
            "cm",
            "34.6 cm",
            "34,6cm",
            "90-80deg",
            "80-80deg",
            ">80-90deg",
            "38+7wk",
            "38+4cm",
            "+4wk",
            "3--4",
            "34.6cmm",
            "34.6CM",
            "1e3g",
            ">=",
            "--5deg",
            "12345678901g",
            "8\u{664}deg",
            "38+-4wk",
            "-38+4wk",
            "5in",
        ] {
            assert_eq!(Amount::parse(nothing), None, "{nothing:?}");
        }
    }

    #[test]
    fn an_amount_is_in_a_unit_of_the_measure() {
        let head = Measure::parse("cm", Some((Decimal::whole(20), Decimal::whole(45)))).unwrap();
        let outside = |written: &str| head.amount(written).map(|amount| amount.outside);
        assert_eq!((outside("34.6cm"), outside("60cm"), outside("44-46cm")), (Some(false), Some(true), Some(true)));
        assert_eq!((outside("34.6"), outside("34deg")), (None, None));
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

//! Numbers of findings, to be compared and reckoned with.
//! Takes a number as records keep it; gives from where to where it goes, in one unit. Leaves alone what it means.
//!
//! "at least 10 beats" goes from 10 without an end

use crate::record::Figures;

/// From where to where a number goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    /// The lesser end; of "under 20" there is none.
    pub(super) from: f64,
    /// The greater end; of "over 20" there is none.
    pub(super) to: f64,
}

impl Extent {
    /// Of a number, in this unit; weeks and days are days. `None` in another unit.
    pub(super) fn of(figures: &Figures, unit: &str) -> Option<Self> {
        let factor = match (figures.unit.as_str(), unit) {
            (have, want) if have == want => 1.0,
            ("g", "kg") => 0.001,
            ("kg", "g") => 1000.0,
            _ => return None,
        };
        let from = number(&figures.from)? * factor;
        let to = figures.to.as_deref().map_or(Some(from), |to| Some(number(to)? * factor))?;
        Some(match figures.bound {
            "over" | "at-least" => Self { from, to: f64::INFINITY },
            "under" | "at-most" => Self { from: f64::NEG_INFINITY, to },
            _ => Self { from, to },
        })
    }

    /// The number, where it is a single one.
    pub(super) fn single(self) -> Option<f64> {
        (self.from.to_bits() == self.to.to_bits()).then_some(self.from)
    }

    /// Whether it is over a bound: any part of a range, but of what is open to one side only what is certain.
    pub(super) fn is_over(self, bound: f64) -> bool {
        if self.is_open() { self.from >= bound } else { self.to > bound }
    }

    /// Whether it is under a bound.
    pub(super) fn is_under(self, bound: f64) -> bool {
        if self.is_open() { self.to <= bound } else { self.from < bound }
    }

    fn is_open(self) -> bool {
        self.from.is_infinite() || self.to.is_infinite()
    }

    /// Whether it lies between two bounds, both counted in; `None` where an open end may or may not.
    pub(super) fn is_within(self, from: f64, to: f64) -> Option<bool> {
        match self {
            whole if whole.from >= from && whole.to <= to => Some(true),
            open if open.from.is_infinite() && open.to >= from || open.to.is_infinite() && open.from <= to => None,
            _ => Some(false),
        }
    }

    /// By how much two differ at least.
    pub(super) fn apart(self, other: Self) -> f64 {
        (self.from - other.to).max(other.from - self.to).max(0.0)
    }
}

/// "34.6" as a number, "38+4" as days.
fn number(written: &str) -> Option<f64> {
    match written.split_once('+') {
        Some((weeks, days)) => Some(weeks.parse::<f64>().ok()? * 7.0 + days.parse::<f64>().ok()?),
        None => written.parse().ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_over_is_over() {
        let extent = |written: &str, unit: &str| Extent::of(&Figures::parse(written).unwrap(), unit).unwrap();
        for (written, over, under) in [
            ("121deg", true, false),
            ("120deg", false, false),
            ("115-125deg", true, true),
            (">120deg", true, false),
            (">90deg", false, false),
            (">=120deg", true, false),
            ("<120deg", false, true),
            ("<130deg", false, false),
        ] {
            let found = extent(written, "deg");
            assert_eq!((found.is_over(120.0), found.is_under(120.0)), (over, under), "{written}");
        }
        assert_eq!(extent("80-90deg", "deg").is_within(70.0, 90.0), Some(true));
        assert_eq!(extent("80-95deg", "deg").is_within(70.0, 90.0), Some(false));
        assert_eq!(extent(">80deg", "deg").is_within(70.0, 90.0), None);
        assert_eq!(extent(">95deg", "deg").is_within(70.0, 90.0), Some(false));
        assert_eq!(extent("3.2kg", "g").single(), Some(3200.0));
        assert_eq!(extent("80-90deg", "deg").apart(extent("110deg", "deg")), 20.0);
        assert_eq!(Extent::of(&Figures::parse("3cm").unwrap(), "deg"), None);
    }
}

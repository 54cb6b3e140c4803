//! Decimal numbers without rounding.
//! Takes digits and how many of them stand behind the point; gives exact comparison, conversion and writing.
//! Leaves alone units and meaning. Nothing here is a float: 3.20 kept as three digits is still 3.20.
//!
//! "34.60" is the digits 3460 with two places; written out it is 34.6

use std::cmp::Ordering;
use std::fmt;

/// The most digits a number may have; longer ones (telephone or hospital numbers) are nothing measured.
const MOST_DIGITS: usize = 9;

/// A number as its decimal digits. Two that differ only in trailing zeros are not equal, but compare alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Decimal {
    digits: i64,
    places: u8,
}

impl Decimal {
    /// A whole number.
    #[must_use]
    pub const fn whole(value: i64) -> Self {
        Self { digits: value, places: 0 }
    }

    /// `digits` with the last `places` of them behind the point: (346, 1) is 34.6.
    #[must_use]
    pub const fn new(digits: i64, places: u8) -> Self {
        Self { digits, places }
    }

    /// Reads "34", "34.60", "-5" or ".5"; anything else, or more than nine digits, is `None`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (negative, text) = text.strip_prefix('-').map_or((false, text), |rest| (true, rest));
        let (before, behind) = text.split_once('.').unwrap_or((text, ""));
        let all_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        let count = before.len() + behind.len();
        if count == 0 || count > MOST_DIGITS || !all_digits(before) || !all_digits(behind) {
            return None;
        }
        let digits = before.bytes().chain(behind.bytes()).fold(0, |sum, byte| sum * 10 + i64::from(byte - b'0'));
        let places = u8::try_from(behind.len()).ok()?;
        Some(Self { digits: if negative { -digits } else { digits }, places })
    }

    /// The value, if there is nothing behind the point.
    #[must_use]
    pub fn as_whole(self) -> Option<i64> {
        let plain = self.trimmed();
        (plain.places == 0).then_some(plain.digits)
    }

    /// How many digits were said behind the point.
    #[must_use]
    pub fn places(self) -> u8 {
        self.places
    }

    /// The part before the point: 34 of 34.6.
    #[must_use]
    pub fn whole_part(self) -> i64 {
        self.digits / self.power()
    }

    /// The digits behind the point, as a whole number: 6 of 34.6, 5 of 34.05.
    #[must_use]
    pub fn digits_behind(self) -> i64 {
        (self.digits % self.power()).abs()
    }

    /// Multiplied by `digits` with `places` of them behind the point: `times(254, 2)` turns inches into centimetres.
    #[must_use]
    pub fn times(self, digits: i64, places: u8) -> Self {
        Self { digits: self.digits.saturating_mul(digits), places: self.places.saturating_add(places).min(18) }
            .trimmed()
    }

    /// The sum of both.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        let places = self.places.max(other.places);
        Self { digits: self.scaled_to(places).saturating_add(other.scaled_to(places)), places }
    }

    /// The other sign.
    #[must_use]
    pub fn negated(self) -> Self {
        Self { digits: -self.digits, places: self.places }
    }

    /// The nearest whole number, halves away from nought.
    #[must_use]
    pub fn rounded(self) -> i64 {
        let power = self.power();
        let half = if self.digits < 0 { -power / 2 } else { power / 2 };
        self.digits.saturating_add(half) / power
    }

    /// Without zeros at the end of the places.
    #[must_use]
    pub fn trimmed(self) -> Self {
        let mut plain = self;
        while plain.places > 0 && plain.digits % 10 == 0 {
            plain = Self { digits: plain.digits / 10, places: plain.places - 1 };
        }
        plain
    }

    /// Which is larger; 34.60 and 34.6 compare as equal.
    #[must_use]
    pub fn compare(self, other: Self) -> Ordering {
        let (mine, others) = (i128::from(self.digits), i128::from(other.digits));
        (mine * i128::from(other.power())).cmp(&(others * i128::from(self.power())))
    }

    /// Whether it is less than `other`.
    #[must_use]
    pub fn is_below(self, other: Self) -> bool {
        self.compare(other) == Ordering::Less
    }

    fn power(self) -> i64 {
        10_i64.pow(u32::from(self.places.min(18)))
    }

    fn scaled_to(self, places: u8) -> i64 {
        let missing = u32::from(places.saturating_sub(self.places)).min(18);
        self.digits.saturating_mul(10_i64.pow(missing))
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = self.trimmed();
        let sign = if plain.digits < 0 { "-" } else { "" };
        let (before, behind) = (plain.whole_part().abs(), plain.digits_behind());
        if plain.places == 0 {
            return write!(out, "{sign}{before}");
        }
        write!(out, "{sign}{before}.{behind:0width$}", width = usize::from(plain.places))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, written: &str) {
        assert_eq!(Decimal::parse(text).map(|number| number.to_string()).unwrap_or_default(), written, "text: {text}");
    }

    #[test]
    fn numbers_are_written_without_trailing_zeros() {
        check("34.60", "34.6");
        check("34.05", "34.05");
        check("-0.5", "-0.5");
        check(".8", "0.8");
        check("100", "100");
        check("1234567890", "");
        check("3a", "");
        check("", "");
    }

    #[test]
    fn conversion_is_exact() {
        assert_eq!(Decimal::new(135, 1).times(254, 2), Decimal::new(3429, 2));
        assert_eq!(Decimal::new(323185, 2).rounded(), 3232);
        assert_eq!(Decimal::new(340, 1).compare(Decimal::whole(34)), Ordering::Equal);
        assert_eq!(Decimal::new(35, 1).plus(Decimal::new(25, 2)), Decimal::new(375, 2));
    }
}

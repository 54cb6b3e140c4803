//! Which standard is used for which infant and moment, and what it gives.
//! Takes a measurement, the sex, gestation and age; gives a z-score and centile with the standard and the age that was used, or why
//! there is none. No curve is run past its end. Leaves alone the tables (`tables`) and the mathematics (`distributions`).
//! Sources of the choice: Villar 2014 (Lancet 384:857), Villar 2015 (Lancet Glob Health 3:e681), WHO 2006.
//!
//! born at 34+0 and 10 days old: postnatal growth of preterm infants, at 35+3 weeks post-menstrual

use std::fmt;

use super::distributions::{about_mean, centile, lms, skewed_t};
use super::tables::{Measure, Parameters, Sex, Tables};

/// A published standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standard {
    /// WHO Child Growth Standards, 2006; by days since birth.
    Who,
    /// INTERGROWTH-21st newborn size; by gestation.
    Newborn,
    /// INTERGROWTH-21st postnatal growth of preterm infants; by post-menstrual age.
    Preterm,
}

impl Standard {
    /// As it is written beside a figure.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Who => "WHO Child Growth Standards, 2006",
            Self::Newborn => "INTERGROWTH-21st newborn size, 2014 and 2016",
            Self::Preterm => "INTERGROWTH-21st postnatal growth of preterm infants, 2015",
        }
    }

    /// The publications that it is from.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            Self::Who => "WHO Child Growth Standards: methods and development. Geneva: World Health Organization, 2006",
            Self::Newborn => "Villar 2014 (Lancet 384:857-868); Villar 2016 (Lancet 387:844-845)",
            Self::Preterm => "Villar 2015 (Lancet Glob Health 3:e681-e691)",
        }
    }
}

/// How old an infant is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Age {
    /// Days of gestation at birth.
    pub gestation: u32,
    /// Whole days since birth; 0 for what was measured at birth.
    pub days: u32,
}

impl Age {
    /// Whether the infant was born at 37+0 or later.
    #[must_use]
    pub fn is_term(self) -> bool {
        self.gestation >= TERM
    }
}

/// A figure by a standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Standard deviations from the middle.
    pub z: f64,
    /// How many in a hundred infants are smaller.
    pub centile: f64,
    /// By which standard.
    pub standard: Standard,
    /// At which age, in days: since birth, of gestation, or post-menstrual, as the standard counts.
    pub at: u32,
}

impl Score {
    /// The centile as people write it: "48th", "below the 1st", "above the 99th".
    #[must_use]
    pub fn centile_words(&self) -> String {
        match self.centile {
            low if low < 1.0 => "below the 1st".to_owned(),
            high if high > 99.0 => "above the 99th".to_owned(),
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "it is from 1 to 99")]
            middle => ordinal(middle.round() as u8),
        }
    }
}

/// A number as it is counted: "3rd", "48th".
#[must_use]
pub fn ordinal(number: u8) -> String {
    let ending = match (number / 10 % 10, number % 10) {
        (1, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// Why there is no figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoScore {
    /// The standard has no numbers for infants so young; its first age in days.
    TooYoung(Standard, u32),
    /// Or so old; its last age in days.
    TooOld(Standard, u32),
    /// The tables of the standard are not there.
    Missing(Standard),
    /// The measurement is no size that an infant can have.
    NoSize,
}

impl fmt::Display for NoScore {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let age = |standard: Standard, days: u32| match standard {
            Standard::Who => format!("{days} days"),
            Standard::Newborn | Standard::Preterm => weeks(days),
        };
        match *self {
            Self::TooYoung(standard, first) => write!(f, "{} begins at {}", standard.words(), age(standard, first)),
            Self::TooOld(standard, last) => write!(f, "{} ends at {}", standard.words(), age(standard, last)),
            Self::Missing(standard) => write!(f, "the tables of {} are not there", standard.words()),
            Self::NoSize => f.write_str("the measurement is no size"),
        }
    }
}

/// Days as weeks and days: "38+6 weeks".
#[must_use]
pub fn weeks(days: u32) -> String {
    format!("{}+{} weeks", days / 7, days % 7)
}

/// Born before this many days of gestation is preterm: 37+0.
pub(in crate::computed) const TERM: u32 = 37 * 7;
/// The postnatal standard of preterm infants ends at 64+0 weeks; from there on the age is corrected to 40+0.
const LAST_PRETERM: u32 = 64 * 7;
/// Ages are corrected to 40+0.
pub(in crate::computed) const CORRECTED_TO: u32 = 40 * 7;

/// The standard for an age, with the age as it counts it.
#[must_use]
pub fn standard_for(age: Age) -> (Standard, u32) {
    let post_menstrual = age.gestation + age.days;
    match age {
        Age { days: 0, gestation } => (Standard::Newborn, gestation),
        Age { gestation: TERM.., days } => (Standard::Who, days),
        _ if post_menstrual <= LAST_PRETERM => (Standard::Preterm, post_menstrual),
        _ => (Standard::Who, post_menstrual - CORRECTED_TO),
    }
}

/// The figure for a measurement, in the unit of its measure.
///
/// # Errors
/// Why there is none.
pub fn score(tables: &Tables, measure: Measure, value: f64, sex: Sex, age: Age) -> Result<Score, NoScore> {
    let (standard, at) = standard_for(age);
    score_by(tables, standard, (measure, value), sex, at)
}

/// The figure by one standard, at an age as it counts it.
///
/// # Errors
/// Why there is none.
pub fn score_by(
    tables: &Tables,
    standard: Standard,
    (measure, value): (Measure, f64),
    sex: Sex,
    at: u32,
) -> Result<Score, NoScore> {
    let table = tables.of(standard);
    let mut ages = table.range((measure, sex, 0)..=(measure, sex, u32::MAX)).map(|((_, _, age), _)| *age);
    let first = ages.next().ok_or(NoScore::Missing(standard))?;
    let last = ages.next_back().unwrap_or(first);
    if at < first {
        return Err(NoScore::TooYoung(standard, first));
    }
    let parameters = table.get(&(measure, sex, at)).ok_or(NoScore::TooOld(standard, last))?;
    if !(value.is_finite() && value > 0.0) {
        return Err(NoScore::NoSize);
    }
    let z = match *parameters {
        Parameters::Lms(l, m, s) => Some(lms(value, (l, m, s), measure == Measure::Weight)),
        Parameters::Mean(mean, sd) => Some(about_mean(value, (mean, sd), false)),
        Parameters::MeanOfLogarithm(mean, sd) => Some(about_mean(value, (mean, sd), true)),
        Parameters::SkewedT(mu, sigma, nu, tau) => skewed_t(value, (mu, sigma, nu, tau)),
    };
    let z = z.filter(|z| z.is_finite()).ok_or(NoScore::NoSize)?;
    Ok(Score { z, centile: centile(z), standard, at })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_standard_follows_gestation_and_age() {
        let week = |weeks: u32, days: u32| weeks * 7 + days;
        for (gestation, days, expected) in [
            (week(40, 0), 0, (Standard::Newborn, week(40, 0))),
            (week(40, 0), 3, (Standard::Who, 3)),
            (week(37, 0), 1, (Standard::Who, 1)),
            (week(36, 6), 0, (Standard::Newborn, week(36, 6))),
            (week(36, 6), 1, (Standard::Preterm, week(37, 0))),
            (week(30, 0), week(34, 0), (Standard::Preterm, week(64, 0))),
            (week(30, 0), week(34, 1), (Standard::Who, week(24, 1))),
        ] {
            assert_eq!(standard_for(Age { gestation, days }), expected, "{gestation} {days}");
        }
    }

    #[test]
    fn centiles_are_written_as_people_do_and_never_as_nought_or_a_hundred() {
        let written = |centile: f64| Score { z: 0.0, centile, standard: Standard::Who, at: 0 }.centile_words();
        for (centile, words) in [
            (0.4, "below the 1st"),
            (1.2, "1st"),
            (2.5, "3rd"),
            (11.6, "12th"),
            (22.4, "22nd"),
            (51.0, "51st"),
            (99.6, "above the 99th"),
        ] {
            assert_eq!(written(centile), words);
        }
    }

    #[test]
    fn without_tables_there_is_no_figure() {
        let age = Age { gestation: 280, days: 3 };
        let none = score(&Tables::default(), Measure::Head, 35.0, Sex::Male, age).unwrap_err();
        assert_eq!(none, NoScore::Missing(Standard::Who));
        assert_eq!(none.to_string(), "the tables of WHO Child Growth Standards, 2006 are not there");
    }
}

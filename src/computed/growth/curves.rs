//! The lines of a growth chart: which value is at a centile, age by age.
//! Takes the tables, a standard, measure and sex; gives the values at the 3rd, 10th, 50th, 90th and 97th centile by day, from the
//! first day of the standard to its last. Where two parts of a standard do not meet, a line is broken in two: the step is the
//! standard's own and is not smoothed. Leaves alone how lines are drawn (`export::chart`).
//!
//! half of all boys born at 40+0 have a head of less than 33.9 cm: the line of the 50th centile passes there

use std::mem::discriminant;

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::standards::Standard;
use super::tables::{Measure, Parameters, Sex, Tables};

/// The centiles that have a line.
pub const CENTILES: [u8; 5] = [3, 10, 50, 90, 97];

/// Behind this many standard deviations the lines of WHO's weights are others (`distributions`); no value is given there.
const FURTHEST: f64 = 3.0;

/// The lines of a standard.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// Which standard.
    pub standard: Standard,
    /// Of what.
    pub measure: Measure,
    /// For whom.
    pub sex: Sex,
    /// One a centile, from the lowest.
    pub lines: Vec<Curve>,
}

/// A line.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Of which centile.
    pub centile: u8,
    /// Its pieces, each with an age in days, as the standard counts, and the value there; every day in turn.
    pub pieces: Vec<Vec<(u32, f64)>>,
}

impl Curves {
    /// The first and the last age of the standard, in days as it counts.
    #[must_use]
    pub fn ages(&self) -> Option<(u32, u32)> {
        let pieces = &self.lines.first()?.pieces;
        Some((pieces.first()?.first()?.0, pieces.last()?.last()?.0))
    }
}

/// The lines of a standard; none where its tables are not there.
#[must_use]
pub fn curves(tables: &Tables, standard: Standard, measure: Measure, sex: Sex) -> Option<Curves> {
    let rows: Vec<(u32, Parameters)> = tables
        .of(standard)
        .range((measure, sex, 0)..=(measure, sex, u32::MAX))
        .map(|((_, _, day), parameters)| (*day, *parameters))
        .collect();
    let parts: Vec<&[(u32, Parameters)]> = rows.chunk_by(goes_on).collect();
    let line = |centile: u8| {
        let at = |(day, parameters): &(u32, Parameters)| {
            value_of(*parameters, f64::from(centile)).map(|value| (*day, value))
        };
        let pieces = parts.iter().map(|part| part.iter().map(at).collect()).collect::<Option<Vec<Vec<_>>>>()?;
        (!pieces.is_empty()).then_some(Curve { centile, pieces })
    };
    let lines = CENTILES.into_iter().map(line).collect::<Option<Vec<_>>>()?;
    Some(Curves { standard, measure, sex, lines })
}

/// The value at a centile; none outside the standard's ages, or further than three standard deviations from the middle.
#[must_use]
pub fn value_at(
    tables: &Tables,
    standard: Standard,
    (measure, centile): (Measure, f64),
    sex: Sex,
    at: u32,
) -> Option<f64> {
    value_of(*tables.of(standard).get(&(measure, sex, at))?, centile)
}

// Other parameters are another distribution, fitted to other infants: INTERGROWTH's newborn standard steps between 32+6 and 33+0.
fn goes_on((day, parameters): &(u32, Parameters), (next_day, next): &(u32, Parameters)) -> bool {
    day + 1 == *next_day && discriminant(parameters) == discriminant(next)
}

fn value_of(parameters: Parameters, centile: f64) -> Option<f64> {
    let share = centile / 100.0;
    if !(share > 0.0 && share < 1.0) {
        return None;
    }
    let z = Normal::new(0.0, 1.0).ok()?.inverse_cdf(share);
    if z.abs() > FURTHEST {
        return None;
    }
    let value = match parameters {
        Parameters::Lms(l, m, s) => m * (1.0 + l * s * z).powf(1.0 / l),
        Parameters::Mean(mean, sd) => mean + sd * z,
        Parameters::MeanOfLogarithm(mean, sd) => (mean + sd * z).exp(),
        Parameters::SkewedT(mu, sigma, nu, tau) => skewed_t(share, (mu, sigma, nu, tau))?,
    };
    value.is_finite().then_some(value)
}

// The skewed distribution of `distributions::skewed_t`, turned round: of all values, 1 / (1 + nu²) lie below mu.
fn skewed_t(share: f64, (mu, sigma, nu, tau): (f64, f64, f64, f64)) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, tau).ok()?;
    let square = nu * nu;
    let scaled = share * (1.0 + square);
    Some(if scaled < 1.0 {
        mu + sigma / nu * t.inverse_cdf(scaled / 2.0)
    } else {
        mu + sigma * nu * t.inverse_cdf(0.5 + (scaled - 1.0) / (2.0 * square))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_each_distribution_is_its_middle() {
        let middle = |parameters| value_of(parameters, 50.0).unwrap();
        assert!((middle(Parameters::Lms(0.3487, 3.3464, 0.14602)) - 3.3464).abs() < 1e-9);
        assert!((middle(Parameters::Mean(30.5, 1.2)) - 30.5).abs() < 1e-9);
        assert!((middle(Parameters::MeanOfLogarithm(0.5, 0.1)) - 0.5f64.exp()).abs() < 1e-9);
        // Without skewness mu is the median.
        assert!((middle(Parameters::SkewedT(33.0, 1.3, 1.0, 20.0)) - 33.0).abs() < 1e-9);
    }

    #[test]
    fn nothing_is_given_for_shares_that_are_none_or_far_out() {
        let parameters = Parameters::Lms(1.0, 34.0, 0.03);
        for centile in [-1.0, 0.0, 0.1, 99.9, 100.0, f64::NAN] {
            assert_eq!(value_of(parameters, centile), None, "{centile}");
        }
        assert!(curves(&Tables::default(), Standard::Who, Measure::Head, Sex::Male).is_none());
    }
}

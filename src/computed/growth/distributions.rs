//! The distributions that the standards are made of.
//! Takes a value and the parameters of its age; gives a z-score: how many standard deviations of a normal distribution it lies from the
//! middle. Leaves alone where parameters come from.
//!
//! of a median of 34.46 cm with a coefficient of variation of 0.037, 34.46 cm gives 0

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The share of a normal distribution below a z-score, in percent.
pub(super) fn centile(z: f64) -> f64 {
    normal().map_or(f64::NAN, |normal| 100.0 * normal.cdf(z))
}

fn normal() -> Option<Normal> {
    Normal::new(0.0, 1.0).ok()
}

/// Box-Cox, median, coefficient of variation: WHO Child Growth Standards, 2006. `straight` goes on in a straight line beyond three
/// standard deviations, as WHO does for weight (macro manual, chapter 7, as coded in WHO's package `anthro`).
pub(super) fn lms(value: f64, (l, m, s): (f64, f64, f64), straight: bool) -> f64 {
    let z = ((value / m).powf(l) - 1.0) / (l * s);
    let at = |deviations: f64| m * (1.0 + l * s * deviations).powf(1.0 / l);
    match z {
        z if straight && z > 3.0 => 3.0 + (value - at(3.0)) / (at(3.0) - at(2.0)),
        z if straight && z < -3.0 => -3.0 + (value - at(-3.0)) / (at(-2.0) - at(-3.0)),
        z => z,
    }
}

/// Normal about a mean, of the value or of its natural logarithm.
pub(super) fn about_mean(value: f64, (mean, sd): (f64, f64), is_logarithm: bool) -> f64 {
    let value = if is_logarithm { value.ln() } else { value };
    (value - mean) / sd
}

/// Skewed Student's t, type 3 (Fernandez and Steel; ST3 of the R package gamlss.dist): INTERGROWTH-21st newborn size, 33+0 to 42+6.
/// Parameters mu, sigma, nu, tau; mu is not the median. None where the parameters are none.
pub(super) fn skewed_t(value: f64, (mu, sigma, nu, tau): (f64, f64, f64, f64)) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, tau).ok()?;
    let square = nu * nu;
    let below = if value < mu {
        2.0 / (1.0 + square) * t.cdf(nu * (value - mu) / sigma)
    } else {
        (1.0 + 2.0 * square * (t.cdf((value - mu) / (sigma * nu)) - 0.5)) / (1.0 + square)
    };
    Some(normal()?.inverse_cdf(below))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_is_nought_and_tails_of_weight_are_straight() {
        assert!(lms(34.4618, (1.0, 34.4618, 0.03686), false).abs() < 1e-12);
        let boy = (0.3487, 3.3464, 0.14602);
        let at = |deviations: f64| 3.3464 * (1.0f64 + 0.3487 * 0.14602 * deviations).powf(1.0 / 0.3487);
        let step = at(3.0) - at(2.0);
        assert!((lms(at(3.0) + step, boy, true) - 4.0).abs() < 1e-9);
        assert!((lms(at(-3.0) - (at(-2.0) - at(-3.0)), boy, true) + 4.0).abs() < 1e-9);
        assert!((centile(0.0) - 50.0).abs() < 1e-9 && (centile(1.959_964) - 97.5).abs() < 1e-4);
        // Both branches of the skewed distribution meet at mu.
        let parameters = (30.822_38, 1.365_932, 1.033_177, 26.179_75);
        let (left, right) =
            (skewed_t(30.822_379_999, parameters).unwrap(), skewed_t(30.822_380_001, parameters).unwrap());
        assert!((left - right).abs() < 1e-6);
    }
}

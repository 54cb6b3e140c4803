//! A growth chart in words.
//! Takes what is drawn; gives its title, its caption, and all of it as sentences for somebody who cannot see it. Leaves alone places.
//!
//! "this examination: 36 cm at 3 days, z 0.99, 83.9th centile"

use crate::computed::growth::{Curves, Measure, Sex, Standard, Tables, score_by, weeks};
use crate::export::words::shortened as cut;

use super::ChartPoint;

/// Characters of a label that are shown beside its point; all of them stand in the words.
const LABEL: usize = 28;

pub(super) fn title(measured: &str, curves: &Curves) -> String {
    format!("{measured}, {}, on the lines of {}", whose(curves.sex), curves.standard.words())
}

pub(super) fn caption(curves: &Curves) -> String {
    let Curves { standard, sex, .. } = curves;
    let age = match standard {
        Standard::Who => "age since birth",
        Standard::Newborn => "gestation at birth",
        Standard::Preterm => "post-menstrual age",
    };
    format!("{}; {}; {age}.", standard.words(), whose(*sex))
}

/// Which age a standard counts, for people; WHO's is told in days or in weeks.
pub(super) fn counted(standard: Standard, in_days: bool) -> String {
    let words = match (standard, in_days) {
        (Standard::Who, true) => "days since birth",
        (Standard::Who, false) => "weeks since birth",
        (Standard::Newborn, _) => "weeks of gestation at birth",
        (Standard::Preterm, _) => "weeks post-menstrual",
    };
    words.to_owned()
}

pub(super) fn left_out(curves: &Curves, outside: &[&ChartPoint]) -> Vec<String> {
    let told = |point: &&ChartPoint| {
        let value = amount(point.value, curves.measure);
        let at = age(curves.standard, point.at_days);
        format!("Not drawn: {} {value} at {at}, outside the ages of the standard.", shortened(&point.label))
    };
    outside.iter().map(told).collect()
}

/// The points that have no words beside them; nothing where all have.
pub(super) fn crowded_out(labels: &[String]) -> String {
    if labels.is_empty() { String::new() } else { format!("Without words beside them: {}.", labels.join("; ")) }
}

pub(super) fn words(
    tables: &Tables,
    curves: &Curves,
    (measured, caption): (&str, &str),
    points: &[&ChartPoint],
    left_out: &[String],
) -> String {
    let mut sentences = vec![format!("{measured}. {caption} Lines of the 3rd, 10th, 50th, 90th and 97th centile.")];
    for point in points {
        let by = (curves.measure, point.value);
        let figure = score_by(tables, curves.standard, by, curves.sex, point.at_days);
        let figure = figure.map(|score| format!(", z {:.2}, {}", score.z, centile(score.centile))).unwrap_or_default();
        let (value, at) = (amount(point.value, curves.measure), age(curves.standard, point.at_days));
        sentences.push(format!("{}: {value} at {at}{figure}.", point.label));
    }
    sentences.extend(left_out.iter().cloned());
    sentences.join(" ")
}

/// A value with its unit, without noughts at its end that nobody said.
pub(super) fn amount(value: f64, measure: Measure) -> String {
    let decimals = if measure == Measure::Weight { 3 } else { 2 };
    let digits = format!("{value:.decimals$}");
    format!("{} {}", digits.trim_end_matches('0').trim_end_matches('.'), measure.unit())
}

/// A label as it stands beside its point.
pub(super) fn shortened(label: &str) -> String {
    cut(label, LABEL)
}

fn centile(centile: f64) -> String {
    match centile {
        low if low < 0.1 => "below the 0.1st centile".to_owned(),
        high if high > 99.9 => "above the 99.9th centile".to_owned(),
        within => format!("centile {within:.1}"),
    }
}

fn age(standard: Standard, days: u32) -> String {
    match (standard, days) {
        (Standard::Who, 1) => "1 day".to_owned(),
        (Standard::Who, days) => format!("{days} days"),
        (Standard::Newborn | Standard::Preterm, days) => weeks(days),
    }
}

fn whose(sex: Sex) -> &'static str {
    match sex {
        Sex::Male => "boys",
        Sex::Female => "girls",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::computed::growth::ordinal;

    #[test]
    fn numbers_are_written_as_people_say_them() {
        assert_eq!((amount(36.0, Measure::Head), amount(3.62, Measure::Weight)), ("36 cm".into(), "3.62 kg".into()));
        assert_eq!(["3rd", "10th", "97th", "11th", "52nd", "1st"], [3, 10, 97, 11, 52, 1].map(ordinal).as_slice());
        assert_eq!((centile(0.01), centile(83.94)), ("below the 0.1st centile".into(), "centile 83.9".into()));
        assert_eq!((age(Standard::Who, 1), age(Standard::Newborn, 270)), ("1 day".into(), "38+4 weeks".into()));
    }
}

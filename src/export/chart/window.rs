//! Which part of a standard a chart shows.
//! Takes the lines of a standard and the points; gives the ages and values that the chart spans, with the marks along its edges. Ages
//! never go past the ends of the standard. Leaves alone where that is on the page.
//!
//! A boy measured on days 2 and 10 is shown from day 0 to day 28

use crate::computed::growth::{Curves, Standard};

use super::ChartPoint;

const WEEK: u32 = 7;
/// Fewest weeks that are shown of a standard that counts weeks, so that the course of its lines can be seen.
const FEWEST_WEEKS: u32 = 12;
/// Weeks before the first point, and behind the last.
const WEEKS_AROUND: (u32, u32) = (5, 4);

/// What a chart spans.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Window {
    /// First and last day, as the standard counts.
    pub(super) days: (u32, u32),
    /// Lowest and highest value.
    pub(super) values: (f64, f64),
    /// Days that are named along the foot, and their names.
    pub(super) day_marks: Vec<(u32, String)>,
    /// Values that are named along the side, and their names.
    pub(super) value_marks: Vec<(f64, String)>,
}

/// None where the standard has no line there.
pub(super) fn window(curves: &Curves, points: &[&ChartPoint]) -> Option<Window> {
    let days = days(curves.standard, curves.ages()?, points)?;
    let (low, high) = spanned(curves, days)?;
    let room = (high - low) * 0.06;
    // A point that lies far out would press the lines together: it is shown at the edge instead.
    let reach = (high - low) * 0.6;
    let values = points.iter().map(|point| point.value).filter(|value| (low - reach..=high + reach).contains(value));
    let (low, high) = values.fold((low - room, high + room), |(low, high), value| {
        (low.min(value - 2.0 * room), high.max(value + 2.0 * room))
    });
    let step = round_step((high - low) / 10.0);
    let (low, high) = ((low / step).floor().max(0.0), (high / step).ceil());
    let decimals = usize::from(step < 1.0);
    let mut value_marks = Vec::new();
    let mut at = low;
    while at <= high + 0.5 {
        value_marks.push((at * step, format!("{:.decimals$}", at * step)));
        at += 1.0;
    }
    Some(Window { days, values: (low * step, high * step), day_marks: day_marks(curves.standard, days), value_marks })
}

fn days(standard: Standard, (first, last): (u32, u32), points: &[&ChartPoint]) -> Option<(u32, u32)> {
    let youngest = points.iter().map(|point| point.at_days).min()?;
    let oldest = points.iter().map(|point| point.at_days).max()?;
    if standard == Standard::Who {
        let end = [(3, 4), (7, 8), (13, 13)].into_iter().find(|(at_most, _)| oldest <= at_most * WEEK);
        return Some((first, end.map_or(last, |(_, weeks)| weeks * WEEK).min(last)));
    }
    let start = (youngest / WEEK).saturating_sub(WEEKS_AROUND.0) * WEEK;
    let end = (oldest.div_ceil(WEEK) + WEEKS_AROUND.1) * WEEK;
    let (start, end) = (start.max(first), end.min(last));
    // What is missing at one end is given at the other.
    let start = start.min(end.saturating_sub(FEWEST_WEEKS * WEEK) / WEEK * WEEK).max(first);
    let end = end.max(start + FEWEST_WEEKS * WEEK).min(last);
    Some((start, end))
}

// The lowest and highest value of any line between two days.
fn spanned(curves: &Curves, (first, last): (u32, u32)) -> Option<(f64, f64)> {
    let places = curves.lines.iter().flat_map(|line| line.pieces.iter().flatten());
    let within = places.filter(|(day, _)| (first..=last).contains(day)).map(|(_, value)| *value);
    let (low, high) = within.fold((f64::MAX, f64::MIN), |(low, high), value| (low.min(value), high.max(value)));
    (low < high).then_some((low, high))
}

/// 1, 2 or 5, times a power of ten.
fn round_step(about: f64) -> f64 {
    let power = 10f64.powf(about.log10().floor());
    [1.0, 2.0, 5.0].into_iter().map(|digit| digit * power).find(|step| *step >= about).unwrap_or(10.0 * power)
}

fn day_marks(standard: Standard, (first, last): (u32, u32)) -> Vec<(u32, String)> {
    let weeks = (last - first) / WEEK;
    let every = match (standard, weeks) {
        (_, 0..=14) => 1,
        (_, 15..=28) => 2,
        _ => 4,
    };
    let marks = (first.div_ceil(WEEK)..=last / WEEK).filter(|week| week % every == 0);
    marks
        .map(|week| {
            let day = week * WEEK;
            (day, if counts_days(standard, last) { day.to_string() } else { week.to_string() })
        })
        .collect()
}

/// Whether the foot of the chart names days; weeks otherwise.
pub(super) fn counts_days(standard: Standard, last: u32) -> bool {
    standard == Standard::Who && last <= 4 * WEEK
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(days: &[u32]) -> Vec<ChartPoint> {
        let point = |at_days: &u32| ChartPoint { at_days: *at_days, value: 34.0, label: String::new(), current: false };
        days.iter().map(point).collect()
    }

    #[test]
    fn ages_lie_around_the_points_and_within_the_standard() {
        let newborn = (168, 300);
        let preterm = (189, 448);
        for (standard, ages, at, shown) in [
            (Standard::Who, (0, 98), vec![2, 10], (0, 28)),
            (Standard::Who, (0, 98), vec![2, 40], (0, 56)),
            (Standard::Who, (0, 98), vec![91], (0, 91)),
            (Standard::Who, (0, 98), vec![97], (0, 98)),
            (Standard::Newborn, newborn, vec![38 * 7 + 4], (210, 300)),
            (Standard::Newborn, newborn, vec![24 * 7], (168, 252)),
            (Standard::Newborn, newborn, vec![300], (210, 300)),
            (Standard::Preterm, preterm, vec![27 * 7, 64 * 7], preterm),
            (Standard::Preterm, preterm, vec![36 * 7 + 3], (203, 287)),
        ] {
            let points = points(&at);
            let points: Vec<&ChartPoint> = points.iter().collect();
            assert_eq!(days(standard, ages, &points), Some(shown), "{standard:?} {at:?}");
        }
    }

    #[test]
    fn steps_are_round() {
        for (about, step) in [(0.9, 1.0), (1.0, 1.0), (1.3, 2.0), (4.2, 5.0), (0.13, 0.2), (7.0, 10.0)] {
            assert!((round_step(about) - step).abs() < 1e-9, "{about}");
        }
    }
}

//! The growth charts of a record: its measurements with those of earlier examinations of the same infant.
//! Takes examinations, oldest first, the last being the one that the record is about; gives a chart for a measurement that has a figure
//! there. Earlier ones stand on it at the age that its standard counts. Leaves alone how a chart is drawn (`chart`).
//!
//! a head at 2 and at 16 days is two dots on WHO's lines, the second named "this examination"

use crate::computed::growth::{Measure, Sex, Standard, Tables};
use crate::computed::serial::Examination;
use crate::computed::{AgeKind, Computed, Size};
use crate::export::chart::{Chart, ChartPoint, chart};

/// The charts of the last examination, one for each thing that was measured and has a figure.
#[must_use]
pub fn growth_charts(examinations: &[Examination]) -> Vec<(Measure, Chart)> {
    let Some((this, earlier)) = examinations.split_last() else { return Vec::new() };
    let mut charts: Vec<(Measure, Chart)> = Vec::new();
    for size in &this.computed.sizes {
        // A weight at birth and one of today are by two standards: the last is the one of today.
        if let Some(drawn) = of_size(size, earlier) {
            charts.retain(|(measure, _)| *measure != size.measure);
            charts.push((size.measure, drawn));
        }
    }
    charts
}

fn of_size(size: &Size, earlier: &[Examination]) -> Option<Chart> {
    let score = size.outcome.as_ref().ok()?;
    let sex = size.sex?;
    let mut points: Vec<ChartPoint> = earlier.iter().filter_map(|one| point(one, size, sex, score.standard)).collect();
    let label = "this examination".to_owned();
    points.push(ChartPoint { at_days: score.at, value: size.amount?, label, current: true });
    chart(Tables::built_in(), score.standard, (size.measure, &size.name), sex, &points)
}

// The same item earlier, at the age that the standard of today counts; another sex is another infant, or a mistake.
fn point(one: &Examination, size: &Size, sex: Sex, standard: Standard) -> Option<ChartPoint> {
    let before = one.computed.sizes.iter().find(|before| before.item == size.item && before.sex == Some(sex))?;
    let at_days = age(&one.computed, standard)?;
    Some(ChartPoint { at_days, value: before.amount?, label: one.when.clone(), current: false })
}

fn age(computed: &Computed, standard: Standard) -> Option<u32> {
    let days = |kind: AgeKind| computed.ages.iter().find(|age| age.kind == kind).map(|age| age.days);
    match standard {
        Standard::Who => days(AgeKind::Postnatal),
        Standard::Preterm => days(AgeKind::PostMenstrual),
        Standard::Newborn => days(AgeKind::PostMenstrual)?.checked_sub(days(AgeKind::Postnatal)?),
    }
}

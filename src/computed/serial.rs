//! Examinations of one infant, side by side.
//! Takes what stands in each, oldest first, with what was reckoned from it; gives a row an item and side with its values, marked where
//! the last differs from the one before, and growth per week by the ages that were said. Leaves alone which records are of one
//! infant, and what a change means.
//!
//! head 34.6 cm at 2 days and 35.4 cm at 9 days: 0.8 cm a week

use super::held::Held;
use super::{AgeKind, Computed};
use crate::reading::Side;
use crate::record::words::side_words;

/// An examination of the infant.
#[derive(Debug, Clone, PartialEq)]
pub struct Examination {
    /// The record's id.
    pub id: String,
    /// When it was, as far as that is known: "2026-11-29", or the day on which it was signed.
    pub when: String,
    /// What stands in it.
    pub held: Vec<Held>,
    /// What was reckoned from it.
    pub computed: Computed,
}

/// Examinations side by side.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Serial {
    /// One a examination, oldest first: its id, when it was, and the infant's age then.
    pub examinations: Vec<(String, String, String)>,
    /// One a item and side.
    pub rows: Vec<SerialRow>,
    /// Growth between examinations.
    pub growth: Vec<Growth>,
}

/// An item and side through the examinations.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialRow {
    /// The item's id.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// Its side, for people; may be empty.
    pub side: String,
    /// Its value in each; `None` where nothing was found.
    pub values: Vec<Option<String>>,
    /// Whether the last value differs from the one before.
    pub changed: bool,
}

/// Growth from one examination to the next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Growth {
    /// The measurement's name for people.
    pub name: String,
    /// From when to when.
    pub from: String,
    /// To when.
    pub to: String,
    /// How much a week, or why that is not reckoned: "0.8 cm a week".
    pub words: String,
    /// How it was reckoned.
    pub how: String,
}

/// Lines up examinations; fewer than two give nothing.
#[must_use]
pub fn serial(examinations: &[Examination]) -> Serial {
    if examinations.len() < 2 {
        return Serial::default();
    }
    let heads = examinations.iter().map(|one| (one.id.clone(), one.when.clone(), age_of(one)));
    Serial { examinations: heads.collect(), rows: rows(examinations), growth: growth(examinations) }
}

fn age_of(examination: &Examination) -> String {
    let ages = &examination.computed.ages;
    let words = |kind: AgeKind| ages.iter().find(|age| age.kind == kind).map(|age| age.words.clone());
    let all = [words(AgeKind::Postnatal), words(AgeKind::PostMenstrual).map(|words| format!("{words} post-menstrual"))];
    all.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn rows(examinations: &[Examination]) -> Vec<SerialRow> {
    // Items in the order of the last examination, then what only earlier ones have.
    let mut places: Vec<(&str, Side, &Held)> = Vec::new();
    for held in examinations.iter().rev().flat_map(|one| &one.held) {
        if !places.iter().any(|(item, side, _)| *item == held.item && *side == held.side) {
            places.push((&held.item, held.side, held));
        }
    }
    let row = |(item, side, of): (&str, Side, &Held)| {
        let value = |one: &Examination| {
            let found = one.held.iter().filter(|held| held.item == item && held.side == side);
            let words: Vec<String> = found.map(Held::value_words).collect();
            (!words.is_empty()).then(|| words.join(", then "))
        };
        let values: Vec<Option<String>> = examinations.iter().map(value).collect();
        let changed = matches!(&values[..], [.., before, last] if before != last);
        let side = side_words(side).to_owned();
        SerialRow { item: item.to_owned(), name: of.name.clone(), region: of.region.clone(), side, values, changed }
    };
    places.into_iter().map(row).collect()
}

fn growth(examinations: &[Examination]) -> Vec<Growth> {
    let mut growth = Vec::new();
    for pair in examinations.windows(2) {
        let [before, after] = pair else { continue };
        // What was measured at birth is told again and does not grow.
        for size in after.computed.sizes.iter().filter(|size| !size.at_birth) {
            let earlier = before.computed.sizes.iter().find(|other| other.item == size.item);
            let Some((from, to)) = earlier.and_then(|other| other.amount).zip(size.amount) else { continue };
            let words = match days_between(before, after) {
                Some(0) => "the same age was said in both, so nothing a week is reckoned".to_owned(),
                Some(days) => format!("{} {} a week", signed((to - from) * 7.0 / f64::from(days)), size.measure.unit()),
                None => "the ages that were said do not tell how far they lie apart".to_owned(),
            };
            growth.push(Growth {
                name: size.name.clone(),
                from: before.when.clone(),
                to: after.when.clone(),
                words,
                how: "difference of the two measurements over the difference of the ages that were said".to_owned(),
            });
        }
    }
    growth
}

// The later age must be the greater: else they are of different infants, or one was misheard.
fn days_between(before: &Examination, after: &Examination) -> Option<u32> {
    let since =
        |one: &Examination| one.computed.ages.iter().find(|age| age.kind == AgeKind::Postnatal).map(|age| age.days);
    since(after)?.checked_sub(since(before)?)
}

fn signed(a_week: f64) -> String {
    format!("{a_week:+.2}")
}

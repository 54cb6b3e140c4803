//! Ages: since birth, post-menstrual, corrected.
//! Takes what was said of gestation, age and sex; gives ages in days with what is not exact about them, or why there is none.
//! Nothing is taken from elsewhere: no date, no file's time. Leaves alone sizes and what is usual.
//! Definitions: American Academy of Pediatrics, Pediatrics 2004;114:1362 (from memory).
//!
//! born at 34+0 and ten days old: 35+3 weeks post-menstrual

use super::growth::{CORRECTED_TO, Sex, TERM, weeks};
use super::held::Held;
use super::{Age, AgeKind};
use crate::lexicon::rules::Reckoning;
use crate::record::words::plain_value;
use crate::record::{Figures, FindingId};

/// What was said of the infant, as far as it can be reckoned with.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Infant {
    /// Days of gestation at birth.
    pub(super) gestation: Told,
    /// Whole days since birth.
    pub(super) since_birth: Told,
    /// The sex.
    pub(super) sex: Option<Sex>,
}

/// A time that was told, or why it cannot be reckoned with.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told(pub(super) Result<Time, String>);

/// A time that was told.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Time {
    pub(super) days: u32,
    finding: FindingId,
    said: String,
    notes: Vec<String>,
    /// Its item's name, where nobody has confirmed it yet.
    unconfirmed: Option<String>,
}

impl Default for Told {
    fn default() -> Self {
        Self(Err(String::new()))
    }
}

impl Told {
    pub(super) fn days(&self) -> Option<u32> {
        self.0.as_ref().ok().map(|time| time.days)
    }

    pub(super) fn notes(&self) -> &[String] {
        self.0.as_ref().map(|time| time.notes.as_slice()).unwrap_or_default()
    }

    pub(super) fn unconfirmed(&self) -> Option<String> {
        self.0.as_ref().ok().and_then(|time| time.unconfirmed.clone())
    }
}

/// More days than any infant has that this is for: what is more was misheard.
const MOST_DAYS: f64 = 400.0;

impl Infant {
    /// What was said; `name` gives an item's name by its id.
    pub(super) fn of(rules: &Reckoning, held: &[Held], name: impl Fn(&str) -> String) -> Self {
        let said = |item: &str| held.iter().find(|one| one.item == item && one.is_specific());
        let told = |item: &str| Told(said(item).map_or_else(|| Err(format!("no {} was said", name(item))), time));
        let sex = said(&rules.sex).map(|one| one.value.as_str());
        let [boy, girl] = &rules.boy_and_girl;
        Self {
            gestation: told(&rules.gestation),
            since_birth: told(&rules.since_birth),
            sex: match sex {
                Some(value) if value == boy => Some(Sex::Male),
                Some(value) if value == girl => Some(Sex::Female),
                _ => None,
            },
        }
    }

    /// Days since the last period: gestation and age together.
    pub(super) fn post_menstrual(&self) -> Option<u32> {
        Some(self.gestation.days()? + self.since_birth.days()?)
    }

    /// Whether it was born at 37+0 or later.
    pub(super) fn is_term(&self) -> Option<bool> {
        self.gestation.days().map(|days| days >= TERM)
    }

    /// The ages, and why some are not there.
    pub(super) fn ages(&self, source: &str) -> (Vec<Age>, Vec<String>) {
        let mut ages = Vec::new();
        let age = |kind, days, words: String, times: &[&Time]| Age {
            kind,
            days,
            words,
            notes: (times.iter().flat_map(|time| time.notes.clone()))
                .chain(unconfirmed(times.iter().filter_map(|time| time.unconfirmed.clone())))
                .collect(),
            from: times.iter().map(|time| time.finding).collect(),
            source: source.to_owned(),
        };
        if let Ok(since) = &self.since_birth.0 {
            let days = plural_days(since.days);
            let words = if since.said == days { days } else { format!("{} ({days})", since.said) };
            ages.push(age(AgeKind::Postnatal, since.days, words, &[since]));
            if let Ok(gestation) = &self.gestation.0 {
                let sum = gestation.days + since.days;
                ages.push(age(AgeKind::PostMenstrual, sum, weeks(sum), &[gestation, since]));
                if gestation.days < TERM && sum >= CORRECTED_TO {
                    let days = sum - CORRECTED_TO;
                    ages.push(age(AgeKind::Corrected, days, plural_days(days), &[gestation, since]));
                }
            }
        }
        let missing =
            [&self.gestation, &self.since_birth].into_iter().filter_map(|told| told.0.as_ref().err().cloned());
        (ages, missing.collect())
    }
}

/// What is said where a figure rests on what nobody has confirmed yet.
pub(super) fn unconfirmed(names: impl Iterator<Item = String>) -> Option<String> {
    let names: Vec<String> = names.collect();
    (!names.is_empty()).then(|| format!("rests on what is not confirmed yet: {}", names.join(", ")))
}

pub(super) fn plural_days(days: u32) -> String {
    if days == 1 { "1 day".to_owned() } else { format!("{days} days") }
}

fn time(held: &Held) -> Result<Time, String> {
    let none = |what: &str| format!("the {} is {what}, from which nothing is reckoned", held.name);
    let figures = held.figures.as_ref().ok_or_else(|| none("no number"))?;
    if figures.to.is_some() || figures.bound != "is" {
        return Err(none(&format!("\"{}\"", plain_value(&held.value, Some(figures)))));
    }
    let (days, whole_weeks) = days_of(figures).ok_or_else(|| none(&format!("\"{}\"", held.value)))?;
    let mut notes = Vec::new();
    if held.approx {
        notes.push(format!("{} was said as \"about\"", held.name));
    }
    if held.hedged {
        notes.push(format!("{} was said with doubt", held.name));
    }
    if whole_weeks {
        notes.push(format!(
            "days of the {} were not said: {} was taken, up to 6 days too young",
            held.name,
            weeks(days)
        ));
    }
    let unconfirmed = (!held.decided).then(|| held.name.clone());
    Ok(Time { days, finding: held.finding, said: plain_value(&held.value, Some(figures)), notes, unconfirmed })
}

/// Whole days, and whether days may stand behind weeks that were not said.
fn days_of(figures: &Figures) -> Option<(u32, bool)> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite() && *number >= 0.0);
    let whole_weeks = figures.unit == "wk" && !figures.from.contains('+');
    let days = match (figures.unit.as_str(), figures.from.split_once('+')) {
        ("wk", Some((weeks, days))) => number(weeks)? * 7.0 + number(days)?,
        ("wk", None) => number(&figures.from)? * 7.0,
        ("d", None) => number(&figures.from)?,
        ("h", None) => number(&figures.from)? / 24.0,
        _ => return None,
    };
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "it is from 0 to 400, whole days are wanted"
    )]
    (days <= MOST_DAYS).then_some((days as u32, whole_weeks))
}

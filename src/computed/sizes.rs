//! Measurements by growth standards.
//! Takes measurements that stand, age and sex; gives a z-score and centile by the standard that fits, with why it is that one; or why
//! there is none. Nothing is guessed: no sex, no gestation, a range or a bound give no figure. Leaves alone what it means.
//!
//! born at 38+4, two days old, a boy, 34.6 cm: by the WHO standard, since he was born at 37+0 or later

use super::ages::{Infant, plural_days, unconfirmed};
use super::amounts::Extent;
use super::growth::{Age, Measure, Score, Sex, Standard, Tables, score, weeks};
use super::held::Held;
use super::{Known, Size};
use crate::lexicon::rules::{Reckoning, SizeRule};
use crate::reading::Side;

/// Every measurement that stands, in the record's order.
pub(super) fn sizes(rules: &Reckoning, tables: &Tables, held: &[Held], infant: &Infant) -> Vec<Size> {
    let rule_of = |one: &Held| rules.sizes.iter().find(|rule| rule.item == one.item);
    let measured = held.iter().filter(|one| one.is_specific() && one.side == Side::None);
    measured.filter_map(|one| size(rules, tables, one, rule_of(one)?, infant)).collect()
}

fn size(rules: &Reckoning, tables: &Tables, held: &Held, rule: &SizeRule, infant: &Infant) -> Option<Size> {
    let measure = Measure::ALL.into_iter().find(|measure| measure.name() == rule.measure)?;
    let amount = held.figures.as_ref().and_then(|figures| Extent::of(figures, measure.unit())).and_then(Extent::single);
    let age = age(rule, infant);
    let outcome = age.clone().and_then(|age| {
        let amount = amount.ok_or_else(|| "it is no single number".to_owned())?;
        let sex = infant.sex.ok_or_else(|| "no sex was said, and standards differ by it".to_owned())?;
        score(tables, measure, amount, sex, age).map_err(|none| none.to_string())
    });
    let used = outcome.as_ref().ok().zip(infant.sex).map(|(score, sex)| used(sex, score));
    let why = age.as_ref().map(|age| why(rule, *age)).unwrap_or_default();
    Some(Size {
        finding: held.finding,
        item: held.item.clone(),
        name: held.name.clone(),
        value: held.value_words(),
        measure,
        at_birth: rule.at_birth,
        amount,
        sex: infant.sex,
        used: used.unwrap_or_default(),
        why: why.to_owned(),
        notes: notes(held, rule, infant),
        known: known(rules, rule, age.ok()),
        outcome,
    })
}

// Size at birth needs the gestation alone; any other needs the age as well.
fn age(rule: &SizeRule, infant: &Infant) -> Result<Age, String> {
    let gestation = infant.gestation.0.as_ref().map_err(Clone::clone)?.days;
    let days = if rule.at_birth { 0 } else { infant.since_birth.0.as_ref().map_err(Clone::clone)?.days };
    Ok(Age { gestation, days })
}

fn used(sex: Sex, score: &Score) -> String {
    let sex = match sex {
        Sex::Male => "boy",
        Sex::Female => "girl",
    };
    let age = match score.standard {
        Standard::Who => format!("{} old", plural_days(score.at)),
        Standard::Newborn => format!("{} of gestation", weeks(score.at)),
        Standard::Preterm => format!("{} post-menstrual", weeks(score.at)),
    };
    format!("{sex}, {age}")
}

fn why(rule: &SizeRule, age: Age) -> &'static str {
    match (super::growth::standard_for(age).0, age) {
        (Standard::Newborn, _) if rule.at_birth => "size at birth: by gestation",
        (Standard::Newborn, _) => {
            "on the day of birth: by gestation; the standard was measured within 12 hours of birth"
        }
        (Standard::Preterm, _) => "born before 37+0: by post-menstrual age",
        (Standard::Who, age) if age.is_term() => "born at 37+0 or later: by days since birth",
        (Standard::Who, _) => "born before 37+0 and past 64 weeks post-menstrual: by the age corrected to 40+0",
    }
}

fn notes(held: &Held, rule: &SizeRule, infant: &Infant) -> Vec<String> {
    let mut notes = infant.gestation.notes().to_vec();
    if !rule.at_birth {
        notes.extend_from_slice(infant.since_birth.notes());
    }
    if held.approx {
        notes.push(format!("the {} was said as \"about\"", held.name));
    }
    if held.hedged {
        notes.push(format!("the {} was said with doubt", held.name));
    }
    let since = Some(&infant.since_birth).filter(|_| !rule.at_birth);
    let times = [Some(&infant.gestation), since].into_iter().flatten().filter_map(|told| told.unconfirmed());
    notes.extend(unconfirmed(times.chain((!held.decided).then(|| held.name.clone()))));
    notes
}

fn known(rules: &Reckoning, rule: &SizeRule, age: Option<Age>) -> Vec<Known> {
    let days = age.filter(|_| !rule.at_birth).map(|age| age.days);
    let fitting = rules.size_notes.iter().filter(|note| note.measure == rule.measure);
    let fitting = fitting.filter(|note| days.is_some_and(|days| days < note.before_days));
    fitting.map(|note| Known { words: note.words.clone(), source: note.source.clone() }).collect()
}

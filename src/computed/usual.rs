//! Findings beside what is usual at the infant's age.
//! Takes rules and what stands; gives which rules hold for this infant, and each finding beside what they say is usual. Leaves
//! alone whether to look again (`prompts`). Without an age only rules hold that hold at every age.
//!
//! born at 30+0 and eight weeks old: rules for preterm infants at 38 weeks

use super::Usual;
use super::ages::Infant;
use super::conditions::Facts;
use super::growth::weeks;
use crate::lexicon::rules::{Born, Condition, UsualRule};
use crate::record::Figures;
use crate::record::words::{figures_words, plain_value};

/// The rules that hold for this infant, about one item.
pub(super) fn rules_for<'a>(rules: &'a [UsualRule], infant: &Infant, item: &str) -> Vec<&'a UsualRule> {
    let age = infant.post_menstrual();
    let term = infant.is_term();
    let holds = |rule: &&UsualRule| {
        let born = match rule.born {
            Born::Any => true,
            Born::Term => term == Some(true),
            Born::Preterm => term == Some(false),
        };
        let at_age = age.map_or(rule.ageless, |days| days >= rule.from_weeks * 7 && days < rule.to_weeks * 7);
        rule.item == item && born && at_age
    };
    let mut held: Vec<&UsualRule> = rules.iter().filter(holds).collect();
    // What is usual of infants born so takes the place of what is usual of any.
    if held.iter().any(|rule| rule.born != Born::Any && !rule.expected.is_empty()) {
        held.retain(|rule| rule.born != Born::Any || rule.expected.is_empty());
    }
    held
}

/// The rule that says what is usual, of those about one item.
fn stating<'a>(rules: &[&'a UsualRule]) -> Option<&'a UsualRule> {
    rules.iter().find(|rule| !rule.expected.is_empty()).copied()
}

/// What is usual by the rules about one item; nothing where they do not say.
pub(super) fn expected_of<'a>(rules: &[&'a UsualRule]) -> &'a [Condition] {
    stating(rules).map_or(&[], |rule| &rule.expected)
}

/// Each finding for which a rule says what is usual.
pub(super) fn usual(rules: &[UsualRule], facts: &Facts<'_>, infant: &Infant) -> Vec<Usual> {
    let at = infant.post_menstrual().map_or_else(|| "any age".to_owned(), weeks);
    let beside = facts.held.iter().filter_map(|held| {
        let rule = stating(&rules_for(rules, infant, &held.item))?;
        Some(Usual {
            finding: held.finding,
            expected: words_of(&rule.expected),
            at: at.clone(),
            fits: facts.is_one_of(held, &rule.expected),
            note: rule.note.clone(),
            cited: rule.cited.clone(),
        })
    });
    beside.collect()
}

/// Conditions for people: "70 to 110°", "flexed or semi flexed".
pub(super) fn words_of(conditions: &[Condition]) -> String {
    let words = |condition: &Condition| {
        let number = |from: f64, to: f64, unit: &str| {
            let to = (from.to_bits() != to.to_bits()).then(|| to.to_string());
            figures_words(&Figures { from: from.to_string(), to, bound: "is", unit: unit.to_owned() })
        };
        match condition {
            Condition::Value(value) | Condition::Only(value) => plain_value(value, None),
            Condition::Not(value) => format!("not {}", plain_value(value, None)),
            Condition::Over(bound, unit) => format!("over {}", number(*bound, *bound, unit)),
            Condition::Under(bound, unit) => format!("under {}", number(*bound, *bound, unit)),
            Condition::Within(from, to, unit) => number(*from, *to, unit),
            Condition::SidesDiffer(by) if *by > 0.0 => format!("sides that differ by {by} or more"),
            Condition::SidesDiffer(_) => "sides that differ".to_owned(),
            Condition::ZUnder(bound) => format!("z under {bound}"),
            Condition::ZOver(bound) => format!("z over {bound}"),
            Condition::ZWithin(from, to) => format!("z {from} to {to}"),
        }
    };
    conditions.iter().map(words).collect::<Vec<_>>().join(" or ")
}

//! What may be worth a second look.
//! Takes rules, what stands, what is usual and what was put aside; gives prompts, one for the same findings however many rules ask
//! for it, most pressing first. Each names what was said and its sources, and defers to local guidance; none names a cause.
//!
//! "You said popliteal angle left 150°. Commonly examined again; follow local guidance."

use std::collections::BTreeSet;

use super::ages::Infant;
use super::conditions::Facts;
use super::growth::weeks;
use super::held::Held;
use super::states::{depends, only_unsettled};
use super::usual::{expected_of, rules_for, words_of};
use super::{Cited, Level, Prompt, StateAt};
use crate::lexicon::rules::{Condition, OfItem, PromptRule, Rules, UsualRule};
use crate::record::FindingId;
use crate::record::remarks::Remarks;

/// A rule that is met.
struct Hit {
    level: Level,
    findings: BTreeSet<FindingId>,
    why: Vec<String>,
    cited: Vec<Cited>,
}

/// What prompts are made of.
pub(super) struct Grounds<'a> {
    pub(super) rules: &'a Rules,
    pub(super) facts: &'a Facts<'a>,
    pub(super) infant: &'a Infant,
    pub(super) states: &'a [StateAt],
    pub(super) remarks: &'a Remarks,
}

impl Grounds<'_> {
    /// The prompts.
    pub(super) fn prompts(&self) -> Vec<Prompt> {
        let mut hits: Vec<Hit> = self.rules.prompts.iter().filter_map(|rule| self.listed(rule)).collect();
        hits.extend(self.unusual());
        let mut prompts: Vec<Prompt> = merged(hits).iter().map(|hit| self.prompt(hit)).collect();
        prompts.sort_by_key(|prompt| (prompt.level, prompt.findings.first().copied()));
        prompts
    }

    // A rule of the list: all of some, and so many of others.
    fn listed(&self, rule: &PromptRule) -> Option<Hit> {
        if let Some(from) = rule.from_weeks {
            self.infant.post_menstrual().filter(|days| *days >= from * 7)?;
        }
        let met = |of: &OfItem| {
            let rules = rules_for(&self.rules.usual, self.infant, &of.item);
            self.facts.met(&of.item, &of.any, expected_of(&rules))
        };
        let all: Vec<Vec<FindingId>> = rule.all.iter().map(met).collect();
        let some: Vec<Vec<FindingId>> = rule.some.iter().map(met).filter(|met| !met.is_empty()).collect();
        if all.iter().any(Vec::is_empty) || some.len() < rule.at_least {
            return None;
        }
        let findings = all.into_iter().chain(some).flatten().collect();
        Some(Hit { level: rule.level, findings, why: vec![rule.title.clone()], cited: vec![rule.cited.clone()] })
    }

    // What rows of what is usual call worth a second look.
    fn unusual(&self) -> Vec<Hit> {
        let mut met: Vec<(&UsualRule, &str, Hit)> = Vec::new();
        let mut seen: BTreeSet<&str> = BTreeSet::new();
        for held in self.facts.held.iter().filter(|held| seen.insert(&held.item)) {
            let rules = rules_for(&self.rules.usual, self.infant, &held.item);
            let expected = expected_of(&rules);
            let hits =
                rules.iter().filter_map(|rule| Some((*rule, held.region.as_str(), self.looked_at(rule, expected)?)));
            met.extend(hits);
        }
        let company = |rule: &UsualRule, region: &str| {
            met.iter().any(|(other, its, _)| other.item != rule.item && *its == region)
        };
        let counts: Vec<bool> = met.iter().map(|(rule, region, _)| rule.alone || company(rule, region)).collect();
        met.into_iter().zip(counts).filter(|(_, counts)| *counts).map(|((.., hit), _)| hit).collect()
    }

    // That sides differ, or that something is outside what is usual, or both.
    fn looked_at(&self, rule: &UsualRule, expected: &[Condition]) -> Option<Hit> {
        let is_of_sides = |one: &Condition| matches!(one, Condition::SidesDiffer(_));
        let (sides, others): (Vec<Condition>, Vec<Condition>) = rule.second_look.iter().cloned().partition(is_of_sides);
        let met = |any: &[Condition]| self.facts.met(&rule.item, any, expected);
        let (sides, others) = (met(&sides), met(&others));
        let why = why(rule, expected, self.infant, (!sides.is_empty(), !others.is_empty()));
        let findings: BTreeSet<FindingId> = sides.into_iter().chain(others).collect();
        (!findings.is_empty()).then(|| Hit { level: rule.level, findings, why, cited: vec![rule.cited.clone()] })
    }

    fn prompt(&self, hit: &Hit) -> Prompt {
        let held: Vec<&Held> = self.facts.held.iter().filter(|held| hit.findings.contains(&held.finding)).collect();
        let said: Vec<String> = held.iter().map(|held| held.words()).collect();
        let verb = if held.iter().all(|held| held.by_hand) { "recorded" } else { "said" };
        let sentences = &self.rules.sentences;
        let commonly = sentences.commonly.get(&hit.level).map(String::as_str).unwrap_or_default();
        let rules: Vec<&str> = hit.cited.iter().map(|cited| cited.rule.as_str()).collect();
        let id = format!("{}: {}", rules.join("+"), said.join(", "));
        Prompt {
            level: hit.level,
            findings: held.iter().map(|held| held.finding).collect(),
            words: format!("You {verb} {}. {commonly}", said.join(", ")),
            why: hit.why.clone(),
            notes: self.notes(&held),
            cited: hit.cited.clone(),
            put_aside: self.remarks.put_aside(&id).cloned(),
            said,
            id,
        }
    }

    fn notes(&self, held: &[&Held]) -> Vec<String> {
        let sentences = &self.rules.sentences;
        let mut notes = Vec::new();
        if held.iter().all(|one| one.hedged) {
            notes.push(sentences.hedged.clone());
        }
        if held.iter().any(|one| one.unclear) {
            notes.push(sentences.unclear.clone());
        }
        let rule = &self.rules.reckoning.state;
        let at =
            held.iter().filter_map(|one| self.states.iter().find(|state| state.finding == one.finding && state.poorly));
        let state = at.filter_map(|state| state.state.clone()).next();
        let only = || only_unsettled(rule, self.facts.held).filter(|_| held.iter().any(|one| depends(rule, one)));
        if let Some(state) = state.or_else(only) {
            notes.push(format!("{} ({state})", sentences.state));
        }
        notes
    }
}

// What made a rule met: that sides differ, that something is outside what is usual, or both.
fn why(rule: &UsualRule, expected: &[Condition], infant: &Infant, (sides, others): (bool, bool)) -> Vec<String> {
    let at = infant.post_menstrual().map_or_else(|| "any age".to_owned(), weeks);
    let usual = words_of(expected);
    let outside = match (others, usual.is_empty()) {
        (false, _) => None,
        (true, true) => Some(format!("worth a second look at {at}; see local guidance")),
        (true, false) => Some(format!("outside what is usual at {at} ({usual}); see local guidance")),
    };
    let differ = sides.then(|| "the sides differ".to_owned());
    let note = Some(rule.note.clone()).filter(|note| !note.is_empty());
    outside.into_iter().chain(differ).chain(note).collect()
}

/// One prompt for the same findings: what asks for part of another's findings joins it.
fn merged(mut hits: Vec<Hit>) -> Vec<Hit> {
    // The longest first; of equal ones the order of the rules stays.
    hits.sort_by_key(|hit| std::cmp::Reverse(hit.findings.len()));
    let mut merged: Vec<Hit> = Vec::new();
    for hit in hits {
        match merged.iter_mut().find(|whole| hit.findings.is_subset(&whole.findings)) {
            None => merged.push(hit),
            Some(whole) => {
                whole.level = whole.level.min(hit.level);
                // Several rules may give the same reason.
                let new: Vec<String> = hit.why.into_iter().filter(|why| !whole.why.contains(why)).collect();
                whole.why.extend(new);
                whole.cited.extend(hit.cited);
            }
        }
    }
    merged
}

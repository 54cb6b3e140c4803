//! The infant's state when a finding was told.
//! Takes what stands, in order of the narration; gives for each finding that depends on it the state last told before. Leaves
//! alone findings that were made by hand: nobody knows when they were found.
//!
//! "he's crying now. Tone is up in both arms": the tone was found in a crying infant, which is hard to read

use super::StateAt;
use super::held::Held;
use crate::lexicon::rules::StateRule;

/// The state at each finding that depends on it, where any was told at all.
pub(super) fn states(rule: &StateRule, held: &[Held]) -> Vec<StateAt> {
    let told: Vec<&Held> = told(rule, held).collect();
    if told.is_empty() {
        return Vec::new();
    }
    let state_at = |one: &Held| {
        let place = one.place?;
        let before =
            |state: &&&Held| state.place.is_some_and(|at| (at.utterance, at.first) <= (place.utterance, place.first));
        told.iter().filter(before).max_by_key(|state| state.place.map(|at| (at.utterance, at.first))).copied()
    };
    let depends = held.iter().filter(|one| depends(rule, one) && !one.by_hand && one.is_result());
    let found = depends.map(|one| {
        let state = state_at(one);
        StateAt {
            finding: one.finding,
            state: state.map(Held::value_words),
            poorly: state.is_some_and(|state| !rule.settled.contains(&state.value)),
            source: rule.source.clone(),
        }
    });
    found.collect()
}

/// The states that were told, if in none of them findings are read well.
pub(super) fn only_unsettled(rule: &StateRule, held: &[Held]) -> Option<String> {
    let told: Vec<&Held> = told(rule, held).collect();
    let unsettled = !told.is_empty() && told.iter().all(|state| !rule.settled.contains(&state.value));
    unsettled.then(|| told.iter().map(|state| state.value_words()).collect::<Vec<_>>().join(", "))
}

/// Whether a finding depends on the state.
pub(super) fn depends(rule: &StateRule, held: &Held) -> bool {
    rule.regions.contains(&held.region) || rule.items.contains(&held.item)
}

fn told<'a>(rule: &'a StateRule, held: &'a [Held]) -> impl Iterator<Item = &'a Held> {
    held.iter().filter(|one| one.item == rule.item && one.is_specific())
}

//! Statements → findings.
//! Takes statements in order of time; gives one finding an item and side, with what it replaced.
//! Leaves alone what is expected at which age, and anything not observed in this examination.
//!
//! "Left triceps absent. Once more ... there it is, one plus." gives triceps-reflex, left, 1grade

use std::collections::BTreeMap;

use crate::lexicon::{General, ItemIx, Lexicon};
use crate::reading::stance::Stance;
use crate::reading::statements::{Reason, Side, Statement};
use crate::reading::values::Value;

/// Which hearings of a recording came to a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HeardBy {
    /// There was one hearing, or none: it is text.
    #[default]
    One,
    /// Every one of three or more came to it.
    All,
    /// Two came to it, and none to anything else.
    Two,
    /// Two or more came to it, each by words that only sound like the lexicon's.
    SoundAlone,
    /// What its words could be taken for fits the sound nearly as well, or better.
    Contested,
    /// One or more came to it, and another to another value.
    Otherwise,
    /// The first alone came to it.
    FirstAlone,
    /// It rests on words that another alone understood.
    OtherAlone,
}

/// What the observed statements about one item and side come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The statement that stands; its side is left, right, unstated or none.
    pub stands: Statement,
    /// What it replaced, oldest first.
    pub replaced: Vec<Statement>,
    /// Why it needs the reviewer's eye; empty where it is clear.
    pub reasons: Vec<Reason>,
    /// Which hearings came to it.
    pub heard_by: HeardBy,
}

impl HeardBy {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::One,
        Self::All,
        Self::Two,
        Self::SoundAlone,
        Self::Contested,
        Self::Otherwise,
        Self::FirstAlone,
        Self::OtherAlone,
    ];
}

impl Finding {
    fn new(statement: Statement) -> Self {
        let reasons = statement.reasons.clone();
        Self { stands: statement, replaced: Vec::new(), reasons, heard_by: HeardBy::One }
    }
}

/// The findings that statements come to, in order of item and side.
#[must_use]
pub fn findings(lexicon: &Lexicon, statements: &[Statement]) -> Vec<Finding> {
    let mut items: BTreeMap<ItemIx, Vec<Finding>> = BTreeMap::new();
    for statement in statements.iter().filter(|statement| statement.stance == Stance::Observed) {
        let known = items.entry(statement.item).or_default();
        for side in single_sides(statement.side) {
            add(lexicon, known, Statement { side: *side, ..statement.clone() });
        }
    }
    let mut findings: Vec<Finding> = items.into_values().flat_map(settle_unstated).collect();
    // Which of several statements stands is decided by what was said, not by how well all of it was heard.
    for finding in findings.iter_mut().filter(|finding| finding.stands.heard_poorly) {
        if !finding.reasons.contains(&Reason::HeardUnclearly) {
            finding.reasons.insert(0, Reason::HeardUnclearly);
        }
    }
    findings
}

fn single_sides(side: Side) -> &'static [Side] {
    match side {
        Side::Both => &[Side::Left, Side::Right],
        Side::Left => &[Side::Left],
        Side::Right => &[Side::Right],
        Side::Unstated => &[Side::Unstated],
        Side::None => &[Side::None],
    }
}

fn add(lexicon: &Lexicon, known: &mut Vec<Finding>, statement: Statement) {
    let item = &lexicon.items[statement.item];
    if item.keeps_all {
        if known.last().is_none_or(|finding| finding.stands.value != statement.value) {
            known.push(Finding::new(statement));
        }
        return;
    }
    let Some(finding) = known.iter_mut().find(|finding| finding.stands.side == statement.side) else {
        known.push(Finding::new(statement));
        return;
    };
    if finding.stands.value == statement.value {
        agree(finding, &statement);
    } else if is_guess(&statement) && is_sure(lexicon, &finding.stands) {
        finding.reasons.push(Reason::SaidTwiceDifferently);
        finding.replaced.push(statement);
    } else if outweighs(lexicon, &statement, &finding.stands) {
        let old = std::mem::replace(&mut finding.stands, statement);
        finding.reasons.clone_from(&finding.stands.reasons);
        // A number and the word beside it are one result; two numbers, or two words, are not.
        let number = |statement: &Statement| matches!(statement.value, Value::Amount(_));
        let one_result = same_breath(&old, &finding.stands) && number(&old) != number(&finding.stands);
        let quarrel = !finding.stands.corrects && specific(lexicon, &old) && !one_result;
        if quarrel {
            finding.reasons.push(Reason::SaidTwiceDifferently);
        }
        finding.replaced.push(old);
    }
}

// "For the pupils the lamp, fifteen centimetres": a number, or a word, whose item was only guessed does not take the place
// of what was said surely.
fn is_guess(statement: &Statement) -> bool {
    let doubted = |reason: &Reason| matches!(reason, Reason::ItemUncertain | Reason::ValueUncertain);
    statement.because.item.is_none() && !statement.corrects && statement.reasons.iter().any(doubted)
}

// "Right side, not a thing. Let me use the end of the pen. There.": a first try without result is open to a second.
fn is_sure(lexicon: &Lexicon, statement: &Statement) -> bool {
    statement.reasons.is_empty() && !is_without_result(lexicon, statement)
}

/// Whether the item was tried and not obtained.
pub(super) fn is_without_result(lexicon: &Lexicon, statement: &Statement) -> bool {
    let item = &lexicon.items[statement.item];
    match &statement.value {
        Value::Choice(value) => {
            item.general.get(&General::Nothing) == Some(value) || item.values[*value].id == "not-elicited"
        }
        Value::Amount(_) => false,
    }
}

// Said again alike: the surer of the two statements stands.
fn agree(finding: &mut Finding, again: &Statement) {
    if again.reasons.len() < finding.stands.reasons.len() {
        let old = std::mem::replace(&mut finding.stands, again.clone());
        finding.reasons.clone_from(&again.reasons);
        finding.replaced.push(old);
    }
}

fn outweighs(lexicon: &Lexicon, new: &Statement, old: &Statement) -> bool {
    if new.corrects {
        return true;
    }
    // "Moro is normal, full and symmetric": a specific value outweighs a general word, whichever comes first.
    if specific(lexicon, old) && !specific(lexicon, new) {
        return false;
    }
    if new.general && !old.general && same_breath(old, new) {
        return false;
    }
    // "Eight beats, and then it stops": the number outweighs the word beside it.
    let number_then_word = matches!(old.value, Value::Amount(_)) && matches!(new.value, Value::Choice(_));
    !(number_then_word && same_breath(old, new))
}

fn specific(lexicon: &Lexicon, statement: &Statement) -> bool {
    match &statement.value {
        Value::Amount(_) => true,
        Value::Choice(value) => {
            let id = &lexicon.items[statement.item].values[*value].id;
            id != "normal" && id != "abnormal"
        }
    }
}

fn same_breath(old: &Statement, new: &Statement) -> bool {
    new.because.value.utterance == old.because.value.utterance
}

// A statement without a side says nothing new once both sides, or the same value on one, are known.
fn settle_unstated(mut findings: Vec<Finding>) -> Vec<Finding> {
    if findings.iter().all(|finding| finding.stands.side != Side::Unstated) {
        findings.sort_by_key(|finding| finding.stands.side);
        return findings;
    }
    let sided: Vec<Value> = findings
        .iter()
        .filter(|finding| matches!(finding.stands.side, Side::Left | Side::Right))
        .map(|finding| finding.stands.value.clone())
        .collect();
    let mut kept: Vec<Finding> = findings
        .into_iter()
        .filter(|finding| {
            finding.stands.side != Side::Unstated || sided.len() < 2 && !sided.contains(&finding.stands.value)
        })
        .collect();
    kept.sort_by_key(|finding| finding.stands.side); // stable: states of one item keep their order
    kept
}

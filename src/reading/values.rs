//! Tokens → results bound to their items.
//! Takes a token that can be a result, the other tokens of its sentence and what is in progress; gives the items it
//! belongs to and the value it is for them, or nothing. Values are typed by their item: a phrase binds only to an item
//! that knows it. Leaves alone sides and stance.
//!
//! "good strong suck, gag present" gives suck strong and gag present, each from the words beside it

use std::collections::BTreeSet;

use crate::lexicon::quantities::{Amount, Figure, Measure, Point, Quantity, Reading, Unit};
use crate::lexicon::{General, Hearing, Item, ItemIx, ItemSet, Lexicon, Strength, ValueIx};
use crate::reading::company::{company, same_units};
use crate::reading::in_progress::Progress;
use crate::reading::scores::score;
use crate::reading::tokens::{Token, is_odd};
use crate::speech::{Stop, Word};

/// The value of a finding.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// One of the item's values.
    Choice(ValueIx),
    /// A number in the item's unit.
    Amount(Amount),
}

/// A result with the items it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// Place of its token in the sentence's tokens.
    pub token: usize,
    /// Items, or groups, it belongs to.
    pub items: Vec<ItemIx>,
    /// Its value for the first of them.
    pub value: Value,
    /// Whether it was said by a general word.
    pub general: Option<General>,
    /// How the item was told.
    pub told: Told,
    /// Whether a careful listener would ask which number was meant.
    pub ask: bool,
    /// Whether another item that looks at the same part of the body could be meant as well.
    pub contested: bool,
}

impl Bound {
    /// A result of items that are named.
    #[must_use]
    pub fn named(token: usize, items: Vec<ItemIx>, value: Value, general: Option<General>) -> Self {
        Self { token, items, value, general, told: Told::Named, ask: false, contested: false }
    }
}

/// The least score of an item whose part of the body stands in the sentence.
pub(super) const BESIDE: f32 = 35.0;

/// Another item whose score is this near makes an item told by a part of the body uncertain.
const CONTESTED: f32 = 8.0;

/// How the item of a result was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Told {
    /// Named in the sentence, or said by the value itself.
    Named,
    /// By the manoeuvre in progress.
    InProgress,
    /// By a part of the body.
    Body,
}

impl Told {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Named, Self::InProgress, Self::Body];
}

/// What surrounds a token that can be a result.
pub struct Around<'a> {
    /// The lexicon.
    pub lexicon: &'a Lexicon,
    /// The sentence's tokens.
    pub tokens: &'a [Token],
    /// What is in progress as the sentence begins.
    pub progress: &'a Progress,
    /// For each token, the items it names once shared names are settled.
    pub named: &'a [Vec<ItemIx>],
    /// Name tokens that already have a result in their own segment.
    pub served: &'a BTreeSet<usize>,
    /// Whether the sentence says a side.
    pub has_side: bool,
    /// Strange words of each segment.
    pub strange: &'a [u32],
    /// The words of the utterance.
    pub words: &'a [Word],
    /// Items that the sentence tells by a name, a manoeuvre or a value that needs none.
    pub told: &'a ItemSet,
    /// Those, what is in progress, and the items that look at the parts of the body it speaks of.
    pub in_play: &'a ItemSet,
    /// Items that a unit alone may tell, since nothing but the infant has been spoken of and they are not told yet.
    pub at_start: &'a ItemSet,
    /// Items of the infant itself.
    pub infant: &'a ItemSet,
    /// How well the narration was heard.
    pub hearing: Hearing,
}

/// Binds the result at `at`, if it can belong to anything in play.
#[must_use]
pub fn bind(around: &Around<'_>, at: usize) -> Option<Bound> {
    let mut best: Option<(f32, Candidate, Told)> = None;
    let mut second = 0.0_f32;
    for candidate in candidates(around, at) {
        let Some((score, told)) = score(around, at, &candidate) else { continue };
        match &best {
            Some((known, leader, _)) if score <= *known => {
                if leader.item != candidate.item {
                    second = second.max(score);
                }
            }
            _ => {
                if let Some((known, leader, _)) = &best
                    && leader.item != candidate.item
                {
                    second = second.max(*known);
                }
                best = Some((score, candidate, told));
            }
        }
    }
    let (score, candidate, told) = best?;
    // A part of the body named some sentences ago tells little, and nothing where another item is named beside the result.
    let far = told == Told::Body && score < BESIDE;
    let named_beside =
        |(named, token): (&Vec<ItemIx>, &Token)| !named.is_empty() && token.segment == around.tokens[at].segment;
    if far && around.named.iter().zip(around.tokens).any(named_beside) {
        return None;
    }
    let contested = is_another_kind(around, at, candidate.item)
        || told == Told::Body
            && (score - second < CONTESTED
                || far
                || is_amid_another(around, at, candidate.item)
                || is_under_another(around, at, candidate.item)
                || is_beside_another(around, at, candidate.item));
    let items = match of_now(around, at, candidate.item) {
        Some(item) => vec![item],
        None => company(around, at, candidate.item, told, &candidate.value),
    };
    Some(Bound {
        token: at,
        items,
        value: candidate.value,
        general: candidate.general,
        told,
        ask: candidate.ask,
        contested,
    })
}

// "Belly down on my hand, his head's up, his elbows are bent": of the limbs, or of how the infant is held?
fn is_amid_another(around: &Around<'_>, at: usize, item: ItemIx) -> bool {
    let progress = around.progress;
    let done = around.tokens[..at].iter().any(|token| !token.done_by.is_empty() && !token.done_by.contains(&item));
    done || progress.pending && progress.age <= 1 && !progress.items.contains(&item)
}

/// Words that tell of the present.
const NOW: [&str; 4] = ["today", "now", "currently", "presently"];

// "Birth weight 2,950, today 2,800": of two that are measured alike, the one that is not told as history.
fn of_now(around: &Around<'_>, at: usize, item: ItemIx) -> Option<ItemIx> {
    let own = &around.lexicon.items[item];
    let mut before = around.words[..around.tokens[at].first].iter().rev().take_while(|word| word.stop == Stop::None);
    let now = own.told_as_history && before.any(|word| NOW.contains(&word.plain.as_str()));
    let alike = |other: &Item| !other.told_as_history && other.region == own.region && same_units(other, own);
    now.then(|| around.lexicon.items.iter().position(alike)).flatten()
}

// "Abdominal reflexes present": a group by its name, of a kind that nobody knows.
fn is_another_kind(around: &Around<'_>, at: usize, item: ItemIx) -> bool {
    if around.lexicon.items[item].members.is_empty() {
        return false;
    }
    let names = around.named.iter().zip(around.tokens).filter(|(named, _)| named.contains(&item));
    let nearest = names.map(|(_, token)| token).min_by_key(|token| token.first.abs_diff(around.tokens[at].first));
    let before = nearest.and_then(|name| name.first.checked_sub(1));
    before.is_some_and(|before| is_odd(around.lexicon, around.tokens, around.words, before))
}

// "Moro: arms apart, hands open, then together", "in ventral suspension head in line and the limbs flexed": of the hands and limbs,
// or of what is named before, and has no result yet or one in the same breath?
fn is_under_another(around: &Around<'_>, at: usize, item: ItemIx) -> bool {
    let region = |item: ItemIx| &around.lexicon.items[item].region;
    let Some(name) = (0..at).rev().find(|ix| !around.named[*ix].is_empty()) else { return false };
    let group = |named: ItemIx| around.lexicon.items[named].members.contains(&item);
    let other = |named: &ItemIx| *named != item && !group(*named) && region(*named) != region(item);
    let between = around.words.get(around.tokens[name].past - 1..around.tokens[at].first).unwrap_or_default();
    let in_one_breath = between.iter().all(|word| word.stop == Stop::None);
    (in_one_breath || !around.served.contains(&name)) && around.named[name].iter().all(other)
}

// "The back is curved in ventral suspension": of the back, or of how it is held?
fn is_beside_another(around: &Around<'_>, at: usize, item: ItemIx) -> bool {
    let segment = around.tokens[at].segment;
    let named = around.named.iter().zip(around.tokens).enumerate();
    named
        .filter(|(ix, (named, token))| !named.is_empty() && token.segment == segment && !around.served.contains(ix))
        .any(|(_, (named, _))| !named.contains(&item))
}

/// One way to understand a result.
pub(super) struct Candidate {
    pub(super) item: ItemIx,
    pub(super) value: Value,
    pub(super) strength: Strength,
    pub(super) general: Option<General>,
    pub(super) ask: bool,
}

fn candidates(around: &Around<'_>, at: usize) -> Vec<Candidate> {
    let token = &around.tokens[at];
    let in_play = around.in_play;
    let is_group = |ix: &ItemIx| !token.values.is_empty() && !around.lexicon.items[*ix].members.is_empty();
    let groups: Vec<ItemIx> = in_play.iter().filter(is_group).collect();
    let mut found = Vec::with_capacity(token.values.len() + 8);
    for (item, value, strength) in &token.values {
        let groups = groups.iter().copied().filter(|ix| around.lexicon.items[*ix].members.contains(item));
        for item in groups.chain([*item]) {
            found.push(Candidate {
                item,
                value: Value::Choice(*value),
                strength: *strength,
                general: None,
                ask: false,
            });
        }
    }
    for item in in_play.iter().filter(|_| !token.generals.is_empty()) {
        for general in &token.generals {
            if let Some(value) = general_value(&around.lexicon.items[item], *general) {
                let value = Value::Choice(value);
                found.push(Candidate { item, value, strength: Strength::Loose, general: Some(*general), ask: false });
            }
        }
    }
    if let Some(quantity) = token.quantity.as_ref().filter(|quantity| !counts_something_else(around, at, quantity)) {
        amounts(around, quantity, &mut found);
    }
    found
}

fn amounts(around: &Around<'_>, quantity: &Quantity, found: &mut Vec<Candidate>) {
    // Many items are measured alike: a number is read once a measure.
    let mut readings: Vec<(&Measure, Reading)> = Vec::with_capacity(8);
    for item in around.lexicon.measured.iter().copied() {
        let Some(measure) = &around.lexicon.items[item].measure else { continue };
        if quantity.counting && quantity.spoken.unit().is_none() && measure.units != [Unit::Beat] {
            continue;
        }
        let known = readings.iter().find(|(known, _)| *known == measure).map(|(_, reading)| *reading);
        let reading = known.unwrap_or_else(|| quantity.read_as(measure));
        if known.is_none() {
            readings.push((measure, reading));
        }
        match reading {
            // Weeks and days are a gestation; an age is told in one unit.
            Reading::Is(amount) if has_days(&amount) && !is_in_weeks(&around.lexicon.items[item]) => {}
            // "I grade nought to four": the whole scale is no result.
            Reading::Is(amount) if is_scale(&amount, measure) => {}
            Reading::Is(amount) => found.push(numeric(item, amount, false)),
            Reading::Ask(amount, _) => found.push(numeric(item, amount, true)),
            Reading::Not | Reading::Unsettled => {}
        }
    }
}

// "Two masks", "three goes": a bare number that runs into a word counts that, unless the word is an item.
fn counts_something_else(around: &Around<'_>, at: usize, quantity: &Quantity) -> bool {
    // "Neither one beats": one of the two, not one beat.
    let pronoun = around.words.get(around.tokens[at].first).is_some_and(|word| word.plain == "one")
        && around.tokens[at].first.checked_sub(1).and_then(|before| around.words.get(before)).is_some_and(|word| {
            matches!(
                word.plain.as_str(),
                "neither" | "either" | "each" | "every" | "other" | "that" | "this" | "which" | "another"
            )
        });
    if pronoun {
        return true;
    }
    let next = around.tokens.iter().zip(around.named).find(|(token, _)| token.first == around.tokens[at].past);
    quantity.counts_next_word && next.is_none_or(|(token, named)| named.is_empty() && token.body.is_empty())
}

fn is_in_weeks(item: &Item) -> bool {
    item.measure.as_ref().is_some_and(|measure| measure.units == [Unit::Week])
}

pub(super) fn has_days(amount: &Amount) -> bool {
    let has = |point: Point| matches!(point, Point::Weeks { .. });
    match amount.figure {
        Figure::One(point) => has(point),
        Figure::Range(from, to) => has(from) || has(to),
    }
}

fn is_scale(amount: &Amount, measure: &Measure) -> bool {
    let point = Point::Plain;
    matches!((amount.figure, measure.plausible), (Figure::Range(from, to), Some((least, most)))
        if (from, to) == (point(least), point(most)))
}

fn numeric(item: ItemIx, amount: Amount, ask: bool) -> Candidate {
    Candidate { item, value: Value::Amount(amount), strength: Strength::Say, general: None, ask }
}

/// The value that a general word stands for with an item.
#[must_use]
pub fn general_value(item: &Item, general: General) -> Option<ValueIx> {
    item.by_general[general as usize]
}

/// What a sentence tells: [`Around::told`] and [`Around::in_play`].
pub(super) fn told_in(tokens: &[Token], named: &[Vec<ItemIx>], progress: &Progress) -> (ItemSet, ItemSet) {
    let mut told = ItemSet::default();
    named.iter().for_each(|named| told.add_all(named));
    for token in tokens {
        told.add_all(&token.done_by);
        let alone = token.values.iter().filter(|(_, _, strength)| *strength == Strength::Alone);
        alone.for_each(|(item, ..)| told.add(*item));
    }
    let mut in_play = told.clone();
    in_play.add_all(&progress.items);
    tokens.iter().for_each(|token| in_play.add_all(&token.body));
    (told, in_play)
}

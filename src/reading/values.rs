//! Tokens → results bound to their items.
//! Takes a token that can be a result, the other tokens of its sentence and what is in progress; gives the items it
//! belongs to and the value it is for them, or nothing. Values are typed by their item: a phrase binds only to an item
//! that knows it. Leaves alone sides and stance.
//!
//! "good strong suck, gag present" gives suck strong and gag present, each from the words beside it

use std::collections::BTreeSet;

use crate::lexicon::quantities::{Amount, Figure, Measure, Point, Quantity, Reading, Unit};
use crate::lexicon::{General, Hearing, Item, ItemIx, ItemSet, LanguageWord, Lexicon, Strength, ValueIx};
use crate::reading::company::company;
use crate::reading::in_progress::Progress;
use crate::reading::parts_of_the_body::{body_score, is_nameless};
use crate::reading::tokens::Token;
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

/// The least score of an item named before its result in the same segment.
const NAMED_BEFORE: f32 = 90.0;

/// The least score of an item whose part of the body stands in the sentence.
const BESIDE: f32 = 35.0;

/// The score of an item that only its value tells of.
const NAMELESS: f32 = 30.0;

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
    let told_here = told_here(around);
    for candidate in candidates(around, at) {
        let Some((score, told)) = score(around, &told_here, at, &candidate) else { continue };
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
    // "Belly down on my hand, his head's up, his elbows are bent": of the limbs, or of how the infant is held?
    let progress = around.progress;
    let done = around.tokens[..at].iter().any(|t| !t.done_by.is_empty() && !t.done_by.contains(&candidate.item));
    let other = told == Told::Body && done || told == Told::Body && progress.pending && progress.age <= 1 && !progress.items.contains(&candidate.item);
    let contested = told == Told::Body && score - second < CONTESTED || far || other;
    let items = company(around, at, candidate.item, told, &candidate.value);
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
    let in_play = in_play(around);
    let groups: Vec<ItemIx> = in_play.iter().filter(|ix| !around.lexicon.items[*ix].members.is_empty()).collect();
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
        // Many items are measured alike: a number is read once a measure.
        let mut readings: Vec<(&Measure, Reading)> = Vec::with_capacity(8);
        for item in 0..around.lexicon.items.len() {
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
    found
}

// "Two masks", "three goes": a bare number that runs into a word counts that, unless the word is an item.
fn counts_something_else(around: &Around<'_>, at: usize, quantity: &Quantity) -> bool {
    // "Neither one beats": one of the two, not one beat.
    let pronoun = around.words.get(around.tokens[at].first).is_some_and(|word| word.plain == "one")
        && around.tokens[at].first.checked_sub(1).and_then(|before| around.words.get(before)).is_some_and(|word| {
            matches!(word.plain.as_str(), "neither" | "either" | "each" | "every" | "other" | "that" | "this" | "which" | "another")
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

fn in_play(around: &Around<'_>) -> ItemSet {
    let mut items = told_here(around);
    items.add_all(&around.progress.items);
    around.tokens.iter().for_each(|token| items.add_all(&token.body));
    items
}

// Items that the sentence tells by a name, a manoeuvre or a value that needs none.
fn told_here(around: &Around<'_>) -> ItemSet {
    let mut items = ItemSet::default();
    around.named.iter().for_each(|named| items.add_all(named));
    for token in around.tokens {
        items.add_all(&token.done_by);
        let alone = token.values.iter().filter(|(_, _, strength)| *strength == Strength::Alone);
        alone.for_each(|(item, ..)| items.add(*item));
    }
    items
}

// The figures order the ways in which an item can be told; only their order matters, and a table of cases keeps it.
fn score(around: &Around<'_>, told_here: &ItemSet, at: usize, candidate: &Candidate) -> Option<(f32, Told)> {
    let token = &around.tokens[at];
    let mut best: Option<(f32, Told)> = None;
    let mut offer = |score: f32, told: Told| {
        if best.is_none_or(|(known, _)| score > known) {
            best = Some((score, told));
        }
    };
    let tokens = if told_here.contains(candidate.item) { around.tokens } else { &[] };
    for (ix, other) in tokens.iter().enumerate() {
        if around.named[ix].contains(&candidate.item) {
            if let Some(score) = named_score(around, at, ix, candidate) {
                offer(score, Told::Named);
            }
        } else if ix != at && other.first < token.first && says_item(other, candidate.item) {
            offer(65.0 - (token.segment - other.segment) as f32, Told::Named);
        } else if other.done_by.contains(&candidate.item) && other.first <= token.first {
            offer(70.0 - (token.segment - other.segment) as f32, Told::Named);
        }
    }
    if candidate.strength == Strength::Alone {
        offer(75.0, Told::Named);
    }
    // "Crying.": what begins a sentence needs no name where only a state can be meant.
    let opens = around.words[..token.first].last().is_none_or(|word| word.stop > Stop::Comma);
    if around.lexicon.items[candidate.item].keeps_all && candidate.strength == Strength::Say && opens {
        offer(BESIDE + 5.0, Told::Body);
    }
    if is_nameless(around, token, candidate) {
        offer(NAMELESS, Told::Body);
    }
    if let Some(score) = progress_score(around, at, candidate) {
        offer(score, Told::InProgress);
    }
    if let Some(score) = body_score(around, at, candidate) {
        offer(score, Told::Body);
    }
    let (score, told) = best?;
    if is_excepted(around, at, candidate.item) {
        return None;
    }
    // "Strong." belongs to what is in progress only if that can be strong.
    let item = &around.lexicon.items[candidate.item];
    let undeclared = candidate.general.is_some_and(|general| !item.general.contains_key(&general));
    let praise = matches!(candidate.general, Some(General::Good | General::Normal));
    // ... and praise of a state ("State, lovely") is no state.
    let other_than_named = told != Told::Named && undeclared && candidate.general == Some(General::Good);
    if praise && (item.keeps_all || other_than_named) {
        return None;
    }
    // A number that cannot be the item's is another thing's number, unless the item was named for it.
    if matches!(&candidate.value, Value::Amount(amount) if amount.outside) && score < NAMED_BEFORE {
        return None;
    }
    Some((score + fit(around, token, candidate), told))
}

// "Reflexes three plus, except the ankles, those are two plus": behind the exception nothing is said of the rest.
fn is_excepted(around: &Around<'_>, at: usize, item: ItemIx) -> bool {
    let Some(except) = around.tokens[..at].iter().rposition(|token| token.is(LanguageWord::Except)) else {
        return false;
    };
    let tells = |ix: &usize| !around.named[*ix].is_empty() || !around.tokens[*ix].body.is_empty();
    let told = |ix: usize| around.named[ix].contains(&item) || around.tokens[ix].body.contains(&item);
    let mut behind = (except + 1..around.tokens.len()).filter(tells).peekable();
    behind.peek().is_some() && !behind.any(told)
}

// "The cry is high-pitched, I mean weak": a value that needs no item told which one is spoken of.
fn says_item(token: &Token, item: ItemIx) -> bool {
    token.names.is_empty() && token.values.iter().any(|(of, _, strength)| *of == item && *strength == Strength::Alone)
}

fn fit(around: &Around<'_>, token: &Token, candidate: &Candidate) -> f32 {
    let strength = match candidate.strength {
        Strength::Alone => 3.0,
        Strength::Say => 2.0,
        Strength::Loose => 0.0,
    };
    let general = if candidate.general.is_some() { -1.0 } else { 0.0 };
    let unit = token.quantity.as_ref().and_then(|quantity| quantity.spoken.unit()).map_or(0.0, |_| 1.0);
    let region = around
        .progress
        .items
        .first()
        .is_some_and(|item| around.lexicon.items[*item].region == around.lexicon.items[candidate.item].region);
    let doubt = match &candidate.value {
        Value::Amount(amount) if amount.outside => -20.0,
        _ if candidate.ask => -5.0,
        _ => 0.0,
    };
    strength + general + unit + doubt + if region { 3.0 } else { 0.0 }
}

fn named_score(around: &Around<'_>, at: usize, name_at: usize, candidate: &Candidate) -> Option<f32> {
    let (token, name) = (&around.tokens[at], &around.tokens[name_at]);
    let served = if around.served.contains(&name_at) { 25.0 } else { 0.0 };
    let distance = |from: usize, to: usize| from.saturating_sub(to) as f32 * 0.5;
    if name_at == at {
        return Some(100.0);
    }
    if name.segment == token.segment {
        return Some(if name.first < token.first {
            100.0 - distance(token.first, name.past)
        } else {
            95.0 - distance(name.first, token.past) - served
        });
    }
    if name.segment < token.segment {
        return Some(82.0 - 2.0 * (token.segment - name.segment) as f32);
    }
    // "Not tested: ventral suspension."
    let decided = matches!(candidate.general, Some(General::NotTested | General::NotElicited));
    // "Brisk, both knees": a value may come a segment before its item, if the item knows it by more than a general word.
    let next = name.segment == token.segment + 1
        && (decided || candidate.general.is_none() && candidate.strength != Strength::Loose);
    (next && served == 0.0).then_some(40.0)
}

/// Words that agree with somebody, or open what comes next, more often than they tell a result.
const AGREEING: [&str; 5] = ["okay", "ok", "alright", "all right", "right"];

fn agrees(around: &Around<'_>, token: &Token) -> bool {
    let words: Vec<&str> = around.words[token.first..token.past].iter().map(|word| word.plain.as_str()).collect();
    AGREEING.contains(&words.join(" ").as_str())
}

fn progress_score(around: &Around<'_>, at: usize, candidate: &Candidate) -> Option<f32> {
    let token = &around.tokens[at];
    let progress = around.progress;
    if !progress.items.contains(&candidate.item) {
        return None;
    }
    // "There's nothing in the way of clonus": what is there is what is named.
    let general = candidate.general.is_some();
    let named_behind = |(named, other): (&Vec<ItemIx>, &Token)| {
        general
            && other.first > token.first
            && other.segment == token.segment
            && !named.is_empty()
            && !named.contains(&candidate.item)
    };
    if around.named.iter().zip(around.tokens).any(named_behind) {
        return None;
    }
    // Another item named before in the sentence has taken over.
    let taken_over = around
        .named
        .iter()
        .zip(around.tokens)
        .any(|(named, other)| other.first < token.first && !named.is_empty() && !named.contains(&candidate.item));
    if taken_over {
        return None;
    }
    // "Their bloods are normal", "Friday's covered, that's good": praise among strange words is not of what is in progress.
    let praise = matches!(candidate.general, Some(General::Good | General::Normal));
    if praise && agrees(around, token) {
        return None;
    }
    if praise && (around.strange[..=token.segment].iter().any(|count| *count > 0) || progress.digressed) {
        return None;
    }
    // "No jitters, because somebody always does."
    let segment_opens = around.words[..token.first].iter().rev().take_while(|word| word.stop == Stop::None && word.plain != "because");
    let reason = candidate.strength == Strength::Loose
        && segment_opens.count() < token.first
        && around.words[..token.first].iter().rev().take_while(|word| word.stop == Stop::None).any(|word| word.plain == "because");
    if reason {
        return None;
    }
    let fresh = progress.pending || progress.asked;
    if (candidate.general.is_some() || candidate.strength == Strength::Loose)
        && !(fresh || around.has_side && progress.age <= 2)
    {
        return None;
    }
    // "A girl, two days old. It wasn't anything you did.": a fact about the infant is told, not tested.
    let decided = matches!(candidate.general, Some(General::NotTested | General::NotElicited));
    if decided && around.infant.contains(candidate.item) {
        return None;
    }
    // The part of the body spoken of last in the sentence, or beside the result, is another item's.
    let last_body = around.tokens[..at].iter().rev().find(|other| !other.body.is_empty());
    let beside = around.tokens.iter().find(|other| other.segment == token.segment && !other.body.is_empty());
    if beside.is_some_and(|other| !other.body.contains(&candidate.item)) && candidate.strength != Strength::Alone && std::env::var("NOBESIDE").is_err() {
        return None;
    }
    let elsewhere = beside.or(last_body).is_some_and(|other| !other.body.contains(&candidate.item));
    // "Rooting, I didn't try. The left foot's jerking again. There.": what is there was spoken of since.
    let turned =
        !progress.body.is_empty() && progress.body_age < progress.age && !progress.body.contains(&candidate.item);
    if candidate.general.is_some() && turned {
        return None;
    }
    let away = if elsewhere { 30.0 } else { 0.0 };
    Some(60.0 - 4.0 * progress.age as f32 - away + if fresh { 5.0 } else { 0.0 })
}

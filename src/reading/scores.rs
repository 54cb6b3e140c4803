//! How well an item is told for a result.
//! Takes a way to understand a result and what surrounds it; gives a score, higher where the item is told more surely, and
//! how it was told. Leaves alone which of several ways is taken (`values`).
//!
//! "good strong suck, gag present": "present" is told of gag by a name right before it, of suck by one further away

use crate::lexicon::{General, ItemIx, LanguageWord, Strength};
use crate::reading::parts_of_the_body::{body_score, is_nameless};
use crate::reading::tokens::Token;
use crate::reading::values::{Around, BESIDE, Candidate, Told, Value};
use crate::speech::Stop;

/// The least score of an item named before its result in the same segment.
const NAMED_BEFORE: f32 = 90.0;

/// The score of an item that only its value tells of.
const NAMELESS: f32 = 30.0;

// The figures order the ways in which an item can be told; only their order matters, and a table of cases keeps it.
pub(super) fn score(around: &Around<'_>, at: usize, candidate: &Candidate) -> Option<(f32, Told)> {
    let token = &around.tokens[at];
    let mut best: Option<(f32, Told)> = None;
    let mut offer = |score: f32, told: Told| {
        if best.is_none_or(|(known, _)| score > known) {
            best = Some((score, told));
        }
    };
    let tokens = if around.told.contains(candidate.item) { around.tokens } else { &[] };
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
    let kept = !is_excepted(around, at, candidate.item) && is_kept(around, candidate, (score, told));
    kept.then(|| (score + fit(around, token, candidate), told))
}

// Whether an item that is told for a result can have it at all.
fn is_kept(around: &Around<'_>, candidate: &Candidate, (score, told): (f32, Told)) -> bool {
    // "Strong." belongs to what is in progress only if that can be strong.
    let item = &around.lexicon.items[candidate.item];
    let undeclared = candidate.general.is_some_and(|general| !item.general.contains_key(&general));
    let praise = matches!(candidate.general, Some(General::Good | General::Normal));
    // ... and praise of a state ("State, lovely") is no state.
    let other_than_named = told != Told::Named && undeclared && candidate.general == Some(General::Good);
    // A number that cannot be the item's is another thing's number, unless the item was named for it.
    let outside = matches!(&candidate.value, Value::Amount(amount) if amount.outside) && score < NAMED_BEFORE;
    !(praise && (item.keeps_all || other_than_named)) && !outside
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
    let progress = around.progress;
    if !progress.items.contains(&candidate.item)
        || is_another_items(around, at, candidate)
        || is_talk(around, &around.tokens[at], candidate)
    {
        return None;
    }
    let fresh = progress.pending || progress.asked;
    if (candidate.general.is_some() || candidate.strength == Strength::Loose)
        && !(fresh || around.has_side && progress.age <= 2)
    {
        return None;
    }
    // The part of the body spoken of last in the sentence is another item's.
    let last_body = around.tokens[..at].iter().rev().find(|other| !other.body.is_empty());
    let elsewhere = last_body.is_some_and(|other| !other.body.contains(&candidate.item))
        && !body_beside(around, at).is_some_and(|other| other.body.contains(&candidate.item));
    let away = if elsewhere { 30.0 } else { 0.0 };
    Some(60.0 - 4.0 * progress.age as f32 - away + if fresh { 5.0 } else { 0.0 })
}

fn body_beside<'a>(around: &'a Around<'_>, at: usize) -> Option<&'a Token> {
    let segment = around.tokens[at].segment;
    around.tokens.iter().find(|other| other.segment == segment && !other.body.is_empty())
}

// Whether a result is not of what is in progress, since the sentence, or the one before, turned to something else.
fn is_another_items(around: &Around<'_>, at: usize, candidate: &Candidate) -> bool {
    let (token, progress) = (&around.tokens[at], around.progress);
    let general = candidate.general.is_some();
    let other_named = |named: &[ItemIx]| !named.is_empty() && !named.contains(&candidate.item);
    let named = || around.named.iter().zip(around.tokens).filter(|(named, _)| other_named(named));
    // "There's nothing in the way of clonus": what is there is what is named.
    let behind = |other: &Token| general && other.first > token.first && other.segment == token.segment;
    // Another item named before in the sentence has taken over.
    if named().any(|(_, other)| other.first < token.first || behind(other)) {
        return true;
    }
    // "Eyes half open": the part of the body beside it is another item's.
    if body_beside(around, at).is_some_and(|other| !other.body.contains(&candidate.item))
        && candidate.strength != Strength::Alone
    {
        return true;
    }
    // "Rooting, I didn't try. The left foot's jerking again. There.": what is there was spoken of since.
    let turned =
        !progress.body.is_empty() && progress.body_age < progress.age && !progress.body.contains(&candidate.item);
    general && turned
}

// Whether a word that can be a result is only talk.
fn is_talk(around: &Around<'_>, token: &Token, candidate: &Candidate) -> bool {
    // "Their bloods are normal", "Friday's covered, that's good": praise among strange words is not of what is in progress.
    let praise = matches!(candidate.general, Some(General::Good | General::Normal));
    let strange = || around.strange[..=token.segment].iter().any(|count| *count > 0) || around.progress.digressed;
    if praise && (agrees(around, token) || strange()) {
        return true;
    }
    // "No jitters, because somebody always does."
    let mut before = around.words[..token.first].iter().rev().take_while(|word| word.stop == Stop::None);
    if candidate.strength == Strength::Loose && before.any(|word| word.plain == "because") {
        return true;
    }
    // "A girl, two days old. It wasn't anything you did.": a fact about the infant is told, not tested.
    let decided = matches!(candidate.general, Some(General::NotTested | General::NotElicited));
    decided && around.infant.contains(candidate.item)
}

//! Items told by a part of the body.
//! Takes a result, one way to understand it and what surrounds it; gives how well a part of the body, or a unit, tells that
//! the result is the item's. Leaves alone items that are named or in progress (`values`).
//!
//! "Left biceps two, left knee three": the knee turns from the biceps reflex to the knee jerk

use crate::lexicon::quantities::Unit;
use crate::lexicon::{General, Hearing, ItemIx, LanguageWord, Strength};
use crate::reading::company::is_like;
use crate::reading::tokens::Token;
use crate::reading::values::{Around, Candidate, Value, has_days};

pub(super) fn body_score(around: &Around<'_>, at: usize, candidate: &Candidate) -> Option<f32> {
    let decided = matches!(candidate.general, Some(General::NotTested | General::NotElicited));
    if candidate.strength == Strength::Loose && !decided {
        return None;
    }
    let token = &around.tokens[at];
    let item = &around.lexicon.items[candidate.item];
    let said = token.quantity.as_ref().and_then(|quantity| quantity.spoken.unit());
    // "Forty plus two" is weeks and days without the words.
    let unit = match &candidate.value {
        Value::Amount(amount) if has_days(amount) && !candidate.ask => Some(amount.unit),
        _ => said,
    };
    let says = |units: &[String]| units.iter().any(|known| unit.and_then(Unit::written) == Some(known.as_str()));
    let unit_alone = says(&item.unit_alone) || around.at_start.contains(candidate.item) && says(&item.unit_at_start);
    if unit_alone && !is_span_of_time(around, token) {
        return Some(45.0);
    }
    let in_segment =
        around.tokens.iter().any(|other| other.segment == token.segment && other.body.contains(&candidate.item));
    let before =
        around.tokens.iter().any(|other| other.segment < token.segment && other.body.contains(&candidate.item));
    let heading = around.progress.heading.contains(&candidate.item);
    let turned = has_turned(around, token, candidate);
    let named_here = around
        .named
        .iter()
        .zip(around.tokens)
        .any(|(named, other)| other.segment == token.segment && !named.is_empty());
    let excepted = || around.tokens[..at].iter().any(|other| other.is(LanguageWord::Except));
    match (in_segment, before) {
        (true, _) if turned && !named_here => Some(86.0),
        (true, _) => Some(50.0),
        (false, _) if heading => Some(44.0),
        // "Reflexes two, except the left ankle, which is three."
        (false, true) if turned && !named_here && excepted() => Some(84.0),
        (false, true) => Some(40.0),
        (false, false) => around.progress.body.contains(&candidate.item).then_some(20.0),
    }
}

// "Left biceps two, left knee three", "arms reduced, legs normal": the part of the body beside a result turns to the
// like item there, unless it is where the item named is looked for: "the biceps reflex, present at both elbows".
fn has_turned(around: &Around<'_>, token: &Token, candidate: &Candidate) -> bool {
    let looked_for =
        |item: ItemIx| around.tokens.iter().any(|other| other.segment == token.segment && other.body.contains(&item));
    around.named.iter().zip(around.tokens).any(|(named, other)| {
        other.segment < token.segment
            && named.iter().any(|ix| {
                *ix != candidate.item
                    && !looked_for(*ix)
                    && (is_like(around.lexicon, *ix, candidate.item, &candidate.value)
                        || around.lexicon.items[*ix].members.contains(&candidate.item))
            })
    })
}

// "Such as widened": where names are misheard, a value that only one item has tells of it, though not surely.
pub(super) fn is_nameless(around: &Around<'_>, token: &Token, candidate: &Candidate) -> bool {
    around.hearing == Hearing::Poorly
        && candidate.strength == Strength::Say
        && candidate.general.is_none()
        && !token.values.is_empty()
        && token.values.iter().all(|(item, ..)| *item == candidate.item)
}

/// Words before a number of days or hours that tell how long something took, or when.
const SPANS: [&str; 12] =
    ["for", "in", "within", "after", "every", "first", "last", "past", "next", "another", "until", "before"];

// "He was ventilated for two days" tells no age.
fn is_span_of_time(around: &Around<'_>, token: &Token) -> bool {
    let before = token.first.checked_sub(1).and_then(|at| around.words.get(at));
    before.is_some_and(|word| SPANS.contains(&word.plain.as_str()))
}

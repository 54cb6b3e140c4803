//! Items that share one result.
//! Takes the item that a result was bound to and what surrounds it; gives all items that the result is said of.
//! Leaves alone groups: they are items of their own.
//!
//! "Suck and gag both weak" gives suck and gag

use crate::lexicon::{ItemIx, Lexicon};
use crate::reading::tokens::Token;
use crate::reading::values::{Around, Told, Value};

// "Galant and tonic neck reflex absent": names without a result between them share the one that follows.
pub(super) fn company(around: &Around<'_>, at: usize, item: ItemIx, told: Told, value: &Value) -> Vec<ItemIx> {
    if told == Told::InProgress {
        let accepts = |other: &ItemIx| same_values(around.lexicon, item, *other);
        return if around.progress.items.len() > 1 {
            around.progress.items.iter().copied().filter(accepts).collect()
        } else {
            vec![item]
        };
    }
    let Some(name_at) = around.named.iter().position(|named| named.contains(&item)) else { return vec![item] };
    let mut items = vec![item];
    let behind = around.tokens[name_at].first > around.tokens[at].first;
    let mut ix = name_at;
    loop {
        let next = if behind { ix + 1 } else { ix.wrapping_sub(1) };
        let Some(other) = around.named.get(next) else { break };
        let near = around.tokens[next].segment.abs_diff(around.tokens[ix].segment) <= 1
            && gap(&around.tokens[next], &around.tokens[ix]) <= 3;
        match other.first() {
            Some(shared)
                if near && takes_too(around.lexicon, item, *shared, value) && !around.served.contains(&next) =>
            {
                items.push(*shared);
            }
            _ => break,
        }
        ix = next;
    }
    items.sort_unstable();
    items.dedup();
    items
}

// Words between two tokens.
fn gap(a: &Token, b: &Token) -> usize {
    a.first.max(b.first).saturating_sub(a.past.min(b.past))
}

// "Suck and gag both weak": an item of other values takes the one that it knows as well; numbers only between like items.
fn takes_too(lexicon: &Lexicon, item: ItemIx, other: ItemIx, value: &Value) -> bool {
    match value {
        Value::Choice(ix) => lexicon.items[other].value(&lexicon.items[item].values[*ix].id).is_some(),
        Value::Amount(_) => same_values(lexicon, item, other),
    }
}

pub(super) fn same_values(lexicon: &Lexicon, a: ItemIx, b: ItemIx) -> bool {
    let ids = |ix: ItemIx| lexicon.items[ix].values.iter().map(|value| &value.id).collect::<Vec<_>>();
    a == b || ids(a) == ids(b)
}

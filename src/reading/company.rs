//! Items that share one result.
//! Takes the item that a result was bound to and what surrounds it; gives all items that the result is said of.
//! Leaves alone groups: they are items of their own.
//!
//! "Suck and gag both weak" gives suck and gag

use crate::lexicon::{Item, ItemIx, Lexicon};
use crate::reading::tokens::Token;
use crate::reading::values::{Around, Told, Value};

// "Galant and tonic neck reflex absent": names without a result between them share the one that follows.
pub(super) fn company(around: &Around<'_>, at: usize, item: ItemIx, told: Told, value: &Value) -> Vec<ItemIx> {
    if told == Told::InProgress {
        let accepts = |other: &ItemIx| is_like(around.lexicon, item, *other, value);
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
                if near
                    && !is_heading(around.lexicon, item, *shared)
                    && takes_too(around.lexicon, item, *shared, value)
                    && !around.served.contains(&next) =>
            {
                items.push(*shared);
            }
            _ => break,
        }
        ix = next;
    }
    items.sort_unstable();
    items.dedup();
    // The value is a value of the item it was bound to: that one stays in front.
    items.sort_by_key(|other| *other != item);
    items
}

// "Reflexes: Moro complete": a group ahead of an item of its own says what is looked at next.
fn is_heading(lexicon: &Lexicon, item: ItemIx, other: ItemIx) -> bool {
    lexicon.items[item].members.is_empty() && !lexicon.items[other].members.is_empty()
}

// Words between two tokens.
fn gap(a: &Token, b: &Token) -> usize {
    a.first.max(b.first).saturating_sub(a.past.min(b.past))
}

// "Suck and gag both weak": an item of other values takes the one that it knows as well; numbers only between like items.
fn takes_too(lexicon: &Lexicon, item: ItemIx, other: ItemIx, value: &Value) -> bool {
    match value {
        Value::Choice(ix) => lexicon.items[other].value(&lexicon.items[item].values[*ix].id).is_some(),
        Value::Amount(_) => is_like(lexicon, item, other, value),
    }
}

// Items of the same values; a number is only shared by items that are measured alike: kilograms are no gestational age.
pub(super) fn is_like(lexicon: &Lexicon, a: ItemIx, b: ItemIx, value: &Value) -> bool {
    let measured_alike = || same_units(&lexicon.items[a], &lexicon.items[b]);
    a == b || same_values(lexicon, a, b) && (matches!(value, Value::Choice(_)) || measured_alike())
}

/// Whether two items are measured in the same units, or neither is measured.
pub(super) fn same_units(a: &Item, b: &Item) -> bool {
    a.measure.as_ref().map(|measure| &measure.units) == b.measure.as_ref().map(|measure| &measure.units)
}

/// Whether two items have the same values.
pub(super) fn same_values(lexicon: &Lexicon, a: ItemIx, b: ItemIx) -> bool {
    let ids = |ix: ItemIx| lexicon.items[ix].values.iter().map(|value| &value.id);
    ids(a).eq(ids(b))
}

#[cfg(test)]
mod tests {
    use crate::lexicon::Lexicon;
    use crate::reading::{self, Value};
    use crate::speech::Utterance;

    #[track_caller]
    fn check(said: &str, statements: &[&str]) {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        let reading = reading::read(&LEXICON, &[Utterance::from_text(said)]);
        let mut told: Vec<String> = Vec::new();
        for statement in &reading.statements {
            let item = &LEXICON.items[statement.item];
            let value = match &statement.value {
                Value::Choice(value) => item.values[*value].id.clone(),
                Value::Amount(amount) => amount.to_string(),
            };
            told.push(format!("{} {} {value}", item.id, statement.side.name()));
        }
        told.sort();
        assert_eq!(told, statements, "said: {said}");
    }

    #[test]
    fn a_shared_value_is_that_of_the_item_it_was_bound_to() {
        check(
            "grimace soft spots holding off",
            &["anterior-fontanelle none not-tested", "facial-movement none not-tested"],
        );
        check("Suck and gag both weak", &["gag none weak", "suck none weak"]);
        check("Reflexes: suck strong", &["suck none strong"]);
    }

    #[test]
    fn a_number_is_shared_only_by_items_that_are_measured_alike() {
        check("Gestational age, weight three point two kilos", &["weight none 3.2kg"]);
        check("Biceps and triceps both two plus", &["biceps-reflex both 2grade", "triceps-reflex both 2grade"]);
    }
}

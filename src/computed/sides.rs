//! Left beside right.
//! Takes what stands; gives paired items whose sides differ, and those of which one side alone has a result. Leaves alone whether
//! a difference matters (`prompts`).
//!
//! 90° left and 110° right: a difference of 20°

use super::conditions::extent_of;
use super::held::Held;
use super::{Difference, OneSided};
use crate::lexicon::Lexicon;
use crate::reading::Side;
use crate::record::Figures;
use crate::record::words::figures_words;

/// Paired items, in the order in which they were first found, with what stands left and right.
fn pairs<'a>(lexicon: &Lexicon, held: &'a [Held]) -> Vec<[Option<&'a Held>; 2]> {
    let mut items: Vec<&str> = Vec::new();
    for one in held {
        let paired = lexicon.item_named(&one.item).is_some_and(|item| item.paired);
        if paired && !items.contains(&one.item.as_str()) {
            items.push(&one.item);
        }
    }
    let on = |item: &str, side: Side| held.iter().find(|one| one.item == item && one.side == side);
    items.into_iter().map(|item| [on(item, Side::Left), on(item, Side::Right)]).collect()
}

/// Paired items whose sides differ.
pub(super) fn differences(lexicon: &Lexicon, held: &[Held]) -> Vec<Difference> {
    let differing = pairs(lexicon, held).into_iter().filter_map(|pair| {
        let [Some(left), Some(right)] = pair else { return None };
        let results = left.is_result() && right.is_result();
        // "normal" beside "present" may be the same in other words: neither is said to differ.
        let comparable =
            left.is_specific() == right.is_specific() || [left, right].iter().any(|one| one.value == "abnormal");
        (results && comparable && left.value != right.value).then(|| Difference {
            item: left.item.clone(),
            name: left.name.clone(),
            left: (left.finding, left.value_words()),
            right: (right.finding, right.value_words()),
            by: by(left, right),
        })
    });
    differing.collect()
}

fn by(left: &Held, right: &Held) -> Option<String> {
    let ((one, unit), (other, its)) = (extent_of(left)?, extent_of(right)?);
    let apart = (one.single()? - other.single()?).abs();
    // A tenth of a unit is the finest that is said of anything with sides.
    let rounded = (apart * 10.0).round() / 10.0;
    let figures = Figures { from: rounded.to_string(), to: None, bound: "is", unit: unit.to_owned() };
    (unit == its).then(|| if unit == "grade" { rounded.to_string() } else { figures_words(&figures) })
}

/// Paired items of which one side alone has a result.
pub(super) fn one_sided(lexicon: &Lexicon, held: &[Held]) -> Vec<OneSided> {
    let lone = pairs(lexicon, held).into_iter().filter_map(|[left, right]| {
        let (one, other) = match (left.filter(|one| one.is_result()), right.filter(|one| one.is_result())) {
            (Some(left), None) => (left, right),
            (None, Some(right)) => (right, left),
            _ => return None,
        };
        let other = other.map_or_else(|| "not mentioned".to_owned(), Held::value_words);
        Some(OneSided { item: one.item.clone(), name: one.name.clone(), side: one.side, other })
    });
    lone.collect()
}

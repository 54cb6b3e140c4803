//! A draft → what somebody standing away needs to know of it.
//! Takes the draft and the one before; gives it with what is new in it and what of the chosen set is left. Leaves alone how it
//! looks.
//!
//! "Scarf sign to the midline on the left" leaves the scarf sign on the right

use crate::lexicon::Lexicon;
use crate::live::{Left, Picture};
use crate::reading::Side;
use crate::record::{DraftFinding, DraftRecord};
use crate::speech::Utterance;

/// The picture of a draft.
pub(super) fn of(lexicon: &Lexicon, set: &str, draft: DraftRecord, before: Option<&Picture>) -> Picture {
    let known = |finding: &DraftFinding| {
        before.is_none_or(|before| {
            before.draft.findings.iter().any(|old| {
                (&old.item, old.side, &old.value, old.approx)
                    == (&finding.item, finding.side, &finding.value, finding.approx)
            })
        })
    };
    let newest = (0..).zip(&draft.findings).filter(|(_, finding)| !known(finding)).map(|(at, _)| at).collect();
    let left = left(lexicon, set, &draft);
    Picture { draft, newest, left }
}

/// What of a set has not been heard of, in the order of the lexicon.
fn left(lexicon: &Lexicon, set: &str, draft: &DraftRecord) -> Vec<Left> {
    let mut left: Vec<Left> = Vec::new();
    let sets = lexicon.sets();
    let of_set = sets.iter().find(|one| one.name == set).or(sets.first()).map(|set| &set.items[..]).unwrap_or_default();
    for item in of_set {
        let Some(item) = lexicon.items.get(*item) else { continue };
        let sides: Vec<Side> =
            draft.all_findings().filter(|found| found.item == item.id).map(|found| found.side).collect();
        let name = match &sides[..] {
            [] => item.name.clone(),
            _ if !item.paired || sides.contains(&Side::Unstated) => continue,
            sides if !sides.contains(&Side::Left) => format!("{}, {}", item.name, Side::Left.name()),
            sides if !sides.contains(&Side::Right) => format!("{}, {}", item.name, Side::Right.name()),
            _ => continue,
        };
        match left.iter_mut().find(|left| left.region == item.region) {
            Some(region) => region.items.push(name),
            None => left.push(Left { region: item.region.clone(), items: vec![name] }),
        }
    }
    left
}

/// What was said, in one line.
pub(super) fn text_of(said: &[Utterance]) -> String {
    let texts: Vec<&str> = said.iter().map(|said| said.text.trim()).filter(|text| !text.is_empty()).collect();
    texts.join(" ")
}

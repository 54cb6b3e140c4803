//! Answers to what is asked while both hands are on the infant.
//! Takes the draft as it stands; gives a title, lines to be read from afar and the same to be spoken. Leaves alone whether they
//! are shown or spoken. Nothing is judged: what was said is repeated, with its doubts.
//!
//! "What did I say for the left knee?" gives "knee jerk left: brisk"

use crate::export::words::line_of;
use crate::lexicon::{ItemIx, Lexicon};
use crate::live::{Answer, Picture};
use crate::reading::Side;
use crate::record::DraftFinding;

/// Lines of an answer, at most: more cannot be read from afar, nor listened to.
const MOST: usize = 8;

/// What is left of the set.
pub(super) fn what_is_left(picture: &Picture) -> Answer {
    let title = "Still to do".to_owned();
    if picture.left.is_empty() {
        return answer(title, vec!["Everything of the set has been spoken of.".to_owned()]);
    }
    let line = |left: &crate::live::Left| format!("{}: {}", left.region, left.items.join(", "));
    answer(title, picture.left.iter().map(line).collect())
}

/// What was said of some items.
pub(super) fn what_was_said(lexicon: &Lexicon, picture: &Picture, about: &[(ItemIx, Side)]) -> Answer {
    let mut lines = Vec::new();
    for (item, side) in about {
        let Some(item) = lexicon.items.get(*item) else { continue };
        let said = picture.draft.all_findings().filter(|found| found.item == item.id && is_meant(found.side, *side));
        lines.extend(said.map(line));
    }
    if lines.is_empty() {
        let names: Vec<&str> =
            about.iter().filter_map(|(item, _)| lexicon.items.get(*item)).map(|item| item.name.as_str()).collect();
        let names = if names.len() > MOST { String::new() } else { format!(": {}", names.join(", ")) };
        return answer("You said".to_owned(), vec![format!("Nothing yet{names}.")]);
    }
    answer("You said".to_owned(), lines)
}

// Of a side that was not said, both may be meant.
fn is_meant(found: Side, wanted: Side) -> bool {
    found == wanted || !matches!(wanted, Side::Left | Side::Right) || matches!(found, Side::Unstated | Side::None)
}

/// A finding in a line, with its doubt.
pub(super) fn line(finding: &DraftFinding) -> String {
    format!("{}{}", line_of(finding), if finding.is_clear() { "" } else { " (needs your eye)" })
}

fn answer(title: String, mut lines: Vec<String>) -> Answer {
    if lines.len() > MOST {
        let more = lines.len() - (MOST - 1);
        lines.truncate(MOST - 1);
        lines.push(format!("and {more} more"));
    }
    let aloud = format!("{}. {}", title, lines.join(". ").replace('°', " degrees"));
    Answer { title, lines, aloud }
}

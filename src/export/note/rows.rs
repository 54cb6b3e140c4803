//! Findings as lines of a note.
//! Takes what stands; gives rows, left and right of the same value joined. Leaves alone the order of sections.
//!
//! arm recoil brisk on the left and brisk on the right is one row, "arm recoil both brisk"

use crate::computed::held::Held;
use crate::reading::Side;
use crate::record::FindingId;

/// One or two findings in a line.
pub(super) struct Row<'a> {
    pub(super) held: &'a Held,
    pub(super) findings: Vec<FindingId>,
    /// "left", "right", "both", "side?", or nothing.
    side: &'static str,
}

impl Row<'_> {
    /// What was examined, with its side: "arm recoil, both".
    pub(super) fn place(&self) -> String {
        if self.side.is_empty() { self.held.name.clone() } else { format!("{} {}", self.held.name, self.side) }
    }

    /// What was found: "about 95° (said with doubt)".
    pub(super) fn value(&self) -> String {
        let doubt = if self.held.hedged { " (said with doubt)" } else { "" };
        format!("{}{doubt}", self.held.value_words())
    }

    /// What was found, behind its side: "left brisk".
    pub(super) fn side_and_value(&self) -> String {
        format!("{} {}", self.side, self.value()).trim_start().to_owned()
    }

    /// Both in a few words.
    pub(super) fn words(&self) -> String {
        format!("{} {}", self.place(), self.value())
    }
}

/// Rows in the order of what stands.
pub(super) fn rows<'a>(held: impl IntoIterator<Item = &'a Held>) -> Vec<Row<'a>> {
    let mut rows: Vec<Row<'a>> = Vec::new();
    for one in held {
        let other_side = |row: &&mut Row<'_>| {
            let sides = [row.held.side, one.side];
            row.findings.len() == 1
                && (sides == [Side::Left, Side::Right] || sides == [Side::Right, Side::Left])
                && row.held.item == one.item
                && (&row.held.value, row.held.approx, row.held.hedged) == (&one.value, one.approx, one.hedged)
        };
        match rows.iter_mut().find(other_side) {
            Some(row) => {
                row.findings.push(one.finding);
                row.side = "both";
            }
            None => {
                let side = crate::record::words::side_words(one.side);
                rows.push(Row { held: one, findings: vec![one.finding], side });
            }
        }
    }
    rows
}

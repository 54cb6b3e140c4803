//! Draft record → rows for comparing with annotated findings.
//! Takes a draft; gives a header and one row a finding, tab-separated, with the columns of the corpus and two more.
//! Left and right of one statement are one row `both`. Leaves alone transcript, history and notices.
//!
//! "Each elbow stops at the midline" gives the row scarf-sign, both, to-midline, no flags, yes, no reasons, the words

use crate::record::{DraftFinding, DraftRecord};

/// The columns. The first four are those that annotated findings begin with.
pub const HEADER: &str = "item\tside\tvalue\tflags\tclear\treasons\tquote";

/// The rows of a draft, a line each, with a line feed at the end.
#[must_use]
pub fn to_tsv(draft: &DraftRecord) -> String {
    let mut text = format!("{HEADER}\n");
    let findings: Vec<&DraftFinding> = draft.all_findings().collect();
    for (finding, side) in with_sides_joined(&findings) {
        let clear = if finding.is_clear() { "yes" } else { "no" };
        let reasons: Vec<&str> = finding.reasons.iter().map(|reason| reason.words()).collect();
        let (flags, reasons) = (finding.flags().join(","), reasons.join(", "));
        let cells = [&finding.item, side, &finding.value, &flags, clear, &reasons, &finding.proof.quote.text];
        text.push_str(&cells.map(one_cell).join("\t"));
        text.push('\n');
    }
    text
}

/// Findings with the name of their side, left and right of one statement joined as `both`, in the order given.
#[must_use]
pub fn with_sides_joined<'a>(findings: &[&'a DraftFinding]) -> Vec<(&'a DraftFinding, &'static str)> {
    let mut joined: Vec<(&DraftFinding, &str)> = Vec::new();
    for finding in findings {
        match joined.iter_mut().find(|(known, side)| *side != "both" && known.is_other_side_of(finding)) {
            Some((_, side)) => *side = "both",
            None => joined.push((finding, finding.side.name())),
        }
    }
    joined
}

// A quote is one line of the narration, but a text without line feeds may hold tabs.
fn one_cell(text: &str) -> String {
    text.replace(['\t', '\n', '\r'], " ")
}

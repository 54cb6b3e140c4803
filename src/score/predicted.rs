//! Draft record → findings in the words of the corpus.
//! Takes a draft; gives one [`Predicted`] a finding and side. Leaves alone what was annotated.
//!
//! A draft with "scarf sign, left, to midline" gives `scarf-sign left to-midline`

use crate::record::{DraftFinding, DraftRecord};
use crate::score::gold::GoldRow;
use crate::score::tally::Predicted;

/// The findings of a draft, context first.
#[must_use]
pub fn predicted(draft: &DraftRecord) -> Vec<Predicted> {
    draft.all_findings().map(one).collect()
}

fn one(finding: &DraftFinding) -> Predicted {
    let row = GoldRow {
        item: finding.item.clone(),
        side: finding.side.name().to_owned(),
        value: finding.value.clone(),
        flags: finding.flags().into_iter().map(str::to_owned).collect(),
    };
    Predicted { row, clear: finding.is_clear(), quote: finding.proof.quote.text.clone() }
}

//! A draft beside the one that was shown while somebody spoke.
//! Takes both; marks in the first what the other had otherwise, and says what it had and this has not. Leaves alone which of
//! them is right: that is for the reviewer.
//!
//! shown as "left past midline", now "left to midline": the finding needs the eye, and a notice says why

use crate::export::words::{place_of, plain_value};
use crate::reading::{Reason, Side};
use crate::record::{DraftFinding, DraftRecord, Loss, Notice};

/// Shows in a draft how it differs from the one that was shown before.
pub fn show_differences(draft: &mut DraftRecord, shown: &DraftRecord) {
    let mut notices = Vec::new();
    for finding in draft.context.iter_mut().chain(&mut draft.findings) {
        let before: Vec<&DraftFinding> = shown.all_findings().filter(|before| is_same_place(before, finding)).collect();
        if before.is_empty() || before.iter().any(|before| before.value == finding.value) {
            continue;
        }
        finding.reasons.push(Reason::HeardUnclearly);
        finding.reasons.sort();
        finding.reasons.dedup();
        let was: Vec<String> = before.iter().map(|before| value(before)).collect();
        let words = format!("{} was shown as {} while it was said", place_of(finding), was.join(" and "));
        notices.push(Notice { sound: finding.proof.quote.sound, words, loss: Loss::None });
    }
    for before in shown.all_findings() {
        let has = draft.all_findings().any(|now| is_same_place(before, now) || is_without_side(before, now));
        if !has {
            let words = format!(
                "{} {} was shown while it was said, and the pass over the whole recording did not come to it",
                place_of(before),
                value(before)
            );
            notices.push(Notice { sound: before.proof.quote.sound, words, loss: Loss::None });
        }
    }
    draft.notices.extend(notices);
}

fn is_same_place(one: &DraftFinding, other: &DraftFinding) -> bool {
    one.item == other.item && one.side == other.side
}

// The same was understood, but for the side: that is a reason on the finding already.
fn is_without_side(one: &DraftFinding, other: &DraftFinding) -> bool {
    one.item == other.item && one.value == other.value && (one.side == Side::Unstated || other.side == Side::Unstated)
}

fn value(finding: &DraftFinding) -> String {
    plain_value(&finding.value, finding.figures.as_ref())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::of_text;
    use crate::lexicon::Lexicon;

    #[test]
    fn what_was_shown_otherwise_needs_the_eye_and_what_is_gone_is_told() {
        let lexicon = Lexicon::load(None).unwrap();
        let draft = |text: &str| of_text(&lexicon, text, "a.txt").draft;
        let said = "Scarf sign on the left to the midline. Ankle clonus on the left, six beats.";
        let shown = "Scarf sign on the left past the midline. Ankle clonus on the left, six beats. Moro complete.";
        let mut now = draft(said);
        show_differences(&mut now, &draft(shown));
        let scarf = now.findings.iter().find(|finding| finding.item == "scarf-sign").unwrap();
        assert_eq!(scarf.reasons, [Reason::HeardUnclearly]);
        let clonus = now.findings.iter().find(|finding| finding.item == "ankle-clonus").unwrap();
        assert!(clonus.is_clear());
        let words: Vec<&str> = now.notices.iter().map(|notice| notice.words.as_str()).collect();
        assert_eq!(words[0], "scarf sign left was shown as past midline while it was said");
        assert!(words[1..].iter().all(|words| words.starts_with("Moro")) && words.len() > 1, "{words:?}");
        let mut same = draft(said);
        show_differences(&mut same, &draft(said));
        assert_eq!(same, draft(said));
    }
}

//! Words that were not understood.
//! Takes a sentence and what was recognised in it; gives, for each segment, how many words neither the lexicon nor
//! everyday talk explains, and the doubts that they raise about a result. Leaves alone results whose item is named.
//!
//! "I described the blanket beautifully" holds two strange words: "beautifully" says nothing sure of what is in progress

use crate::lexicon::{Hearing, Lexicon, Mention};
use crate::reading::clauses::Sentence;
use crate::reading::reader::Read;
use crate::reading::statements::Reason;
use crate::reading::tokens::{Token, is_covered};
use crate::reading::values::{Bound, Told};
use crate::speech::{Stop, Utterance};

/// Strange words since an item was last touched that make it doubtful whether the talk is still of it.
const LOST: u32 = 3;

/// The number of strange words in every segment of a sentence.
#[must_use]
pub fn strange_words(lexicon: &Lexicon, sentence: &Sentence, utterance: &Utterance, mentions: &[Mention]) -> Vec<u32> {
    let mut known = vec![false; utterance.words.len()];
    for mention in mentions {
        known[mention.first..mention.past].fill(true);
    }
    let is_strange = |at: &usize| !known[*at] && !lexicon.is_plain(&utterance.words[*at].plain);
    let count = |from: usize, past: usize| (from..past).filter(is_strange).count() as u32;
    sentence.segments.iter().map(|segment| count(segment.first, segment.past)).collect()
}

/// The doubts about a result in a segment whose item was told otherwise than by name. `before` is the number of strange
/// words since the item in progress was last touched.
pub(super) fn doubts(read: &Read<'_>, segment: usize, bound: &Bound, before: u32) -> Vec<Reason> {
    let here = read.strange[segment];
    let since = before + read.strange[..segment].iter().sum::<u32>();
    let general = bound.general.is_some();
    let item = bound.told == Told::InProgress && (since >= LOST || general && since + here > 0);
    let value = bound.told != Told::Named && here > 0;
    let reasons = [(item, Reason::ItemUncertain), (value, Reason::ValueUncertain)];
    reasons.into_iter().filter(|(doubted, _)| *doubted).map(|(_, reason)| reason).collect()
}

/// Whether the word behind a result is no word at all, and no comma stands between: "weak fleaks" may be "weak flexion".
pub(super) fn is_garbled_behind(lexicon: &Lexicon, read: &Read<'_>, token: &Token) -> bool {
    let words = &read.utterance.words;
    let runs_on = token.past < read.sentence.past() && words.get(token.past - 1).is_some_and(|w| w.stop == Stop::None);
    runs_on
        && !is_covered(&read.tokens, token.past)
        && words.get(token.past).is_some_and(|word| lexicon.is_no_word(&word.plain))
}

/// Whether a result may rest on words that were misheard without a trace: the narration was heard poorly, and what stands
/// around it was not understood, or its item was not named.
pub(super) fn is_heard_poorly(read: &Read<'_>, hearing: Hearing, (at, bound): (usize, &Bound)) -> bool {
    if hearing == Hearing::Well {
        return false;
    }
    let segment = read.tokens[at].segment;
    let named = (0..read.tokens.len())
        .any(|ix| read.tokens[ix].segment <= segment && read.named[ix].iter().any(|item| bound.items.contains(item)));
    let named_behind = !named && read.named.iter().flatten().any(|item| bound.items.contains(item));
    read.strange.iter().any(|strange| *strange > 0) || bound.told != Told::Named || named_behind
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading;

    #[test]
    fn a_value_that_runs_on_into_no_word_is_uncertain() {
        let lexicon = Lexicon::load(None).unwrap();
        for (said, uncertain) in [
            ("Arm traction, right arm, weak fleaks and left arm.", true),
            ("Arm traction, right arm, weak. Fleaks and left arm.", false),
            ("Arm traction, right arm, weak, fleaks.", false),
            ("Arm traction, right arm, weak today.", false),
            ("Arm traction weak on the right arm.", false),
        ] {
            let findings = reading::read(&lexicon, &[Utterance::from_text(said)]).findings;
            assert!(!findings.is_empty(), "{said}");
            let found = findings.iter().all(|finding| finding.reasons.contains(&Reason::ValueUncertain));
            assert_eq!(found, uncertain, "{said}");
        }
    }
}

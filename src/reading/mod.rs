//! Mentions → statements → findings: the narration read as a careful colleague would read it.
//! Takes a lexicon and utterances; gives statements with their stance and the findings that the observed ones come to.
//! Leaves alone limits and ages (`record`). Reading never fails: what is odd is a reason on the finding.
//!
//! "Now the scarf on the left. To the midline." gives scarf-sign, left, to-midline

mod apart;
pub mod carried_sides;
pub mod clauses;
pub mod company;
pub mod corrections;
mod denied_sides;
mod doubts;
mod events;
pub mod findings;
pub mod in_progress;
pub mod negation;
mod orders;
mod parts_of_the_body;
mod reach;
pub mod reader;
mod scores;
pub mod sides;
pub mod stance;
pub mod statements;
pub mod strange;
mod the_rest;
pub mod tokens;
mod turning;
pub mod values;
pub mod word_set;

pub use findings::{Finding, HeardBy};
pub use orders::Ordered;
pub use stance::Stance;
pub use statements::{Evidence, Reason, Side, Statement};
pub use values::Value;

use crate::lexicon::{Hearing, Lexicon, Said, mentions_of_all};
use crate::speech::Utterance;

/// What a narration was read as.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Everything said, whatever its stance, in order of time.
    pub statements: Vec<Statement>,
    /// What the observed statements come to, in order of items.
    pub findings: Vec<Finding>,
    /// How well the narration was heard, by its words.
    pub hearing: Hearing,
    /// Orders to the program, in order of time. None of them is a statement.
    pub ordered: Vec<Ordered>,
}

/// Reads utterances in order of time. The same utterances and lexicon give the same reading.
#[must_use]
pub fn read(lexicon: &Lexicon, utterances: &[Utterance]) -> Reading {
    let mut reader = reader::Reader::new(lexicon);
    // One kind of work at a time keeps the processor's caches warm.
    let (mentioned, hearing) = mentions_of_all(lexicon, utterances);
    reader.hearing = hearing;
    reader.runs_on = utterances
        .windows(2)
        .zip(mentioned.iter().skip(1))
        .map(|(pair, next)| {
            let number = next.iter().find(|mention| matches!(mention.said, Said::Quantity(_)));
            doubts::runs_on(&pair[0], &pair[1], number.map(|mention| mention.first))
        })
        .collect();
    let mut orders = orders::Orders::default();
    for (index, (utterance, mentions)) in utterances.iter().zip(&mentioned).enumerate() {
        let numbers: Vec<(usize, usize)> = mentions
            .iter()
            .filter(|mention| matches!(mention.said, Said::Quantity(_)))
            .map(|mention| (mention.first, mention.past))
            .collect();
        for sentence in clauses::sentences(index, utterance, &numbers) {
            reader.hear(&mut orders, &sentence, utterance, mentions);
        }
    }
    reader.finish();
    let findings = findings::findings(lexicon, &reader.statements);
    Reading { statements: reader.statements, findings, hearing, ordered: orders.finish() }
}

//! The examples that phrases carry, and whether they hold.
//! Takes the lexicon's files for the examples, and a lexicon to try them with; gives what an example gave instead.
//! Leaves alone who is to blame: the phrase, the reading or the example.
//!
//! "Scarf on the right, elbow past the midline => right past-midline" must give this finding and no other

use crate::export::draft_tsv::with_sides_joined;
use crate::flow;
use crate::lexicon::load::{self, Source};
use crate::lexicon::{Lexicon, LexiconError};

/// An utterance with what it must give.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Example {
    /// Id of the item under which it stands.
    pub item: String,
    /// Id of the value under which it stands.
    pub value: String,
    /// What is said.
    pub said: String,
    /// `item side value`, sides joined; `None` where it must give nothing.
    pub gives: Option<String>,
}

/// The examples of a lexicon's files, in their order. In an example of a single item the side may be left out.
///
/// # Errors
/// Every fault of every file, with file, line and reason.
pub fn examples(sources: &[Source]) -> Result<Vec<Example>, LexiconError> {
    let entries = load::read(sources)?;
    let mut examples = Vec::new();
    for (_, item, entry) in &entries.items {
        for (value, phrases) in &entry.values {
            let example = |said: &str, gives| Example {
                item: item.clone(),
                value: value.clone(),
                said: said.trim().to_owned(),
                gives,
            };
            for takes in &phrases.takes {
                let (said, gives) = takes.rsplit_once("=>").unwrap_or((takes, value));
                let gives: Vec<&str> = gives.split_whitespace().collect();
                let side = if gives.len() < 2 { "none " } else { "" };
                examples.push(example(said, Some(format!("{item} {side}{}", gives.join(" ")))));
            }
            examples.extend(phrases.skips.iter().map(|said| example(said, None)));
        }
    }
    Ok(examples)
}

/// What an example gives instead of what it must; `None` where it holds.
#[must_use]
pub fn given_instead(lexicon: &Lexicon, example: &Example) -> Option<String> {
    let narration = flow::of_text(lexicon, &example.said, "example");
    let findings: Vec<_> = narration.draft.all_findings().collect();
    let rows: Vec<String> = with_sides_joined(&findings)
        .into_iter()
        .map(|(finding, side)| format!("{} {side} {}", finding.item, finding.value))
        .collect();
    let holds = match &example.gives {
        Some(gives) => rows == [gives.as_str()],
        None => rows.is_empty(),
    };
    (!holds).then(|| if rows.is_empty() { "nothing".to_owned() } else { rows.join("; ") })
}

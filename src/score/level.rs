//! The level that a corpus has reached, and must not fall below.
//! Takes a TOML text with a table a corpus; gives the levels, and in which of them a tally falls short.
//! Leaves alone how the tally came about.
//!
//! `[corpus]` with `recall = 0.90` against a recall of 0.88 gives "recall is 0.880; at least 0.900 was reached before"

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::score::tally::Tally;

/// Why a text holds no levels.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct LevelError(#[from] toml::de::Error);

/// What must be reached. What is left out is not asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Level {
    /// Least precision, 0 to 1.
    pub precision: Option<f64>,
    /// Least recall, 0 to 1.
    pub recall: Option<f64>,
    /// Least F1, 0 to 1.
    pub f1: Option<f64>,
    /// Least share of the agreeing findings that are clear, 0 to 1.
    pub clear: Option<f64>,
    /// Most silent errors for every 1,000 findings of the program.
    pub silent_per_1000: Option<f64>,
    /// Least share of a lexicon's examples that hold, 0 to 1.
    pub examples: Option<f64>,
}

/// Reads levels by the name of their corpus.
///
/// # Errors
/// If it is no TOML, or has a key that is not known; with the line.
pub fn read_levels(text: &str) -> Result<BTreeMap<String, Level>, LevelError> {
    Ok(toml::from_str(text)?)
}

impl Level {
    /// Where a tally falls short, a plain sentence each; empty where it does not.
    #[must_use]
    pub fn shortfalls(&self, tally: &Tally) -> Vec<String> {
        let least = [
            ("precision", self.precision, tally.precision()),
            ("recall", self.recall, tally.recall()),
            ("F1", self.f1, tally.f1()),
            ("the clear share", self.clear, tally.clear()),
        ];
        let mut shortfalls: Vec<String> = Vec::new();
        for (name, wanted, is) in least {
            shortfalls.extend(wanted.and_then(|wanted| below(name, wanted, is)));
        }
        let silent = tally.silent_per_1000();
        if let Some(most) = self.silent_per_1000.filter(|most| silent > *most) {
            shortfalls.push(format!(
                "silent errors per 1,000 findings are {silent:.1}; at most {most:.1} were reached before"
            ));
        }
        shortfalls
    }
}

/// A sentence where a share is below the one wanted.
#[must_use]
pub fn below(name: &str, wanted: f64, is: f64) -> Option<String> {
    (is < wanted).then(|| format!("{name} is {is:.3}; at least {wanted:.3} was reached before"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_falls_short_is_named() {
        let levels = read_levels("[corpus]\nprecision = 0.5\nrecall = 0.9\nsilent-per-1000 = 300.0\n").unwrap();
        let tally = Tally { agree: 4, predicted: 6, annotated: 8, ..Tally::default() };
        assert_eq!(levels["corpus"].shortfalls(&tally), ["recall is 0.500; at least 0.900 was reached before"]);
        assert!(Level::default().shortfalls(&tally).is_empty());
    }

    #[test]
    fn unknown_keys_are_refused() {
        let error = read_levels("[corpus]\nprecison = 0.5\n").unwrap_err().to_string();
        assert!(error.contains("precison") && error.contains("line 2"), "{error}");
    }
}

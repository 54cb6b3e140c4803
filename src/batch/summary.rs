//! What a batch came to.
//! Takes outcomes one by one; gives their sums, and the report for programs. Leaves alone how they are shown.
//!
//! 40 files: 36 drafted, 2 of them now, 1 failed, 1 left out

use serde::Serialize;

use super::{Line, Outcome, Shard};

/// Sums, named as the report names them.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Summary {
    /// Files that ended, those of earlier runs included.
    pub files: usize,
    /// Of which there is a draft.
    pub drafted: usize,
    /// Of these, done by an earlier run.
    pub already: usize,
    /// Drafts that lost sound, or had no speech.
    pub sound_lost: usize,
    /// Files that failed.
    pub failed: usize,
    /// Files that are neither recording nor transcript.
    pub left_out: usize,
    /// Findings of all drafts.
    pub findings: usize,
    /// Of these, how many need the reviewer's eye.
    pub in_doubt: usize,
    /// Seconds of sound of all drafts.
    pub seconds_of_sound: f64,
    /// Of these, heard or read in this run.
    pub seconds_of_sound_now: f64,
    /// How long it took, in seconds.
    pub seconds_taken: f64,
}

#[derive(Serialize)]
struct Report<'a> {
    format: &'static str,
    version: u32,
    program: &'static str,
    part: String,
    #[serde(flatten)]
    sums: &'a Summary,
    lexicon: &'a str,
}

impl Summary {
    /// Adds a file.
    pub(super) fn add(&mut self, line: &Line, already: bool) {
        self.files += 1;
        match line.outcome {
            Outcome::Drafted => self.drafted += 1,
            Outcome::Failed => self.failed += 1,
            Outcome::LeftOut => self.left_out += 1,
        }
        self.already += usize::from(already);
        if let Some(drafted) = &line.draft {
            self.sound_lost += usize::from(drafted.sound_lost);
            self.findings += drafted.findings;
            self.in_doubt += drafted.in_doubt;
            self.seconds_of_sound += drafted.seconds;
            self.seconds_of_sound_now += if already { 0.0 } else { drafted.seconds };
        }
    }

    /// The report for programs, as JSON.
    pub(super) fn report(&self, shard: Shard, lexicon: &str) -> String {
        // Numbers and text alone: writing them as JSON does not fail.
        let mut text = serde_json::to_string_pretty(&self.told(shard, lexicon)).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The report in one line.
    #[must_use]
    pub fn report_line(&self, shard: Shard, lexicon: &str) -> String {
        let mut text = serde_json::to_string(&self.told(shard, lexicon)).unwrap_or_default();
        text.push('\n');
        text
    }

    fn told<'a>(&'a self, shard: Shard, lexicon: &'a str) -> Report<'a> {
        Report {
            format: "spoken-exam batch report",
            version: 1,
            program: super::line::PROGRAM,
            part: shard.to_string(),
            sums: self,
            lexicon,
        }
    }
}

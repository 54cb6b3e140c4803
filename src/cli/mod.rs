//! The command line, one of the faces.
//! Takes the arguments as typed; runs one command and gives its outcome. Results go to standard output, everything else
//! to standard error. Leaves alone how a draft is made (`flow`).
//!
//! `spoken-exam draft note.txt` prints a draft and ends with 0

mod args;
mod batch;
mod dictate;
mod draft;
mod explain;
mod export;
mod input;
mod lexicon;
mod listen;
mod output;
mod panics;
mod passphrase;
mod review;
mod score;
mod setup;
mod show;
mod stop;
mod store;

use std::process::ExitCode;

use anyhow::Result;
use clap::Parser;

use crate::batch::BatchError;
use crate::live::LiveError;
use crate::setup::SetupError;
use crate::speech::SpeechError;

use args::{Args, Command, LexiconCommand};

#[doc(hidden)]
pub use panics::tell_places_of_panics_alone;

/// How a command ended that could do its work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// All is well.
    Done,
    /// Done, but something needs eyes.
    NeedsEyes,
}

/// Ctrl-C, as shells count it.
const STOPPED: u8 = 130;

/// The whole program: reads the command line, runs the command, prints an error if there is one.
#[must_use]
pub fn main() -> ExitCode {
    tell_places_of_panics_alone();
    exit_code(&run(Args::parse()))
}

// An error says what, where and what to do next.
fn run(args: Args) -> Result<Outcome> {
    match args.command {
        Command::Draft(args) => draft::run(&args),
        Command::Dictate(args) => dictate::run(&args),
        Command::Batch(args) => batch::run(&args),
        Command::Explain(args) => explain::run(&args),
        Command::Score(args) => score::run(&args),
        Command::Setup(args) => setup::run(&args),
        Command::Lexicon(args) => match args.command {
            LexiconCommand::Check(args) => lexicon::check(&args),
        },
        Command::Store(args) => store::run(&args),
        Command::Review(args) => review::run(&args),
        Command::Export(args) => export::run(&args),
    }
}

// 0 done; 1 done, something needs eyes; 2 could not start or do its work; 130 stopped. A reader of the output that went
// away is no error.
fn exit_code(result: &Result<Outcome>) -> ExitCode {
    match result {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::NeedsEyes) => ExitCode::from(1),
        Err(error) if output::reader_went_away(error) => ExitCode::SUCCESS,
        Err(error) => {
            output::say(&format!("error: {}", message(error)));
            ExitCode::from(if was_stopped(error) { STOPPED } else { 2 })
        }
    }
}

// The whole chain of causes, each once: some errors repeat their cause in their own words.
fn message(error: &anyhow::Error) -> String {
    let mut message = String::new();
    for cause in error.chain().map(|cause| cause.to_string()) {
        if !message.contains(cause.trim()) {
            let colon = if message.is_empty() { "" } else { ": " };
            message.push_str(colon);
            message.push_str(cause.trim_end());
        }
    }
    message
}

fn was_stopped(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        matches!(cause.downcast_ref::<LiveError>(), Some(LiveError::Speech(SpeechError::Cancelled)))
            || matches!(cause.downcast_ref::<BatchError>(), Some(BatchError::Stopped))
            || matches!(cause.downcast_ref::<SpeechError>(), Some(SpeechError::Cancelled))
            || matches!(cause.downcast_ref::<SetupError>(), Some(SetupError::Stopped))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cause_is_told_once() {
        let inner = anyhow::anyhow!("disk full").context("cannot write a.txt: disk full").context("cannot save");
        assert_eq!(message(&inner), "cannot save: cannot write a.txt: disk full");
    }
}

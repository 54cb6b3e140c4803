//! The command line, one of the faces.
//! Takes the arguments as typed; runs one command and gives its outcome. Results go to standard output, everything else
//! to standard error. Leaves alone how a draft is made (`flow`).
//!
//! `spoken-exam draft note.txt` prints a draft and ends with 0

mod args;
mod draft;
mod explain;
mod input;
mod lexicon;
mod listen;
mod output;
mod score;
mod setup;
mod show;
mod stop;

use std::process::ExitCode;

use anyhow::Result;

use crate::setup::SetupError;
use crate::speech::SpeechError;

pub use args::Args;

/// How a command ended that could do its work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// All is well.
    Done,
    /// Done, but something needs eyes.
    NeedsEyes,
}

/// Ctrl-C, as shells count it.
const STOPPED: u8 = 130;

/// Runs the command that was asked for.
///
/// # Errors
/// If it cannot do its work; the message says what, where and what to do next.
pub fn run(args: Args) -> Result<Outcome> {
    match args.command {
        args::Command::Draft(args) => draft::run(&args),
        args::Command::Explain(args) => explain::run(&args),
        args::Command::Score(args) => score::run(&args),
        args::Command::Setup(args) => setup::run(&args),
        args::Command::Lexicon(args) => match args.command {
            args::LexiconCommand::Check(args) => lexicon::check(&args),
        },
    }
}

/// The exit code of a result: 0 done; 1 done, something needs eyes; 2 could not start or do its work; 130 stopped.
/// An error is printed to standard error; a reader of the output that went away is none.
#[must_use]
pub fn exit_code(result: &Result<Outcome>) -> ExitCode {
    match result {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::NeedsEyes) => ExitCode::from(1),
        Err(error) if output::reader_went_away(error) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::from(if was_stopped(error) { STOPPED } else { 2 })
        }
    }
}

fn was_stopped(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        matches!(cause.downcast_ref::<SpeechError>(), Some(SpeechError::Cancelled))
            || matches!(cause.downcast_ref::<SetupError>(), Some(SetupError::Stopped))
    })
}

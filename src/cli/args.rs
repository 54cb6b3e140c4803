//! Everything that can be typed.
//! Takes the command line; gives it checked, with nothing done: no file opened, no model loaded. The only file that knows
//! clap. Leaves alone what the arguments lead to. What stands below the options of a command is in `help/`.
//!
//! `spoken-exam draft note.txt --format json` gives the command draft with this format

mod batch;
mod dictate;
mod export;
mod store;

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};

use crate::setup::{Model, Precision};

pub(super) use batch::{BatchArgs, BatchForm};
pub(super) use dictate::{DictateArgs, Source};
pub(super) use export::{ExportArgs, FormChoice};
pub(super) use store::{
    StoreArgs, StoreChangePassphraseArgs, StoreCheckArgs, StoreCommand, StoreDeleteSoundArgs, StoreEncryptArgs,
    StoreKeepSoundArgs, StoreListArgs, StoreRemarkArgs, StoreShowArgs,
};

/// Turn a spoken newborn neurological examination into a draft record
#[derive(Debug, Parser)]
#[command(name = "spoken-exam", version, term_width = 80, after_help = include_str!("help/program.txt"))]
pub(super) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub(super) command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Make a draft record from a recording or a text
    Draft(DraftArgs),
    /// Listen while you examine, and make a draft record of it
    Dictate(DictateArgs),
    /// Make draft records of a folder or bucket of recordings and texts
    Batch(BatchArgs),
    /// Say why words give a finding, or none
    Explain(ExplainArgs),
    /// Compare drafts with findings annotated by hand
    Score(ScoreArgs),
    /// Fetch a speech model and make it ready, over the network
    Setup(SetupArgs),
    /// Look after the phrases that are understood
    Lexicon(LexiconArgs),
    /// Look after the records that were kept
    Store(StoreArgs),
    /// Review and sign records on a page in your browser
    Review(ReviewArgs),
    /// Write signed records as a note, PDF, FHIR document or CSV
    Export(ExportArgs),
}

/// The arguments of `draft`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/draft.txt"))]
pub(super) struct DraftArgs {
    /// A recording, a text in UTF-8 (a line an utterance), or - for text on standard input
    #[arg(value_name = "NOTE")]
    pub(super) note: PathBuf,
    /// How to write the draft
    #[arg(long, value_name = "FORMAT", value_enum, default_value_t = Format::Table, help_heading = "Output")]
    pub(super) format: Format,
    /// Show a stage on the way to the draft instead
    #[arg(long, value_name = "STAGE", value_enum, conflicts_with = "format", help_heading = "Output")]
    pub(super) show: Option<Stage>,
    /// Write to FILE instead of standard output; only you can read it
    #[arg(short, long, value_name = "FILE", help_heading = "Output")]
    pub(super) output: Option<PathBuf>,
    /// Write over FILE if it exists
    #[arg(long, requires = "output", help_heading = "Output")]
    pub(super) force: bool,
    /// Put draft and recording into the store, and print the record's id; the draft
    /// itself is then written only to FILE
    #[arg(long, conflicts_with = "show", help_heading = "Store")]
    pub(super) keep: bool,
    /// The store's folder [default: SPOKEN_EXAM_STORE, or spoken-exam/store among
    /// your data]
    #[arg(long, value_name = "DIR", requires = "keep", help_heading = "Store")]
    pub(super) store: Option<PathBuf>,
    /// The passphrase of an encrypted store is the first line of FILE [default: the file
    /// that SPOKEN_EXAM_PASSPHRASE_FILE names, or it is asked for]
    #[arg(long, value_name = "FILE", requires = "keep", help_heading = "Store")]
    pub(super) passphrase_file: Option<PathBuf>,
    /// Of hearing.
    #[command(flatten)]
    pub(super) hearing: HearingArgs,
    /// Of the lexicon.
    #[command(flatten)]
    pub(super) lexicon: LexiconFolder,
}

/// Arguments of every command that may hear sound.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Hearing")]
pub(super) struct HearingArgs {
    /// The speech model: base, tiny.en (faster, less accurate), or a ggml file
    #[arg(long, value_name = "MODEL", default_value = "base")]
    pub(super) model: ModelChoice,
    /// Hear it N times: with the model, with the other model, and without leaning
    /// towards the lexicon; findings that are heard alike are clear
    #[arg(long, value_name = "N", default_value = "3", value_parser = clap::value_parser!(u8).range(1..=3))]
    pub(super) hearings: u8,
    /// Use N processor cores to hear [default: all]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub(super) threads: Option<u16>,
}

/// The argument of every command that reads.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Lexicon")]
pub(super) struct LexiconFolder {
    /// Use the phrases in DIR on top of the built-in ones
    #[arg(long = "lexicon", value_name = "DIR")]
    pub(super) laid_over: Option<PathBuf>,
}

/// A model by name or by file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum ModelChoice {
    /// One that `setup` makes.
    Named(Model),
    /// Any ggml file.
    File(PathBuf),
}

impl std::str::FromStr for ModelChoice {
    type Err = std::convert::Infallible;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Ok(text.parse().map_or_else(|_| Self::File(PathBuf::from(text)), Self::Named))
    }
}

/// Forms of a draft.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For people
    Table,
    /// For programs; described by a JSON Schema
    Json,
    /// One row a finding, as `score` compares them
    Tsv,
}

/// Stages that can be shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Stage {
    /// What was heard or written
    Utterances,
    /// The words, spelled as they are compared
    Words,
    /// What the lexicon knows among the words
    Mentions,
    /// What was said of which item, and whether it was observed
    Statements,
    /// What the observed statements come to
    Findings,
}

/// The arguments of `explain`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/explain.txt"))]
pub(super) struct ExplainArgs {
    /// What is said; several are read one after the other
    #[arg(value_name = "TEXT", required = true)]
    pub(super) texts: Vec<String>,
    /// Of the lexicon.
    #[command(flatten)]
    pub(super) lexicon: LexiconFolder,
}

/// The arguments of `score`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/score.txt"))]
pub(super) struct ScoreArgs {
    /// The folder of narrations
    #[arg(value_name = "FOLDER")]
    pub(super) folder: PathBuf,
    /// Name every finding that was missed or added
    #[arg(short, long, help_heading = "Output")]
    pub(super) verbose: bool,
    /// End with 1 below the level in FILE, a TOML table named like the folder
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub(super) at_least: Option<PathBuf>,
    /// Hear the recordings instead of reading the texts; its level is NAME-sound
    #[arg(long, help_heading = "Hearing")]
    pub(super) sound: bool,
    /// Of hearing.
    #[command(flatten)]
    pub(super) hearing: HearingArgs,
    /// Of the lexicon.
    #[command(flatten)]
    pub(super) lexicon: LexiconFolder,
}

/// The arguments of `setup`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/setup.txt"))]
pub(super) struct SetupArgs {
    /// Only this model: base, or tiny.en (faster, less accurate) [default: both]
    #[arg(long, value_name = "MODEL")]
    pub(super) model: Option<Model>,
    /// How its numbers are kept: q8_0 (smaller, faster), or f16
    #[arg(long, value_name = "PRECISION", default_value = "q8_0")]
    pub(super) precision: Precision,
}

/// The arguments of `lexicon`.
#[derive(Debug, clap::Args)]
pub(super) struct LexiconArgs {
    /// What to do with it.
    #[command(subcommand)]
    pub(super) command: LexiconCommand,
}

/// The commands about the lexicon.
#[derive(Debug, Subcommand)]
pub(super) enum LexiconCommand {
    /// Name every fault, and try every example
    Check(CheckArgs),
}

/// The arguments of `lexicon check`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/lexicon-check.txt"))]
pub(super) struct CheckArgs {
    /// Check the phrases in DIR, on top of the built-in ones
    #[arg(value_name = "DIR")]
    pub(super) folder: Option<PathBuf>,
    /// Name examples that do not hold, values without one, and names that sound alike
    #[arg(short, long, help_heading = "Output")]
    pub(super) verbose: bool,
}

/// The argument of every command that uses the store.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Store")]
pub(super) struct StoreFolder {
    /// The store's folder [default: SPOKEN_EXAM_STORE, or spoken-exam/store among
    /// your data]
    #[arg(long = "store", value_name = "DIR")]
    pub(super) folder: Option<PathBuf>,
    /// The passphrase of an encrypted store is the first line of FILE [default: the file
    /// that SPOKEN_EXAM_PASSPHRASE_FILE names, or it is asked for]
    #[arg(long, value_name = "FILE")]
    pub(super) passphrase_file: Option<PathBuf>,
}

/// The arguments of `review`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("help/review.txt"))]
pub(super) struct ReviewArgs {
    /// The record to open, by its id or the beginning of it [default: the list]
    #[arg(value_name = "RECORD")]
    pub(super) record: Option<String>,
    /// Serve the page on port N [default: one that is free]
    #[arg(long, value_name = "N", default_value = "0", hide_default_value = true, help_heading = "Page")]
    pub(super) port: u16,
    /// Who is going to decide and sign
    #[arg(long, value_name = "NAME", requires = "role", help_heading = "Page")]
    pub(super) by: Option<String>,
    /// In which role: registrar, consultant, ...
    #[arg(long, value_name = "ROLE", requires = "by", help_heading = "Page")]
    pub(super) role: Option<String>,
    /// The word that orders begin with in a dictation [default: the lexicon's, "notebook"]
    #[arg(long, value_name = "WORD", help_heading = "Page")]
    pub(super) attention: Option<String>,
    /// Of the store.
    #[command(flatten)]
    pub(super) store: StoreFolder,
    /// Of dictation.
    #[command(flatten)]
    pub(super) hearing: HearingArgs,
    /// Of the lexicon.
    #[command(flatten)]
    pub(super) lexicon: LexiconFolder,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn every_option_is_described_and_every_line_fits_80_columns() {
        let mut command = Args::command();
        command.build();
        let mut commands = vec![command];
        while let Some(mut command) = commands.pop() {
            let help = command.render_long_help().to_string();
            assert!(help.lines().all(|line| line.chars().count() <= 80), "{help}");
            for argument in command.get_arguments() {
                assert!(argument.get_help().is_some(), "{} of {}", argument.get_id(), command.get_name());
            }
            commands.extend(command.get_subcommands().cloned());
        }
    }

    #[test]
    fn a_model_is_a_name_or_a_file() {
        assert_eq!("tiny.en".parse(), Ok(ModelChoice::Named(Model::TinyEn)));
        assert_eq!("models/own.bin".parse(), Ok(ModelChoice::File("models/own.bin".into())));
    }
}

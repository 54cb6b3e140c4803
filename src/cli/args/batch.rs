//! What can be typed behind `batch`.
//! Takes the command line; gives it checked, with nothing done. Leaves alone what the arguments lead to.
//!
//! `spoken-exam batch visits --to drafts` makes a draft of every recording in the folder

use std::path::PathBuf;

use clap::ValueEnum;

use super::{HearingArgs, LexiconFolder};
use crate::batch::{Place, Wanted};

/// The arguments of `batch`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/batch.txt"))]
pub(in crate::cli) struct BatchArgs {
    /// A folder of recordings and texts, searched through and through, or
    /// s3://BUCKET/PREFIX
    #[arg(value_name = "FROM")]
    pub(in crate::cli) from: Place,
    /// Write drafts, what was heard, and the manifest into the folder or bucket PLACE
    /// [default: drafts become records in the store]
    #[arg(long, value_name = "PLACE", help_heading = "Output")]
    pub(in crate::cli) to: Option<Place>,
    /// How to tell what became of the files
    #[arg(long, value_name = "FORMAT", value_enum, default_value_t = BatchForm::Summary, help_heading = "Output")]
    pub(in crate::cli) format: BatchForm,
    /// Put drafts and recordings into the store in DIR [default without --to:
    /// SPOKEN_EXAM_STORE, or spoken-exam/store among your data]
    #[arg(long, value_name = "DIR", help_heading = "Store")]
    pub(in crate::cli) store: Option<PathBuf>,
    /// The passphrase of an encrypted store is the first line of FILE [default: the file
    /// that SPOKEN_EXAM_PASSPHRASE_FILE names, or it is asked for]
    #[arg(long, value_name = "FILE", help_heading = "Store")]
    pub(in crate::cli) passphrase_file: Option<PathBuf>,
    /// Work on N files at once; they share the cores [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256), help_heading = "Work")]
    pub(in crate::cli) jobs: Option<u16>,
    /// Hear recordings again though what was heard is kept
    #[arg(long, help_heading = "Work")]
    pub(in crate::cli) listen_again: bool,
    /// Do part K of N, told by what is in the files, so that N machines share the work;
    /// /N inside a numbered job [default: that of a Slurm array, or all]
    #[arg(long, value_name = "K/N", requires = "to", help_heading = "Many machines")]
    pub(in crate::cli) shard: Option<Wanted>,
    /// Put the manifests of all parts together, say what is missing, and do nothing else
    #[arg(long, requires = "to", conflicts_with_all = ["shard", "store", "listen_again"], help_heading = "Many machines")]
    pub(in crate::cli) gather: bool,
    /// Of hearing.
    #[command(flatten)]
    pub(in crate::cli) hearing: HearingArgs,
    /// Of the lexicon.
    #[command(flatten)]
    pub(in crate::cli) lexicon: LexiconFolder,
}

/// Ways to tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum BatchForm {
    /// For people: the sums at the end
    Summary,
    /// For programs: a line of JSON for each file as it ends, and the report as the last
    Json,
}

//! The arguments of `export`.
//! Takes the command line; gives it checked. Leaves alone what is written.
//!
//! `spoken-exam export 018b --as pdf -o note.pdf`

use std::path::PathBuf;

use clap::ValueEnum;

use super::{LexiconFolder, StoreFolder};
use crate::export::form::Form;
use crate::export::pdf::Paper;

/// The arguments of `export`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/export.txt"))]
pub(in crate::cli) struct ExportArgs {
    /// Records, each by its id or the beginning of it
    #[arg(value_name = "RECORD", required_unless_present = "all")]
    pub(in crate::cli) records: Vec<String>,
    /// Every signed record
    #[arg(long, conflicts_with = "records")]
    pub(in crate::cli) all: bool,
    /// What to write
    #[arg(long = "as", value_name = "FORM", value_enum)]
    pub(in crate::cli) form: FormChoice,
    /// Write to FILE, or for several records into the folder FILE [default: standard
    /// output]; only you can read it
    #[arg(short, long, value_name = "FILE", help_heading = "Output")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Write over files that exist
    #[arg(long, requires = "output", help_heading = "Output")]
    pub(in crate::cli) force: bool,
    /// Print records that are not signed too, each page marked as a draft; PDF only
    #[arg(long, help_heading = "PDF")]
    pub(in crate::cli) draft: bool,
    /// The paper
    #[arg(long, value_name = "PAPER", value_enum, default_value_t = PaperChoice::A4, help_heading = "PDF")]
    pub(in crate::cli) paper: PaperChoice,
    /// Drop names and words, shift dates alike for each infant, replace ids; CSV only
    #[arg(long, help_heading = "CSV")]
    pub(in crate::cli) de_identified: bool,
    /// Replace ids and shift dates by the secret in FILE, so that they are the same the
    /// next time [default: another secret each time, kept nowhere]
    #[arg(long, value_name = "FILE", requires = "de_identified", help_heading = "CSV")]
    pub(in crate::cli) secret_file: Option<PathBuf>,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
    /// Of the lexicon.
    #[command(flatten)]
    pub(in crate::cli) lexicon: LexiconFolder,
}

/// The forms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum FormChoice {
    /// A note as plain text
    Note,
    /// A note as Markdown
    Markdown,
    /// A note with growth chart and body drawing, to print
    Pdf,
    /// An HL7 FHIR R4 document
    Fhir,
    /// One row a finding, for research
    Csv,
}

impl FormChoice {
    /// As the library has it.
    pub(in crate::cli) fn form(self) -> Form {
        match self {
            Self::Note => Form::Note,
            Self::Markdown => Form::Markdown,
            Self::Pdf => Form::Pdf,
            Self::Fhir => Form::Fhir,
            Self::Csv => Form::Csv,
        }
    }
}

/// Papers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum PaperChoice {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
}

impl PaperChoice {
    /// As the library has it.
    pub(in crate::cli) fn paper(self) -> Paper {
        match self {
            Self::A4 => Paper::A4,
            Self::Letter => Paper::Letter,
        }
    }
}

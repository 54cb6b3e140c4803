//! What can be typed behind `dictate`.
//! Takes the command line; gives it checked, with nothing done. Leaves alone what the arguments lead to.
//!
//! `spoken-exam dictate --set screening` listens to the microphone

use std::path::PathBuf;

use super::{HearingArgs, LexiconFolder};
use crate::store::KeepSound;

/// The arguments of `dictate`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/dictate.txt"))]
pub(in crate::cli) struct DictateArgs {
    /// `-` for sound on standard input: raw (16 kHz, mono, 16 bit, little-endian) or wav
    /// [default: the microphone]
    #[arg(value_name = "SOURCE", value_parser = source)]
    pub(in crate::cli) source: Option<Source>,
    /// Use the microphone of this name, or with a name that holds this
    #[arg(long, value_name = "NAME", conflicts_with = "source", help_heading = "Sound")]
    pub(in crate::cli) device: Option<String>,
    /// List the microphones, and do nothing else
    #[arg(long, conflicts_with_all = ["source", "device", "recover"], help_heading = "Sound")]
    pub(in crate::cli) devices: bool,
    /// The set of items of which is told what is left
    #[arg(long, value_name = "NAME", default_value = "full", help_heading = "Dictation")]
    pub(in crate::cli) set: String,
    /// The word that orders begin with [default: the lexicon's, "notebook"]
    #[arg(long, value_name = "WORD", help_heading = "Dictation")]
    pub(in crate::cli) attention: Option<String>,
    /// Make drafts of recordings that were never ended, and do nothing else
    #[arg(long, conflicts_with_all = ["source", "device"], help_heading = "Dictation")]
    pub(in crate::cli) recover: bool,
    /// Serve the page for review behind it
    #[arg(long, help_heading = "Dictation")]
    pub(in crate::cli) review: bool,
    /// The store's folder [default: SPOKEN_EXAM_STORE, or spoken-exam/store among
    /// your data]
    #[arg(long, value_name = "DIR", help_heading = "Store")]
    pub(in crate::cli) store: Option<PathBuf>,
    /// The passphrase of an encrypted store is the first line of FILE [default: the file
    /// that SPOKEN_EXAM_PASSPHRASE_FILE names, or it is asked for]
    #[arg(long, value_name = "FILE", help_heading = "Store")]
    pub(in crate::cli) passphrase_file: Option<PathBuf>,
    /// How long this store keeps recordings, from now on: for-ever, until-signed, or
    /// not-kept [default: as it was said before, or it is asked for]
    #[arg(long, value_name = "POLICY", help_heading = "Store")]
    pub(in crate::cli) keep_sound: Option<KeepSound>,
    /// Of hearing.
    #[command(flatten)]
    pub(in crate::cli) hearing: HearingArgs,
    /// Of the lexicon.
    #[command(flatten)]
    pub(in crate::cli) lexicon: LexiconFolder,
}

/// Where sound comes from, if not from a microphone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::cli) enum Source {
    /// Standard input.
    StandardInput,
}

fn source(text: &str) -> Result<Source, String> {
    match text {
        "-" => Ok(Source::StandardInput),
        _ => Err("it can only be -, for standard input; `spoken-exam draft` makes a draft of a recording".to_owned()),
    }
}

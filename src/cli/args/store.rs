//! The arguments of the commands about the store.
//! Takes the command line; gives it checked. Leaves alone what the commands do.
//!
//! `spoken-exam store list visit --state signed`

use std::path::PathBuf;

use clap::Subcommand;

use super::StoreFolder;
use crate::store::{KeepSound, State};

/// The arguments of `store`.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct StoreArgs {
    /// What to do with it.
    #[command(subcommand)]
    pub(in crate::cli) command: StoreCommand,
}

/// The commands about the store.
#[derive(Debug, Subcommand)]
pub(in crate::cli) enum StoreCommand {
    /// List records, newest first
    List(StoreListArgs),
    /// Show how the store stands, or one record
    Show(StoreShowArgs),
    /// Write down whose a record is, and when the examination was
    Remark(StoreRemarkArgs),
    /// Find out whether everything is as it was written
    Check(StoreCheckArgs),
    /// Set how long recordings are kept
    KeepSound(StoreKeepSoundArgs),
    /// Delete the recording of one record now; its draft and decisions stay
    DeleteSound(StoreDeleteSoundArgs),
    /// Encrypt the store, or make one that is; without its passphrase all is lost
    Encrypt(StoreEncryptArgs),
    /// Give an encrypted store another passphrase
    ChangePassphrase(StoreChangePassphraseArgs),
}

/// The arguments of `store list`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-list.txt"))]
pub(in crate::cli) struct StoreListArgs {
    /// Only records with all these words, or beginnings of them: of the file's name, of
    /// the id, or a value said of the infant
    #[arg(value_name = "WORD")]
    pub(in crate::cli) words: Vec<String>,
    /// Only records in this state: draft, in-review, signed or amended
    #[arg(long, value_name = "STATE", value_parser = state)]
    pub(in crate::cli) state: Option<State>,
    /// Leave out the N newest
    #[arg(long, value_name = "N", default_value = "0")]
    pub(in crate::cli) from: u32,
    /// List N at most
    #[arg(long, value_name = "N", default_value = "20")]
    pub(in crate::cli) most: u32,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

fn state(text: &str) -> Result<State, String> {
    let known = State::ALL.into_iter().find(|state| state.name() == text);
    known.ok_or_else(|| format!("`{text}` is no state; there are draft, in-review, signed and amended"))
}

/// The arguments of `store show`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-show.txt"))]
pub(in crate::cli) struct StoreShowArgs {
    /// The record's id, or its beginning [default: the store as a whole]
    #[arg(value_name = "ID")]
    pub(in crate::cli) id: Option<String>,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store remark`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-remark.txt"))]
pub(in crate::cli) struct StoreRemarkArgs {
    /// The record's id, or its beginning
    #[arg(value_name = "ID")]
    pub(in crate::cli) id: String,
    /// The words by which the chart knows the infant; not a name
    #[arg(long, value_name = "WORDS", required_unless_present = "examined")]
    pub(in crate::cli) infant: Option<String>,
    /// When the examination was: 2026-11-29, or 2026-11-29T14:05
    #[arg(long, value_name = "DATE")]
    pub(in crate::cli) examined: Option<String>,
    /// Who writes it
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) by: String,
    /// In which role: registrar, consultant, ...
    #[arg(long, value_name = "ROLE")]
    pub(in crate::cli) role: String,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store check`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-check.txt"))]
pub(in crate::cli) struct StoreCheckArgs {
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store keep-sound`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-keep-sound.txt"))]
pub(in crate::cli) struct StoreKeepSoundArgs {
    /// for-ever, until-signed (of every record made of it), or not-kept
    #[arg(value_name = "POLICY")]
    pub(in crate::cli) policy: KeepSound,
    /// Delete recordings kept so far that this policy would not have kept
    #[arg(long)]
    pub(in crate::cli) delete_kept: bool,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store delete-sound`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-delete-sound.txt"))]
pub(in crate::cli) struct StoreDeleteSoundArgs {
    /// The record's id, or its beginning
    #[arg(value_name = "ID")]
    pub(in crate::cli) id: String,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store encrypt`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-encrypt.txt"))]
pub(in crate::cli) struct StoreEncryptArgs {
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

/// The arguments of `store change-passphrase`.
#[derive(Debug, clap::Args)]
#[command(after_help = include_str!("../help/store-change-passphrase.txt"))]
pub(in crate::cli) struct StoreChangePassphraseArgs {
    /// The new passphrase is the first line of FILE [default: it is asked for]
    #[arg(long, value_name = "FILE", help_heading = "Store")]
    pub(in crate::cli) new_passphrase_file: Option<PathBuf>,
    /// Of the store.
    #[command(flatten)]
    pub(in crate::cli) store: StoreFolder,
}

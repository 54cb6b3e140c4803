//! Passphrases are asked for.
//! Takes the file that was named, or the terminal, where what is typed does not show; gives a passphrase. It is never taken
//! from an argument or the value of a variable, which others on the machine can read. Leaves alone what it opens (`store`).
//!
//! `--passphrase-file FILE`, else `$SPOKEN_EXAM_PASSPHRASE_FILE`, else "Passphrase of the store: "

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use super::output;
use crate::store::{self, Passphrase, Store};

const VARIABLE: &str = "SPOKEN_EXAM_PASSPHRASE_FILE";

/// The passphrase for the store in a folder; none if it needs none, or there is none that could need one.
pub(super) fn of_store(folder: &Path, file: Option<&Path>) -> Result<Option<Passphrase>> {
    // A program that cannot decrypt says so by itself, and should not ask first.
    if !Store::is_encrypted(folder) || !store::ENCRYPTION_BUILT_IN {
        return Ok(None);
    }
    known(file).map(Some)
}

/// A passphrase that is there already.
pub(super) fn known(file: Option<&Path>) -> Result<Passphrase> {
    match named(file) {
        Some(file) => read(&file),
        None => typed("Passphrase of the store: "),
    }
}

/// A new passphrase; typed, it is asked for twice.
pub(super) fn new(file: Option<&Path>) -> Result<Passphrase> {
    if let Some(file) = file {
        return read(file);
    }
    output::say("Whoever forgets the passphrase loses everything in the store: nobody can open it without.");
    let passphrase = typed("New passphrase: ")?;
    if passphrase != typed("The same again: ")? {
        bail!("the two are not alike; nothing was changed, try again");
    }
    Ok(passphrase)
}

/// The file that was named, on the command line or in the variable.
pub(super) fn named(file: Option<&Path>) -> Option<PathBuf> {
    let variable = || std::env::var_os(VARIABLE).filter(|value| !value.is_empty()).map(PathBuf::from);
    file.map(Path::to_owned).or_else(variable)
}

fn read(file: &Path) -> Result<Passphrase> {
    Passphrase::from_file(file).context("cannot take the passphrase")
}

fn typed(prompt: &str) -> Result<Passphrase> {
    let line = rpassword::prompt_password(prompt)
        .context("cannot ask for the passphrase: there is no terminal; name a file that holds it: --passphrase-file")?;
    Ok(Passphrase::new(line))
}

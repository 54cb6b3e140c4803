//! The command `export`.
//! Takes records and a form; writes them to files, or one to standard output. A record that cannot be exported is named and harms
//! no other. Leaves alone what is written (`export`).
//!
//! `spoken-exam export --all --as csv -o findings.csv` writes one row for each finding of each signed record

use std::io::{IsTerminal, stdout};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use super::args::{ExportArgs, FormChoice};
use super::{Outcome, output, store};
use crate::export::csv::{KEPT, Secret, to_csv};
use crate::lexicon::Lexicon;
use crate::store::{SignedWhole, Store};

/// Writes them.
pub(super) fn run(args: &ExportArgs) -> Result<Outcome> {
    check(args)?;
    let store = store::open(&args.store)?;
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let ids = if args.all {
        store.signed_records()?
    } else {
        args.records.iter().map(|id| store.find(id)).collect::<Result<_, _>>()?
    };
    if ids.is_empty() {
        bail!("no record is signed, so there is nothing to export; `spoken-exam review` shows them for signing");
    }
    match args.form {
        FormChoice::Csv => table(args, &store, &lexicon, &ids),
        _ => each(args, &store, &lexicon, &ids),
    }
}

// What can never be right is refused before a store is opened.
fn check(args: &ExportArgs) -> Result<()> {
    let only = |given: bool, option: &str, form: FormChoice| match given && args.form != form {
        true => bail!("--{option} is for --as {} only; leave it out", form.form().name()),
        false => Ok(()),
    };
    only(args.draft, "draft", FormChoice::Pdf)?;
    only(args.de_identified, "de-identified", FormChoice::Csv)?;
    let one = args.records.len() == 1;
    match args.output.as_deref() {
        None if args.form == FormChoice::Csv => Ok(()),
        None if !one => bail!("several records do not go to standard output; name a folder with -o"),
        None if args.form == FormChoice::Pdf && stdout().is_terminal() => {
            bail!("a PDF is not shown in a terminal; name a file with -o")
        }
        None => Ok(()),
        Some(file) if args.form == FormChoice::Csv => output::check(Some(file), args.force),
        Some(folder) if folder.is_dir() => Ok(()),
        Some(file) if one => output::check(Some(file), args.force),
        Some(folder) => bail!("{} is no folder; several records need one, make it first", folder.display()),
    }
}

// A record that cannot be exported is named; the others are.
struct Missed(usize);

impl Missed {
    fn or_said<T>(&mut self, id: &str, result: Result<T>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                self.0 += 1;
                output::say(&format!("not exported: {id}: {}", super::message(&error)));
                None
            }
        }
    }

    fn outcome(&self, of: usize) -> Result<Outcome> {
        match self.0 {
            0 => Ok(Outcome::Done),
            missed if missed == of => bail!("nothing was exported"),
            _ => Ok(Outcome::NeedsEyes),
        }
    }
}

fn table(args: &ExportArgs, store: &Store, lexicon: &Lexicon, ids: &[String]) -> Result<Outcome> {
    let secret = args.de_identified.then(|| secret(args.secret_file.as_deref())).transpose()?;
    let mut missed = Missed(0);
    let wholes: Vec<SignedWhole> =
        ids.iter().filter_map(|id| missed.or_said(id, store.whole(lexicon, id).map_err(Into::into))).collect();
    let outcome = missed.outcome(ids.len())?;
    let wholes: Vec<_> = wholes.iter().map(|whole| whole.whole(lexicon)).collect();
    output::write(to_csv(&wholes, secret.as_ref())?, args.output.as_deref(), args.force)?;
    if secret.is_some() {
        output::say(&format!("note: {KEPT}"));
    }
    Ok(outcome)
}

// A secret that nobody knows afterwards, unless a file has one.
fn secret(file: Option<&Path>) -> Result<Secret> {
    let Some(file) = file else {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).context("the system gives no random numbers")?;
        return Ok(Secret::new(&bytes));
    };
    let bytes = std::fs::read(file).with_context(|| format!("cannot read the secret in {}", file.display()))?;
    if bytes.trim_ascii().len() < SHORTEST_SECRET {
        bail!(
            "the secret in {} is shorter than {SHORTEST_SECRET} bytes; `head -c 32 /dev/urandom` makes one",
            file.display()
        );
    }
    Ok(Secret::new(bytes.trim_ascii()))
}

/// Bytes that a secret must have, or ids could be found out by trying all of them.
const SHORTEST_SECRET: usize = 16;

fn each(args: &ExportArgs, store: &Store, lexicon: &Lexicon, ids: &[String]) -> Result<Outcome> {
    let mut missed = Missed(0);
    for id in ids {
        let written = one(args, store, lexicon, id);
        if let Some(Some(file)) = missed.or_said(id, written) {
            output::say(&format!("written: {}", file.display()));
        }
    }
    // What went wrong with the only one is the command's own error, and was said already.
    missed.outcome(ids.len())
}

fn one(args: &ExportArgs, store: &Store, lexicon: &Lexicon, id: &str) -> Result<Option<PathBuf>> {
    let form = args.form.form();
    let file = args.output.as_deref().map(|output| match output.is_dir() {
        true => output.join(format!("{id}.{}", form.ending())),
        false => output.to_owned(),
    });
    output::check(file.as_deref(), args.force)?;
    let bytes = store.exported(lexicon, id, (form, args.paper.paper()), args.draft)?;
    output::write(bytes, file.as_deref(), args.force)?;
    Ok(file)
}

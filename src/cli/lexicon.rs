//! The commands about the lexicon.
//! Takes a folder of phrases laid over the built-in ones, or none; prints every fault with file and line, what there is,
//! and which examples do not hold. Leaves alone how phrases are understood.
//!
//! `newborn-neuro/arm-tone.toml:41: ...` is a fault; the check then ends with 1

use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context, Result};

use super::args::CheckArgs;
use super::{Outcome, output};
use crate::lexicon::check::{Alike, alike};
use crate::lexicon::compile::OPEN_VALUES;
use crate::lexicon::load::{self, Source};
use crate::lexicon::{Lexicon, LexiconError};
use crate::score::{Example, examples, given_instead};

/// The lexicon with the user's own folder, and with another attention word if one was given.
pub(super) fn load_with(folder: Option<&Path>, attention: Option<&str>) -> Result<Lexicon> {
    let lexicon = Lexicon::load(folder).context("cannot load the lexicon")?;
    match attention {
        Some(word) => lexicon.with_attention(word).context("cannot take another attention word"),
        None => Ok(lexicon),
    }
}

/// Checks the lexicon.
pub(super) fn check(args: &CheckArgs) -> Result<Outcome> {
    let mut sources = load::built_in();
    if let Some(folder) = &args.folder {
        sources.extend(load::from_folder(folder).context("cannot load the lexicon")?);
    }
    let lexicon = match Lexicon::from_sources(&sources) {
        Ok(lexicon) => lexicon,
        Err(LexiconError::Faults(faults)) => {
            let lines: String = faults.iter().map(|fault| format!("{fault}\n")).collect();
            output::print(&format!("{lines}faults: {}\n", faults.len()))?;
            return Ok(Outcome::NeedsEyes);
        }
        Err(error) => return Err(error).context("cannot load the lexicon"),
    };
    let examples = examples(&sources).context("cannot load the lexicon")?;
    let failed: Vec<(&Example, String)> =
        examples.iter().filter_map(|example| Some((example, given_instead(&lexicon, example)?))).collect();
    let untested = untested(&lexicon, &examples);
    let alike = alike(&lexicon);
    let mut text = if args.verbose { details(&failed, &untested, &alike) } else { String::new() };
    text.push_str(&counts(&lexicon, &sources));
    let _ = writeln!(text, "values without an example: {}", untested.len());
    let _ = writeln!(text, "pairs of items whose names sound alike: {}", alike.len());
    let _ = writeln!(text, "examples that do not hold: {} of {}", failed.len(), examples.len());
    output::print(&text)?;
    Ok(if failed.is_empty() { Outcome::Done } else { Outcome::NeedsEyes })
}

fn untested(lexicon: &Lexicon, examples: &[Example]) -> Vec<String> {
    let mut untested = Vec::new();
    for item in lexicon.items.iter().filter(|item| item.members.is_empty()) {
        for value in item.values.iter().filter(|value| !OPEN_VALUES.contains(&value.id.as_str())) {
            let tested =
                |example: &Example| example.gives.is_some() && example.item == item.id && example.value == value.id;
            if !examples.iter().any(tested) {
                untested.push(format!("{} {}", item.id, value.id));
            }
        }
    }
    untested
}

fn details(failed: &[(&Example, String)], untested: &[String], alike: &[Alike]) -> String {
    let mut text = String::new();
    for (example, instead) in failed {
        let wanted = example.gives.as_deref().unwrap_or("nothing");
        let _ = writeln!(text, "{} {}: \"{}\"", example.item, example.value, example.said);
        let _ = writeln!(text, "  must give {wanted}; gives {instead}");
    }
    for value in untested {
        let _ = writeln!(text, "no example takes {value}");
    }
    for Alike { one, other, closeness } in alike {
        let _ = writeln!(text, "\"{}\" ({}) sounds like \"{}\" ({}): {closeness:.2}", one.0, one.1, other.0, other.1);
    }
    text
}

fn counts(lexicon: &Lexicon, sources: &[Source]) -> String {
    let (groups, items): (Vec<_>, Vec<_>) = lexicon.items.iter().partition(|item| !item.members.is_empty());
    let own = |id: &str| !OPEN_VALUES.contains(&id);
    let values: usize = items.iter().map(|item| item.values.iter().filter(|value| own(&value.id)).count()).sum();
    let mut text = format!("no faults in {} files\n", sources.len());
    let _ = writeln!(text, "items: {}, groups: {}, values: {values}", items.len(), groups.len());
    let _ = writeln!(text, "phrases: {}", lexicon.phrases.len());
    text
}

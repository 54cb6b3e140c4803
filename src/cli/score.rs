//! The command `score`.
//! Takes a folder of narrations with annotated findings; prints a line a narration and the pooled figures. Leaves alone
//! how a finding is compared (`score`).
//!
//! `spoken-exam score tests/corpus --verbose` names every miss

use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context, Result};

use super::args::ScoreArgs;
use super::listen::Listener;
use super::{Outcome, output};
use crate::flow::{self, Narration};
use crate::lexicon::Lexicon;
use crate::score::{ErrorKind, HeardWords, Pair, Tally};
use crate::score::{compare, compare_words, pairs, predicted, read_gold, read_levels};

/// Compares, prints, and holds the result against a level if there is one.
pub(super) fn run(args: &ScoreArgs) -> Result<Outcome> {
    let level = args.at_least.as_deref().map(|file| read_level(file, args)).transpose()?;
    let pairs = pairs(&args.folder)?;
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let mut listener = args.sound.then(|| Listener::new(&args.hearing, &lexicon));
    let mut pooled = Tally::default();
    let mut words = HeardWords::default();
    let mut compared = 0;
    let width = pairs.iter().map(|pair| pair.name.chars().count()).fold("narration".len(), usize::max);
    output::print(&header(width))?;
    for pair in &pairs {
        let narration = match (&mut listener, &pair.text, &pair.sound) {
            (Some(listener), _, Some(sound)) => listener.narration(sound)?,
            (None, Some(text), _) => read_text(&lexicon, text)?,
            _ => continue,
        };
        let tally = compare(&predicted(&narration.draft), &annotated(pair)?);
        output::print(&line(&pair.name, width, &tally))?;
        if args.verbose {
            output::print(&differences(&tally))?;
        }
        pooled.add(&tally);
        if let (true, Some(text)) = (args.sound, &pair.text) {
            words.add(&compare_words(&lexicon, &read_text(&lexicon, text)?.utterances, &narration.utterances));
        }
        compared += 1;
    }
    output::print(&line(&format!("all {compared}"), width, &pooled))?;
    output::print(&closing(&pooled))?;
    if words.words > 0 {
        output::print(&hearing(&words))?;
    }
    let shortfalls = level.map(|level| level.shortfalls(&pooled)).unwrap_or_default();
    for shortfall in &shortfalls {
        output::say(&format!("below the level: {shortfall}"));
    }
    Ok(if shortfalls.is_empty() { Outcome::Done } else { Outcome::NeedsEyes })
}

fn read_level(file: &Path, args: &ScoreArgs) -> Result<crate::score::Level> {
    let cannot = || format!("cannot read the level {}", file.display());
    let text = std::fs::read_to_string(file).with_context(cannot)?;
    let levels = read_levels(&text).with_context(cannot)?;
    let folder = args.folder.canonicalize().unwrap_or_else(|_| args.folder.clone());
    let name = folder.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let name = if args.sound { format!("{name}-sound") } else { name };
    let level = levels.get(&name).copied();
    level.with_context(|| format!("cannot use the level {}: it has no table [{name}]; add one", file.display()))
}

fn read_text(lexicon: &Lexicon, file: &Path) -> Result<Narration> {
    let text = std::fs::read_to_string(file).with_context(|| format!("cannot read {}", file.display()))?;
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(flow::of_text(lexicon, &text, &name))
}

fn annotated(pair: &Pair) -> Result<Vec<crate::score::GoldRow>> {
    let cannot = || format!("cannot read {}", pair.gold.display());
    let text = std::fs::read_to_string(&pair.gold).with_context(cannot)?;
    read_gold(&text).with_context(cannot)
}

fn header(width: usize) -> String {
    format!("{:width$} findings  precision  recall     F1  clear  silent\n", "narration")
}

fn line(name: &str, width: usize, tally: &Tally) -> String {
    format!(
        "{name:width$} {:8}  {:9.3}  {:6.3}  {:5.3}  {:5.3}  {:6}\n",
        tally.annotated,
        tally.precision(),
        tally.recall(),
        tally.f1(),
        tally.clear(),
        tally.silent_errors()
    )
}

fn differences(tally: &Tally) -> String {
    let mut text = String::new();
    for row in &tally.missed {
        let _ = writeln!(text, "  - {} {} {} {}", row.item, row.side, row.value, row.flags.join(","));
    }
    for (finding, kind) in &tally.extra {
        let clear = if finding.clear { "clear" } else { "flagged" };
        let row = &finding.row;
        let (item, side, value) = (&row.item, &row.side, &row.value);
        let _ = writeln!(text, "  + {item} {side} {value} ({clear}, {}) \"{}\"", kind.words(), finding.quote);
    }
    text.lines().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn hearing(words: &HeardWords) -> String {
    format!(
        "of {} words said, heard otherwise: {:.3}; of {} names of items, recognised: {:.3}; \
         names put in for every 1,000 words: {:.1}\n",
        words.words,
        words.error_rate(),
        words.names,
        words.names_recall(),
        words.put_in_per_1000()
    )
}

fn closing(tally: &Tally) -> String {
    let mut text = String::new();
    let share = |count: usize| if tally.predicted == 0 { 0.0 } else { count as f64 * 1000.0 / tally.predicted as f64 };
    let _ = writeln!(
        text,
        "\nsilent errors, wrong and not flagged, for every 1,000 findings made: {:.1}",
        tally.silent_per_1000()
    );
    for kind in ErrorKind::ALL {
        let count = tally.silent.get(&kind).copied().unwrap_or_default();
        let _ = writeln!(text, "  {:22} {count:4}  {:6.1}", kind.words(), share(count));
    }
    let flags = if tally.agree == 0 { 1.0 } else { tally.agree_flags as f64 / tally.agree as f64 };
    let _ = writeln!(text, "flags as annotated, of the findings that agree: {flags:.3}");
    text
}

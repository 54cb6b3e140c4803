//! The command `batch`.
//! Takes a folder or a bucket; shows how far its batch is, tells what failed, and prints the sums. Leaves alone how a batch is
//! done (`batch`).
//!
//! `spoken-exam batch visits --to drafts` ends with 1 if a file failed

use std::fmt::Write as _;
use std::time::Duration;

use anyhow::{Context, Result};
use indicatif::{ProgressBar, ProgressStyle};

use super::args::{BatchArgs, BatchForm};
use super::listen::{self, BatchEars};
use super::{Outcome, output, stop, store};
use crate::batch::{self, Batch, Event, Gathered, Line, Place, Shard, Summary};
use crate::lexicon::Lexicon;
use crate::store::Store;

/// How long it may take to end after Ctrl-C: recognisers notice at the end of a step, and what is done is written down.
const PATIENCE: Duration = Duration::from_secs(10);

/// Does the batch, or gathers it.
pub(super) fn run(args: &BatchArgs) -> Result<Outcome> {
    if let Some(to) = args.to.as_ref().filter(|_| args.gather) {
        return gather(&args.from, to);
    }
    let variable = |name: &str| std::env::var(name).ok();
    // A store is one place for all, and has no parts.
    let shard = if args.to.is_some() { Shard::find(args.shard, &variable)? } else { Shard::WHOLE };
    if !shard.is_whole() && args.shard.is_none() {
        output::say(&format!("note: part {shard}, as the environment of this job says"));
    }
    let mut kept_in = opened(args)?;
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let stop = stop::flag(PATIENCE)?;
    let jobs = args.jobs.map_or_else(|| listen::threads(&args.hearing), usize::from);
    let ears = BatchEars::new(&args.hearing, &lexicon, jobs, &stop);
    let batch = Batch {
        from: args.from.clone(),
        to: args.to.clone(),
        beside: kept_in.iter().map(|store| Place::Folder(store.folder().to_owned())).collect(),
        shard,
        jobs,
        listen_again: args.listen_again,
        lexicon: &lexicon,
        ears: &ears,
        stop,
    };
    let mut shown = Shown::new(args.format);
    let summary = batch::run(&batch, kept_in.as_mut(), &mut |event| shown.tell(event));
    shown.end();
    let summary = summary?;
    match args.format {
        BatchForm::Summary => output::print(&told(&summary, args.to.as_ref()))?,
        BatchForm::Json => output::print(&summary.report_line(shard, &lexicon.identity))?,
    }
    Ok(if summary.failed == 0 { Outcome::Done } else { Outcome::NeedsEyes })
}

/// The store, if drafts go into it.
fn opened(args: &BatchArgs) -> Result<Option<Store>> {
    let wanted = args.store.is_some() || args.to.is_none();
    wanted.then(|| store::open_or_make(args.store.as_deref(), args.passphrase_file.as_deref())).transpose()
}

/// What is shown while it goes on.
struct Shown {
    bar: ProgressBar,
    form: BatchForm,
}

impl Shown {
    fn new(form: BatchForm) -> Self {
        Self { bar: ProgressBar::hidden(), form }
    }

    fn tell(&mut self, event: Event<'_>) {
        match event {
            Event::Found { files, bytes } => self.begin(files, bytes),
            Event::At { bytes } => self.bar.set_position(bytes),
            Event::Ended(line, _) => self.ended(line),
            Event::Note(note) => self.bar.suspend(|| output::say(&format!("note: {note}"))),
        }
    }

    fn begin(&mut self, files: usize, bytes: u64) {
        if output::watched() {
            let style = ProgressStyle::with_template("{msg} {wide_bar} {percent} % {eta} left");
            let bar = ProgressBar::new(bytes).with_message(format!("{files} files"));
            self.bar = bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        }
    }

    // A reader of standard output that went away is no reason to stop the work.
    fn ended(&self, line: &Line) {
        let text = line.written();
        self.bar.suspend(|| {
            if self.form == BatchForm::Json {
                let _ = output::print(&text);
            }
            if let (batch::Outcome::Failed, Some(reason)) = (line.outcome, &line.reason) {
                output::say(&format!("failed: {}: {reason}", line.file));
            }
        });
    }

    fn end(&self) {
        self.bar.finish_and_clear();
    }
}

fn told(summary: &Summary, to: Option<&Place>) -> String {
    let mut text = String::new();
    let drafted = to.map_or_else(
        || format!("{} in the store", counted(summary.drafted, "record")),
        |to| format!("{} in {to}", counted(summary.drafted, "draft")),
    );
    let now = summary.drafted - summary.already.min(summary.drafted);
    // Writing into a string does not fail.
    let _ = writeln!(text, "{}: {drafted}, {now} of them made now", counted(summary.files, "file"));
    let mut row = |count: usize, words: &str| {
        if count > 0 {
            let _ = writeln!(text, "  {count:>8} {words}");
        }
    };
    row(summary.findings, "findings, each to be confirmed by a clinician");
    row(summary.in_doubt, "of them need the reviewer's eye before anything else");
    row(summary.sound_lost, "drafts lost sound, or had no speech in it");
    row(summary.failed, "files failed; they are tried again next time");
    row(summary.left_out, "files left out: neither recording nor transcript");
    let (sound, taken) = (summary.seconds_of_sound_now, summary.seconds_taken);
    if sound > 0.0 {
        let rate = sound / taken.max(0.001);
        let _ = writeln!(text, "{} of sound in {}: {rate:.1} times real time", length(sound), length(taken));
    }
    text
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

fn length(seconds: f64) -> String {
    let whole = seconds.round();
    let (hours, rest) = ((whole / 3600.0).floor(), whole % 3600.0);
    if hours > 0.0 {
        format!("{hours:.0} h {:.0} min", (rest / 60.0).floor())
    } else {
        format!("{:.0} min {:.0} s", (rest / 60.0).floor(), rest % 60.0)
    }
}

fn gather(from: &Place, to: &Place) -> Result<Outcome> {
    let gathered = batch::gather(from, to, &mut |note| output::say(&format!("note: {note}")))?;
    output::print(&told_gathered(&gathered, to))?;
    let whole = gathered.missing.is_empty() && gathered.failed.is_empty();
    Ok(if whole { Outcome::Done } else { Outcome::NeedsEyes })
}

fn told_gathered(gathered: &Gathered, to: &Place) -> String {
    let sums = &gathered.summary;
    let mut text =
        format!("{} in the manifest: {} in {to}\n", counted(sums.files, "file"), counted(sums.drafted, "draft"));
    for part in &gathered.unended {
        let _ = writeln!(text, "not ended: part {part}; run it again");
    }
    for line in &gathered.failed {
        let _ = writeln!(text, "failed: {}: {}", line.file, line.reason.as_deref().unwrap_or("no reason was told"));
    }
    for file in &gathered.missing {
        let _ = writeln!(text, "missing: {file}");
    }
    text
}

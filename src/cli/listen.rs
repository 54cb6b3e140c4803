//! A recording's name → a narration, with progress shown.
//! Takes the arguments of hearing; finds and loads the model, hears recordings. Leaves alone how hearing is done
//! (`speech`) and what becomes of the words (`flow`).
//!
//! Without a model: "cannot find the speech model base in ...; run `spoken-exam setup`"

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use anyhow::{Context, Result, bail};
use indicatif::{ProgressBar, ProgressStyle};

use super::args::{HearingArgs, ModelChoice};
use super::{output, stop};
use crate::audio;
use crate::batch::Ears;
use crate::flow::{self, Hearers, Narration};
use crate::lexicon::Lexicon;
use crate::live::{Crew, Hearer, Models};
use crate::page::Dictation;
use crate::setup::{self, Model, Precision};
use crate::speech::Transcriber;

/// Hears recordings. The model is loaded when the first recording with sound in it comes.
pub(super) struct Listener<'a> {
    args: &'a HearingArgs,
    lexicon: &'a Lexicon,
    hearers: Vec<Hearer>,
}

impl<'a> Listener<'a> {
    /// Nothing is loaded yet.
    pub(super) fn new(args: &'a HearingArgs, lexicon: &'a Lexicon) -> Self {
        Self { args, lexicon, hearers: Vec::new() }
    }

    /// Hears a recording and makes a draft of it. Ctrl-C stops it.
    pub(super) fn narration(&mut self, file: &Path) -> Result<Narration> {
        let recording = audio::read(file).context("cannot hear the recording")?;
        if recording.is_silent() {
            return Ok(flow::of_silence(self.lexicon, &recording));
        }
        if self.hearers.is_empty() {
            let hearers = models(self.args)?.hearers(self.lexicon, &stop::flag(PATIENCE)?);
            self.hearers = hearers.context("cannot load the speech model")?;
        }
        let Some((first, others)) = self.hearers.split_first_mut() else { bail!("cannot hear without a speech model") };
        let others = others.iter_mut().map(|other| other.as_mut() as &mut dyn Transcriber).collect();
        let bar = bar(&recording.file_name, recording.length_ms());
        let mut progress = |progress: crate::speech::Progress| bar.set_position(progress.done_ms);
        let narration =
            flow::of_sound(self.lexicon, &recording, Hearers { first: first.as_mut(), others }, &mut progress);
        bar.finish_and_clear();
        narration.with_context(|| format!("cannot hear {}", file.display()))
    }
}

/// How long hearing may take to end after Ctrl-C. Nothing is written before it is done, so nothing can be left behind.
const PATIENCE: Duration = Duration::from_secs(1);

/// The recognisers of a dictation. `stop` breaks off what hears again, and the final pass.
pub(super) fn crew(args: &HearingArgs, lexicon: &Lexicon, stop: &Arc<AtomicBool>) -> Result<Crew> {
    Crew::load(&models(args)?, lexicon, stop).context("cannot load the speech model")
}

fn models(args: &HearingArgs) -> Result<Models> {
    Ok(Models {
        first: model_file(&args.model)?,
        second: (args.hearings > 1).then(|| other_model(args)).transpose()?,
        voice: voice_file(),
        third: args.hearings > 2,
        threads: threads(args),
    })
}

/// Who hear the recordings of a batch: several at once share the cores. Nothing is loaded yet.
pub(super) struct BatchEars<'a> {
    args: &'a HearingArgs,
    lexicon: &'a Lexicon,
    jobs: usize,
    stop: Arc<AtomicBool>,
    identity: OnceLock<std::result::Result<String, String>>,
}

impl<'a> BatchEars<'a> {
    /// `stop` breaks them off.
    pub(super) fn new(args: &'a HearingArgs, lexicon: &'a Lexicon, jobs: usize, stop: &Arc<AtomicBool>) -> Self {
        Self { args, lexicon, jobs, stop: Arc::clone(stop), identity: OnceLock::new() }
    }
}

impl Ears for BatchEars<'_> {
    fn identity(&self) -> std::result::Result<String, String> {
        let find = || models(self.args).and_then(|models| Ok(models.identity()?)).map_err(|error| format!("{error:#}"));
        self.identity.get_or_init(find).clone()
    }

    fn rounds(&self, rounds: usize) -> std::result::Result<Vec<Vec<Hearer>>, String> {
        let load = || -> Result<Vec<Vec<Hearer>>> {
            let models = Models { threads: (threads(self.args) / self.jobs).max(1), ..models(self.args)? };
            models.several(self.lexicon, &self.stop, rounds).context("cannot load the speech model")
        };
        load().map_err(|error| format!("{error:#}"))
    }
}

/// What the page needs for dictation. Nothing is loaded yet.
pub(super) fn dictation(args: HearingArgs) -> Dictation {
    let args = Arc::new(args);
    let checked = Arc::clone(&args);
    let check = move || model_file(&checked.model).map(drop).map_err(|error| format!("{error:#}"));
    let crew = move |lexicon: &Lexicon| crew(&args, lexicon, &Arc::default()).map_err(|error| format!("{error:#}"));
    Dictation { crew: Box::new(crew), check: Box::new(check) }
}

fn other_model(args: &HearingArgs) -> Result<PathBuf> {
    let other = if args.model == ModelChoice::Named(Model::TinyEn) { Model::Base } else { Model::TinyEn };
    model_file(&ModelChoice::Named(other)).context("cannot hear a second time (--hearings 1 needs no second model)")
}

/// How many cores may be used to hear.
pub(super) fn threads(args: &HearingArgs) -> usize {
    let all = || std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    args.threads.map_or_else(all, usize::from)
}

fn model_file(choice: &ModelChoice) -> Result<PathBuf> {
    let model = match choice {
        ModelChoice::File(file) if file.is_file() => return Ok(file.clone()),
        ModelChoice::File(file) => bail!(
            "cannot find the speech model {}: it is no file, nor one of base and tiny.en; \
             run `spoken-exam setup` and leave --model out",
            file.display()
        ),
        ModelChoice::Named(model) => *model,
    };
    let folder = models_folder()?;
    let there = |precision: &Precision| setup::is_there(&folder, &model, *precision);
    match Precision::ALL.into_iter().find(there) {
        Some(precision) => Ok(setup::model_path(&folder, &model, precision)),
        None => bail!("cannot find the speech model {model} in {}; run `spoken-exam setup`", folder.display()),
    }
}

// A model in a folder of its own is heard without voice activity rather than not at all.
fn voice_file() -> Option<PathBuf> {
    let folder = models_folder().ok().filter(|folder| setup::voice_is_there(folder))?;
    Some(setup::voice_path(&folder))
}

/// The folder where models are kept.
pub(super) fn models_folder() -> Result<PathBuf> {
    setup::default_folder(&|name| std::env::var_os(name))
        .context("cannot tell where speech models are kept: set SPOKEN_EXAM_MODELS to a folder")
}

fn bar(file_name: &str, length_ms: u64) -> ProgressBar {
    if !output::watched() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length_ms).with_message(file_name.to_owned());
    let style = ProgressStyle::with_template("hearing {msg} {wide_bar} {percent} % {eta} left");
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

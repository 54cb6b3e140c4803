//! The command `setup`.
//! Takes which models; makes them and voice activity ready while showing how far it is, and says where they are. Leaves
//! alone how (`setup`).
//!
//! A second time it prints "ready: ..., nothing to do"

use std::time::Duration;

use anyhow::{Context, Result};
use indicatif::{ProgressBar, ProgressStyle};

use super::args::SetupArgs;
use super::listen::models_folder;
use super::{Outcome, output, stop};
use crate::setup::{Model, ReadyFile, Step, Wanted, set_up_until};

/// How long a set-up may take to end after Ctrl-C: it stops pip and removes what it fetched.
const PATIENCE: Duration = Duration::from_secs(10);

/// Makes the models ready, one after the other.
pub(super) fn run(args: &SetupArgs) -> Result<Outcome> {
    let stop = stop::flag(PATIENCE)?;
    let models = args.model.map_or_else(|| vec![Model::Base, Model::TinyEn], |model| vec![model]);
    for (at, model) in models.iter().enumerate() {
        let wanted = Wanted { model: *model, precision: args.precision, folder: models_folder()? };
        let mut display = Display { watched: output::watched(), doing: String::new(), bar: ProgressBar::hidden() };
        let ready = set_up_until(&wanted, &stop, &mut |step| display.show(step));
        display.bar.finish_and_clear();
        let ready = ready.with_context(|| format!("cannot set up the speech model {model}"))?;
        output::print(&line(&format!("the speech model {model}"), &ready.model))?;
        if at + 1 == models.len() {
            output::print(&line("voice activity", &ready.voice))?;
        }
    }
    Ok(Outcome::Done)
}

fn line(what: &str, ready: &ReadyFile) -> String {
    let done = if ready.already_there { "was there already, nothing to do" } else { "is ready" };
    format!("{what} {done}\n{}\nsha256 {}\n", ready.path.display(), ready.sha256)
}

/// What is shown: a bar at a terminal, a line a step elsewhere.
struct Display {
    watched: bool,
    doing: String,
    bar: ProgressBar,
}

impl Display {
    fn show(&mut self, step: Step) {
        match step {
            Step::Downloading { package, number, of, bytes, total } => {
                self.at(&format!("fetching {package} ({number} of {of})"), bytes, total, true);
            }
            Step::Checking { file } => self.at(&format!("checking {file}"), 0, 0, false),
            Step::Converting { tensor, of } => self.at("converting", tensor as u64, of as u64, false),
            Step::Writing { bytes } => self.at("writing", bytes, bytes, true),
            Step::OtherSource => self.at("the first source failed, trying the second", 0, 0, false),
        }
    }

    fn at(&mut self, doing: &str, done: u64, total: u64, bytes: bool) {
        if self.doing != doing {
            doing.clone_into(&mut self.doing);
            self.bar.finish_and_clear();
            if self.watched {
                self.bar = bar(doing, total, bytes);
            } else {
                output::say(doing);
            }
        }
        self.bar.set_position(done);
    }
}

fn bar(doing: &str, total: u64, bytes: bool) -> ProgressBar {
    let template = match (total, bytes) {
        (0, _) => "{msg}",
        (_, true) => "{msg} {wide_bar} {binary_bytes} of {binary_total_bytes}",
        (_, false) => "{msg} {wide_bar} {pos} of {len}",
    };
    let style = ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(total).with_style(style).with_message(doing.to_owned())
}

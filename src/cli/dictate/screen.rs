//! What a terminal shows while somebody dictates.
//! Takes what the dictation tells; draws it anew on a terminal, or writes a line for each thing where standard error is none.
//! Leaves alone what it means. Nothing is told by colour alone.
//!
//! `+ scarf sign left: to midline` was taken, `? Moro: complete` needs the eye

use std::sync::{Mutex, MutexGuard, PoisonError};

use console::{Term, style};

use crate::cli::output;
use crate::export::words::{clock, line_of};
use crate::lexicon::Lexicon;
use crate::live::{Event, Picture};
use crate::record::DraftFinding;

/// What is shown.
#[derive(Debug, Default)]
struct State {
    kept_ms: u64,
    decibels: f32,
    paused: bool,
    behind_ms: u64,
    guess: String,
    said: String,
    note: String,
    answer: Vec<String>,
    found: Vec<Found>,
    left: usize,
    last: Option<(u64, u64)>,
}

/// A finding in a line.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Found {
    words: String,
    clear: bool,
    newest: bool,
}

/// A terminal, or what stands for one.
pub(super) struct Screen {
    state: Mutex<State>,
    terminal: Option<Term>,
    regions: Vec<String>,
}

/// The level's bar: so many signs for so many decibels.
const BAR: usize = 20;
const QUIETEST: f32 = -60.0;

impl Screen {
    pub(super) fn new(lexicon: &Lexicon) -> Self {
        let terminal = output::watched().then(Term::stderr);
        Self { state: Mutex::default(), terminal, regions: lexicon.regions() }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Shows the first line.
    pub(super) fn begin(&self, words: &str) {
        self.say(words);
        if let Some(terminal) = &self.terminal {
            let _ = terminal.hide_cursor();
            let _ = terminal.clear_screen();
        }
    }

    /// Leaves the terminal as it was.
    pub(super) fn end(&self) {
        if let Some(terminal) = &self.terminal {
            let _ = terminal.clear_screen();
            let _ = terminal.show_cursor();
        }
    }

    /// Says something that no event tells.
    pub(super) fn say(&self, words: &str) {
        words.clone_into(&mut self.state().note);
        match &self.terminal {
            Some(terminal) => self.draw(terminal),
            None => output::say(words),
        }
    }

    /// Shows an event.
    pub(super) fn show(&self, event: &Event) {
        let told = self.state().take(event, &self.regions);
        match &self.terminal {
            Some(terminal) => self.draw(terminal),
            None => told.iter().for_each(|line| output::say(line)),
        }
    }

    fn draw(&self, terminal: &Term) {
        let (height, width) = terminal.size();
        let lines = self.state().lines(usize::from(height).saturating_sub(1), usize::from(width));
        // Drawn over what is there: a screen that is cleared first flickers.
        let text: String = lines.iter().map(|line| format!("{line}\x1b[K\n")).collect();
        let _ = terminal.write_str(&format!("\x1b[H{text}\x1b[J"));
    }
}

impl State {
    /// Takes an event, and gives the lines that tell it where nothing is drawn.
    fn take(&mut self, event: &Event, regions: &[String]) -> Vec<String> {
        match event {
            Event::Level { decibels, kept_ms } => {
                (self.decibels, self.kept_ms) = (*decibels, *kept_ms);
                return Vec::new();
            }
            Event::Guess(text) => {
                self.guess.clone_from(text);
                return Vec::new();
            }
            Event::Said { text, is_order, .. } => {
                self.said.clone_from(text);
                self.answer.clear();
                return vec![format!("{}: {text}", if *is_order { "order" } else { "said" })];
            }
            Event::Draft(picture) => return self.take_picture(picture, regions),
            Event::Answer(answer) => {
                self.answer = std::iter::once(format!("{}:", answer.title)).chain(answer.lines.clone()).collect();
                return self.answer.clone();
            }
            Event::Paused(on) => {
                self.paused = *on;
                self.note = if *on { "paused: nothing is kept".to_owned() } else { "recording again".to_owned() };
            }
            Event::Marked(at) => self.note = format!("marked at {}", clock(*at)),
            Event::TakenBack(what) if what.is_empty() => self.note = "there was nothing to take back".to_owned(),
            Event::TakenBack(what) => self.note = format!("taken back: {what}"),
            Event::NotUnderstood(text) => self.note = format!("an order that was not understood: {text}"),
            Event::Behind(ms) => {
                self.behind_ms = *ms;
                let behind = format!("hearing is {} s behind; nothing is lost", ms / 1000);
                self.note = if *ms > 0 { behind } else { "hearing has caught up".to_owned() };
            }
            Event::EndAsked => self.note = "ending".to_owned(),
            Event::Final(progress) => {
                self.last = Some((progress.done_ms, progress.total_ms.max(1)));
                return Vec::new();
            }
            Event::Trouble(words) => self.note.clone_from(words),
        }
        vec![self.note.clone()]
    }

    fn take_picture(&mut self, picture: &Picture, regions: &[String]) -> Vec<String> {
        let before = std::mem::take(&mut self.found);
        self.left = picture.left.iter().map(|left| left.items.len()).sum();
        for region in regions {
            let of_region = picture.draft.findings.iter().enumerate().filter(|(_, found)| found.region == *region);
            self.found.extend(of_region.map(|(at, found)| Found::of(found, picture.newest.contains(&at))));
        }
        self.found.iter().filter(|found| found.newest && !before.contains(found)).map(Found::line).collect()
    }

    /// All of it in so many lines; where there are too many findings, the newest stay.
    fn lines(&self, height: usize, width: usize) -> Vec<String> {
        let cut = |text: String| text.chars().take(width).collect::<String>();
        if let Some((done, total)) = self.last {
            return vec![cut(format!("listening to all of it again: {} %", 100 * done / total))];
        }
        let mark = if self.paused { style("|| paused").yellow() } else { style("(o) recording").red() };
        let (time, level) = (clock(self.kept_ms), level(self.decibels));
        let mut lines = vec![format!("{mark} {time} [{level}] {} still to do", self.left), cut(self.note.clone())];
        let mut foot = vec![cut(format!("> {}", self.said)), style(cut(format!("  {}", self.guess))).dim().to_string()];
        foot.splice(0..0, self.answer.iter().cloned().map(cut));
        let room = height.saturating_sub(lines.len() + foot.len());
        let shown: Vec<&Found> = if self.found.len() <= room {
            self.found.iter().collect()
        } else {
            let newest = self.found.iter().filter(|found| found.newest);
            newest.chain(self.found.iter().filter(|found| !found.newest)).take(room).collect()
        };
        lines.extend(shown.into_iter().map(|found| found.drawn(&cut)));
        lines.extend(foot);
        lines
    }
}

impl Found {
    fn of(finding: &DraftFinding, newest: bool) -> Self {
        Self { words: line_of(finding), clear: finding.is_clear(), newest }
    }

    fn line(&self) -> String {
        let (mark, doubt) = if self.clear { ('+', "") } else { ('?', "  (needs your eye)") };
        format!("{mark} {}{doubt}", self.words)
    }

    fn drawn(&self, cut: &dyn Fn(String) -> String) -> String {
        let line = cut(format!("{}{}", self.line(), if self.newest { "  new" } else { "" }));
        let line = if self.newest { style(line).bold() } else { style(line) };
        if self.clear { line } else { line.yellow() }.to_string()
    }
}

fn level(decibels: f32) -> String {
    let share = ((decibels - QUIETEST) / -QUIETEST).clamp(0.0, 1.0);
    let full = (share * BAR as f32).round() as usize;
    format!("{}{}", "#".repeat(full), ".".repeat(BAR - full))
}

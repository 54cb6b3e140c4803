//! Where everything of a dictation comes together.
//! Takes sound that is on the disk, what was heard, and orders; keeps the narration so far and tells what it comes to. It never
//! waits for a recogniser. Leaves alone the disk (`keeper`) and the hearing (`workers`).
//!
//! a piece was heard: it is added behind the others, the draft is made anew and told

use std::collections::VecDeque;
use std::ops::RangeBounds;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;

use crate::flow::as_spoken::{self, Settled, Spoken};
use crate::lexicon::Lexicon;
use crate::live::last::{Aside, Pause};
use crate::live::recent::Recent;
use crate::live::settling::Settling;
use crate::live::workers::{Caught, Workers};
use crate::live::{Event, Order, Picture, Tell, all_waiting, orders, picture};
use crate::record::{Origin, Sources};
use crate::span::SoundSpan;
use crate::speech::pauses::{Stretch, to_ms};
use crate::speech::{Cutter, Heard, SpeechError, Utterance};

/// What is given to the table.
pub(super) enum ToTable {
    /// Sound of the recording.
    Sound(Vec<i16>),
    /// Sound during a pause, of which nothing is kept.
    Aside(Vec<i16>),
    /// An order that was not spoken.
    Order(Order),
    /// What was heard at once.
    Caught(Caught),
    /// What is guessed.
    Guessed(Stretch, String),
    /// What was heard again.
    Settled(Stretch, Result<Settled, SpeechError>),
    /// Nothing more comes.
    End,
}

/// What the table and whoever writes the sound both heed.
#[derive(Default)]
pub(super) struct Heeded {
    /// Nothing is kept.
    pub(super) paused: AtomicBool,
    /// The program itself speaks.
    pub(super) speaking: AtomicBool,
    /// It is being ended: what waits need not be heard any more.
    pub(super) ending: AtomicBool,
}

/// A stretch that was heard once.
pub(super) struct Once {
    pub(super) at: Stretch,
    pub(super) said: Vec<Utterance>,
}

/// A stretch that may be whole.
pub(super) struct Maybe {
    pub(super) at: Stretch,
    pub(super) heard: Option<Heard>,
}

/// A stretch that is whole and being heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Waiting {
    pub(super) at: Stretch,
    /// Whether it was said during a pause.
    pub(super) aside: bool,
}

/// Everything of a dictation but the sound on the disk.
pub(super) struct Table {
    pub(super) lexicon: Arc<Lexicon>,
    pub(super) workers: Workers,
    pub(super) set: String,
    pub(super) tell: Tell,
    pub(super) heeded: Arc<Heeded>,
    pub(super) cutter: Cutter,
    pub(super) recent: Recent,
    /// The sound of a pause, while it is paused.
    pub(super) aside: Option<Recent>,
    pub(super) maybe: Option<Maybe>,
    /// Stretches that are being heard, in order.
    pub(super) waiting: VecDeque<Waiting>,
    pub(super) guessed_at: usize,
    pub(super) told_behind: u64,
    pub(super) once: Vec<Once>,
    pub(super) settling: Settling,
    pub(super) spoken: Spoken,
    /// Orders that were not spoken and belong into the narration.
    pub(super) by_hand: Vec<Utterance>,
    pub(super) pauses: Vec<Pause>,
    pub(super) picture: Arc<Picture>,
    /// Orders that were done.
    pub(super) obeyed: Vec<SoundSpan>,
}

impl Table {
    pub(super) fn new(
        lexicon: Arc<Lexicon>,
        mut workers: Workers,
        set: String,
        tell: Tell,
        heeded: Arc<Heeded>,
    ) -> Self {
        let cutter = Cutter::new(workers.take_voice());
        let nothing = Spoken::default().draft(&lexicon, &[], sources(&workers, 0));
        let picture = Arc::new(picture::of(&lexicon, &set, nothing.draft, None));
        Self {
            lexicon,
            workers,
            set,
            tell,
            heeded,
            cutter,
            recent: Recent::default(),
            aside: None,
            maybe: None,
            waiting: VecDeque::new(),
            guessed_at: 0,
            told_behind: 0,
            once: Vec::new(),
            settling: Settling::default(),
            spoken: Spoken::default(),
            by_hand: Vec::new(),
            pauses: Vec::new(),
            picture,
            obeyed: Vec::new(),
        }
    }

    /// Works until nothing more comes; gives what the final pass needs to know.
    pub(super) fn run(mut self, receiver: &Receiver<ToTable>) -> (Aside, Workers) {
        self.tell(Event::Draft(Arc::clone(&self.picture)));
        'all: while let Some(waiting) = all_waiting(receiver) {
            for one in waiting {
                match one {
                    ToTable::Sound(samples) => self.sound(&samples),
                    ToTable::Aside(samples) => self.sound_aside(&samples),
                    ToTable::Order(order) => self.order(order),
                    ToTable::Caught(caught) => self.caught(caught),
                    ToTable::Guessed(at, text) => self.guessed(at, text),
                    ToTable::Settled(at, settled) => self.settled(at, settled),
                    ToTable::End => break 'all,
                }
            }
        }
        self.end_pause();
        let aside = Aside { pauses: self.pauses, by_hand: self.by_hand, shown: Some(self.picture.draft.clone()) };
        (aside, self.workers)
    }

    pub(super) fn tell(&self, event: Event) {
        (self.tell)(event);
    }

    pub(super) fn trouble(&self, words: &str) {
        self.tell(Event::Trouble(words.to_owned()));
    }

    /// Where the recording has come to, in milliseconds.
    pub(super) fn now_ms(&self) -> u64 {
        to_ms(self.recent.end())
    }

    /// Makes the draft anew and tells it, and does what was ordered by voice.
    pub(super) fn draw(&mut self) {
        let mut once: Vec<Utterance> = self.once.iter().flat_map(|once| once.said.iter().cloned()).collect();
        as_spoken::put_in(&mut once, &self.by_hand_within(to_ms(self.settling.until)..));
        let narration = self.spoken.draft(&self.lexicon, &once, sources(&self.workers, self.now_ms()));
        let ordered = orders::spoken(&narration, &self.obeyed);
        let picture = Arc::new(picture::of(&self.lexicon, &self.set, narration.draft, Some(&self.picture)));
        let last = std::mem::replace(&mut self.picture, Arc::clone(&picture));
        if *picture != *last {
            self.tell(Event::Draft(picture));
        }
        for order in ordered {
            self.obey(&order, &last);
        }
    }

    /// Orders that were not spoken, of some time of the recording in milliseconds.
    pub(super) fn by_hand_within(&self, time: impl RangeBounds<u64>) -> Vec<Utterance> {
        let is_within = |said: &&Utterance| said.sound.is_some_and(|sound| time.contains(&sound.start_ms));
        self.by_hand.iter().filter(is_within).cloned().collect()
    }

    /// Begins to keep nothing.
    pub(super) fn begin_pause(&mut self) {
        if self.aside.is_some() {
            return;
        }
        self.heeded.paused.store(true, Ordering::Relaxed);
        for cut in self.cutter.finish() {
            self.cut(cut);
        }
        self.cutter.restart(0);
        self.aside = Some(Recent::default());
        self.tell(Event::Guess(String::new()));
        self.tell(Event::Paused(true));
    }

    /// Goes on.
    pub(super) fn end_pause(&mut self) {
        let Some(aside) = self.aside.take() else { return };
        self.heeded.paused.store(false, Ordering::Relaxed);
        self.cutter.restart(self.recent.end());
        self.maybe = None;
        let (at_ms, length_ms) = (self.now_ms(), to_ms(aside.end()));
        self.pauses.push(Pause { at_ms, length_ms, wanted: true });
        self.tell(Event::Paused(false));
    }
}

/// Where the draft so far comes from: a recording that has no hash yet.
fn sources(workers: &Workers, length_ms: u64) -> Sources {
    let (model, other_models) = workers.identities();
    let origin = Origin { file_name: String::new(), sha256: String::new(), length_ms: Some(length_ms) };
    Sources { origin, model: Some(model), other_models, notices: Vec::new() }
}

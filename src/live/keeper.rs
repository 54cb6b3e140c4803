//! Sound that comes in → the disk, at once, and then to whoever hears.
//! Takes blocks and orders in the order in which they came; writes each block before anything else is done with it. What
//! cannot be written waits and is tried again. While it is paused nothing is written, and while the program itself speaks
//! silence is. Leaves alone what is in the sound.
//!
//! The recogniser may be minutes behind: the sound is on the disk all the same

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, Sender};
use std::time::{Duration, Instant};

use crate::audio::as_fractions;
use crate::live::table::{Heeded, ToTable};
use crate::live::{Event, Keep, Order, Tell, all_waiting};
use crate::speech::cutter::decibels;
use crate::speech::pauses::{SAMPLE_RATE, to_ms};

/// What comes in.
pub(super) enum In {
    /// A block of sound.
    Sound(Vec<i16>),
    /// An order that was not spoken.
    Order(Order),
    /// Nothing more comes.
    End,
}

/// How often the disk is waited for.
const SYNCHRONISE: Duration = Duration::from_millis(900);
/// How often writing is tried again.
const TRY_AGAIN: Duration = Duration::from_secs(1);
/// The level is told once for so many samples.
const LEVEL: usize = SAMPLE_RATE / 4;
/// The program itself never speaks for longer, in samples.
const LONGEST_ANSWER: usize = 60 * SAMPLE_RATE;

/// Writes sound.
pub(super) struct Keeper<K> {
    keep: K,
    to_table: Sender<ToTable>,
    tell: Tell,
    heeded: Arc<Heeded>,
    /// What could not be written yet.
    unwritten: Vec<i16>,
    /// Samples of the recording, written or waiting.
    taken: usize,
    synchronised: Instant,
    failed: Option<Instant>,
    level: Vec<f32>,
    /// Samples of silence written in the place of the program's own voice.
    spoken_over: usize,
}

impl<K: Keep> Keeper<K> {
    pub(super) fn new(keep: K, to_table: Sender<ToTable>, tell: Tell, heeded: Arc<Heeded>) -> Self {
        let synchronised = Instant::now();
        let (unwritten, level) = (Vec::new(), Vec::new());
        Self { keep, to_table, tell, heeded, unwritten, taken: 0, synchronised, failed: None, level, spoken_over: 0 }
    }

    /// Works until nothing more comes, and gives back where it wrote to.
    pub(super) fn run(mut self, incoming: &Receiver<In>) -> K {
        'all: while let Some(waiting) = all_waiting(incoming) {
            for one in waiting {
                match one {
                    In::Sound(samples) => self.sound(samples),
                    In::Order(order) => self.order(order),
                    In::End => break 'all,
                }
            }
            if self.synchronised.elapsed() >= SYNCHRONISE {
                self.synchronise();
            }
        }
        self.failed = None;
        self.write();
        self.synchronise();
        let _ = self.to_table.send(ToTable::End);
        self.keep
    }

    fn sound(&mut self, mut samples: Vec<i16>) {
        if self.heeded.paused.load(Ordering::Relaxed) {
            self.tell_level(&samples);
            let _ = self.to_table.send(ToTable::Aside(samples));
            return;
        }
        if self.heeded.speaking.load(Ordering::Relaxed) {
            self.spoken_over += samples.len();
            samples.fill(0);
            // Whoever began to speak may have died: the examiner must not be unheard for good.
            if self.spoken_over > LONGEST_ANSWER {
                self.order(Order::SpeakingEnds);
            }
        }
        self.unwritten.extend_from_slice(&samples);
        self.taken += samples.len();
        self.write();
        self.tell_level(&samples);
        let _ = self.to_table.send(ToTable::Sound(samples));
    }

    fn order(&mut self, order: Order) {
        match order {
            Order::SpeakingBegins => {
                self.spoken_over = 0;
                self.heeded.speaking.store(true, Ordering::Relaxed);
            }
            Order::SpeakingEnds => self.heeded.speaking.store(false, Ordering::Relaxed),
            Order::Pause => self.heeded.paused.store(true, Ordering::Relaxed),
            Order::Resume => self.heeded.paused.store(false, Ordering::Relaxed),
            _ => (),
        }
        let _ = self.to_table.send(ToTable::Order(order));
    }

    fn write(&mut self) {
        if self.unwritten.is_empty() || self.failed.is_some_and(|at| at.elapsed() < TRY_AGAIN) {
            return;
        }
        match self.keep.add(&self.unwritten) {
            Ok(()) => {
                self.unwritten.clear();
                if self.failed.take().is_some() {
                    (self.tell)(Event::Trouble("the recording is written again; nothing of it was lost".to_owned()));
                }
            }
            Err(error) => {
                if self.failed.is_none() {
                    let words = format!("the recording cannot be written and waits in memory: {error}");
                    (self.tell)(Event::Trouble(words));
                }
                self.failed = Some(Instant::now());
            }
        }
    }

    fn synchronise(&mut self) {
        self.synchronised = Instant::now();
        if self.failed.is_none()
            && let Err(error) = self.keep.synchronise()
        {
            (self.tell)(Event::Trouble(format!("the disk may not keep the recording: {error}")));
        }
    }

    fn tell_level(&mut self, samples: &[i16]) {
        self.level.extend(as_fractions(samples));
        if self.level.len() >= LEVEL {
            let kept = self.taken - self.unwritten.len();
            (self.tell)(Event::Level { decibels: decibels(&self.level), kept_ms: to_ms(kept) });
            self.level.clear();
        }
    }
}

//! Two threads that hear: one what was just said and, while there is time, what is being said; one what was said before, as the
//! final pass will.
//! Takes pieces of sound; gives what each recogniser wrote, at its time in the recording. A guess is broken off when something
//! was said. Leaves alone what to hear when (`cutting`, `settling`).
//!
//! Two threads, since each recogniser works best on a core of its own

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use crate::flow::as_spoken::{self, Before, Piece, Settled};
use crate::lexicon::Lexicon;
use crate::live::crew::{Crew, Hearer};
use crate::live::table::ToTable;
use crate::speech::pauses::{Stretch, to_ms};
use crate::speech::{Heard, ModelIdentity, SpeechError, Utterance, Voice};

/// A piece of sound, and where it lies.
pub(super) struct Sound {
    pub(super) at: Stretch,
    pub(super) samples: Vec<f32>,
    /// Whether it is part of the recording: what is heard during a pause is not.
    pub(super) aside: bool,
}

/// What was heard in a piece.
pub(super) struct Caught {
    pub(super) at: Stretch,
    pub(super) aside: bool,
    pub(super) heard: Result<Heard, SpeechError>,
}

/// A piece to be heard again, with what stands before it.
pub(super) struct Again {
    pub(super) sound: Sound,
    pub(super) before: Before,
    /// What was given by hand within it.
    pub(super) by_hand: Vec<Utterance>,
}

/// What there is to do.
#[derive(Default)]
struct Jobs {
    hear: VecDeque<Sound>,
    guess: Option<Sound>,
    again: Option<Again>,
    hearing: bool,
    guessing: bool,
    end: bool,
}

/// Jobs, and who waits for them.
#[derive(Default)]
struct Board {
    jobs: Mutex<Jobs>,
    changed: Condvar,
}

impl Board {
    fn lock(&self) -> MutexGuard<'_, Jobs> {
        // Each change of the jobs is one step: after a panic they are as good as before.
        self.jobs.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait<T>(&self, mut take: impl FnMut(&mut Jobs) -> Option<T>) -> Option<T> {
        let mut jobs = self.lock();
        loop {
            if jobs.end {
                return None;
            }
            if let Some(job) = take(&mut jobs) {
                return Some(job);
            }
            jobs = self.changed.wait(jobs).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

/// The threads.
pub(super) struct Workers {
    board: Arc<Board>,
    identity: ModelIdentity,
    others: Vec<ModelIdentity>,
    guesses: bool,
    settles: bool,
    stop_guess: Arc<AtomicBool>,
    stop_again: Arc<AtomicBool>,
    ear: JoinHandle<(Hearer, Option<Hearer>)>,
    again: JoinHandle<Vec<Hearer>>,
    rest: Rest,
}

/// What of a crew waits meanwhile.
struct Rest {
    last: Vec<Hearer>,
    voice: Option<Voice>,
}

impl Workers {
    pub(super) fn begin(crew: Crew, lexicon: &Arc<Lexicon>, to_table: Sender<ToTable>) -> Self {
        let board = Arc::new(Board::default());
        let Crew { quick, guesser, stop_guess, again, stop_again, last, voice } = crew;
        let identity = quick.identity();
        let others = again.iter().skip(1).map(|hearer| hearer.identity()).collect();
        let (guesses, settles) = (guesser.is_some(), again.len() > 1);
        let ear = {
            let (board, stop, to_table) = (Arc::clone(&board), Arc::clone(&stop_guess), to_table.clone());
            std::thread::spawn(move || hear(quick, guesser, &board, &stop, &to_table))
        };
        let again = {
            let (board, lexicon) = (Arc::clone(&board), Arc::clone(lexicon));
            std::thread::spawn(move || hear_again(again, &lexicon, &board, &to_table))
        };
        let rest = Rest { last, voice };
        Self { board, identity, others, guesses, settles, stop_guess, stop_again, ear, again, rest }
    }

    /// Voice activity, for whoever finds the pauses.
    pub(super) fn take_voice(&mut self) -> Option<Voice> {
        self.rest.voice.take()
    }

    /// The model that hears, and those that hear again.
    pub(super) fn identities(&self) -> (ModelIdentity, Vec<ModelIdentity>) {
        (self.identity.clone(), self.others.clone())
    }

    /// Whether anybody hears again.
    pub(super) fn settle(&self) -> bool {
        self.settles
    }

    /// Lets a piece be heard, before anything else.
    pub(super) fn hear(&self, sound: Sound) {
        let mut jobs = self.board.lock();
        jobs.hear.push_back(sound);
        jobs.guess = None;
        if jobs.guessing {
            self.stop_guess.store(true, Ordering::Relaxed);
        }
        self.board.changed.notify_all();
    }

    /// Takes back pieces that nobody has begun to hear.
    pub(super) fn not_yet(&self, at: Stretch) -> bool {
        let mut jobs = self.board.lock();
        let before = jobs.hear.len();
        jobs.hear.retain(|sound| sound.at != at || sound.aside);
        jobs.hear.len() < before
    }

    /// Whether the ear has time for a guess.
    pub(super) fn has_time(&self) -> bool {
        let jobs = self.board.lock();
        self.guesses && jobs.hear.is_empty() && jobs.guess.is_none() && !jobs.hearing && !jobs.guessing
    }

    /// Lets somebody guess.
    pub(super) fn guess(&self, sound: Sound) {
        self.board.lock().guess = Some(sound);
        self.board.changed.notify_all();
    }

    /// Lets a piece be heard again.
    pub(super) fn hear_again(&self, again: Again) {
        self.board.lock().again = Some(again);
        self.board.changed.notify_all();
    }

    /// Ends the threads, and gives the crew back. None if one of them broke down.
    pub(super) fn end(self) -> Option<Crew> {
        self.board.lock().end = true;
        self.board.changed.notify_all();
        self.stop_guess.store(true, Ordering::Relaxed);
        self.stop_again.store(true, Ordering::Relaxed);
        let (ear, again) = (self.ear.join(), self.again.join());
        self.stop_guess.store(false, Ordering::Relaxed);
        self.stop_again.store(false, Ordering::Relaxed);
        let ((quick, guesser), again) = (ear.ok()?, again.ok()?);
        let (stop_guess, stop_again) = (self.stop_guess, self.stop_again);
        Some(Crew { quick, guesser, stop_guess, again, stop_again, last: self.rest.last, voice: self.rest.voice })
    }
}

enum Ear {
    Hear(Sound),
    Guess(Sound),
}

fn hear(
    mut quick: Hearer,
    mut guesser: Option<Hearer>,
    board: &Board,
    stop: &AtomicBool,
    to_table: &Sender<ToTable>,
) -> (Hearer, Option<Hearer>) {
    let next = |jobs: &mut Jobs| {
        (jobs.hearing, jobs.guessing) = (false, false);
        if let Some(sound) = jobs.hear.pop_front() {
            jobs.hearing = true;
            return Some(Ear::Hear(sound));
        }
        let sound = jobs.guess.take()?;
        jobs.guessing = true;
        stop.store(false, Ordering::Relaxed);
        Some(Ear::Guess(sound))
    };
    while let Some(job) = board.wait(next) {
        let told = match job {
            Ear::Hear(sound) => {
                let heard = quick.transcribe(&sound.samples, &mut |_| ());
                let heard = heard.map(|heard| as_spoken::placed(heard, to_ms(sound.at.start)));
                ToTable::Caught(Caught { at: sound.at, aside: sound.aside, heard })
            }
            Ear::Guess(sound) => {
                let Some(Ok(heard)) = guesser.as_mut().map(|one| one.transcribe(&sound.samples, &mut |_| ())) else {
                    continue;
                };
                let texts: Vec<String> = heard.utterances.into_iter().map(|said| said.text).collect();
                ToTable::Guessed(sound.at, texts.join(" "))
            }
        };
        if to_table.send(told).is_err() {
            break;
        }
    }
    (quick, guesser)
}

fn hear_again(mut again: Vec<Hearer>, lexicon: &Lexicon, board: &Board, to_table: &Sender<ToTable>) -> Vec<Hearer> {
    while let Some(job) = board.wait(|jobs| jobs.again.take()) {
        let at = job.sound.at;
        if to_table.send(ToTable::Settled(at, settled(&mut again, lexicon, job))).is_err() {
            break;
        }
    }
    again
}

fn settled(again: &mut [Hearer], lexicon: &Lexicon, job: Again) -> Result<Settled, SpeechError> {
    let Again { sound, before, by_hand } = job;
    let from_ms = to_ms(sound.at.start);
    let mut heard = Vec::new();
    for hearer in again.iter_mut() {
        let mut one = as_spoken::placed(hearer.transcribe(&sound.samples, &mut |_| ())?, from_ms).utterances;
        as_spoken::put_in(&mut one, &by_hand);
        heard.push(one);
    }
    let mut heard = heard.into_iter();
    let piece = Piece { first: heard.next().unwrap_or_default(), again: heard.collect() };
    let Some(judge) = again.get_mut(1) else { return Err(SpeechError::Cancelled) };
    as_spoken::settle(lexicon, before, piece, (&sound.samples, from_ms), judge.as_mut())
}

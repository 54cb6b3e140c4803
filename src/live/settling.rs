//! What was heard at once is heard again, as the final pass will hear it, and then stays.
//! Takes what was heard so far; lets up to twenty seconds of speech, less before a pause, be heard again together, and
//! puts what that comes to in the place of what was heard at once. Leaves alone how (`flow::as_spoken`).
//!
//! A finding that needs the eye at first, because it was heard only once, is clear some seconds later

use crate::flow::as_spoken::{self, Settled};
use crate::live::table::{Once, Table};
use crate::live::workers::{Again, Sound};
use crate::speech::SpeechError;
use crate::speech::pauses::{SAMPLE_RATE, Stretch, to_ms};
use crate::speech::windows::windows;

/// So much speech is heard again at once, in samples, at most: more than a window of the final pass, so that its third hearing is
/// cut in other places. On the samples the F1 of what is shown was .891 with 20 s and .882 with 30, and much of that is chance.
const TOGETHER: usize = SAMPLE_RATE * 20;
/// Less is heard again before a pause: so much before a short one, anything before a long one.
const ENOUGH: usize = SAMPLE_RATE * 8;
const PAUSE: usize = SAMPLE_RATE * 5 / 2;
const LONG_PAUSE: usize = SAMPLE_RATE * 4;
/// Air behind a piece.
const AIR: usize = SAMPLE_RATE / 4;
/// Sound that has waited for longer stays as it was heard at once, until the final pass: there is no time for it.
const TOO_LATE: usize = SAMPLE_RATE * 120;

/// How far it has come.
#[derive(Debug, Default)]
pub(super) struct Settling {
    /// What lies before this sample stays.
    pub(super) until: usize,
    /// Up to where is being heard again.
    running: Option<usize>,
    /// It failed, and that was told.
    failed: bool,
}

impl Table {
    pub(super) fn settle_if_due(&mut self) {
        if self.settling.running.is_some() || self.aside.is_some() {
            return;
        }
        let stretches: Vec<Stretch> = self.once.iter().map(|once| once.at).filter(|at| !at.is_empty()).collect();
        let mut windows = windows(&stretches, TOGETHER).into_iter();
        let Some(first) = windows.next() else { return self.forget() };
        let end = first.stretches.last().map_or(self.settling.until, |last| last.end);
        if !self.workers.settle() || self.recent.end() > self.settling.until + TOO_LATE {
            return self.let_stand(end);
        }
        let quiet = self.waiting.is_empty() && self.maybe.is_none() && self.cutter.open_since().is_none();
        let pause = if first.len() >= ENOUGH { PAUSE } else { LONG_PAUSE };
        // A window is whole when what was said next is none of it.
        if windows.next().is_none() && !(quiet && self.recent.end() >= end + pause) {
            return;
        }
        let behind = stretches.iter().find(|at| at.start >= end).map(|at| at.start);
        let next = behind.or(self.oldest_waiting().map(|at| at.start));
        let next = next.or(self.maybe.as_ref().map(|maybe| maybe.at.start)).or(self.cutter.open_since());
        let past = (end + AIR).min(next.unwrap_or(usize::MAX)).min(self.recent.end());
        let at = Stretch { start: self.settling.until, end: past.max(end) };
        self.settling.running = Some(end);
        let by_hand = self.by_hand_within(to_ms(at.start)..to_ms(at.end));
        let sound = Sound { at, samples: self.recent.sound(at), aside: false };
        self.workers.hear_again(Again { sound, before: self.spoken.before(), by_hand });
    }

    pub(super) fn settled(&mut self, at: Stretch, settled: Result<Settled, SpeechError>) {
        let Some(end) = self.settling.running.take() else { return };
        match settled {
            Ok(settled) => {
                self.once.retain(|once| once.at.end > end);
                self.settling.until = at.end.max(end);
                self.spoken.add(&self.lexicon, settled);
                self.draw();
                self.forget();
            }
            Err(error) => {
                if !std::mem::replace(&mut self.settling.failed, true) {
                    self.trouble(&format!("hearing again failed: {error}; all of it is heard again at the end"));
                }
                self.let_stand(end);
            }
        }
    }

    // What was heard once stays as it is.
    fn let_stand(&mut self, end: usize) {
        let (stand, wait): (Vec<Once>, Vec<Once>) = self.once.drain(..).partition(|once| once.at.end <= end);
        self.once = wait;
        let mut said: Vec<_> = stand.into_iter().flat_map(|once| once.said).collect();
        as_spoken::put_in(&mut said, &self.by_hand_within(to_ms(self.settling.until)..to_ms(end)));
        self.spoken.add(&self.lexicon, Settled::once(said));
        self.settling.until = end;
        self.draw();
        self.forget();
    }

    // What is neither being heard nor going to be heard again is on the disk alone.
    fn forget(&mut self) {
        if self.settling.running.is_some() {
            return;
        }
        let next = self.once.first().map(|once| once.at.start);
        let needed = next.into_iter().chain(self.oldest_waiting().map(|at| at.start));
        let needed = needed.chain(self.cutter.open_since()).min().unwrap_or(self.recent.end());
        // Where there was only silence, hearing it again would bring nothing.
        let until = needed.min(self.recent.end().saturating_sub(LONG_PAUSE)).saturating_sub(AIR);
        if until > self.settling.until {
            let by_hand = self.by_hand_within(to_ms(self.settling.until)..to_ms(until));
            if !by_hand.is_empty() {
                self.spoken.add(&self.lexicon, Settled::once(by_hand));
            }
            self.settling.until = until;
        }
        self.recent.forget(self.settling.until);
    }
}

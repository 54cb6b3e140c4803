//! What is heard at once: stretches between pauses, and guesses before the pause.
//! Takes sound and what was heard; lets a stretch be heard as soon as it may be whole, and adds it when it is. Leaves alone what
//! was said in it.
//!
//! After a quarter of a second of quiet it is being heard; after half a second its words count, if nobody went on

use std::sync::atomic::Ordering;

use crate::audio::as_fractions;
use crate::live::recent::Recent;
use crate::live::table::{Maybe, Once, Table, Waiting};
use crate::live::workers::{Caught, Sound};
use crate::live::{Event, orders, picture};
use crate::speech::cutter::AIR_BEHIND_MS;
use crate::speech::pauses::{SAMPLE_RATE, Stretch, to_ms};
use crate::speech::{Cut, Heard};

/// Guesses are made so far apart, in samples, of so much sound at most.
const GUESS: usize = SAMPLE_RATE * 8 / 10;
const GUESSED: usize = SAMPLE_RATE * 12;
/// Stretches that wait are heard together up to this length.
const TOGETHER: usize = SAMPLE_RATE * 20;
/// Being behind by less is not told, in milliseconds; nor is a change by less than the second.
const BEHIND_MS: u64 = 3000;
const BEHIND_STEP_MS: u64 = 1000;

impl Table {
    pub(super) fn sound(&mut self, samples: &[i16]) {
        self.recent.push(samples);
        self.cut_up(samples);
        self.guess();
        self.tell_behind();
        self.settle_if_due();
    }

    pub(super) fn sound_aside(&mut self, samples: &[i16]) {
        // The last blocks of a pause may come behind the order to go on: nothing of them is wanted.
        let Some(aside) = &mut self.aside else { return };
        aside.push(samples);
        self.cut_up(samples);
        let needed = self.cutter.open_since();
        let waiting = self.waiting.iter().find(|waiting| waiting.aside).map(|waiting| waiting.at.start);
        if let Some(aside) = &mut self.aside {
            let held = waiting.or(needed).unwrap_or(usize::MAX);
            aside.forget(held.min(aside.end().saturating_sub(SAMPLE_RATE)));
        }
    }

    fn cut_up(&mut self, samples: &[i16]) {
        let samples: Vec<f32> = as_fractions(samples).collect();
        match self.cutter.push(&samples) {
            Ok(cuts) => cuts.into_iter().for_each(|cut| self.cut(cut)),
            Err(error) => self.trouble(&error.to_string()),
        }
    }

    pub(super) fn cut(&mut self, cut: Cut) {
        match cut {
            Cut::Begun(at) => self.guessed_at = at,
            Cut::Paused(at) => {
                self.hear(at);
                self.maybe = Some(Maybe { at, heard: None });
            }
            Cut::GoesOn => {
                if let Some(maybe) = self.maybe.take() {
                    self.workers.not_yet(maybe.at);
                }
            }
            Cut::Ended(at) => match self.maybe.take() {
                Some(Maybe { at: known, heard: Some(heard) }) if known == at => self.add(at, heard),
                Some(Maybe { at: known, heard: None }) if known == at => self.wait_for(at),
                maybe => {
                    maybe.map(|maybe| self.workers.not_yet(maybe.at));
                    self.hear(at);
                    self.wait_for(at);
                }
            },
        }
    }

    // Where hearing is behind, neighbours are heard together: that takes less time than one after the other.
    fn wait_for(&mut self, at: Stretch) {
        let aside = self.aside.is_some();
        if let Some(last) = self.waiting.back().copied().filter(|last| last.aside == aside) {
            let both = Stretch { start: last.at.start, end: at.end };
            if both.len() <= TOGETHER && self.workers.not_yet(last.at) {
                self.waiting.pop_back();
                self.workers.not_yet(at);
                self.hear(both);
                return self.waiting.push_back(Waiting { at: both, aside });
            }
        }
        self.waiting.push_back(Waiting { at, aside });
    }

    /// Where the oldest stretch of the recording begins that is being heard.
    pub(super) fn oldest_waiting(&self) -> Option<Stretch> {
        self.waiting.iter().find(|waiting| !waiting.aside).map(|waiting| waiting.at)
    }

    fn hear(&self, at: Stretch) {
        let recent: &Recent = self.aside.as_ref().unwrap_or(&self.recent);
        self.workers.hear(Sound { at, samples: recent.sound(at), aside: self.aside.is_some() });
    }

    pub(super) fn caught(&mut self, caught: Caught) {
        let Caught { at, aside, heard } = caught;
        let heard = match heard {
            Ok(heard) => heard,
            Err(error) => {
                self.trouble(&format!("{error}; the recording goes on, and all of it is heard again at the end"));
                Heard::default()
            }
        };
        let waiting = Waiting { at, aside };
        if self.waiting.contains(&waiting) {
            self.waiting.retain(|other| *other != waiting);
            match aside {
                // What was said before a pause and is heard within it belongs to what was kept; the other way round nothing does.
                true if self.aside.is_some() => self.heed_aside(&heard),
                true => (),
                false => self.add(at, heard),
            }
        } else if aside != self.aside.is_some() {
            // It was not whole when the pause began or ended.
        } else if let Some(maybe) = self.maybe.as_mut().filter(|maybe| maybe.at == at) {
            maybe.heard = Some(heard);
        } else if !aside {
            self.tell(Event::Guess(picture::text_of(&heard.utterances)));
        }
    }

    fn add(&mut self, at: Stretch, heard: Heard) {
        self.tell(Event::Guess(String::new()));
        if !heard.utterances.is_empty() {
            let text = picture::text_of(&heard.utterances);
            let is_order = orders::is_order(&self.lexicon, &heard.utterances);
            let past_ms = to_ms(at.end).saturating_sub(AIR_BEHIND_MS);
            self.tell(Event::Said { text, is_order, at_ms: to_ms(at.start), to_ms: past_ms });
        }
        self.once.push(Once { at, said: heard.utterances });
        self.draw();
        self.tell_behind();
        self.settle_if_due();
    }

    pub(super) fn guessed(&mut self, at: Stretch, text: String) {
        // It may have ended meanwhile.
        let open = self.cutter.open_since().is_some_and(|since| since < at.end);
        if open && self.aside.is_none() && !text.is_empty() {
            self.tell(Event::Guess(text));
        }
    }

    fn guess(&mut self) {
        let (Some(since), now) = (self.cutter.open_since(), self.recent.end()) else { return };
        if now >= self.guessed_at + GUESS && self.maybe.is_none() && self.workers.has_time() {
            self.guessed_at = now;
            let at = Stretch { start: since.max(now.saturating_sub(GUESSED)), end: now };
            self.workers.guess(Sound { at, samples: self.recent.sound(at), aside: false });
        }
    }

    fn tell_behind(&mut self) {
        let oldest = self.oldest_waiting().filter(|_| self.aside.is_none());
        let behind = oldest.map_or(0, |at| to_ms(self.recent.end().saturating_sub(at.end)));
        let behind = if behind < BEHIND_MS { 0 } else { behind / BEHIND_STEP_MS * BEHIND_STEP_MS };
        if behind != self.told_behind && !self.heeded.ending.load(Ordering::Relaxed) {
            self.told_behind = behind;
            self.tell(Event::Behind(behind));
        }
    }
}

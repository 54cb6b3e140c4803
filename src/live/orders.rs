//! What was ordered, by voice or otherwise.
//! Takes the orders that a narration holds, and those that were given by hand; does each once. Leaves alone what an order means
//! for the findings: the reading sees to it each time anew.
//!
//! "Notebook, what is left?" is answered, and of the words behind it nothing becomes a finding

use std::sync::Arc;

use crate::flow::Narration;
use crate::lexicon::{Command, ItemIx, Lexicon};
use crate::live::last::Pause;
use crate::live::table::Table;
use crate::live::{Event, Order, Picture, answers, picture};
use crate::reading::Side;
use crate::record::DraftFinding;
use crate::span::SoundSpan;
use crate::speech::pauses::to_ms;
use crate::speech::{Heard, Utterance};

/// An order that was understood only when it was heard again, and so late, in milliseconds, is not done any more, unless the
/// reading does it: whoever gave it has given it again. What was understood at first is done, however far behind hearing is.
const TOO_LATE_MS: u64 = 8000;

/// An order that was spoken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Spoken {
    /// None: it was an order, but not understood which.
    pub(super) command: Option<Command>,
    pub(super) about: Vec<(ItemIx, Side)>,
    pub(super) sound: SoundSpan,
    pub(super) text: String,
}

/// Heard again, the same order may lie so much elsewhere, in milliseconds.
const WAVER_MS: u64 = 900;

/// The orders of a narration that were not done yet, in order of time.
pub(super) fn spoken(narration: &Narration, done: &[SoundSpan]) -> Vec<Spoken> {
    let of = |ordered: &crate::reading::Ordered| {
        let said = narration.utterances.get(ordered.quote.utterance)?;
        let words = said.words.get(ordered.quote.first..ordered.quote.past).unwrap_or_default();
        let sound = SoundSpan::around(words.iter().filter_map(|word| word.sound)).or(said.sound)?;
        let about = ordered.about.clone();
        Some(Spoken { command: ordered.command, about, sound, text: said.text.clone() })
    };
    let ordered = narration.reading.ordered.iter().filter_map(of);
    let middle = |sound: SoundSpan| sound.start_ms.midpoint(sound.end_ms);
    let is_new = |order: &Spoken| done.iter().all(|done| middle(*done).abs_diff(middle(order.sound)) > WAVER_MS);
    ordered.filter(is_new).collect()
}

/// The attention word at the end of what was heard waits so long, in milliseconds, for the order behind it.
const WAITS_MS: u64 = 2500;

/// Whether words that were just heard are an order, by themselves.
pub(super) fn is_order(lexicon: &Lexicon, said: &[Utterance]) -> bool {
    let reading = crate::reading::read(lexicon, said);
    !reading.ordered.is_empty() && reading.statements.is_empty()
}

impl Table {
    /// Does what was ordered by voice. `before` is the picture as it was when it was ordered.
    pub(super) fn obey(&mut self, order: &Spoken, before: &Picture) {
        if order.command.is_none() && self.now_ms() < order.sound.end_ms + WAITS_MS {
            return;
        }
        self.obeyed.push(order.sound);
        let again = order.sound.end_ms <= to_ms(self.settling.until);
        let late = again && self.now_ms() > order.sound.end_ms + TOO_LATE_MS;
        match order.command {
            // Understood late, it may have taken back what something else took the place of meanwhile.
            Some(Command::TakeBack) => match taken_back(before, &self.picture) {
                nothing if late && nothing.is_empty() => (),
                words => self.tell(Event::TakenBack(words)),
            },
            Some(Command::Mark) => self.tell(Event::Marked(order.sound.start_ms)),
            _ if late => (),
            Some(Command::WhatIsLeft) => self.tell(Event::Answer(answers::what_is_left(&self.picture))),
            Some(Command::WhatDidISay) => {
                let answer = answers::what_was_said(&self.lexicon, &self.picture, &order.about);
                self.tell(Event::Answer(answer));
            }
            Some(Command::Pause) => self.begin_pause(),
            // It is not paused, or it would have been heard aside.
            Some(Command::Resume) => (),
            Some(Command::End) => self.tell(Event::EndAsked),
            None => self.tell(Event::NotUnderstood(order.text.clone())),
        }
    }

    /// Of what is said during a pause only the orders to go on and to end are heeded.
    pub(super) fn heed_aside(&mut self, heard: &Heard) {
        let reading = crate::reading::read(&self.lexicon, &heard.utterances);
        for ordered in reading.ordered {
            match ordered.command {
                Some(Command::Resume) => self.end_pause(),
                Some(Command::End) => self.tell(Event::EndAsked),
                _ => (),
            }
        }
    }

    /// Does what was ordered by hand.
    pub(super) fn order(&mut self, order: Order) {
        match order {
            Order::TakeBack => self.give(Command::TakeBack),
            Order::Mark => self.give(Command::Mark),
            Order::WhatIsLeft => self.tell(Event::Answer(answers::what_is_left(&self.picture))),
            Order::Pause => self.begin_pause(),
            Order::Resume => self.end_pause(),
            Order::Away(length_ms) => {
                let at_ms = self.now_ms();
                self.pauses.push(Pause { at_ms, length_ms, wanted: false });
            }
            Order::SpeakingBegins | Order::SpeakingEnds => (),
            Order::Set(name) => {
                self.set = name;
                let mut picture = picture::of(&self.lexicon, &self.set, self.picture.draft.clone(), None);
                picture.newest.clone_from(&self.picture.newest);
                self.picture = Arc::new(picture);
                self.tell(Event::Draft(Arc::clone(&self.picture)));
            }
        }
    }

    // It goes into the narration as if it had been spoken: what it means there, the reading knows, now and in the final pass.
    fn give(&mut self, command: Command) {
        let at_ms = self.now_ms();
        let mut said = Utterance::from_text(&self.lexicon.order_words(command));
        let sound = SoundSpan { start_ms: at_ms, end_ms: at_ms };
        // Its words have no times: spoken words that took none are no order.
        said.sound = Some(sound);
        self.by_hand.push(said);
        self.draw();
    }
}

/// What stood in one picture and does not in the next, in words.
fn taken_back(before: &Picture, now: &Picture) -> String {
    let stands = |old: &DraftFinding| {
        now.draft.all_findings().any(|new| new.item == old.item && new.side == old.side && new.value == old.value)
    };
    let gone = before.draft.all_findings().filter(|old| !stands(old));
    let words: Vec<String> = gone.map(answers::line).collect();
    words.join(", ")
}

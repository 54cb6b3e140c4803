//! What a dictation tells, and what it is told.
//! Values only.
//!
//! `Event::Guess("scarf sign to")`, `Event::Said(…)`, `Event::Draft(…)`

use std::sync::Arc;

use crate::record::DraftRecord;
use crate::speech::Progress;

/// What a dictation tells, in the order in which it happens.
#[derive(Debug, Clone)]
pub enum Event {
    /// How loud it is, a few times a second.
    Level {
        /// Of full scale, in decibels: 0 is the loudest, silence lies below -60.
        decibels: f32,
        /// How much is on the disk, in milliseconds of the recording.
        kept_ms: u64,
    },
    /// What seems to be said right now; replaced by the next one, empty when nothing is. It is no finding and never
    /// becomes one by itself.
    Guess(String),
    /// What was said, at the pause behind it.
    Said {
        /// The words.
        text: String,
        /// Whether they were an order to the program.
        is_order: bool,
        /// When it began, in milliseconds of the recording.
        at_ms: u64,
        /// When it ended.
        to_ms: u64,
    },
    /// The draft as it stands.
    Draft(Arc<Picture>),
    /// An answer to what was asked.
    Answer(Answer),
    /// Whether it listens: after an order to pause, only for the order to go on.
    Paused(bool),
    /// A moment was marked, in milliseconds of the recording.
    Marked(u64),
    /// The findings of the last statement were taken back; what was taken back, in words. Empty if there was nothing.
    TakenBack(String),
    /// It was spoken to by its attention word, but not understood.
    NotUnderstood(String),
    /// Hearing is this far behind, in milliseconds; 0 when it has caught up. Nothing is lost meanwhile.
    Behind(u64),
    /// The order to end was heard: whoever holds the dictation ends it now.
    EndAsked,
    /// The final pass over the whole recording goes on.
    Final(Progress),
    /// Something went wrong, in a sentence, that did not end the dictation.
    Trouble(String),
}

/// The draft with what somebody standing away needs to know.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The draft.
    pub draft: DraftRecord,
    /// Places among `draft.findings` of those that are new or changed since the picture before.
    pub newest: Vec<usize>,
    /// What of the set has not been heard of, by region.
    pub left: Vec<Left>,
}

/// What is left of a region.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Left {
    /// The region, as the lexicon names it.
    pub region: String,
    /// Names of its items in the order of the lexicon; with the side that is left where the other was told.
    pub items: Vec<String>,
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// What was asked, in words of ours.
    pub title: String,
    /// The answer, a line each.
    pub lines: Vec<String>,
    /// The same to be spoken.
    pub aloud: String,
}

/// What a dictation is told, by voice or otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// Take back what the last statement came to.
    TakeBack,
    /// Say what is left.
    WhatIsLeft,
    /// Mark this moment.
    Mark,
    /// Keep no sound and understand nothing but the order to go on.
    Pause,
    /// Go on.
    Resume,
    /// The program itself begins to speak: what is heard until it ends is not the examiner.
    SpeakingBegins,
    /// It has ended.
    SpeakingEnds,
    /// The microphone was away for so many milliseconds until now.
    Away(u64),
    /// Another set of items for what is left.
    Set(String),
}

//! How a recogniser listens.
//! Takes and gives values only. Leaves alone what is done with them (`whisper`, `listening`).
//! `Settings::new(2)` hears two windows of 15 s at the same time, each in one way

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::speech::bias::Lean;

/// How to listen.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Recognisers at the same time, one thread each; at least 1. The result does not depend on it.
    pub threads: usize,
    /// How many ways of reading the sound are followed at once, 1 to 8. More is better and slower.
    pub beams: u8,
    /// The longest piece of sound heard at once, in milliseconds, up to 29,000. More context is better and slower.
    pub window_ms: u64,
    /// How strongly to lean towards the phrases.
    pub lean: Lean,
    /// The file of voice activity; without one the sound's level says where speech may be.
    pub voice: Option<PathBuf>,
    /// Set to stop: `transcribe` then ends within moments with `Cancelled`.
    pub cancel: Arc<AtomicBool>,
}

impl Settings {
    /// The measured defaults for a number of recognisers.
    #[must_use]
    pub fn new(threads: usize) -> Self {
        Self { threads, beams: 1, window_ms: 15_000, lean: Lean::default(), voice: None, cancel: Arc::default() }
    }
}

//! What a recogniser takes and gives, whichever it is.
//! Takes sound, 16 kHz mono; gives utterances in order of time, and notices of sound that gave no words.
//! Leaves alone how it is done (`whisper`, `scripted`) and what the words mean.
//!
//! A recording of two sentences and a slammed door gives two utterances and one notice.

use std::fmt;
use std::path::PathBuf;

use crate::audio::Sound;
use crate::span::SoundSpan;
use crate::speech::again::Contest;
use crate::speech::utterances::Utterance;

/// Turns sound into words.
pub trait Transcriber {
    /// The words of a recording; the sound is 16 kHz mono, about -1 to 1. `progress` is called from this thread.
    ///
    /// # Errors
    /// If the recogniser fails, the sound cannot be read or its caller cancelled it. Sound without words is no error.
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError>;

    /// How well each of several texts fits what was said, for places of the same recording: sums of logarithms of chances,
    /// in the order of the texts. `None` where the recogniser cannot tell.
    ///
    /// # Errors
    /// If the recogniser fails or its caller cancelled it.
    fn scores(&mut self, sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let _ = (sound, contests);
        Ok(None)
    }

    /// Which model does the work, for the record.
    fn identity(&self) -> ModelIdentity;
}

/// What was heard in a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heard {
    /// The utterances in order of time, a sentence each where the recogniser writes full stops.
    pub utterances: Vec<Utterance>,
    /// Sound that could be speech and gave no words, in order of time.
    pub notices: Vec<Notice>,
}

/// A stretch of sound that could be speech and of which no word was kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Where in the recording.
    pub sound: SoundSpan,
    /// Why nothing was kept.
    pub reason: Unheard,
}

/// Why a stretch of sound gave no words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unheard {
    /// The recogniser wrote nothing.
    NoWords,
    /// The recogniser takes it for something other than speech.
    NotSpeech,
    /// The recogniser wrote the same words over and over, as it does when it is lost.
    Repeated,
    /// The recogniser wrote words that it gives next to no chance.
    Unsure,
}

impl fmt::Display for Unheard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoWords => "no words were made out",
            Self::NotSpeech => "sounds like something other than speech",
            Self::Repeated => "the recogniser repeated itself; what it wrote was dropped",
            Self::Unsure => "too unclear; what the recogniser wrote was dropped",
        })
    }
}

/// How far a recogniser has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Milliseconds of the recording that are done.
    pub done_ms: u64,
    /// Its whole length in milliseconds.
    pub total_ms: u64,
}

/// Which model did the work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelIdentity {
    /// The model file's name without its ending.
    pub name: String,
    /// SHA-256 of the model file, as lower-case hexadecimal digits; empty for a transcriber without a file.
    pub sha256: String,
    /// How its numbers are stored ("q8_0", "f16"), where that is known.
    pub precision: Option<String>,
}

/// What can go wrong between sound and words.
#[derive(Debug, thiserror::Error)]
pub enum SpeechError {
    /// There is no such file.
    #[error("cannot find the speech model {}; fetch or convert one, or name its place", .0.display())]
    ModelMissing(PathBuf),
    /// The file cannot be read.
    #[error("cannot read the speech model {}: {source}", .path.display())]
    ModelUnreadable {
        /// The model file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file is something else.
    #[error("{} is not a speech model that can be used: {reason}; a ggml file of a Whisper model is needed", .path.display())]
    NotAModel {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// The file ends early.
    #[error("the speech model {} is cut short: it has {has} bytes and needs at least {needs}; fetch it again", .path.display())]
    ModelTruncated {
        /// The model file.
        path: PathBuf,
        /// Its length in bytes.
        has: u64,
        /// What its own table of contents asks for, as far as it could be read.
        needs: u64,
    },
    /// The file of voice activity is another one than this program makes.
    #[error("{} is not the file of voice activity that `spoken-exam setup` makes; remove it and run that again", .0.display())]
    NotVoiceActivity(PathBuf),
    /// The sound lies on a disk and cannot be read.
    #[error("cannot read the sound that was put aside: {0}; hear the recording again")]
    SoundLost(#[from] std::io::Error),
    /// The recogniser gave up.
    #[error("the recogniser failed at {}: {reason}", clock(.at.start_ms))]
    Failed {
        /// The stretch of sound it was given.
        at: SoundSpan,
        /// What it says.
        reason: String,
    },
    /// The caller asked to stop.
    #[error("transcription was cancelled")]
    Cancelled,
}

/// Minutes and seconds, as a person would look the place up.
fn clock(ms: u64) -> String {
    format!("{}:{:02}", ms / 60_000, ms / 1000 % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_say_what_where_and_what_now() {
        let path = PathBuf::from("models/base.bin");
        let check = |error: SpeechError, text: &str| assert_eq!(error.to_string(), text);
        check(
            SpeechError::ModelMissing(path.clone()),
            "cannot find the speech model models/base.bin; fetch or convert one, or name its place",
        );
        check(
            SpeechError::ModelTruncated { path, has: 10, needs: 48 },
            "the speech model models/base.bin is cut short: it has 10 bytes and needs at least 48; fetch it again",
        );
        let at = SoundSpan { start_ms: 83_000, end_ms: 90_000 };
        check(SpeechError::Failed { at, reason: "no memory".to_owned() }, "the recogniser failed at 1:23: no memory");
    }
}

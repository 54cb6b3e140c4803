//! Sound → how likely each frame of it holds speech, by Silero's small network, through whisper-rs.
//! Takes the file of voice activity that setting up made, and 16 kHz mono sound of any loudness; gives a chance of
//! speech for every frame of 32 ms. Leaves alone where to cut (`spoken`).
//!
//! A second of silence gives 32 chances near 0, a spoken word some near 1.

use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use sha2::{Digest, Sha256};
use whisper_rs::{WhisperVadContext, WhisperVadContextParams};

use crate::audio::{PIECE, Sound};
use crate::speech::pauses::{SAMPLE_RATE, Stretch};
use crate::speech::transcriber::SpeechError;
use crate::speech::whisper::{keep_errors, last_error};

/// Samples a frame.
pub const FRAME: usize = 512;
/// Length and SHA-256 of the one file that is loaded. The library trusts such a file blindly: a changed length in it
/// would take the process down.
pub const BYTES: u64 = 885_098;
/// See [`BYTES`].
pub const SHA256: &str = "2aa269b785eeb53a82983a20501ddf7c1d9c48e33ab63a41391ac6c9f7fb6987";

/// Frames that are judged in one go. Between two goes the work can be stopped.
const BLOCK: usize = 1000;
/// Frames before a block that are judged with it and thrown away: the network goes by what it has just heard.
const LEAD: usize = 64;
/// Samples of a frame whose loudness is taken.
const LOUD_FRAME: usize = SAMPLE_RATE / 20;
const _: () = assert!(PIECE.is_multiple_of(LOUD_FRAME), "a piece has whole frames");
/// Recordings whose loud frames lie below this (root mean square) are raised to it: the network loses speech that is
/// more than 20 dB quieter.
const LOUD: f32 = 0.03;
/// But no further than this: what is quieter still is the converter's own noise.
const MOST_GAIN: f32 = 100.0;
/// The share of frames that are louder than the loud ones; clicks and slams are among them.
const LOUDER: usize = 50;

/// The loaded network.
#[derive(Debug)]
pub struct Voice {
    context: WhisperVadContext,
}

impl Voice {
    /// Loads the network.
    ///
    /// # Errors
    /// If the file is missing, cannot be read, or is not the one that setting up makes.
    pub fn load(path: &Path) -> Result<Self, SpeechError> {
        let bytes = std::fs::read(path).map_err(|source| match source.kind() {
            std::io::ErrorKind::NotFound => SpeechError::ModelMissing(path.to_owned()),
            _ => SpeechError::ModelUnreadable { path: path.to_owned(), source },
        })?;
        let sha256: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        let refused = || SpeechError::NotVoiceActivity(path.to_owned());
        // The library takes the path as a C string and gives up where that cannot be.
        let name = path.to_str().filter(|name| sha256 == SHA256 && !name.contains('\0')).ok_or_else(refused)?;
        keep_errors();
        let mut parameters = WhisperVadContextParams::new();
        parameters.set_n_threads(1);
        parameters.set_use_gpu(false);
        let context = WhisperVadContext::new(name, parameters).map_err(|_| refused())?;
        Ok(Self { context })
    }

    /// The chance of speech, 0 to 1, of every frame; the last may be shorter than the others.
    ///
    /// # Errors
    /// If `cancel` was set, the network failed or the sound cannot be read.
    pub fn chances(&mut self, sound: &dyn Sound, cancel: &AtomicBool) -> Result<Vec<f32>, SpeechError> {
        let gain = gain_of(sound)?;
        let mut chances = Vec::with_capacity(sound.len().div_ceil(FRAME));
        for start in (0..sound.len()).step_by(BLOCK * FRAME) {
            if cancel.load(Ordering::Relaxed) {
                return Err(SpeechError::Cancelled);
            }
            let lead = start.min(LEAD * FRAME);
            let block = Stretch { start: start - lead, end: (start + BLOCK * FRAME).min(sound.len()) };
            // One number that is none would stay in the network's memory for good.
            let samples = sound.piece(block.start..block.end)?;
            let raised: Vec<f32> = samples.iter().map(|&s| if s.is_finite() { s * gain } else { 0.0 }).collect();
            let judged = self.judge(&raised).map_err(|reason| SpeechError::Failed { at: block.sound(), reason })?;
            chances.extend(judged.iter().skip(lead / FRAME));
        }
        Ok(chances)
    }

    /// The chances of the frames of a short piece of sound, whose first `lead` frames are judged with it and left out. `gain` is
    /// what the sound is raised by ([`gain`]).
    ///
    /// # Errors
    /// If the network failed.
    pub(super) fn chances_of_piece(&mut self, piece: &[f32], lead: usize, gain: f32) -> Result<Vec<f32>, SpeechError> {
        let sound: Vec<f32> = piece.iter().map(|&s| if s.is_finite() { s * gain } else { 0.0 }).collect();
        let at = Stretch { start: 0, end: piece.len() }.sound();
        let judged = self.judge(&sound).map_err(|reason| SpeechError::Failed { at, reason })?;
        Ok(judged.get(lead..).unwrap_or_default().to_vec())
    }

    fn judge(&mut self, sound: &[f32]) -> Result<&[f32], String> {
        let _ = last_error();
        let failed = self.context.detect_speech(sound).err().map(|error| error.to_string());
        // A frame that fails ends the work, leaves the rest at 0 and is reported in the log alone.
        match last_error().or(failed) {
            Some(reason) => Err(reason),
            None => Ok(self.context.probabilities()),
        }
    }
}

/// How much a recording is raised so that its loud frames are as loud as speech usually is.
fn gain_of(sound: &dyn Sound) -> io::Result<f32> {
    let mut levels = Vec::with_capacity(sound.len().div_ceil(LOUD_FRAME));
    for piece in sound.pieces(PIECE) {
        levels.extend(piece?.chunks(LOUD_FRAME).map(level));
    }
    Ok(gain_by(levels))
}

/// The same for a piece that lies in memory.
pub(super) fn gain(samples: &[f32]) -> f32 {
    gain_by(samples.chunks(LOUD_FRAME).map(level).collect())
}

fn level(frame: &[f32]) -> f32 {
    let sum: f32 = frame.iter().filter(|sample| sample.is_finite()).map(|sample| sample * sample).sum();
    (sum / frame.len().max(1) as f32).sqrt()
}

fn gain_by(mut levels: Vec<f32>) -> f32 {
    if levels.is_empty() {
        return 1.0;
    }
    // A click is loud for one frame, or two where it lies across their border.
    let at = (levels.len() / LOUDER).max(2).min(levels.len() - 1);
    let (_, &mut loud, _) = levels.select_nth_unstable_by(at, |a, b| b.total_cmp(a));
    (LOUD / loud.max(f32::MIN_POSITIVE)).clamp(1.0, MOST_GAIN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_file_is_not_loaded() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("voice.bin");
        let error = Voice::load(&path).unwrap_err();
        assert!(matches!(error, SpeechError::ModelMissing(_)), "{error}");
        std::fs::File::create(&path).unwrap().set_len(BYTES).unwrap();
        let error = Voice::load(&path).unwrap_err();
        assert!(matches!(error, SpeechError::NotVoiceActivity(_)), "{error}");
    }

    #[test]
    fn quiet_recordings_are_raised_and_loud_ones_are_not() {
        let tone = |loudness: f32| -> Vec<f32> { (0..32_000).map(|at| (at as f32 * 0.2).sin() * loudness).collect() };
        assert_eq!(gain(&tone(0.5)), 1.0);
        let raised = gain(&tone(0.001));
        assert!((raised - 42.4).abs() < 0.5, "{raised}");
        assert_eq!(gain(&tone(1e-7)), MOST_GAIN);
        assert_eq!(gain(&[]), 1.0);
        assert_eq!(gain(&[0.0; 1000]), MOST_GAIN);
        // A click does not make a recording loud.
        let mut clicked = tone(0.001);
        clicked[16_000] = 0.9;
        assert!((gain(&clicked) - raised).abs() < 1.0);
    }
}

//! Sound → recording.
//! Takes a sound file of any usual format, a microphone or a stream; of a file it gives one `Recording`: 16 kHz, one channel, with
//! the hash of its source and what was odd about it. Leaves alone what is said in it (`speech`). Writes no file but one without a
//! name, for what of a long recording is put aside.
//!
//! The files in reading order: `recording` is the value, `sound` and `samples` its sound, of which `aside` and `seal` put a part
//! on a disk; `file` is the two doors (`read` for a path, `decode` for bytes), `track` decodes the packets of `container`, `clues`,
//! `pages` and `timeline` find what is lost, `intake` makes one clean channel, `resample` makes 16 kHz, `wave` is the file that
//! this program makes itself.
//! Sound that is still coming in: `heard` `microphone` `incoming`.
//!
//! ```no_run
//! use spoken_exam::audio::Sound;
//! let recording = spoken_exam::audio::read(std::path::Path::new("examination.m4a"))?;
//! assert_eq!(recording.length_ms(), recording.samples.len() as u64 * 1000 / 16_000);
//! # Ok::<(), spoken_exam::audio::AudioError>(())
//! ```

mod aside;
mod clues;
mod container;
mod error;
mod file;
mod heard;
mod incoming;
mod intake;
#[cfg_attr(not(feature = "microphone"), path = "microphone/absent.rs")]
mod microphone;
mod pages;
mod recording;
mod resample;
mod samples;
#[cfg_attr(not(feature = "encrypted"), path = "seal/absent.rs")]
mod seal;
mod sound;
mod timeline;
mod track;
mod wave;

pub use error::AudioError;
pub use file::{decode, read};
pub use heard::{Heard, MicrophoneError};
pub use incoming::Incoming;
pub use microphone::Microphone;
pub use recording::{Recording, SAMPLE_RATE_HZ, SILENCE_LEVEL, SourceFormat};
pub use samples::Samples;
pub use sound::{PIECE, Sound};
pub use wave::{OfOurOwn, WAVE_HEAD, as_fractions, samples_of, wave_bytes, wave_file, wave_head, whole};

//! Sound that another program hands over as it comes: on standard input, say.
//! Takes bytes that are read as they come; gives short blocks of one channel at 16 kHz. It is a wav of any rate and number of
//! channels if it begins like one, whatever length its head states, and otherwise raw samples. What is plainly something else is
//! refused. Leaves alone files, which can be read twice (`file`).
//!
//! `arecord -t raw -f S16_LE -r 16000 | spoken-exam dictate -`

use std::io::{Cursor, ErrorKind, Read};
use std::sync::Mutex;

use symphonia::core::errors::Error;
use symphonia::core::io::{MediaSource, ReadOnlySource};

use super::container::{Container, checked_channels, checked_rate};
use super::error::AudioError;
use super::intake::Intake;
use super::wave::{samples_of, whole};

/// Samples in a block at most: 0.1 s.
const BLOCK: usize = 1600;
/// Bytes that are looked at before anything is given: 0.13 s of raw sound.
const LOOKED_AT: usize = 4096;
/// Bytes before the sound of a wav at most, pictures and all.
const MAX_HEAD: usize = 8 * 1024 * 1024;
/// Faults in a row, after which the rest is given up.
const MAX_FAULTS: usize = 50;
/// What it is called in errors.
const NAME: &str = "the incoming sound";

/// Beginnings of what is plainly no raw sound: where they stand, what they are, what to call them.
const OTHERS: [(usize, &[u8], &str); 17] = [
    (0, b"RIFF", "a RIFF file without sound"),
    (0, b"RF64", "an RF64 file"),
    (0, b"RIFX", "a RIFX file"),
    (0, b"fLaC", "flac"),
    (0, b"OggS", "ogg"),
    (0, b"ID3", "mp3"),
    (4, b"ftyp", "m4a or mp4"),
    (0, b"\x1a\x45\xdf\xa3", "webm or matroska"),
    (0, b"FORM", "aiff"),
    (0, b"caff", "caf"),
    (0, b".snd", "au"),
    (0, b"\x7fELF", "a program"),
    (0, b"%PDF", "a PDF"),
    (0, b"PK\x03\x04", "a zip archive"),
    (0, b"\x1f\x8b\x08", "gzip"),
    (0, b"\x89PNG", "a picture"),
    (0, b"\xff\xd8\xff", "a picture"),
];

type Source = Box<dyn Read + Send + Sync>;

/// Blocks of samples of a stream that is read as it comes.
pub struct Incoming(Kind);

impl std::fmt::Debug for Incoming {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(if matches!(self.0, Kind::Raw { .. }) { "Incoming(raw)" } else { "Incoming(wav)" })
    }
}

enum Kind {
    Raw {
        source: Source,
        /// Half a sample that was read already.
        odd: Option<u8>,
    },
    Wave(Box<Wave>),
}

impl Incoming {
    /// Waits for the beginning of a stream, and looks what it is.
    ///
    /// # Errors
    /// If it is empty, plainly no sound, sound of another kind, or a wav that cannot be read.
    pub fn new(source: impl Read + Send + Sync + 'static) -> Result<Self, AudioError> {
        let mut source: Source = Box::new(source);
        let head = read_up_to(&mut source, 12)?;
        if head.starts_with(b"RIFF") && head.get(8..12) == Some(b"WAVE") {
            return Wave::new(head, source).map(|wave| Self(Kind::Wave(Box::new(wave))));
        }
        let head = [head, read_up_to(&mut source, LOOKED_AT - 12)?].concat();
        match other_than_sound(&head) {
            Some(what) => Err(AudioError::NotIncoming { what: what.to_owned() }),
            None => Ok(Self(Kind::Raw { source: Box::new(Cursor::new(head).chain(source)), odd: None })),
        }
    }

    /// The next samples of one channel at 16 kHz, at most 0.1 s of them; none at the end. It waits for what is still to come.
    ///
    /// # Errors
    /// If reading fails, or what comes cannot be decoded.
    #[allow(clippy::should_implement_trait, reason = "it can fail, and ends for good only where it says so")]
    pub fn next(&mut self) -> Result<Option<Vec<i16>>, AudioError> {
        match &mut self.0 {
            Kind::Raw { source, odd } => raw(source, odd),
            Kind::Wave(wave) => wave.next(),
        }
    }
}

fn raw(source: &mut Source, odd: &mut Option<u8>) -> Result<Option<Vec<i16>>, AudioError> {
    let mut bytes = vec![0; 2 * BLOCK];
    let mut have = 0;
    if let (Some(half), Some(first)) = (odd.take(), bytes.first_mut()) {
        (*first, have) = (half, 1);
    }
    // Half a sample is not given; one at the very end is dropped.
    while have < 2 {
        match source.read(bytes.get_mut(have..).unwrap_or_default()) {
            Ok(0) => return Ok(None),
            Ok(read) => have += read,
            Err(fault) if fault.kind() == ErrorKind::Interrupted => {}
            Err(fault) => return Err(AudioError::Broken { fault }),
        }
    }
    bytes.truncate(have);
    if have % 2 == 1 {
        *odd = bytes.pop();
    }
    Ok(Some(samples_of(&bytes).collect()))
}

fn read_up_to(source: &mut impl Read, most: usize) -> Result<Vec<u8>, AudioError> {
    let mut bytes = Vec::new();
    source.take(most as u64).read_to_end(&mut bytes).map_err(|fault| AudioError::Broken { fault })?;
    Ok(bytes)
}

/// What it is, where that is plainly not raw sound.
fn other_than_sound(head: &[u8]) -> Option<&'static str> {
    if head.is_empty() {
        return Some("empty (0 bytes)");
    }
    let begins = |(at, bytes, _): &&(usize, &[u8], &str)| head.get(*at..).is_some_and(|here| here.starts_with(bytes));
    if let Some((_, _, what)) = OTHERS.iter().find(begins) {
        return Some(what);
    }
    if is_text(head) {
        return Some("text");
    }
    is_chance(head).then_some("no sound: its bytes look like compressed or encrypted ones")
}

// Sound has zeros and other control characters in it before long.
fn is_text(head: &[u8]) -> bool {
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        // A character may be cut in two where the look ends.
        Err(fault) if fault.error_len().is_none() => {
            std::str::from_utf8(head.get(..fault.valid_up_to()).unwrap_or_default()).unwrap_or_default()
        }
        Err(_) => return false,
    };
    !text.is_empty() && !text.contains(|c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
}

/// Whether each sample has nothing to do with the one before, at the loudness that numbers by chance have: 0.577 of full scale.
/// No microphone hears that.
fn is_chance(head: &[u8]) -> bool {
    let samples: Vec<f64> = samples_of(head).map(|sample| f64::from(sample) / 32_768.0).collect();
    if samples.len() < 512 {
        return false;
    }
    let power = samples.iter().map(|sample| sample * sample).sum::<f64>();
    let together = samples.iter().zip(samples.iter().skip(1)).map(|(one, next)| one * next).sum::<f64>();
    let loudness = (power / samples.len() as f64).sqrt();
    (0.53..0.63).contains(&loudness) && (together / power).abs() < 0.15
}

/// A wav that comes bit by bit.
struct Wave {
    container: Container,
    intake: Option<Intake>,
    /// Samples that are still to be given.
    ready: Vec<i16>,
    given: usize,
}

impl Wave {
    fn new(begun: Vec<u8>, mut source: Source) -> Result<Self, AudioError> {
        let head = whole_head(begun, &mut source)?;
        let whole = Mutex::new(Some(Cursor::new(head).chain(source)));
        // It can be read only once: a second try has nothing to read, and the fault of the first is told.
        let open = || -> Result<Box<dyn MediaSource>, AudioError> {
            match whole.lock().ok().and_then(|mut source| source.take()) {
                Some(source) => Ok(Box::new(ReadOnlySource::new(source))),
                None => Ok(Box::new(Cursor::new(Vec::new()))),
            }
        };
        let container = Container::open(&open, Vec::new(), NAME)?;
        Ok(Self { container, intake: Some(Intake::default()), ready: Vec::new(), given: 0 })
    }

    fn next(&mut self) -> Result<Option<Vec<i16>>, AudioError> {
        let mut n_faults = 0;
        while self.given == self.ready.len() {
            let Some(intake) = &mut self.intake else { return Ok(None) };
            match self.container.next() {
                Ok(Some(timed)) => {
                    let decoded = self.container.decode(&timed.packet).map_err(|fault| damaged(&fault));
                    match decoded {
                        Ok(buffer) => {
                            checked_rate(buffer.spec().rate(), NAME)?;
                            checked_channels(buffer.spec().channels().count(), NAME)?;
                            intake.sound(&buffer).map_err(not_resampled)?;
                            (self.ready, self.given) = (as_samples(&intake.take_ready()), 0);
                        }
                        // Half a frame at the end, say.
                        Err(_) if n_faults < MAX_FAULTS => n_faults += 1,
                        Err(fault) => return Err(fault),
                    }
                }
                Ok(None) => self.end()?,
                Err(Error::IoError(fault)) if fault.kind() == ErrorKind::UnexpectedEof => self.end()?,
                Err(Error::IoError(fault)) => return Err(AudioError::Broken { fault }),
                Err(fault) => return Err(damaged(&fault)),
            }
        }
        let block: Vec<i16> = self.ready.iter().skip(self.given).take(BLOCK).copied().collect();
        self.given += block.len();
        Ok(Some(block))
    }

    fn end(&mut self) -> Result<(), AudioError> {
        if let Some(intake) = self.intake.take() {
            let (rest, _) = intake.finish().map_err(not_resampled)?;
            (self.ready, self.given) = (as_samples(&rest), 0);
        }
        Ok(())
    }
}

/// The head of a wav up to its first sample: only the form of its sound, and no length where nobody could know it. Programs that
/// record into a pipe write there 0, or as much as the field holds.
fn whole_head(mut head: Vec<u8>, source: &mut Source) -> Result<Vec<u8>, AudioError> {
    let open_end = u32::MAX.to_le_bytes();
    put(&mut head, 4, open_end);
    let mut bytes = head.len();
    while bytes < MAX_HEAD {
        let mut chunk = read_up_to(source, 8)?;
        let Some(length) = chunk.last_chunk::<4>().filter(|_| chunk.len() == 8) else { break };
        if chunk.starts_with(b"data") {
            if *length == [0; 4] {
                put(&mut chunk, 4, open_end);
            }
            head.extend(chunk);
            return Ok(head);
        }
        // A chunk of odd length has a byte behind it.
        let length = u32::from_le_bytes(*length) as usize;
        let length = length.saturating_add(length % 2).min(MAX_HEAD);
        let content = read_up_to(source, length)?;
        bytes += 8 + content.len();
        if chunk.starts_with(b"fmt ") {
            head.extend([chunk, content].concat());
        }
    }
    Err(AudioError::NotIncoming { what: "a wav that ends before its sound".to_owned() })
}

fn put(head: &mut [u8], at: usize, bytes: [u8; 4]) {
    if let Some(field) = head.get_mut(at..at + 4) {
        field.copy_from_slice(&bytes);
    }
}

fn as_samples(sound: &[f32]) -> Vec<i16> {
    sound.iter().map(|sample| whole(*sample)).collect()
}

fn damaged(fault: &Error) -> AudioError {
    AudioError::Damaged { file: NAME.to_owned(), detail: fault.to_string() }
}

fn not_resampled(detail: String) -> AudioError {
    AudioError::Unsupported { file: NAME.to_owned(), detail }
}

#[cfg(test)]
mod tests;

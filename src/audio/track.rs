//! A container's sound track → recording.
//! Takes an opened source; decodes it packet by packet, each at its time, whatever its length in little memory; gives
//! samples, format and warnings. Leaves alone the container (`container`), gaps (`timeline`), samples (`intake`).
//! 3 s of which the second one is damaged → 3 s, the second one silent, one warning

use std::io::ErrorKind;

use symphonia::core::errors::Error;

use super::clues::Clues;
use super::container::{Container, SourceOpener, Timed, checked_channels, checked_rate};
use super::error::AudioError;
use super::intake::{Intake, Mended};
use super::recording::SourceFormat;
use super::samples::{Gathering, Samples};
use super::sound::Sound;
use super::timeline::Timeline;

/// What lies behind is not read: a small crafted file could ask for days. Of four hours 880 MB are put aside.
const MAX_SECONDS: f64 = 4.0 * 3600.0;
/// Faults of the container in a row, after which the rest is given up.
const MAX_FAULTS: usize = 50;
/// Shorter than stated by less than this is the coder's rounding.
const SHORT_SECONDS: f64 = 0.1;

/// A decoded sound track.
pub(crate) struct Decoded {
    pub(crate) samples: Samples,
    pub(crate) source: SourceFormat,
    pub(crate) warnings: Vec<String>,
}

/// Decodes the first sound track of a source; `file` is the name for messages.
pub(crate) fn decode_track(open_source: &SourceOpener<'_>, clues: Clues, file: &str) -> Result<Decoded, AudioError> {
    let container = Container::open(open_source, clues.losses, file)?;
    let origin = container.lost_its_beginning().then_some(0.0);
    let timeline = Timeline::starting_at(origin);
    let (intake, samples) = (Intake::default(), Gathering::default());
    let mut reading = Reading { file, container, timeline, intake, samples, format: None, fault: None };
    let ended = match reading.read_all()? {
        Ended::Whole if clues.is_cut => Ended::Early,
        ended => ended,
    };
    reading.finish(ended)
}

/// Why no more packets came.
enum Ended {
    Whole,
    /// In the middle of something.
    Early,
    /// At the longest length that is read.
    TooLong,
}

struct Reading<'a> {
    file: &'a str,
    container: Container,
    timeline: Timeline,
    intake: Intake,
    samples: Gathering,
    /// Rate and channels of the first sound.
    format: Option<(u32, usize)>,
    /// The first fault, for the message should nothing be decoded.
    fault: Option<String>,
}

impl Reading<'_> {
    fn read_all(&mut self) -> Result<Ended, AudioError> {
        let mut n_faults = 0;
        while self.intake.seconds() < MAX_SECONDS {
            match self.container.next() {
                Ok(Some(timed)) => {
                    n_faults = 0;
                    let goes_on = self.take(&timed)?;
                    self.samples.take(&self.intake.take_ready())?;
                    if !goes_on {
                        return Ok(Ended::Early);
                    }
                }
                Ok(None) => return Ok(Ended::Whole),
                Err(Error::IoError(fault)) if fault.kind() == ErrorKind::UnexpectedEof => return Ok(Ended::Early),
                Err(Error::ResetRequired) => {
                    if self.container.next_part(self.file).is_err() {
                        return Ok(Ended::Early);
                    }
                    self.timeline.next_part();
                }
                Err(Error::DecodeError(fault)) if n_faults < MAX_FAULTS => {
                    n_faults += 1;
                    self.note(fault);
                }
                Err(fault) => {
                    self.note(&fault.to_string());
                    return Ok(Ended::Early);
                }
            }
        }
        Ok(Ended::TooLong)
    }

    /// Takes in one packet; false where the decoder cannot go on.
    fn take(&mut self, timed: &Timed) -> Result<bool, AudioError> {
        if let Some(at) = timed.at {
            let gap = self.timeline.gap_before(at, self.intake.seconds());
            self.silence(gap)?;
        }
        match self.container.decode(&timed.packet) {
            Ok(buffer) => {
                let rate_hz = checked_rate(buffer.spec().rate(), self.file)?;
                let channels = checked_channels(buffer.spec().channels().count(), self.file)?;
                self.format.get_or_insert((rate_hz, channels));
                self.intake.sound(&buffer).map_err(|detail| not_resampled(self.file, detail))?;
                Ok(true)
            }
            Err(fault @ (Error::DecodeError(_) | Error::IoError(_) | Error::ResetRequired)) => {
                self.note(&fault.to_string());
                let lost = self.timeline.damaged(timed.lasts);
                self.silence(lost)?;
                Ok(true)
            }
            Err(fault) => {
                self.note(&fault.to_string());
                Ok(false)
            }
        }
    }

    fn silence(&mut self, seconds: f64) -> Result<(), AudioError> {
        self.intake.silence(seconds).map_err(|detail| not_resampled(self.file, detail))
    }

    fn note(&mut self, fault: &str) {
        self.fault.get_or_insert_with(|| fault.to_owned());
    }

    fn finish(mut self, ended: Ended) -> Result<Decoded, AudioError> {
        let file = self.file.to_owned();
        let Some((sample_rate_hz, channels)) = self.format.filter(|_| self.intake.has_sound()) else {
            return Err(match (self.fault, ended) {
                (Some(detail), _) => AudioError::Damaged { file, detail },
                (None, Ended::Early) => {
                    AudioError::Damaged { file, detail: "the file ends before its sound".to_owned() }
                }
                (None, _) => AudioError::NoSamples { file },
            });
        };
        let seconds = self.intake.seconds();
        let mut warnings = self.timeline.warnings();
        warnings.extend(end_warning(&ended, seconds, &self.container));
        let (rest, mended) = self.intake.finish().map_err(|detail| not_resampled(self.file, detail))?;
        warnings.extend(mended_warnings(mended, self.file)?);
        self.samples.take(&rest)?;
        let samples = self.samples.finish();
        // A single frame at a high rate comes to none at 16 kHz.
        if samples.is_empty() {
            return Err(AudioError::NoSamples { file });
        }
        let container = self.container.name().to_owned();
        let source = SourceFormat { container, codec: self.container.codec().to_owned(), sample_rate_hz, channels };
        Ok(Decoded { samples, source, warnings })
    }
}

fn end_warning(ended: &Ended, seconds: f64, container: &Container) -> Option<String> {
    match (ended, container.stated_seconds()) {
        (Ended::TooLong, _) => {
            Some(format!("the file is longer than {:.0} h: the rest was not read", MAX_SECONDS / 3600.0))
        }
        (_, Some(stated)) if seconds + SHORT_SECONDS < stated => {
            Some(format!("the file ends early: {seconds:.1} s were read of the {stated:.1} s it states"))
        }
        (Ended::Early, Some(_)) if container.name() == "matroska" => None,
        // A browser writes its recordings with an open end, so that a whole one looks the same as one cut short.
        (Ended::Early, None) if container.name() == "matroska" => Some(format!(
            "the file does not state its length, so nothing tells whether its end is missing: {seconds:.1} s were read"
        )),
        (Ended::Early, _) => Some(format!("the file ends early: {seconds:.1} s were read")),
        _ => None,
    }
}

/// What had to be mended in the samples; an error where most of them are no numbers.
fn mended_warnings(mended: Mended, file: &str) -> Result<Vec<String>, AudioError> {
    let Mended { all, not_numbers, too_loud } = mended;
    if not_numbers * 2 > all {
        return Err(AudioError::NotNumbers { file: file.to_owned(), percent: not_numbers * 100 / all.max(1) });
    }
    let mut warnings = Vec::new();
    if not_numbers > 0 {
        warnings.push(format!("{not_numbers} of {all} samples are not numbers and became silence"));
    }
    if too_loud > 0 {
        warnings.push(format!("{too_loud} of {all} samples are beyond full scale and were cut to it"));
    }
    Ok(warnings)
}

fn not_resampled(file: &str, detail: String) -> AudioError {
    AudioError::Unsupported { file: file.to_owned(), detail }
}

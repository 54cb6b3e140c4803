//! Decoded sound → one clean channel at 16 kHz.
//! Takes decoded buffers of any sample type, rate and channel count, and stretches of silence; gives the samples and how
//! many had to be mended. Leaves alone when a buffer ought to sound (`track`).
//! left 0.5 and right 0.1 give 0.3

use symphonia::core::audio::GenericAudioBufferRef;

use super::recording::SAMPLE_RATE_HZ;
use super::resample::Resampler;

/// What was wrong with the samples themselves, counted in source frames.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Mended {
    /// All frames that came in as sound.
    pub(crate) all: u64,
    /// Frames with a value that is no number, or infinite; they became silence.
    pub(crate) not_numbers: u64,
    /// Frames beyond full scale, which were cut to it.
    pub(crate) too_loud: u64,
}

/// Collects one channel at 16 kHz.
#[derive(Default)]
pub(crate) struct Intake {
    samples: Vec<f32>,
    mended: Mended,
    stretch: Option<Stretch>,
    /// Seconds in the stretches before this one.
    seconds_before: f64,
    planes: Vec<Vec<f32>>,
    mono: Vec<f32>,
}

/// A stretch of one sample rate; nearly every file has only one.
struct Stretch {
    rate_hz: u32,
    frames: u64,
    resampler: Resampler,
}

impl Intake {
    /// Seconds taken in so far, silence included.
    pub(crate) fn seconds(&self) -> f64 {
        let here = self.stretch.as_ref().map_or(0.0, |stretch| stretch.frames as f64 / f64::from(stretch.rate_hz));
        self.seconds_before + here
    }

    /// Whether any frame of sound came in.
    pub(crate) fn has_sound(&self) -> bool {
        self.mended.all > 0
    }

    /// Takes a decoded buffer; its rate must not be 0. The error is the resampling library's text.
    pub(crate) fn sound(&mut self, buffer: &GenericAudioBufferRef<'_>) -> Result<(), String> {
        buffer.copy_to_vecs_planar::<f32>(&mut self.planes);
        self.mix();
        let mono = std::mem::take(&mut self.mono);
        let done = self.push(buffer.spec().rate(), &mono);
        self.mono = mono;
        done
    }

    /// Takes silence, at the rate of the sound before it, or at 16 kHz where none came before.
    pub(crate) fn silence(&mut self, seconds: f64) -> Result<(), String> {
        let rate_hz = self.stretch.as_ref().map_or(SAMPLE_RATE_HZ, |stretch| stretch.rate_hz);
        let mut n_frames = (seconds.max(0.0) * f64::from(rate_hz)).round() as usize;
        let zeros = vec![0.0; n_frames.min(rate_hz as usize)];
        while n_frames > 0 {
            let piece = zeros.get(..n_frames.min(zeros.len())).unwrap_or_default();
            self.push(rate_hz, piece)?;
            n_frames -= piece.len();
        }
        Ok(())
    }

    /// The samples that are ready, where they are wanted before all has come in. [`Intake::finish`] gives only the rest then.
    pub(crate) fn take_ready(&mut self) -> Vec<f32> {
        within_scale(std::mem::take(&mut self.samples))
    }

    /// All samples that were not taken yet, each finite and within full scale, and what had to be mended.
    pub(crate) fn finish(mut self) -> Result<(Vec<f32>, Mended), String> {
        self.end_stretch()?;
        Ok((within_scale(self.samples), self.mended))
    }

    /// `planes` → `mono`, the mean of the channels, clean.
    fn mix(&mut self) {
        let n_frames = self.planes.iter().map(Vec::len).min().unwrap_or(0);
        let share = 1.0 / self.planes.len().max(1) as f32;
        self.mono.clear();
        self.mono.resize(n_frames, 0.0);
        for plane in &self.planes {
            for (sum, sample) in self.mono.iter_mut().zip(plane) {
                *sum += sample * share;
            }
        }
        self.mended.all += n_frames as u64;
        for sample in &mut self.mono {
            if !sample.is_finite() {
                self.mended.not_numbers += 1;
                *sample = 0.0;
            } else if sample.abs() > 1.0 {
                self.mended.too_loud += 1;
                *sample = sample.clamp(-1.0, 1.0);
            }
        }
    }

    fn push(&mut self, rate_hz: u32, mono: &[f32]) -> Result<(), String> {
        if self.stretch.as_ref().is_some_and(|stretch| stretch.rate_hz != rate_hz) {
            self.end_stretch()?;
        }
        let stretch = match &mut self.stretch {
            Some(stretch) => stretch,
            none => none.insert(Stretch { rate_hz, frames: 0, resampler: Resampler::new(rate_hz)? }),
        };
        stretch.frames += mono.len() as u64;
        stretch.resampler.push(mono, &mut self.samples)
    }

    fn end_stretch(&mut self) -> Result<(), String> {
        self.seconds_before = self.seconds();
        match self.stretch.take() {
            Some(stretch) => stretch.resampler.finish(&mut self.samples),
            None => Ok(()),
        }
    }
}

// A filter overshoots beside a sudden step; the promise of -1 to 1 holds for what leaves here.
fn within_scale(mut samples: Vec<f32>) -> Vec<f32> {
    for sample in &mut samples {
        *sample = if sample.is_finite() { sample.clamp(-1.0, 1.0) } else { 0.0 };
    }
    samples
}

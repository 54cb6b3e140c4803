//! Any sample rate → 16 kHz, piece by piece.
//! Takes one channel at a fixed rate, in pieces of any length; gives samples at 16 kHz, aligned with the input and as long.
//! Leaves alone level and content below 8 kHz; what is above cannot be kept at 16 kHz.
//! 44,100 samples at 44.1 kHz give 16,000 samples

use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{Fft, FixedSync, Resampler as _};

use super::recording::SAMPLE_RATE_HZ;

/// Input samples resampled at a time, about: it is rounded up to what the two rates need.
const CHUNK: usize = 4096;

/// Makes 16 kHz of one channel of another rate.
pub(crate) struct Resampler {
    rate_hz: u32,
    /// None where the rate is 16 kHz already.
    fft: Option<Box<Fft<f32>>>,
    /// Input that does not fill a chunk yet.
    waiting: Vec<f32>,
    chunk: Vec<f32>,
    /// Output samples still to be dropped: the filter's delay.
    to_drop: usize,
    taken: u64,
    given: u64,
}

impl Resampler {
    /// A resampler from `rate_hz`, which must not be 0, to 16 kHz; the error is the library's text.
    pub(crate) fn new(rate_hz: u32) -> Result<Self, String> {
        let mut made =
            Self { rate_hz, fft: None, waiting: Vec::new(), chunk: Vec::new(), to_drop: 0, taken: 0, given: 0 };
        if rate_hz != SAMPLE_RATE_HZ {
            let (from, to) = (rate_hz as usize, SAMPLE_RATE_HZ as usize);
            let fft = Fft::new(from, to, chunk_of(from), 1, FixedSync::Both).map_err(|fault| fault.to_string())?;
            made.chunk = vec![0.0; fft.output_frames_max()];
            made.to_drop = fft.output_delay();
            made.fft = Some(Box::new(fft));
        }
        Ok(made)
    }

    /// Takes the next samples and appends what is ready to `out`.
    pub(crate) fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) -> Result<(), String> {
        self.taken += samples.len() as u64;
        let Some(fft) = &mut self.fft else {
            out.extend_from_slice(samples);
            self.given += samples.len() as u64;
            return Ok(());
        };
        self.waiting.extend_from_slice(samples);
        let mut used = 0;
        while let Some(chunk) = self.waiting.get(used..used + fft.input_frames_next()) {
            used += chunk.len();
            let n_given = convert(fft, chunk, &mut self.chunk)?;
            let dropped = self.to_drop.min(n_given);
            self.to_drop -= dropped;
            self.given += (n_given - dropped) as u64;
            out.extend_from_slice(self.chunk.get(dropped..n_given).unwrap_or_default());
        }
        self.waiting.drain(..used);
        Ok(())
    }

    /// Appends the rest to `out`, so that in all it got as much time as came in, to the nearest sample.
    pub(crate) fn finish(mut self, out: &mut Vec<f32>) -> Result<(), String> {
        let rate = u64::from(self.rate_hz);
        let wanted = (self.taken * u64::from(SAMPLE_RATE_HZ) + rate / 2) / rate;
        while self.given < wanted {
            let n_zeros = self.fft.as_ref().map_or(1, |fft| fft.input_frames_next());
            self.push(&vec![0.0; n_zeros], out)?;
        }
        let surplus = (self.given - wanted) as usize;
        out.truncate(out.len().saturating_sub(surplus));
        Ok(())
    }
}

/// Input samples in a chunk: an even number of times what the two rates need at least. An odd number makes the filter's
/// delay a half sample, which the library rounds down, and the sound comes that much late.
fn chunk_of(rate_hz: usize) -> usize {
    let (mut common, mut rest) = (rate_hz, SAMPLE_RATE_HZ as usize);
    while rest > 0 {
        (common, rest) = (rest, common % rest);
    }
    CHUNK.next_multiple_of(2 * rate_hz / common)
}

/// One chunk through the library; gives the number of samples written to `out`.
fn convert(fft: &mut Fft<f32>, chunk: &[f32], out: &mut [f32]) -> Result<usize, String> {
    let room = out.len();
    let from = SequentialSlice::new(chunk, 1, chunk.len()).map_err(|fault| fault.to_string())?;
    let mut to = SequentialSlice::new_mut(out, 1, room).map_err(|fault| fault.to_string())?;
    let (_, n_given) = fft.process_into_buffer(&from, &mut to, None).map_err(|fault| fault.to_string())?;
    Ok(n_given)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, rate_hz: u32, n_samples: usize) -> Vec<f32> {
        let turn = 2.0 * std::f64::consts::PI * hz / f64::from(rate_hz);
        (0..n_samples).map(|n| (0.5 * (turn * n as f64).sin()) as f32).collect()
    }

    fn resampled(samples: &[f32], rate_hz: u32, piece: usize) -> Vec<f32> {
        let mut resampler = Resampler::new(rate_hz).unwrap();
        let mut out = Vec::new();
        for piece in samples.chunks(piece) {
            resampler.push(piece, &mut out).unwrap();
        }
        resampler.finish(&mut out).unwrap();
        out
    }

    /// The largest distance from the same tone made at 16 kHz, away from the two ends where a filter rings.
    fn largest_error(out: &[f32], hz: f64) -> f32 {
        let wanted = tone(hz, SAMPLE_RATE_HZ, out.len());
        let inner = 1000..out.len() - 1000;
        out[inner.clone()].iter().zip(&wanted[inner]).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
    }

    #[test]
    fn a_tone_keeps_frequency_level_place_and_length() {
        for rate_hz in [1_000, 8_000, 11_025, 16_000, 22_050, 44_100, 44_101, 48_000, 96_000, 192_000, 768_000] {
            let out = resampled(&tone(300.0, rate_hz, rate_hz as usize), rate_hz, 1013);
            assert_eq!(out.len(), 16_000, "{rate_hz} Hz");
            let error = largest_error(&out, 300.0);
            assert!(error < 0.005, "{rate_hz} Hz: off by {error} of 0.5");
        }
    }

    #[test]
    fn what_16_khz_cannot_hold_is_filtered_out() {
        let out = resampled(&tone(12_000.0, 48_000, 48_000), 48_000, 4096);
        let loudest = out[1000..15_000].iter().fold(0.0_f32, |loudest, sample| loudest.max(sample.abs()));
        assert!(loudest < 0.005, "a 12 kHz tone left {loudest}");
    }

    #[test]
    fn the_size_of_the_pieces_does_not_matter() {
        let samples = tone(700.0, 44_100, 30_000);
        let whole = resampled(&samples, 44_100, samples.len());
        for piece in [1, 7, 4096, 4097] {
            assert_eq!(resampled(&samples, 44_100, piece), whole, "pieces of {piece}");
        }
    }

    #[test]
    fn a_short_sound_keeps_its_length() {
        for n_samples in [0_usize, 1, 3, 4, 100] {
            let out = resampled(&vec![0.25; n_samples], 48_000, 1000);
            assert_eq!(out.len(), (n_samples * 16 + 24) / 48, "{n_samples} samples");
        }
    }
}

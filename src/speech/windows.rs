//! Stretches of speech → the pieces of sound that the recogniser hears at once.
//! Takes stretches in order; gives windows of neighbouring stretches set close together, and for a time within a
//! window its place in the recording. Leaves alone the samples within a stretch.
//!
//! Ten answers of two seconds, each after a long silence, become one window of twenty seconds.

use std::io;

use crate::audio::Sound;
use crate::span::SoundSpan;
use crate::speech::pauses::{SAMPLE_RATE, Stretch, to_ms};

/// Neighbouring stretches that are heard together, without the silence between them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Window {
    /// The stretches in order; never empty.
    pub stretches: Vec<Stretch>,
}

impl Window {
    /// How many samples it holds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.stretches.iter().map(|stretch| stretch.len()).sum()
    }

    /// Whether it holds no sample.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The sound of its stretches, one behind the other.
    ///
    /// # Errors
    /// If it lies on a disk and cannot be read.
    pub fn samples(&self, recording: &dyn Sound) -> io::Result<Vec<f32>> {
        let mut samples = Vec::with_capacity(self.len());
        for stretch in &self.stretches {
            samples.extend_from_slice(&recording.piece(stretch.start..stretch.end)?);
        }
        Ok(samples)
    }

    /// From the start of its first stretch to the end of its last.
    #[must_use]
    pub fn sound(&self) -> SoundSpan {
        let start_ms = self.stretches.first().map_or(0, |first| to_ms(first.start));
        SoundSpan { start_ms, end_ms: self.stretches.last().map_or(start_ms, |last| to_ms(last.end)) }
    }

    /// Which stretch a time within the window falls into, and the time in the recording, both in milliseconds.
    /// Times behind the end belong to the end.
    #[must_use]
    pub fn place(&self, ms: u64) -> (usize, u64) {
        let mut left = ms;
        for (index, stretch) in self.stretches.iter().enumerate() {
            let length = to_ms(stretch.len());
            if left < length || index + 1 == self.stretches.len() {
                return (index, to_ms(stretch.start) + left.min(length));
            }
            left -= length;
        }
        (0, 0)
    }

    /// Where two times of the window lie in the recording. What begins in one stretch ends no later than it.
    #[must_use]
    pub fn span(&self, start_ms: u64, end_ms: u64) -> SoundSpan {
        // A time at the very end of a stretch belongs to the next: judge the place by the middle.
        let (index, _) = self.place(start_ms.midpoint(end_ms));
        let offset: u64 = self.stretches.iter().take(index).map(|stretch| to_ms(stretch.len())).sum();
        let Some(stretch) = self.stretches.get(index) else { return SoundSpan { start_ms: 0, end_ms: 0 } };
        let at = |ms: u64| to_ms(stretch.start) + ms.saturating_sub(offset).min(to_ms(stretch.len()));
        SoundSpan { start_ms: at(start_ms), end_ms: at(end_ms.max(start_ms)) }
    }
}

/// Windows of no more than `longest` samples; a stretch that is longer gets one of its own. A window is closed at
/// the longest pause of its last third: sentences seldom run over it.
#[must_use]
pub fn windows(stretches: &[Stretch], longest: usize) -> Vec<Window> {
    let mut windows = Vec::new();
    let mut rest = stretches;
    while !rest.is_empty() {
        let mut length = 0;
        let fits = rest.iter().take_while(|stretch| {
            length += stretch.len();
            length <= longest
        });
        let fits = fits.count().max(1);
        let (window, later) = rest.split_at(if fits == rest.len() { fits } else { last_pause(rest, fits, longest) });
        windows.push(Window { stretches: window.to_vec() });
        rest = later;
    }
    windows
}

/// How many of the `fits` stretches to take, so that the window ends at a long pause.
fn last_pause(stretches: &[Stretch], fits: usize, longest: usize) -> usize {
    let mut length = 0;
    let mut best = (fits, 0);
    for (index, pair) in stretches.windows(2).take(fits).enumerate() {
        let [here, next] = pair else { break };
        length += here.len();
        // Pauses of more than two seconds are all alike; of equal ones the last serves best.
        let pause = next.start.saturating_sub(here.end).min(2 * SAMPLE_RATE);
        if length * 3 >= longest * 2 && pause >= best.1 {
            best = (index + 1, pause);
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(parts: &[(usize, usize)]) -> Vec<Stretch> {
        let at = |tenths: usize| tenths * SAMPLE_RATE / 10;
        parts.iter().map(|&(start, end)| Stretch { start: at(start), end: at(end) }).collect()
    }

    #[test]
    fn neighbours_share_a_window_until_it_is_full() {
        let stretches = seconds(&[(0, 50), (60, 110), (130, 180), (185, 235), (400, 700)]);
        let counts = |longest: usize| -> Vec<usize> {
            windows(&stretches, longest * SAMPLE_RATE).iter().map(|window| window.stretches.len()).collect()
        };
        assert_eq!(counts(20), [4, 1]);
        // Fifteen seconds would hold three; the longest pause of the last third is behind the second.
        assert_eq!(counts(15), [2, 2, 1]);
        assert_eq!(counts(1), [1, 1, 1, 1, 1]);
        assert_eq!(windows(&[], 100), []);
    }

    #[test]
    fn times_find_their_way_back() {
        let window = Window { stretches: seconds(&[(10, 20), (50, 70)]) };
        assert_eq!(window.len(), 3 * SAMPLE_RATE);
        assert_eq!(window.place(500), (0, 1500));
        assert_eq!(window.place(1000), (1, 5000));
        assert_eq!(window.place(9000), (1, 7000));
        assert_eq!(window.span(900, 1000), SoundSpan { start_ms: 1900, end_ms: 2000 });
        assert_eq!(window.span(900, 1300), SoundSpan { start_ms: 5000, end_ms: 5300 });
        assert_eq!(window.span(700, 1200), SoundSpan { start_ms: 1700, end_ms: 2000 });
        assert_eq!(window.sound(), SoundSpan { start_ms: 1000, end_ms: 7000 });
        let recording: Vec<f32> = (0..8 * SAMPLE_RATE).map(|at| at as f32).collect();
        let samples = window.samples(&recording).unwrap();
        assert_eq!((samples[0], samples[SAMPLE_RATE]), (16_000.0, 80_000.0));
    }
}

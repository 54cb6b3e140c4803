//! Sound → stretches that may hold speech by their level, cut at pauses.
//! Takes 16 kHz mono sound; gives stretches in order, without overlap, each with a little air on both sides.
//! Leaves alone whether a stretch is speech at all (the recogniser says) and any sound that is as steady as the room.
//!
//! Three sentences with a second of silence between them give three stretches; a fan running for an hour gives none.

use std::io;

use crate::audio::{PIECE, Sound};
use crate::span::SoundSpan;

/// Samples a second throughout this stage.
pub const SAMPLE_RATE: usize = 16_000;

/// A stretch of the recording, in samples from its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// First sample.
    pub start: usize,
    /// Sample behind the last.
    pub end: usize,
}

impl Stretch {
    /// Its length in samples.
    #[must_use]
    pub fn len(self) -> usize {
        self.end.saturating_sub(self.start)
    }

    /// Whether it holds no sample.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The same stretch in milliseconds.
    #[must_use]
    pub fn sound(self) -> SoundSpan {
        SoundSpan { start_ms: to_ms(self.start), end_ms: to_ms(self.end) }
    }
}

/// Milliseconds of a number of samples.
#[must_use]
pub fn to_ms(samples: usize) -> u64 {
    (samples as u64) * 1000 / SAMPLE_RATE as u64
}

/// One level is taken every 20 ms.
pub(super) const FRAME: usize = SAMPLE_RATE / 50;
const _: () = assert!(PIECE.is_multiple_of(FRAME), "a piece has whole frames");
/// A sound starts this far above the room and ends when it has fallen below the second figure, in decibels.
const STARTS_ABOVE: f32 = 9.0;
const ENDS_BELOW: f32 = 6.0;
/// Levels under this are silence whatever the room; dither and resampling stay below it.
const SILENCE: f32 = -72.0;
/// Frames within the five from a start that must be loud: a single click is no speech, the shortest "no" is.
const LOUD_FRAMES: usize = 3;
/// The room is the level that one frame in ten of the half minute on either side stays below. The long view keeps
/// half a minute of unbroken speech from passing for the room.
const ROOM_VIEW: usize = 30 * 50;
const ROOM_SHARE: f32 = 0.1;
/// Air on both sides: what fades in and out of words lies under the threshold.
const AIR: usize = SAMPLE_RATE / 4;
/// A pause shorter than this (in frames) may lie within a word and is never cut.
const SHORTEST_PAUSE: usize = 15;
/// A pause longer than this (in frames) always cuts.
const LONG_PAUSE: usize = 75;
/// Between the two a pause cuts once the stretch has this length.
const SHORT: usize = 2 * 50;
/// No stretch is longer than this before the air is added.
const LONGEST: usize = 12 * 50;

/// The stretches of a recording that rise above its room.
///
/// # Errors
/// If the sound lies on a disk and cannot be read.
pub fn stretches(sound: &dyn Sound) -> io::Result<Vec<Stretch>> {
    Ok(loud_stretches(&levels(sound)?, sound.len()))
}

/// The same from the levels of that many samples.
pub(super) fn loud_stretches(levels: &[f32], samples: usize) -> Vec<Stretch> {
    cut(levels, loud_runs(levels, &room(levels)), samples)
}

/// Runs as stretches: joined over short pauses, cut where they are long, with air around them.
pub(super) fn cut(levels: &[f32], runs: Vec<Run>, samples: usize) -> Vec<Stretch> {
    let mut cut = Vec::new();
    for run in joined(runs) {
        split_long(levels, run, &mut cut);
    }
    with_air(&cut, samples)
}

/// A run of frames, the end not included.
pub(super) type Run = (usize, usize);

/// The level of every frame in decibels of full scale, hum and slow drift taken off.
pub(super) fn levels(sound: &dyn Sound) -> io::Result<Vec<f32>> {
    // One-pole high-pass at 100 Hz: mains hum and handling noise lie below, speech above.
    let keep = 1.0 - std::f32::consts::TAU * 100.0 / SAMPLE_RATE as f32;
    let (mut before, mut out) = (sound.piece(0..1)?.first().copied().unwrap_or(0.0), 0.0f32);
    let mut level = |frame: &[f32]| {
        let mut sum = 0.0f64;
        for &sample in frame {
            let sample = if sample.is_finite() { sample } else { 0.0 };
            out = keep * (out + sample - before);
            before = sample;
            sum += f64::from(out) * f64::from(out);
        }
        let mean = sum / frame.len().max(1) as f64;
        (10.0 * mean.max(1e-12).log10()) as f32
    };
    let mut levels = Vec::with_capacity(sound.len().div_ceil(FRAME));
    for piece in sound.pieces(PIECE) {
        levels.extend(piece?.chunks(FRAME).map(&mut level));
    }
    Ok(levels)
}

/// The level of the room around every frame. It is taken once a second: rooms change slowly.
pub(super) fn room(levels: &[f32]) -> Vec<f32> {
    let mut room = Vec::with_capacity(levels.len());
    let mut near: Vec<f32> = Vec::new();
    for second in (0..levels.len()).step_by(50) {
        let view = second.saturating_sub(ROOM_VIEW)..(second + ROOM_VIEW).min(levels.len());
        near.clear();
        near.extend(levels.get(view).unwrap_or_default());
        let at = ((near.len() as f32 * ROOM_SHARE) as usize).min(near.len().saturating_sub(1));
        let (_, &mut level, _) = near.select_nth_unstable_by(at, f32::total_cmp);
        let here = 50.min(levels.len() - second);
        room.extend(std::iter::repeat_n(level.max(SILENCE), here));
    }
    room
}

/// Runs of frames above the room: started by several loud frames, ended by a pause.
pub(super) fn loud_runs(levels: &[f32], room: &[f32]) -> Vec<Run> {
    let above: Vec<f32> = levels.iter().zip(room).map(|(level, room)| level - room).collect();
    let mut runs: Vec<Run> = Vec::new();
    let mut at = 0;
    while at < above.len() {
        let ahead = above.get(at..(at + 5).min(above.len())).unwrap_or_default();
        let starts = above[at] >= STARTS_ABOVE && ahead.iter().filter(|&&a| a >= STARTS_ABOVE).count() >= LOUD_FRAMES;
        if !starts {
            at += 1;
            continue;
        }
        let (start, mut past) = (at, at + 1);
        while at < above.len() && at < past + SHORTEST_PAUSE {
            if above[at] >= ENDS_BELOW {
                past = at + 1;
            }
            at += 1;
        }
        runs.push((start, past));
        at = past;
    }
    runs
}

/// Runs joined over pauses that should not cut.
fn joined(runs: Vec<Run>) -> Vec<Run> {
    let mut joined: Vec<Run> = Vec::new();
    for run in runs {
        if let Some(last) = joined.last_mut() {
            let pause = run.0 - last.1;
            let short = last.1 - last.0 < SHORT || run.1 - run.0 < SHORT / 4;
            let fits = run.1 - last.0 <= LONGEST;
            if pause < SHORTEST_PAUSE || fits && short && pause < LONG_PAUSE {
                last.1 = run.1;
                continue;
            }
        }
        joined.push(run);
    }
    joined
}

/// Cuts a run that is too long at its quietest place, so that both parts have a fair length.
fn split_long(levels: &[f32], run: Run, cut: &mut Vec<Run>) {
    let (mut start, end) = run;
    while end - start > LONGEST {
        let from = start + LONGEST / 3;
        let to = (start + LONGEST).min(end - SHORT / 2);
        // Five frames together: a single quiet frame is found within many words, a tenth of a second in few.
        let loudness = |at: &usize| levels[at - 2..=at + 2].iter().map(|&l| f64::from(l)).sum::<f64>();
        let quietest = (from..to).min_by(|a, b| loudness(a).total_cmp(&loudness(b))).unwrap_or(to);
        cut.push((start, quietest));
        start = quietest;
    }
    cut.push((start, end));
}

/// Runs as stretches of samples with air, which neighbours share where the pause is short.
fn with_air(runs: &[Run], samples: usize) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::with_capacity(runs.len());
    for (index, &(start, end)) in runs.iter().enumerate() {
        let (start, end) = (start * FRAME, (end * FRAME).min(samples));
        let before = stretches.last().map_or(0, |last| last.end);
        let next = runs.get(index + 1).map_or(samples, |next| next.0 * FRAME);
        let past = (end + AIR).min(next).min(end + (next - end).div_ceil(2).max(AIR.min(next - end) / 2));
        stretches.push(Stretch { start: start.saturating_sub(AIR).max(before), end: past.min(samples) });
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise that is the same on every run.
    fn noise(seconds: f32, loudness: f32) -> Vec<f32> {
        let mut state = 12345u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 23) as f32 - 1.0
        };
        (0..(seconds * SAMPLE_RATE as f32) as usize).map(|_| next() * loudness).collect()
    }

    fn tone(seconds: f32, loudness: f32) -> Vec<f32> {
        let step = std::f32::consts::TAU * 440.0 / SAMPLE_RATE as f32;
        (0..(seconds * SAMPLE_RATE as f32) as usize).map(|at| (at as f32 * step).sin() * loudness).collect()
    }

    /// Tones (positive lengths) and pauses (negative) in seconds, over a little noise.
    fn sound(parts: &[f32]) -> Vec<f32> {
        let mut samples: Vec<f32> = Vec::new();
        for &part in parts {
            samples.extend(if part > 0.0 { tone(part, 0.2) } else { vec![0.0; (-part * SAMPLE_RATE as f32) as usize] });
        }
        let room = noise(samples.len() as f32 / SAMPLE_RATE as f32 + 1.0, 0.002);
        samples.iter().zip(room).map(|(sample, room)| sample + room).collect()
    }

    #[track_caller]
    fn check(parts: &[f32], expected_ms: &[(u64, u64)]) {
        let found: Vec<(u64, u64)> =
            stretches(&sound(parts)).unwrap().iter().map(|s| (s.sound().start_ms, s.sound().end_ms)).collect();
        assert_eq!(found.len(), expected_ms.len(), "parts: {parts:?}, found: {found:?}");
        for (found, expected) in found.iter().zip(expected_ms) {
            let near = |a: u64, b: u64| a.abs_diff(b) <= 40;
            assert!(near(found.0, expected.0) && near(found.1, expected.1), "found {found:?}, expected {expected:?}");
        }
    }

    #[test]
    fn cuts_at_pauses_and_leaves_air() {
        check(&[-1.0, 3.0, -1.0, 3.0, -1.0], &[(750, 4250), (4750, 8250)]);
        // The pause is shorter than twice the air: both sides share it.
        check(&[-1.0, 3.0, -0.4, 3.0, -1.0], &[(750, 4200), (4200, 7650)]);
        // A word of its own far from the others.
        check(&[-2.0, 0.3, -3.0, 3.0, -1.0], &[(1750, 2550), (5050, 8550)]);
        // Short pieces near each other stay together, and short gaps never cut.
        check(&[-1.0, 0.8, -0.6, 0.8, -1.0], &[(750, 3450)]);
        check(&[-1.0, 3.0, -0.2, 3.0, -1.0], &[(750, 7450)]);
        check(&[-1.0, 3.0], &[(750, 4000)]);
    }

    #[test]
    fn silence_steady_noise_and_clicks_give_nothing() {
        assert_eq!(stretches(&Vec::new()).unwrap(), []);
        assert_eq!(stretches(&vec![0.0; 100]).unwrap(), []);
        assert_eq!(stretches(&vec![0.0; 60 * SAMPLE_RATE]).unwrap(), []);
        assert_eq!(stretches(&noise(60.0, 0.3)).unwrap(), []);
        assert_eq!(stretches(&noise(60.0, 0.0001)).unwrap(), []);
        let mut clicks = noise(30.0, 0.002);
        for at in (8000..clicks.len()).step_by(SAMPLE_RATE) {
            clicks[at] = 0.9;
        }
        assert_eq!(stretches(&clicks).unwrap(), []);
    }

    #[test]
    fn a_long_burst_is_cut_at_its_quietest_places_and_nothing_is_lost() {
        let mut samples = sound(&[-20.0, 40.0, -20.0]);
        // A dip of a tenth of a second, eight seconds in.
        for sample in &mut samples[28 * SAMPLE_RATE..28 * SAMPLE_RATE + SAMPLE_RATE / 10] {
            *sample *= 0.1;
        }
        let found = stretches(&samples).unwrap();
        assert!(found.len() >= 4, "{found:?}");
        assert!(found[0].end.abs_diff(28 * SAMPLE_RATE + SAMPLE_RATE / 20) < SAMPLE_RATE / 20, "{found:?}");
        assert!(found[0].start <= 20 * SAMPLE_RATE && found[found.len() - 1].end >= 60 * SAMPLE_RATE - FRAME);
        assert!(found.windows(2).all(|pair| pair[0].end == pair[1].start), "{found:?}");
        assert!(found.iter().all(|stretch| stretch.len() <= 13 * SAMPLE_RATE), "{found:?}");
    }

    #[test]
    fn every_burst_well_above_the_room_lies_within_a_stretch() {
        let mut state = 7u32;
        for _ in 0..20 {
            let mut parts = vec![-2.0];
            for _ in 0..12 {
                state = state.wrapping_mul(1_103_515_245).wrapping_add(12345);
                parts.push(0.12 + (state >> 16 & 0xff) as f32 / 60.0);
                parts.push(-0.1 - (state >> 24) as f32 / 90.0);
            }
            let found = stretches(&sound(&parts)).unwrap();
            let mut at = 0.0;
            for part in &parts {
                if *part > 0.0 {
                    let (start, end) =
                        ((at * SAMPLE_RATE as f32) as usize, ((at + part) * SAMPLE_RATE as f32) as usize);
                    // The tone may cross from one stretch into the next; each of its frames must be in one.
                    for sample in (start..end.saturating_sub(FRAME)).step_by(FRAME) {
                        assert!(found.iter().any(|s| s.start <= sample && sample < s.end), "{parts:?}: {sample}");
                    }
                }
                at += part.abs();
            }
            assert!(found.windows(2).all(|pair| pair[0].end <= pair[1].start), "{found:?}");
        }
    }

    #[test]
    fn a_noise_that_starts_midway_becomes_the_room() {
        let mut samples = noise(60.0, 0.001);
        samples.extend(noise(240.0, 0.05));
        let found = stretches(&samples).unwrap();
        assert!(found.iter().all(|stretch| stretch.end < 120 * SAMPLE_RATE), "{found:?}");
    }
}

//! Sound and its chances of speech → stretches of speech, cut at pauses, and what may be speech and is in none.
//! Takes 16 kHz mono sound and a chance for every frame; gives stretches in order with air on both sides, and
//! notices of sound above the room that could hold speech and is not put before the recogniser. Leaves alone how the
//! chances come about (`voice`); without them the sound's level decides (`pauses`).
//!
//! Two sentences among a monitor's beeps give two stretches; a cry gives none and no notice.

use std::io;

use crate::audio::Sound;
use crate::speech::pauses::{self, Run, SAMPLE_RATE, Stretch, levels, loud_runs, loud_stretches, room};
use crate::speech::transcriber::{Notice, Unheard};
use crate::speech::voice::FRAME;

/// What is put before the recogniser, and what is not although it might be speech.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Found {
    /// In order, without overlap.
    pub stretches: Vec<Stretch>,
    /// In order.
    pub unheard: Vec<Notice>,
}

/// Speech starts at the first chance and goes on as long as frames reach the second. Both are low: right behind a loud cry a
/// single "no" comes to .5 in one frame and .3 in the next, and cries, beeps and hum stay below .1. What is taken for speech
/// and is none is still found out by the recogniser.
const STARTS: f32 = 0.3;
const GOES_ON: f32 = 0.25;
/// Speech that ends for less than this (in frames) has not ended: the pause may lie within a word.
const SHORTEST_PAUSE: usize = 9;
/// What lies before the start of speech and has some chance belongs to it: words begin softly.
const FAINT: f32 = 0.1;
/// So many frames with some chance may hold a word: the shortest "no" has six.
const FAINT_FRAMES: usize = 6;

/// What is loud within so many frames (of 20 ms) of speech may be its beginning or end.
const NEAR: usize = 30;
/// Speech that is no louder than the room for so many frames (of 20 ms) was drowned, not paused.
const LONG_QUIET: usize = 25;

/// The stretches that hold speech.
///
/// # Errors
/// If the sound lies on a disk and cannot be read.
pub fn spoken(sound: &dyn Sound, chances: &[f32]) -> io::Result<Found> {
    let levels = levels(sound)?;
    let speech: Vec<Run> = spoken_runs(chances).into_iter().map(|run| in_levels(run, levels.len())).collect();
    let runs = both(&loud_runs(&levels, &room(&levels)), &speech);
    let stretches = pauses::cut(&levels, runs, sound.len());
    let unheard = unheard(&loud_stretches(&levels, sound.len()), &stretches, chances);
    Ok(Found { stretches, unheard })
}

/// The stretches above the room, where chances are not to be had.
///
/// # Errors
/// As [`spoken`].
pub fn loud(sound: &dyn Sound) -> io::Result<Found> {
    Ok(Found { stretches: pauses::stretches(sound)?, unheard: Vec::new() })
}

/// Runs of frames that hold speech.
fn spoken_runs(chances: &[f32]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut at = 0;
    while at < chances.len() {
        if chances[at] < STARTS {
            at += 1;
            continue;
        }
        let earliest = runs.last().map_or(0, |last| last.1);
        let faint = (earliest..at).rev().take_while(|&before| chances[before] >= FAINT).count();
        let start = at - faint;
        let mut past = at + 1;
        while at < chances.len() && at < past + SHORTEST_PAUSE {
            past = if chances[at] >= GOES_ON { at + 1 } else { past };
            at += 1;
        }
        runs.push((start, past));
        at = past;
    }
    runs
}

/// The level finds pauses more finely and the network tells speech from other sounds: what is loud, near speech, and what
/// is speech, although it is not loud. Recordings of one voice in a quiet room are cut as the level alone would cut them,
/// which recognisers write better: they hear the pauses between sentences.
fn both(loud: &[Run], speech: &[Run]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for &(start, past) in loud {
        let near = speech.iter().map(|run| (run.0.saturating_sub(NEAR).max(start), (run.1 + NEAR).min(past)));
        for (from, to) in near.filter(|(from, to)| to > from) {
            match runs.last_mut().filter(|last| last.1 >= from && last.0 >= start) {
                Some(last) => last.1 = last.1.max(to),
                None => runs.push((from, to)),
            }
        }
    }
    let quiet: Vec<Run> = speech.iter().flat_map(|run| not_loud(*run, loud)).collect();
    runs.extend(quiet);
    runs.sort_unstable();
    runs.dedup_by(|next, last| {
        let touch = next.0 <= last.1;
        last.1 = if touch { last.1.max(next.1) } else { last.1 };
        touch
    });
    runs
}

/// The parts of a run of speech that are not loud: long ones, and all of them where much of it is not.
fn not_loud((start, past): Run, loud: &[Run]) -> Vec<Run> {
    let mut parts: Vec<Run> = Vec::new();
    let mut from = start;
    for &(begins, ends) in loud.iter().filter(|run| run.0 < past && run.1 > start) {
        parts.push((from, begins));
        from = ends;
    }
    parts.push((from, past));
    parts.retain(|part| part.1 > part.0);
    let quiet: usize = parts.iter().map(|part| part.1 - part.0).sum();
    let drowned = quiet * 4 > past - start;
    parts.retain(|part| drowned || part.1 - part.0 >= LONG_QUIET);
    parts
}

/// The same run in the frames of which levels are taken.
fn in_levels((start, past): Run, count: usize) -> Run {
    ((start * FRAME / pauses::FRAME).min(count), (past * FRAME).div_ceil(pauses::FRAME).min(count))
}

/// What rises above the room, could be speech, and lies in no stretch.
fn unheard(loud: &[Stretch], stretches: &[Stretch], chances: &[f32]) -> Vec<Notice> {
    let heard = |frame: usize| {
        let middle = frame * FRAME + FRAME / 2;
        let next = stretches.partition_point(|stretch| stretch.end <= middle);
        stretches.get(next).is_some_and(|stretch| stretch.start <= middle)
    };
    let could_be = |stretch: &&Stretch| {
        let mut together = 0;
        (stretch.start / FRAME..stretch.end.div_ceil(FRAME).min(chances.len())).any(|frame| {
            together = if chances[frame] >= FAINT && !heard(frame) { together + 1 } else { 0 };
            together >= FAINT_FRAMES
        })
    };
    let notice = |stretch: &Stretch| Notice { sound: stretch.sound(), reason: Unheard::NotSpeech };
    loud.iter().filter(could_be).map(notice).collect()
}

const _: () = assert!(SAMPLE_RATE == 16_000 && FRAME == 512, "the figures above are frames of 32 ms");

#[cfg(test)]
mod tests {
    use super::*;

    /// Chances as (chance, frames).
    fn chances(parts: &[(f32, usize)]) -> Vec<f32> {
        parts.iter().flat_map(|&(chance, frames)| std::iter::repeat_n(chance, frames)).collect()
    }

    #[track_caller]
    fn check(parts: &[(f32, usize)], expected: &[Run]) {
        assert_eq!(spoken_runs(&chances(parts)), expected, "{parts:?}");
    }

    #[test]
    fn speech_starts_likely_and_ends_late() {
        check(&[(0.0, 20), (0.9, 30), (0.0, 20)], &[(20, 50)]);
        // It goes on while it is likely, and over pauses that may lie within a word.
        check(&[(0.0, 20), (0.9, 10), (0.26, 10), (0.2, 20)], &[(20, 40)]);
        check(&[(0.9, 10), (0.0, 8), (0.9, 10), (0.0, 20)], &[(0, 28)]);
        check(&[(0.9, 10), (0.0, 10), (0.9, 10), (0.0, 20)], &[(0, 10), (20, 30)]);
        // A soft beginning belongs to it; what is soft alone is none.
        check(&[(0.0, 20), (0.2, 5), (0.9, 10), (0.0, 20)], &[(20, 35)]);
        check(&[(0.0, 20), (0.29, 40), (0.0, 20)], &[]);
        // A "no" behind a cry.
        check(&[(0.0, 20), (0.16, 1), (0.52, 1), (0.3, 1), (0.12, 1), (0.05, 20)], &[(20, 23)]);
        check(&[], &[]);
        check(&[(0.9, 3)], &[(0, 3)]);
    }

    #[test]
    fn what_is_loud_near_speech_is_kept_and_quiet_speech_is_added() {
        // In a quiet room the level decides where the pauses are.
        assert_eq!(both(&[(10, 100), (120, 200)], &[(12, 210)]), [(10, 100), (120, 200)]);
        // A cry before speech and a beep far from it are left out.
        assert_eq!(both(&[(0, 300), (500, 510)], &[(200, 310)]), [(170, 300)]);
        // Speech in loud noise: what the level loses is kept.
        assert_eq!(both(&[(10, 40)], &[(10, 100)]), [(10, 100)]);
        assert_eq!(both(&[], &[(10, 20)]), [(10, 20)]);
        assert_eq!(both(&[(10, 100)], &[(20, 30), (60, 70)]), [(10, 100)]);
        assert_eq!(both(&[(10, 100)], &[]), []);
    }

    /// A loud tone from second 2 to 4 of 10, in a quiet room, with the given chance while it lasts.
    fn toned(chance: f32) -> Found {
        let tone = |at: usize| (at as f32 * 0.1).sin() * if (32_000..64_000).contains(&at) { 0.3 } else { 0.001 };
        let samples: Vec<f32> = (0..160_000).map(tone).collect();
        let chances: Vec<f32> = (0..313).map(|f| if (63..125).contains(&f) { chance } else { 0.01 }).collect();
        spoken(&samples, &chances).unwrap()
    }

    #[test]
    fn what_could_be_speech_is_noticed_and_what_could_not_is_left_out() {
        let [speech] = toned(0.9).stretches[..] else { panic!("{:?}", toned(0.9)) };
        assert!(speech.start.abs_diff(28_000) < 600 && speech.end.abs_diff(68_000) < 600, "{speech:?}");
        assert_eq!(toned(0.9).unheard, []);
        assert_eq!(toned(0.02), Found::default());
        let faint = toned(0.2);
        assert_eq!(faint.stretches, []);
        let [notice] = &faint.unheard[..] else { panic!("{faint:?}") };
        assert_eq!(notice.reason, Unheard::NotSpeech);
        assert!(notice.sound.start_ms.abs_diff(1750) < 50 && notice.sound.end_ms.abs_diff(4250) < 50, "{notice:?}");
    }

    #[test]
    fn silence_that_is_taken_for_speech_is_still_cut() {
        let samples = vec![0.0; 60 * SAMPLE_RATE];
        let found = spoken(&samples, &vec![1.0; samples.len().div_ceil(FRAME)]).unwrap();
        assert!(found.stretches.len() >= 5, "{found:?}");
        assert!(found.stretches.windows(2).all(|pair| pair[0].end == pair[1].start), "{found:?}");
        assert_eq!(found.stretches.last().map(|last| last.end), Some(samples.len()));
        assert_eq!(spoken(&Vec::new(), &[]).unwrap(), Found::default());
    }
}

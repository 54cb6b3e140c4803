//! The order of work around a recogniser: windows, several at once, a second hearing for what was missed.
//! Takes sound, its stretches and a function that hears one piece of sound; gives utterances and notices in order
//! of time, the same whatever the number of recognisers.
//! Leaves alone how a piece is heard (`whisper`).
//!
//! A window whose third stretch got no words has that stretch heard again by itself; still nothing gives a notice.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc;

use crate::audio::Sound;
use crate::speech::pauses::{SAMPLE_RATE, Stretch, to_ms};
use crate::speech::rejection::fault;
use crate::speech::tokens::{Piece, mean_log_probability, text_of, utterances_of};
use crate::speech::transcriber::{Heard, Notice, Progress, SpeechError, Unheard};
use crate::speech::windows::{Window, windows};
use crate::speech::words::words_of;

/// What a recogniser makes of one piece of sound.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Raw {
    /// Its tokens, with times in milliseconds from the start of the piece.
    pub pieces: Vec<Piece>,
    /// Its chance of there being no speech, 0 to 1.
    pub no_speech: f32,
}

/// How the work is shared out.
#[derive(Debug, Clone, Copy)]
pub struct Work<'a> {
    /// Recognisers at the same time, at least one.
    pub recognisers: usize,
    /// The longest window in samples.
    pub longest: usize,
    /// Set by the caller to stop.
    pub cancel: &'a AtomicBool,
}

/// Poorer than this (mean log-probability), a stretch is heard a second time by itself.
const DOUBTFUL: f32 = -1.0;

/// Hears every window; `hear` says in words why it failed.
///
/// # Errors
/// If the work was cancelled, a recogniser failed or the sound cannot be read.
pub fn listen<H>(
    sound: &dyn Sound,
    stretches: &[Stretch],
    work: Work<'_>,
    hear: H,
    progress: &mut dyn FnMut(Progress),
) -> Result<Heard, SpeechError>
where
    H: Fn(&[f32]) -> Result<Raw, String> + Sync,
{
    let windows = windows(stretches, work.longest);
    let total: usize = windows.iter().map(Window::len).sum();
    let total_ms = to_ms(sound.len());
    let mut heard: Vec<Option<Heard>> = vec![None; windows.len()];
    let mut failed = None;
    let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
    let (send, receive) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..work.recognisers.clamp(1, windows.len().max(1)) {
            let (send, windows, hear, next, stop) = (send.clone(), &windows, &hear, &next, &stop);
            scope.spawn(move || {
                while !stop.load(Ordering::Relaxed) && !work.cancel.load(Ordering::Relaxed) {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(window) = windows.get(index) else { break };
                    let result = hear_window(sound, window, work.cancel, hear);
                    if send.send((index, result)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(send);
        let mut done = 0;
        for (index, result) in receive {
            done += windows.get(index).map_or(0, Window::len);
            match result {
                Ok(result) => heard.get_mut(index).into_iter().for_each(|place| *place = Some(result.clone())),
                Err(error) => {
                    stop.store(true, Ordering::Relaxed);
                    failed.get_or_insert(error);
                }
            }
            progress(Progress { done_ms: total_ms * done as u64 / total.max(1) as u64, total_ms });
        }
    });
    if work.cancel.load(Ordering::Relaxed) {
        return Err(SpeechError::Cancelled);
    }
    failed.map_or_else(|| Ok(joined(heard)), Err)
}

fn joined(windows: Vec<Option<Heard>>) -> Heard {
    let mut all = Heard::default();
    for heard in windows.into_iter().flatten() {
        all.utterances.extend(heard.utterances);
        all.notices.extend(heard.notices);
    }
    all
}

/// Hears a window, then once more by themselves those of its stretches for which nothing credible was written.
fn hear_window<H>(sound: &dyn Sound, window: &Window, cancel: &AtomicBool, hear: &H) -> Result<Heard, SpeechError>
where
    H: Fn(&[f32]) -> Result<Raw, String>,
{
    let hear = |window: &Window| {
        let failed = |reason| SpeechError::Failed { at: window.sound(), reason };
        // The recogniser gives up on anything under a tenth of a second.
        let mut samples = window.samples(sound)?;
        samples.resize(samples.len().max(SAMPLE_RATE), 0.0);
        hear(&samples).map_err(failed)
    };
    let raw = hear(window)?;
    let whole = fault(&raw.pieces, raw.no_speech);
    let mut shares = shared_out(raw.pieces, window);
    let mut notices = Vec::new();
    for (index, &stretch) in window.stretches.iter().enumerate() {
        let share = shares.get(index).map_or(&[][..], |share| share);
        let wanted = whole.is_some() || share.is_empty() || mean_log_probability(share) < DOUBTFUL;
        if !wanted {
            continue;
        }
        if cancel.load(Ordering::Relaxed) {
            return Err(SpeechError::Cancelled);
        }
        let mut reason = whole.clone();
        let mut again = Vec::new();
        if window.stretches.len() > 1 {
            let alone = Window { stretches: vec![stretch] };
            let raw = hear(&alone)?;
            reason = fault(&raw.pieces, raw.no_speech);
            again = shared_out(raw.pieces, &alone).pop().unwrap_or_default();
        }
        let keeps = reason.is_none() && whole.is_none() && !share.is_empty();
        if keeps || reason.is_none() && said_beside(&again, &shares, index) {
            continue;
        }
        if let Some(reason) = reason {
            notices.push(Notice { sound: stretch.sound(), reason });
            again.clear();
        }
        if let Some(share) = shares.get_mut(index) {
            *share = again;
        }
    }
    let pieces: Vec<Piece> = shares.into_iter().flatten().collect();
    let (utterances, other) = spoken(&pieces);
    notices.extend(other);
    notices.sort_by_key(|notice| notice.sound);
    Ok(Heard { utterances, notices })
}

/// The pieces of each stretch of a window, at their places in the recording.
fn shared_out(pieces: Vec<Piece>, window: &Window) -> Vec<Vec<Piece>> {
    let mut shares = vec![Vec::new(); window.stretches.len()];
    let mut latest = 0;
    for mut piece in pieces {
        let (index, _) = window.place(piece.sound.start_ms.midpoint(piece.sound.end_ms));
        // Times waver; the order of what was said does not.
        latest = index.max(latest);
        piece.sound = window.span(piece.sound.start_ms, piece.sound.end_ms);
        if let Some(share) = shares.get_mut(latest) {
            share.push(piece);
        }
    }
    shares
}

/// Whether the words already stand at the near end of a neighbour: times waver by more than a short stretch lasts.
fn said_beside(again: &[Piece], shares: &[Vec<Piece>], index: usize) -> bool {
    let plain =
        |pieces: &[Piece]| -> Vec<String> { words_of(&text_of(pieces)).into_iter().map(|word| word.plain).collect() };
    let words = plain(again);
    let before = shares.iter().take(index).rev().find(|share| !share.is_empty()).map(|share| plain(share));
    let after = shares.iter().skip(index + 1).find(|share| !share.is_empty()).map(|share| plain(share));
    !words.is_empty()
        && (before.is_some_and(|before| before.ends_with(&words))
            || after.is_some_and(|after| after.starts_with(&words)))
}

/// The utterances of pieces, without those that only name a sound.
fn spoken(pieces: &[Piece]) -> (Vec<crate::speech::Utterance>, Vec<Notice>) {
    let (mut kept, mut notices) = (Vec::new(), Vec::new());
    for utterance in utterances_of(pieces) {
        let named = Piece {
            bytes: utterance.text.clone().into_bytes(),
            sound: utterance.sound.unwrap_or(crate::span::SoundSpan { start_ms: 0, end_ms: 0 }),
            probability: 1.0,
        };
        match fault(std::slice::from_ref(&named), 0.0) {
            Some(Unheard::NotSpeech) => notices.push(Notice { sound: named.sound, reason: Unheard::NotSpeech }),
            _ => kept.push(utterance),
        }
    }
    (kept, notices)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::SoundSpan;

    fn stretches() -> Vec<Stretch> {
        let second = SAMPLE_RATE;
        (0..4).map(|n| Stretch { start: n * 3 * second, end: n * 3 * second + 2 * second }).collect()
    }

    /// A recording whose first sample of each stretch says which it is.
    fn recording() -> Vec<f32> {
        let mut samples = vec![0.0; 12 * SAMPLE_RATE];
        for (index, stretch) in stretches().iter().enumerate() {
            samples[stretch.start] = index as f32 + 1.0;
        }
        samples
    }

    /// A recogniser that writes a word for each stretch it is given, but misses the third unless it stands alone.
    fn hear(sound: &[f32]) -> Result<Raw, String> {
        let alone = sound.len() == 2 * SAMPLE_RATE;
        let mut raw = Raw::default();
        for (at, &sample) in sound.iter().enumerate().filter(|(_, sample)| **sample > 0.0) {
            let text = match sample as u32 {
                1 => " One.",
                2 => " Two.",
                3 if alone => " Three.",
                4 => "",
                _ => continue,
            };
            let sound = SoundSpan { start_ms: to_ms(at) + 100, end_ms: to_ms(at) + 900 };
            if !text.is_empty() {
                raw.pieces.push(Piece { bytes: text.into(), sound, probability: 0.9 });
            }
        }
        Ok(raw)
    }

    fn listened(recognisers: usize, seconds: usize) -> Heard {
        let cancel = AtomicBool::new(false);
        let work = Work { recognisers, longest: seconds * SAMPLE_RATE, cancel: &cancel };
        let mut last = 0;
        let heard = listen(&recording(), &stretches(), work, hear, &mut |progress| last = progress.done_ms).unwrap();
        assert_eq!(last, 12_000);
        heard
    }

    #[test]
    fn missed_stretches_are_heard_again_and_the_rest_is_noticed() {
        let heard = listened(1, 28);
        let texts: Vec<&str> = heard.utterances.iter().map(|said| said.text.as_str()).collect();
        assert_eq!(texts, ["One.", "Two.", "Three."]);
        assert_eq!(heard.utterances[2].sound, Some(SoundSpan { start_ms: 6100, end_ms: 6900 }));
        let sound = SoundSpan { start_ms: 9000, end_ms: 11_000 };
        assert_eq!(heard.notices, [Notice { sound, reason: Unheard::NoWords }]);
    }

    #[test]
    fn the_result_does_not_depend_on_recognisers_or_windows() {
        let one = listened(1, 28);
        for (recognisers, seconds) in [(2, 28), (1, 4), (2, 4), (7, 2), (0, 1)] {
            assert_eq!(listened(recognisers, seconds), one, "{recognisers} recognisers, {seconds} s");
        }
    }

    #[test]
    fn words_written_beside_a_stretch_are_not_written_twice() {
        let late = |sound: &[f32]| {
            let mut raw = Raw::default();
            let alone = sound.len() == 2 * SAMPLE_RATE;
            let text = if alone { " Absent." } else { " Clonus absent." };
            raw.pieces.push(Piece {
                bytes: text.into(),
                sound: SoundSpan { start_ms: 0, end_ms: 900 },
                probability: 0.9,
            });
            Ok(raw)
        };
        let cancel = AtomicBool::new(false);
        let work = Work { recognisers: 1, longest: 28 * SAMPLE_RATE, cancel: &cancel };
        let heard = listen(&recording(), &stretches()[..2], work, late, &mut |_| ()).unwrap();
        assert_eq!(heard.utterances.len(), 1);
        assert_eq!(heard.notices, []);
    }

    #[test]
    fn a_failure_names_its_place_and_cancelling_stops() {
        let cancel = AtomicBool::new(false);
        let work = Work { recognisers: 2, longest: 2 * SAMPLE_RATE, cancel: &cancel };
        let fails = |_: &[f32]| Err("no memory".to_owned());
        let failed = listen(&recording(), &stretches()[1..2], work, fails, &mut |_| ());
        assert_eq!(failed.unwrap_err().to_string(), "the recogniser failed at 0:03: no memory");
        let asked = AtomicUsize::new(0);
        let stops = |sound: &[f32]| {
            asked.fetch_add(1, Ordering::Relaxed);
            cancel.store(true, Ordering::Relaxed);
            hear(sound)
        };
        let one = Work { recognisers: 1, ..work };
        let stopped = listen(&recording(), &stretches(), one, stops, &mut |_| ());
        assert!(matches!(stopped, Err(SpeechError::Cancelled)), "{stopped:?}");
        assert_eq!(asked.load(Ordering::Relaxed), 1);
    }
}

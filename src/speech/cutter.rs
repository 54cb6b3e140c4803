//! Sound as it comes in → where speech begins, pauses and ends.
//! Takes blocks of 16 kHz mono samples in order; tells at once what lies behind a pause. The longer somebody has spoken, the
//! shorter a pause is taken. Leaves alone what a whole recording tells better (`spoken`): this is for hearing while it is said.
//!
//! "the tone is good" and half a second of silence give `Begun`, `Paused` after a quarter of a second, and `Ended`

use std::collections::VecDeque;

use crate::speech::pauses::{SAMPLE_RATE, Stretch};
use crate::speech::transcriber::SpeechError;
use crate::speech::voice::{FRAME, Voice, gain};

/// What happens at the end of the sound that came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// Speech has begun, a little air included: the sample it begins with.
    Begun(usize),
    /// It has paused. The stretch may be whole.
    Paused(Stretch),
    /// It goes on after a pause that was too short.
    GoesOn,
    /// The stretch is whole. It is the one that paused last, where one did.
    Ended(Stretch),
}

/// Frames of 32 ms that are judged with the new ones, and the least number of new ones.
const LEAD: usize = 32;
const NEW: usize = 3;
/// Speech starts at the first chance and goes on as long as frames reach the second, as in `spoken`.
const STARTS: f32 = 0.3;
const GOES_ON: f32 = 0.25;
/// Without chances: decibels above the room.
const LOUD: f32 = 9.0;
const STILL_LOUD: f32 = 6.0;
/// Frames that make the room's level: half a minute.
const ROOM: usize = 30 * SAMPLE_RATE / FRAME;
/// Before so many frames are there, the room is taken for one of this level.
const ROOM_KNOWN: usize = 32;
const QUIET_ROOM: f32 = -50.0;
/// Frames of air before and behind speech.
const AIR_BEFORE: usize = 9;
const AIR_BEHIND: usize = 7;
/// The same air in milliseconds: so much of the end of a stretch is none of its speech.
pub const AIR_BEHIND_MS: u64 = (AIR_BEHIND * FRAME * 1000 / SAMPLE_RATE) as u64;
/// Frames of pause after which a stretch may be whole, by how many frames have been spoken: 6, 9 and 12 seconds.
const PAUSES: [(usize, usize); 3] = [(188, 17), (281, 11), (375, 8)];
/// A stretch that has this many frames is cut at its quietest frame among the last of them.
const LONGEST: usize = 375;
const LOOKED_AT: usize = 125;
/// Seconds of sound by which its loudness is judged.
const LOUDNESS: usize = 60;

/// A frame with what is known of it.
#[derive(Debug, Clone, Copy)]
struct Frame {
    level: f32,
    speech: bool,
}

/// Finds pauses in sound that comes in.
#[derive(Debug)]
pub struct Cutter {
    voice: Option<Voice>,
    /// Sound that is not judged yet, behind the lead.
    waiting: Vec<f32>,
    lead: usize,
    /// The last minute's loudness, a value of its own for every second: for raising what is quiet.
    loudness: VecDeque<Vec<f32>>,
    gain: f32,
    levels: VecDeque<f32>,
    /// Frames judged so far.
    judged: usize,
    open: Option<Open>,
    /// Where the last stretch ended, in frames: none begins before.
    ended: usize,
    /// The sample that the first frame begins with.
    origin: usize,
}

/// A stretch that has begun.
#[derive(Debug)]
struct Open {
    start: usize,
    /// Behind the last frame of speech.
    past: usize,
    levels: Vec<f32>,
    paused: bool,
}

impl Cutter {
    /// With voice activity, or by level alone.
    #[must_use]
    pub fn new(voice: Option<Voice>) -> Self {
        Self {
            voice,
            waiting: Vec::new(),
            lead: 0,
            loudness: VecDeque::new(),
            gain: 1.0,
            levels: VecDeque::new(),
            judged: 0,
            open: None,
            ended: 0,
            origin: 0,
        }
    }

    /// Goes on with sound of another place: the next sample is number `origin`. What was open is left.
    pub fn restart(&mut self, origin: usize) {
        self.waiting.clear();
        (self.lead, self.judged, self.ended, self.open, self.origin) = (0, 0, 0, None, origin);
    }

    /// Takes the next block.
    ///
    /// # Errors
    /// If voice activity fails.
    pub fn push(&mut self, samples: &[f32]) -> Result<Vec<Cut>, SpeechError> {
        self.waiting.extend_from_slice(samples);
        let mut cuts = Vec::new();
        let whole = self.waiting.len() / FRAME;
        if whole < self.lead + NEW {
            return Ok(cuts);
        }
        let sound = self.waiting.get(..whole * FRAME).unwrap_or_default().to_vec();
        let frames = self.frames(&sound)?;
        for frame in frames {
            self.step(frame, &mut cuts);
        }
        let keep = whole.min(LEAD);
        self.waiting.drain(..(whole - keep) * FRAME);
        self.lead = keep;
        Ok(cuts)
    }

    /// Ends what is open: nothing more comes in.
    pub fn finish(&mut self) -> Vec<Cut> {
        let past = self.judged;
        self.open
            .take()
            .map(|open| Cut::Ended(self.stretch(open.start, (open.past + AIR_BEHIND).min(past))))
            .into_iter()
            .collect()
    }

    /// Where the stretch that is open began, in samples.
    #[must_use]
    pub fn open_since(&self) -> Option<usize> {
        self.open.as_ref().map(|open| self.origin + open.start * FRAME)
    }

    fn frames(&mut self, sound: &[f32]) -> Result<Vec<Frame>, SpeechError> {
        let new = sound.get(self.lead * FRAME..).unwrap_or_default();
        self.judge_loudness(new);
        let levels: Vec<f32> = new.chunks(FRAME).map(decibels).collect();
        let speech: Vec<bool> = match &mut self.voice {
            Some(voice) => {
                let chances = voice.chances_of_piece(sound, self.lead, self.gain)?;
                let wanted = if self.open.is_some() { GOES_ON } else { STARTS };
                chances.iter().map(|chance| *chance >= wanted).collect()
            }
            None => {
                let wanted = self.room() + if self.open.is_some() { STILL_LOUD } else { LOUD };
                levels.iter().map(|level| *level >= wanted).collect()
            }
        };
        self.levels.extend(&levels);
        self.levels.drain(..self.levels.len().saturating_sub(ROOM));
        Ok(levels.into_iter().zip(speech).map(|(level, speech)| Frame { level, speech }).collect())
    }

    // As for a whole recording, from the last minute; what comes in first is not raised before a second of it is there.
    fn judge_loudness(&mut self, new: &[f32]) {
        let full = self.loudness.back().is_none_or(|last| last.len() >= SAMPLE_RATE);
        if full {
            self.loudness.push_back(Vec::with_capacity(SAMPLE_RATE));
            let too_many = self.loudness.len().saturating_sub(LOUDNESS);
            self.loudness.drain(..too_many);
            let all: Vec<f32> = self.loudness.iter().flatten().copied().collect();
            self.gain = if all.is_empty() { 1.0 } else { gain(&all) };
        }
        if let Some(last) = self.loudness.back_mut() {
            last.extend_from_slice(new);
        }
    }

    fn room(&self) -> f32 {
        // Whoever speaks at once must not pass for the room.
        if self.levels.len() < ROOM_KNOWN {
            return QUIET_ROOM;
        }
        let mut levels: Vec<f32> = self.levels.iter().copied().collect();
        levels.sort_by(f32::total_cmp);
        levels.get(levels.len() / 10).copied().unwrap_or(SILENCE).max(SILENCE)
    }

    fn step(&mut self, frame: Frame, cuts: &mut Vec<Cut>) {
        let at = self.judged;
        self.judged += 1;
        let Some(open) = &mut self.open else {
            if frame.speech {
                let start = at.saturating_sub(AIR_BEFORE).max(self.ended);
                cuts.push(Cut::Begun(self.origin + start * FRAME));
                self.open = Some(Open { start, past: at + 1, levels: vec![frame.level], paused: false });
            }
            return;
        };
        open.levels.push(frame.level);
        if frame.speech {
            open.past = at + 1;
            if std::mem::take(&mut open.paused) {
                cuts.push(Cut::GoesOn);
            }
        }
        let (start, past) = (open.start, open.past);
        let quiet = at + 1 - past;
        let spoken = past - start;
        let pause = PAUSES.iter().find(|(most, _)| spoken < *most).map_or(AIR_BEHIND + 1, |(_, pause)| *pause);
        if quiet >= pause {
            self.end(past + AIR_BEHIND, cuts);
        } else if quiet > AIR_BEHIND && !open.paused {
            open.paused = true;
            let stretch = self.stretch(start, past + AIR_BEHIND);
            cuts.push(Cut::Paused(stretch));
        } else if at + 1 - start >= LONGEST {
            self.cut_long(cuts);
        }
    }

    fn end(&mut self, past: usize, cuts: &mut Vec<Cut>) {
        if let Some(open) = self.open.take() {
            cuts.push(Cut::Ended(self.stretch(open.start, past)));
            self.ended = past;
        }
    }

    // Nobody paused for long: the quietest tenth of a second is likeliest to lie between words.
    fn cut_long(&mut self, cuts: &mut Vec<Cut>) {
        let Some(open) = &mut self.open else { return };
        let first = self.judged - open.levels.len();
        let from = open.levels.len().saturating_sub(LOOKED_AT);
        let looked_at = open.levels.get(from..).unwrap_or_default();
        let loudness = |at: &usize| looked_at.iter().skip(*at).take(3).sum::<f32>();
        let last = looked_at.len().saturating_sub(3).max(1);
        let quietest = (0..last).min_by(|a, b| loudness(a).total_cmp(&loudness(b))).unwrap_or(0);
        let at = first + from + quietest + 1;
        let (start, past, rest) = (open.start, open.past, open.levels.split_off(from + quietest + 1));
        if std::mem::take(&mut open.paused) {
            cuts.push(Cut::GoesOn);
        }
        cuts.push(Cut::Ended(self.stretch(start, at)));
        cuts.push(Cut::Begun(self.origin + at * FRAME));
        self.ended = at;
        self.open = Some(Open { start: at, past: past.max(at + 1), levels: rest, paused: false });
    }

    fn stretch(&self, start: usize, past: usize) -> Stretch {
        Stretch { start: self.origin + start * FRAME, end: self.origin + past * FRAME }
    }
}

/// The level of silence whatever the room.
const SILENCE: f32 = -72.0;

/// The level of a frame in decibels of full scale.
#[must_use]
pub fn decibels(frame: &[f32]) -> f32 {
    let sum: f64 = frame.iter().filter(|s| s.is_finite()).map(|s| f64::from(*s) * f64::from(*s)).sum();
    (10.0 * (sum / frame.len().max(1) as f64).max(1e-12).log10()) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tone (positive lengths in seconds) and quiet (negative), over a little noise.
    fn sound(parts: &[f32]) -> Vec<f32> {
        let mut state = 12_345u32;
        let mut noise = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            ((state >> 8) as f32 / (1 << 23) as f32 - 1.0) * 0.002
        };
        let mut samples = Vec::new();
        for part in parts {
            let loud = if *part > 0.0 { 0.2 } else { 0.0 };
            let count = (part.abs() * SAMPLE_RATE as f32) as usize;
            samples.extend((0..count).map(|at| (at as f32 * 0.17).sin() * loud + noise()));
        }
        samples
    }

    fn cuts(parts: &[f32], block: usize) -> Vec<Cut> {
        let mut cutter = Cutter::new(None);
        let mut cuts = Vec::new();
        for block in sound(parts).chunks(block) {
            cuts.extend(cutter.push(block).unwrap());
        }
        cuts.extend(cutter.finish());
        cuts
    }

    fn ended(cuts: &[Cut]) -> Vec<(f32, f32)> {
        let seconds = |at: usize| (at as f32 / SAMPLE_RATE as f32 * 10.0).round() / 10.0;
        let of = |cut: &Cut| if let Cut::Ended(s) = cut { Some((seconds(s.start), seconds(s.end))) } else { None };
        cuts.iter().filter_map(of).collect()
    }

    #[test]
    fn a_stretch_ends_behind_a_pause_and_may_be_whole_before() {
        let cuts = cuts(&[-2.0, 3.0, -1.0, 1.0, -0.4, 1.0, -2.0], 1600);
        assert_eq!(ended(&cuts), [(1.7, 5.2), (5.7, 8.6)]);
        // The stretch that may be whole is the one that is, where nobody goes on.
        let Some([Cut::Paused(maybe), Cut::Ended(whole)]) = cuts.get(1..3) else { panic!("{cuts:?}") };
        assert_eq!(maybe, whole);
        // A pause of 0.4 s is told, and that it was too short.
        let kinds: Vec<&str> = cuts
            .iter()
            .map(|cut| match cut {
                Cut::Begun(_) => "begun",
                Cut::Paused(_) => "paused",
                Cut::GoesOn => "on",
                Cut::Ended(_) => "ended",
            })
            .collect();
        assert_eq!(kinds, ["begun", "paused", "ended", "begun", "paused", "on", "paused", "ended"]);
    }

    #[test]
    fn blocks_of_any_size_are_cut_alike() {
        let parts = [-2.0, 3.0, -1.0, 1.0, -0.4, 1.0, -2.0];
        let usual = ended(&cuts(&parts, 1600));
        for block in [160, 512, 4000] {
            assert_eq!(ended(&cuts(&parts, block)), usual, "blocks of {block}");
        }
    }

    #[test]
    fn the_longer_somebody_spoke_the_shorter_a_pause_is_taken() {
        assert_eq!(ended(&cuts(&[-2.0, 4.0, -0.45, 4.0, -1.0], 1600)).len(), 1);
        assert_eq!(ended(&cuts(&[-2.0, 7.0, -0.45, 4.0, -1.0], 1600)).len(), 2);
        // Nobody pauses: it is cut all the same, and nothing lies between the parts.
        let long = ended(&cuts(&[-4.0, 24.0, -1.0], 1600));
        assert!(long.len() >= 2, "{long:?}");
        assert!(long.windows(2).all(|pair| pair[0].1 == pair[1].0), "{long:?}");
        assert!(long.iter().all(|(start, end)| end - start <= 12.5), "{long:?}");
    }

    #[test]
    fn another_place_begins_anew() {
        let mut cutter = Cutter::new(None);
        cutter.push(&sound(&[-2.0, 1.0])).unwrap();
        assert!(cutter.open_since().is_some());
        cutter.restart(1_000_000);
        assert_eq!(cutter.open_since(), None);
        let mut cuts = cutter.push(&sound(&[-1.0, 2.0, -2.0])).unwrap();
        cuts.retain(|cut| matches!(cut, Cut::Ended(_)));
        let [Cut::Ended(only)] = cuts[..] else { panic!("{cuts:?}") };
        assert!(only.start > 1_000_000 && only.end < 1_000_000 + 5 * SAMPLE_RATE);
        assert_eq!(cutter.finish(), []);
    }
}

//! A narration that is still being spoken → its draft so far.
//! Takes pieces of a recording as they were heard, once at first and several times a little later; gives the draft of all of
//! them. A piece that was heard several times is taken together as `hearings` does it for a whole recording, with what was
//! said before it, and then stays. Leaves alone what is heard when (`live`).
//!
//! "Scarf to the midline" a second after it was said; ten seconds later, heard three times alike, it is clear

use crate::flow::again::put_right;
use crate::flow::hearings::{Gathered, Line, Narrated, Result, gathered, lines_of, result};
use crate::flow::{Narration, drafted, weighed};
use crate::lexicon::Lexicon;
use crate::reading::{self, HeardBy, Reading};
use crate::record::Sources;
use crate::span::SoundSpan;
use crate::speech::{Contest, Heard, ModelIdentity, Progress, SpeechError, Transcriber, Utterance};

/// Utterances before a piece that it is read with.
const BEFORE: usize = 16;

/// What was heard of a recording so far.
#[derive(Debug, Clone, Default)]
pub struct Spoken {
    lines: Vec<Line>,
    /// By hearing, the first one apart: that one is the lines as they were at first.
    hearings: Vec<Vec<Utterance>>,
    contested: Vec<Result>,
    /// What the other hearings come to, each by itself.
    readings: Vec<Reading>,
}

/// A piece of a recording that was heard several times.
#[derive(Debug, Clone, Default)]
pub struct Piece {
    /// What the first recogniser wrote; times are those of the recording.
    pub first: Vec<Utterance>,
    /// What the others wrote.
    pub again: Vec<Vec<Utterance>>,
}

/// A piece that was taken together.
#[derive(Debug, Clone)]
pub struct Settled {
    lines: Vec<Line>,
    hearings: Vec<Vec<Utterance>>,
    contested: Vec<Result>,
}

impl Settled {
    /// A piece that nobody heard again.
    #[must_use]
    pub fn once(said: Vec<Utterance>) -> Self {
        Self { lines: lines_of(said.clone()), hearings: vec![said], contested: Vec::new() }
    }
}

/// The lines that a piece is taken together with.
#[derive(Debug, Clone, Default)]
pub struct Before(Vec<Line>);

impl Spoken {
    /// What stands before the next piece.
    #[must_use]
    pub fn before(&self) -> Before {
        Before(self.lines[self.lines.len().saturating_sub(BEFORE)..].to_vec())
    }

    /// Adds a piece that was taken together.
    pub fn add(&mut self, lexicon: &Lexicon, settled: Settled) {
        self.lines.extend(settled.lines);
        self.contested.extend(settled.contested);
        self.hearings.resize_with(settled.hearings.len().max(self.hearings.len()), Vec::new);
        for (all, new) in self.hearings.iter_mut().zip(settled.hearings) {
            all.extend(new);
        }
        self.readings = self.hearings.iter().skip(1).map(|heard| reading::read(lexicon, heard)).collect();
    }

    /// The draft of all that was said, with what was heard only once so far behind it.
    #[must_use]
    pub fn draft(&self, lexicon: &Lexicon, once: &[Utterance], sources: Sources) -> Narration {
        let lines: Vec<Line> = self.lines.iter().cloned().chain(lines_of(once.to_vec())).collect();
        let first: Vec<Utterance> = self.hearings.first().into_iter().flatten().chain(once).cloned().collect();
        let now = Narrated::new(lexicon, lines);
        let own = reading::read(lexicon, &first);
        let hearings = std::iter::once(own).chain(self.readings.iter().cloned()).collect();
        let mut all = Gathered { now, hearings }.marked(lexicon);
        for found in &mut all.reading.findings {
            if weighed::is_open(found) && self.contested.contains(&result(found)) {
                found.heard_by = HeardBy::Contested;
            }
        }
        let mut narration = drafted(lexicon, all.utterances, all.reading, sources);
        for (line, at_first) in narration.draft.transcript.iter_mut().zip(all.at_first) {
            line.at_first = at_first;
        }
        narration
    }
}

/// Takes the hearings of a piece together. `sound` is that of the piece, with the time at which it begins.
///
/// # Errors
/// If the recogniser that is asked again fails or was stopped.
pub fn settle(
    lexicon: &Lexicon,
    before: Before,
    piece: Piece,
    (samples, from_ms): (&[f32], u64),
    judge: &mut dyn Transcriber,
) -> std::result::Result<Settled, SpeechError> {
    let since = before.0.len();
    let said: Vec<Utterance> = before.0.iter().map(|line| line.said.clone()).collect();
    let again: Vec<Vec<Utterance>> =
        piece.again.iter().map(|heard| said.iter().chain(heard).cloned().collect()).collect();
    let lines: Vec<Line> = before.0.iter().cloned().chain(lines_of(piece.first.clone())).collect();
    let mut all = gathered(lexicon, lines.clone(), &again);
    // Another hearing may have been put in the place of lines, but not of those before: they stand.
    if !all.now.lines.starts_with(&before.0) {
        all.now = Narrated::new(lexicon, lines);
    }
    let mut judge = Shifted { judge, from_ms };
    put_right(lexicon, &mut all.now, (samples, since), &mut judge)?;
    let lines = all.now.lines.get(since..).unwrap_or_default().to_vec();
    let mut all = all.marked(lexicon);
    weighed::weigh(lexicon, &mut all, (samples, since), &mut judge)?;
    let contested = all.reading.findings.iter().filter(|found| found.heard_by == HeardBy::Contested).map(result);
    let hearings = std::iter::once(piece.first).chain(piece.again).collect();
    Ok(Settled { lines, hearings, contested: contested.collect() })
}

/// Puts lines that were not heard among those that were, each at its time.
pub fn put_in(heard: &mut Vec<Utterance>, given: &[Utterance]) {
    let start = |said: &Utterance| said.sound.map_or(u64::MAX, |sound| sound.start_ms);
    for said in given {
        let at = heard.iter().position(|other| start(other) > start(said)).unwrap_or(heard.len());
        heard.insert(at, said.clone());
    }
}

/// The utterances and notices of a piece that begins at `from_ms`, at their times in the recording.
#[must_use]
pub fn placed(mut heard: Heard, from_ms: u64) -> Heard {
    let place = |sound: SoundSpan| SoundSpan { start_ms: sound.start_ms + from_ms, end_ms: sound.end_ms + from_ms };
    for said in &mut heard.utterances {
        said.sound = said.sound.map(place);
        said.words.iter_mut().for_each(|word| word.sound = word.sound.map(place));
    }
    heard.notices.iter_mut().for_each(|notice| notice.sound = place(notice.sound));
    heard
}

/// A recogniser that is given a piece and asked by the times of the whole.
struct Shifted<'a> {
    judge: &'a mut dyn Transcriber,
    from_ms: u64,
}

impl Transcriber for Shifted<'_> {
    fn transcribe(
        &mut self,
        samples: &[f32],
        progress: &mut dyn FnMut(Progress),
    ) -> std::result::Result<Heard, SpeechError> {
        Ok(placed(self.judge.transcribe(samples, progress)?, self.from_ms))
    }

    fn scores(
        &mut self,
        samples: &[f32],
        contests: &[Contest],
    ) -> std::result::Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let back = |ms: u64| ms.saturating_sub(self.from_ms);
        let of_piece = |contest: &Contest| Contest {
            sound: SoundSpan { start_ms: back(contest.sound.start_ms), end_ms: back(contest.sound.end_ms) },
            texts: contest.texts.clone(),
        };
        self.judge.scores(samples, &contests.iter().map(of_piece).collect::<Vec<_>>())
    }

    fn identity(&self) -> ModelIdentity {
        self.judge.identity()
    }
}

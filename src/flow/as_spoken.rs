//! A narration that is still being spoken → its draft so far.
//! Takes pieces of a recording as they were heard, once at first and several times a little later; gives the draft of all of
//! them. A piece that was heard several times is taken together as `hearings` does it for a whole recording, with what was
//! said before it, and then stays. Leaves alone what is heard when (`live`).
//!
//! "Scarf to the midline" a second after it was said; ten seconds later, heard three times alike, it is clear

use crate::audio::Sound;
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
    (sound, from_ms): (&dyn Sound, u64),
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
    put_right(lexicon, &mut all.now, (sound, since), &mut judge)?;
    let lines = all.now.lines.get(since..).unwrap_or_default().to_vec();
    let mut all = all.marked(lexicon);
    weighed::weigh(lexicon, &mut all, (sound, since), &mut judge)?;
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
        sound: &dyn Sound,
        progress: &mut dyn FnMut(Progress),
    ) -> std::result::Result<Heard, SpeechError> {
        Ok(placed(self.judge.transcribe(sound, progress)?, self.from_ms))
    }

    fn scores(
        &mut self,
        sound: &dyn Sound,
        contests: &[Contest],
    ) -> std::result::Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let back = |ms: u64| ms.saturating_sub(self.from_ms);
        let of_piece = |contest: &Contest| Contest {
            sound: SoundSpan { start_ms: back(contest.sound.start_ms), end_ms: back(contest.sound.end_ms) },
            texts: contest.texts.clone(),
        };
        self.judge.scores(sound, &contests.iter().map(of_piece).collect::<Vec<_>>())
    }

    fn identity(&self) -> ModelIdentity {
        self.judge.identity()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Origin;
    use crate::speech::scripted::Scripted;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// Lines of three seconds each, from a time on.
    fn lines(from_ms: u64, lines: &[&str]) -> Vec<Utterance> {
        let placed: Vec<(u64, u64, &str)> =
            (0u64..).zip(lines).map(|(at, line)| (4000 * at, 4000 * at + 3000, *line)).collect();
        let heard = Scripted::of_lines(&placed).transcribe(&vec![0.0; 64_000 * lines.len()], &mut |_| ()).unwrap();
        placed_at(heard, from_ms)
    }

    fn placed_at(heard: Heard, from_ms: u64) -> Vec<Utterance> {
        placed(heard, from_ms).utterances
    }

    fn sources() -> Sources {
        let origin = Origin { file_name: String::new(), sha256: String::new(), length_ms: None };
        Sources { origin, model: None, other_models: Vec::new(), notices: Vec::new() }
    }

    fn found(spoken: &Spoken, once: &[Utterance]) -> Vec<(String, String, HeardBy)> {
        let draft = spoken.draft(lexicon(), once, sources()).draft;
        draft.findings.into_iter().map(|found| (found.side.name().to_owned(), found.value, found.heard_by)).collect()
    }

    fn settled_with(spoken: &Spoken, from_ms: u64, hearings: [&[&str]; 3], chances: &[(&str, f32)]) -> Settled {
        let mut judge = Scripted::default().with_chances(chances);
        let [first, second, third] = hearings.map(|heard| lines(from_ms, heard));
        let piece = Piece { first, again: vec![second, third] };
        settle(lexicon(), spoken.before(), piece, (&vec![0.0; 16_000], from_ms), &mut judge).unwrap()
    }

    const SCARF: &str = "Scarf sign on the left to the midline.";
    const SAME: &str = "On the right the same.";

    #[test]
    fn what_was_heard_once_becomes_sure_when_it_is_heard_alike_again() {
        let mut spoken = Spoken::default();
        let once = lines(0, &[SCARF]);
        let of = |by| vec![("left".to_owned(), "to-midline".to_owned(), by)];
        assert_eq!(found(&spoken, &once), of(HeardBy::FirstAlone));
        spoken.add(lexicon(), settled_with(&spoken, 0, [&[SCARF], &[SCARF], &[SCARF]], &[]));
        assert_eq!(found(&spoken, &[]), of(HeardBy::All));
    }

    #[test]
    fn a_piece_is_read_with_what_was_said_before_it() {
        let mut spoken = Spoken::default();
        spoken.add(lexicon(), settled_with(&spoken, 0, [&[SCARF], &[SCARF], &[SCARF]], &[]));
        // "On the right the same" alone says nothing; and the hearing that understood it is put in.
        let heard = ["On the rye the sane.", SAME, SAME];
        let second = settled_with(&spoken, 60_000, heard.each_ref().map(std::slice::from_ref), &[]);
        spoken.add(lexicon(), second);
        let both = found(&spoken, &[]);
        assert_eq!(both.iter().map(|found| found.0.as_str()).collect::<Vec<_>>(), ["left", "right"]);
        let draft = spoken.draft(lexicon(), &[], sources()).draft;
        assert_eq!(draft.transcript[1].text, SAME);
        assert_eq!(draft.transcript[1].at_first.as_deref(), Some("On the rye the sane."));
    }

    #[test]
    fn what_the_sound_contests_stays_contested() {
        let mut spoken = Spoken::default();
        let other = "Scarf sign on the right to the midline.";
        let chances = [(SCARF, -10.0), (other, -10.5)];
        spoken.add(lexicon(), settled_with(&spoken, 0, [&[SCARF], &[SCARF], &[SCARF]], &chances));
        assert_eq!(found(&spoken, &lines(60_000, &["Moro complete."]))[0].2, HeardBy::Contested);
    }

    #[test]
    fn lines_that_were_not_heard_stand_at_their_time() {
        let mut heard = lines(0, &["One.", "Two."]);
        put_in(&mut heard, &[lines(4100, &["Between."]).remove(0), lines(90_000, &["Last."]).remove(0)]);
        let texts: Vec<&str> = heard.iter().map(|said| said.text.as_str()).collect();
        assert_eq!(texts, ["One.", "Two.", "Between.", "Last."]);
    }
}

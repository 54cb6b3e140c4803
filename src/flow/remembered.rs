//! What recognisers said of a recording, kept so that it can be read again without its sound.
//! Takes a recording with its recognisers; gives the draft, and with it all that they answered. Takes those answers; gives the
//! draft anew, by another lexicon if need be. Leaves alone how answers are written down (`batch`).
//!
//! A phrase is added to the lexicon: the words of last week's recordings are read again, and nobody listens

use std::collections::HashMap;

use super::{Hearers, Narration, Source, of_source};
use crate::audio::{Recording, Sound};
use crate::lexicon::Lexicon;
use crate::span::SoundSpan;
use crate::speech::{Contest, Heard, ModelIdentity, Progress, SpeechError, Transcriber};

/// All that recognisers said of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Remembered {
    /// The SHA-256 of the recording's file.
    pub sha256: String,
    /// Its length in milliseconds.
    pub length_ms: u64,
    /// Whether it was too quiet to be put before a recogniser.
    pub silent: bool,
    /// What was odd about the file, a plain sentence each.
    pub warnings: Vec<String>,
    /// The identity of the lexicon whose phrases the recognisers leaned towards.
    pub leaned_towards: String,
    /// What each recogniser heard, in the order of the hearings.
    pub hearings: Vec<Hearing>,
}

/// What one recogniser said.
#[derive(Debug, Clone, PartialEq)]
pub struct Hearing {
    /// Which model it was.
    pub model: ModelIdentity,
    /// Its words.
    pub heard: Heard,
    /// What it answered when it was asked how well texts fit the sound.
    pub answers: Vec<Answer>,
}

/// How well texts fit a place of the sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The texts, with where they were looked for.
    pub contest: Contest,
    /// A sum of logarithms for each of them.
    pub chances: Vec<f32>,
}

/// As [`super::of_sound`], and all that was said on the way.
///
/// # Errors
/// As [`super::of_sound`].
pub fn of_sound_remembered(
    lexicon: &Lexicon,
    recording: &Recording,
    hearers: Hearers<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<(Narration, Remembered), SpeechError> {
    let mut first = Noting::new(hearers.first);
    let mut others: Vec<Noting<'_>> = hearers.others.into_iter().map(Noting::new).collect();
    let source = Source::of(recording);
    let again = others.iter_mut().map(|other| other as &mut dyn Transcriber).collect();
    let hearers = Hearers { first: &mut first, others: again };
    let narration = of_source(lexicon, (&source, &recording.samples), hearers, &[], progress)?;
    let all = std::iter::once(first).chain(others).map(Noting::hearing);
    let hearings = if source.silent { Vec::new() } else { all.collect() };
    Ok((narration, remembered(lexicon, source, hearings)))
}

/// As [`super::of_silence`], with nothing said on the way.
#[must_use]
pub fn of_silence_remembered(lexicon: &Lexicon, recording: &Recording) -> (Narration, Remembered) {
    (super::of_silence(lexicon, recording), remembered(lexicon, Source::of(recording), Vec::new()))
}

fn remembered(lexicon: &Lexicon, source: Source, hearings: Vec<Hearing>) -> Remembered {
    Remembered {
        sha256: source.sha256,
        length_ms: source.length_ms,
        silent: source.silent,
        warnings: source.warnings,
        leaned_towards: lexicon.identity.clone(),
        hearings,
    }
}

/// What was said of a recording → draft, without listening. Of what a recogniser was not asked then, because the lexicon was
/// another, nothing is put right, and what rests on it needs the reviewer's eye.
///
/// # Errors
/// None that a recogniser could not have had: whoever only recalls has no cause to fail.
pub fn of_remembered(lexicon: &Lexicon, remembered: &Remembered, file_name: &str) -> Result<Narration, SpeechError> {
    let source = Source {
        file_name: file_name.to_owned(),
        sha256: remembered.sha256.clone(),
        length_ms: remembered.length_ms,
        silent: remembered.silent,
        warnings: remembered.warnings.clone(),
    };
    let mut recalling: Vec<Recalling<'_>> = remembered.hearings.iter().map(Recalling::new).collect();
    let Some((first, others)) = recalling.split_first_mut() else { return Ok(super::nothing_said(lexicon, &source)) };
    let others = others.iter_mut().map(|other| other as &mut dyn Transcriber).collect();
    of_source(lexicon, (&source, &Vec::new()), Hearers { first, others }, &[], &mut |_| ())
}

/// A recogniser whose answers are noted.
struct Noting<'a> {
    inner: &'a mut dyn Transcriber,
    heard: Heard,
    answers: Vec<Answer>,
}

impl<'a> Noting<'a> {
    fn new(inner: &'a mut dyn Transcriber) -> Self {
        Self { inner, heard: Heard::default(), answers: Vec::new() }
    }

    fn hearing(self) -> Hearing {
        Hearing { model: self.inner.identity(), heard: self.heard, answers: self.answers }
    }
}

impl Transcriber for Noting<'_> {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        self.heard = self.inner.transcribe(sound, progress)?;
        Ok(self.heard.clone())
    }

    fn scores(&mut self, sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let scores = self.inner.scores(sound, contests)?;
        let answers = contests.iter().zip(scores.iter().flatten());
        self.answers
            .extend(answers.map(|(contest, chances)| Answer { contest: contest.clone(), chances: chances.clone() }));
        Ok(scores)
    }

    fn identity(&self) -> ModelIdentity {
        self.inner.identity()
    }
}

/// One that says again what a recogniser said.
struct Recalling<'a> {
    hearing: &'a Hearing,
    known: HashMap<(SoundSpan, &'a str), f32>,
}

impl<'a> Recalling<'a> {
    fn new(hearing: &'a Hearing) -> Self {
        let of_answer = |answer: &'a Answer| {
            let texts = answer.contest.texts.iter().zip(&answer.chances);
            texts.map(|(text, chance)| ((answer.contest.sound, text.as_str()), *chance))
        };
        Self { hearing, known: hearing.answers.iter().flat_map(of_answer).collect() }
    }
}

impl Transcriber for Recalling<'_> {
    fn transcribe(&mut self, _sound: &dyn Sound, _progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        Ok(self.hearing.heard.clone())
    }

    // Whoever never answered could not tell, and whoever was not asked about a text is not a number.
    fn scores(&mut self, _sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let chance = |sound: SoundSpan, text: &str| self.known.get(&(sound, text)).copied().unwrap_or(f32::NAN);
        let of_contest = |one: &Contest| one.texts.iter().map(|text| chance(one.sound, text)).collect();
        Ok((!self.known.is_empty()).then(|| contests.iter().map(of_contest).collect()))
    }

    fn identity(&self) -> ModelIdentity {
        self.hearing.model.clone()
    }
}

#[cfg(test)]
mod tests;

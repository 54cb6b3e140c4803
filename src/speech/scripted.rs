//! A transcriber that says what it was told to, for tests of everything behind it.
//! Takes lines with their places in the recording; gives those whose place lies within the sound it is handed.
//! Leaves alone the samples: it looks at how many there are and at nothing else.
//!
//! Told "the tone is good" at 1 to 3 s, it gives that utterance for any recording of 3 s or more.

use crate::audio::Sound;
use crate::span::SoundSpan;
use crate::speech::again::Contest;
use crate::speech::pauses::to_ms;
use crate::speech::transcriber::{Heard, ModelIdentity, Notice, Progress, SpeechError, Transcriber};
use crate::speech::utterances::Utterance;

/// A transcriber with a script.
#[derive(Debug, Clone, Default)]
pub struct Scripted {
    utterances: Vec<Utterance>,
    notices: Vec<Notice>,
    chances: Vec<(String, f32)>,
}

impl Scripted {
    /// Utterances to give, with their places; those without a place are given for every recording.
    #[must_use]
    pub fn new(utterances: Vec<Utterance>) -> Self {
        Self { utterances, ..Self::default() }
    }

    /// Lines of text with start and end in milliseconds; a line's words share its time evenly.
    #[must_use]
    pub fn of_lines(lines: &[(u64, u64, &str)]) -> Self {
        Self::new(lines.iter().map(|&(start, end, text)| spread(text, start, end)).collect())
    }

    /// The same with notices to give.
    #[must_use]
    pub fn with_notices(mut self, notices: Vec<Notice>) -> Self {
        self.notices = notices;
        self
    }

    /// The same with what to give a text that it is asked about; any other has no chance.
    #[must_use]
    pub fn with_chances(mut self, chances: &[(&str, f32)]) -> Self {
        self.chances = chances.iter().map(|&(text, chance)| (text.to_owned(), chance)).collect();
        self
    }
}

impl Transcriber for Scripted {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        let total_ms = to_ms(sound.len());
        let within = |sound: SoundSpan| sound.end_ms <= total_ms;
        let utterances = self.utterances.iter().filter(|said| said.sound.is_none_or(within)).cloned().collect();
        let notices = self.notices.iter().filter(|notice| within(notice.sound)).cloned().collect();
        progress(Progress { done_ms: total_ms, total_ms });
        Ok(Heard { utterances, notices })
    }

    fn scores(&mut self, _sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let chance = |text: &String| {
            let known = self.chances.iter().find(|(known, _)| known == text);
            known.map_or(f32::NEG_INFINITY, |(_, chance)| *chance)
        };
        let scores = contests.iter().map(|contest| contest.texts.iter().map(chance).collect());
        Ok((!self.chances.is_empty()).then(|| scores.collect()))
    }

    fn identity(&self) -> ModelIdentity {
        ModelIdentity { name: "scripted".to_owned(), sha256: String::new(), precision: None }
    }
}

fn spread(text: &str, start_ms: u64, end_ms: u64) -> Utterance {
    let mut said = Utterance::from_text(text);
    let count = said.words.len() as u64;
    let length = end_ms.saturating_sub(start_ms);
    for (index, word) in (0u64..).zip(&mut said.words) {
        let at = |index: u64| start_ms + length * index / count;
        word.sound = Some(SoundSpan { start_ms: at(index), end_ms: at(index + 1) });
        word.probability = Some(1.0);
    }
    said.sound = Some(SoundSpan { start_ms, end_ms: end_ms.max(start_ms) });
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::transcriber::Unheard;

    #[test]
    fn gives_what_lies_within_the_sound() {
        let slam = Notice { sound: SoundSpan { start_ms: 3100, end_ms: 3400 }, reason: Unheard::NotSpeech };
        let script = [(0, 1000, "The tone is good."), (2000, 3000, "And here?"), (5000, 6000, "Later.")];
        let mut scripted = Scripted::of_lines(&script).with_notices(vec![slam.clone()]);
        let mut seen = Vec::new();
        let heard = scripted.transcribe(&vec![0.0; 16 * 4000], &mut |p| seen.push(p)).unwrap();
        let texts: Vec<&str> = heard.utterances.iter().map(|said| said.text.as_str()).collect();
        assert_eq!(texts, ["The tone is good.", "And here?"]);
        assert_eq!(heard.notices, [slam]);
        assert_eq!(heard.utterances[0].words[1].sound, Some(SoundSpan { start_ms: 250, end_ms: 500 }));
        assert_eq!(seen, [Progress { done_ms: 4000, total_ms: 4000 }]);
        assert_eq!(scripted.identity().name, "scripted");
    }
}

//! What recognisers said of a recording ⇄ a file.
//! Takes it; gives JSON of which every number comes back as it was, and reads it back. Leaves alone how it becomes a draft (`flow`).
//!
//! Words carry their times and chances: `[[120, 480, 0.93], …]` beside the utterance's text

use serde::{Deserialize, Serialize};

use crate::flow::remembered::{Answer, Hearing, Remembered};
use crate::span::SoundSpan;
use crate::speech::words::words_of;
use crate::speech::{Contest, Heard, ModelIdentity, Notice, Unheard, Utterance};

const FORMAT: &str = "spoken-exam kept words";
const VERSION: u32 = 1;

#[derive(Serialize, Deserialize)]
struct File {
    format: String,
    version: u32,
    sha256: String,
    length_ms: u64,
    silent: bool,
    warnings: Vec<String>,
    leaned_towards: String,
    hearings: Vec<OneHearing>,
}

#[derive(Serialize, Deserialize)]
struct OneHearing {
    model: String,
    model_sha256: String,
    precision: Option<String>,
    utterances: Vec<Said>,
    notices: Vec<(u64, u64, Why)>,
    answers: Vec<Answered>,
}

#[derive(Serialize, Deserialize)]
struct Said {
    text: String,
    sound: Option<(u64, u64)>,
    words: Vec<Option<(u64, u64, Option<f32>)>>,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Why {
    NoWords,
    NotSpeech,
    Repeated,
    Unsure,
}

#[derive(Serialize, Deserialize)]
struct Answered {
    sound: (u64, u64),
    /// A chance of nothing at all has no number in JSON.
    texts: Vec<(String, Option<f32>)>,
}

/// The file.
pub(super) fn written(remembered: &Remembered) -> Vec<u8> {
    let file = File {
        format: FORMAT.to_owned(),
        version: VERSION,
        sha256: remembered.sha256.clone(),
        length_ms: remembered.length_ms,
        silent: remembered.silent,
        warnings: remembered.warnings.clone(),
        leaned_towards: remembered.leaned_towards.clone(),
        hearings: remembered.hearings.iter().map(OneHearing::of).collect(),
    };
    let mut bytes = serde_json::to_vec(&file).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// What a file tells of a recording with this SHA-256; `None` if it is no such file, or damaged: then it is listened to again.
pub(super) fn read(bytes: &[u8], sha256: &str) -> Option<Remembered> {
    let file: File = serde_json::from_slice(bytes).ok()?;
    if file.format != FORMAT || file.version != VERSION || file.sha256 != sha256 {
        return None;
    }
    let hearings: Option<Vec<Hearing>> = file.hearings.into_iter().map(OneHearing::hearing).collect();
    Some(Remembered {
        sha256: file.sha256,
        length_ms: file.length_ms,
        silent: file.silent,
        warnings: file.warnings,
        leaned_towards: file.leaned_towards,
        hearings: hearings?,
    })
}

fn pair(sound: SoundSpan) -> (u64, u64) {
    (sound.start_ms, sound.end_ms)
}

fn span((start_ms, end_ms): (u64, u64)) -> Option<SoundSpan> {
    (start_ms <= end_ms).then_some(SoundSpan { start_ms, end_ms })
}

impl OneHearing {
    fn of(hearing: &Hearing) -> Self {
        Self {
            model: hearing.model.name.clone(),
            model_sha256: hearing.model.sha256.clone(),
            precision: hearing.model.precision.clone(),
            utterances: hearing.heard.utterances.iter().map(Said::of).collect(),
            notices: hearing
                .heard
                .notices
                .iter()
                .map(|one| (one.sound.start_ms, one.sound.end_ms, Why::of(&one.reason)))
                .collect(),
            answers: hearing.answers.iter().map(Answered::of).collect(),
        }
    }

    fn hearing(self) -> Option<Hearing> {
        let notice =
            |(start, end, why): (u64, u64, Why)| Some(Notice { sound: span((start, end))?, reason: why.reason() });
        let utterances: Option<Vec<Utterance>> = self.utterances.into_iter().map(Said::utterance).collect();
        let notices: Option<Vec<Notice>> = self.notices.into_iter().map(notice).collect();
        let answers: Option<Vec<Answer>> = self.answers.into_iter().map(Answered::answer).collect();
        Some(Hearing {
            model: ModelIdentity { name: self.model, sha256: self.model_sha256, precision: self.precision },
            heard: Heard { utterances: utterances?, notices: notices? },
            answers: answers?,
        })
    }
}

impl Said {
    fn of(said: &Utterance) -> Self {
        let words = said.words.iter().map(|word| {
            let sound = word.sound?;
            Some((sound.start_ms, sound.end_ms, word.probability))
        });
        Self { text: said.text.clone(), sound: said.sound.map(pair), words: words.collect() }
    }

    /// Words are those of the text, as the recogniser's own are; a file in which they are not is damaged.
    fn utterance(self) -> Option<Utterance> {
        let mut words = words_of(&self.text);
        if words.len() != self.words.len() {
            return None;
        }
        for (word, kept) in words.iter_mut().zip(self.words) {
            if let Some((start, end, probability)) = kept {
                (word.sound, word.probability) = (Some(span((start, end))?), probability);
            }
        }
        let sound = match self.sound {
            Some(sound) => Some(span(sound)?),
            None => None,
        };
        Some(Utterance { text: self.text, words, sound })
    }
}

impl Why {
    fn of(reason: &Unheard) -> Self {
        match reason {
            Unheard::NoWords => Self::NoWords,
            Unheard::NotSpeech => Self::NotSpeech,
            Unheard::Repeated => Self::Repeated,
            Unheard::Unsure => Self::Unsure,
        }
    }

    fn reason(&self) -> Unheard {
        match self {
            Self::NoWords => Unheard::NoWords,
            Self::NotSpeech => Unheard::NotSpeech,
            Self::Repeated => Unheard::Repeated,
            Self::Unsure => Unheard::Unsure,
        }
    }
}

impl Answered {
    fn of(answer: &Answer) -> Self {
        let chance = |chance: f32| chance.is_finite().then_some(chance);
        let texts = answer.contest.texts.iter().zip(&answer.chances);
        Self {
            sound: pair(answer.contest.sound),
            texts: texts.map(|(text, one)| (text.clone(), chance(*one))).collect(),
        }
    }

    fn answer(self) -> Option<Answer> {
        let (texts, chances) =
            self.texts.into_iter().map(|(text, one)| (text, one.unwrap_or(f32::NEG_INFINITY))).unzip();
        Some(Answer { contest: Contest { sound: span(self.sound)?, texts }, chances })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn said(text: &str, start_ms: u64, probability: f32) -> Utterance {
        let mut said = Utterance::from_text(text);
        for (at, word) in (0u64..).zip(&mut said.words) {
            word.sound = Some(SoundSpan { start_ms: start_ms + at, end_ms: start_ms + at + 5 });
            word.probability = Some(probability / (at + 1) as f32);
        }
        said.sound = Some(SoundSpan { start_ms, end_ms: start_ms + 900 });
        said
    }

    fn remembered(text: &str, start_ms: u64, chance: f32) -> Remembered {
        let sound = SoundSpan { start_ms, end_ms: start_ms + 40 };
        let reasons = [Unheard::NoWords, Unheard::NotSpeech, Unheard::Repeated, Unheard::Unsure];
        let heard = Heard {
            utterances: vec![said(text, start_ms, chance), Utterance::from_text("It's 34.6, isn’t it?")],
            notices: reasons.into_iter().map(|reason| Notice { sound, reason }).collect(),
        };
        let contest = Contest { sound, texts: vec![text.to_owned(), "another".to_owned(), "none".to_owned()] };
        let answers = vec![Answer { contest, chances: vec![-chance, chance * 7.3, f32::NEG_INFINITY] }];
        let model = ModelIdentity { name: "m".into(), sha256: "cd".into(), precision: Some("q8_0".into()) };
        Remembered {
            sha256: "ab".into(),
            length_ms: start_ms,
            silent: false,
            warnings: vec!["the file ends early".into()],
            leaned_towards: "ef".into(),
            hearings: vec![Hearing { model, heard, answers }],
        }
    }

    proptest! {
        #[test]
        fn all_of_it_comes_back(text in ".{0,60}", start_ms in 0u64..20_000_000, chance in 0.0f32..1.0) {
            let one = remembered(&text, start_ms, chance);
            prop_assert_eq!(read(&written(&one), "ab"), Some(one));
        }

        #[test]
        fn damaged_files_are_none_or_whole(at in 0usize..900, with in any::<u8>()) {
            let mut bytes = written(&remembered("No clonus on the left.", 1000, 0.9));
            let place = at % bytes.len();
            bytes[place] = with;
            if let Some(read) = read(&bytes, "ab") {
                prop_assert_eq!(read.hearings.len(), 1);
            }
            // The line feed behind it may be missing.
            prop_assert_eq!(super::read(&bytes[..place.min(bytes.len() - 2)], "ab"), None);
        }
    }

    #[test]
    fn words_of_another_recording_are_none() {
        assert_eq!(read(&written(&remembered("No.", 0, 0.5)), "ac"), None);
    }
}

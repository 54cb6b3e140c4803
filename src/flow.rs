//! The stages called in order: the first file to read.
//! Takes a text, or a recording with a recogniser; gives everything up to the draft. The only file that calls two
//! stages. Leaves alone files, arguments and screens (the faces).
//!
//! text -> utterances -> reading -> draft; recording -> utterances -> reading -> draft

mod again;
pub mod as_spoken;
mod compared;
mod hearings;
pub mod remembered;
mod weighed;

use sha2::{Digest, Sha256};

pub use self::again::Asked;
use self::again::put_right;
pub use self::compared::show_differences;
use self::hearings::{Together, gathered, lines_of};
use crate::audio::{Recording, Sound};
use crate::lexicon::{Hearing, Lexicon};
use crate::reading::{self, Reading};
use crate::record::{self, DraftRecord, Loss, Notice, Origin, Sources};
use crate::speech::{self, ModelIdentity, Progress, SpeechError, Transcriber, Unheard, Utterance};

/// A narration with what each stage made of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Narration {
    /// What was said.
    pub utterances: Vec<Utterance>,
    /// What it was read as.
    pub reading: Reading,
    /// The draft that it comes to.
    pub draft: DraftRecord,
    /// What was listened for again.
    pub asked: Vec<Asked>,
}

/// Text → draft. Each line is an utterance; an empty line is one without words, so that lines keep their numbers.
#[must_use]
pub fn of_text(lexicon: &Lexicon, text: &str, file_name: &str) -> Narration {
    let sha256 = hexadecimal(&Sha256::digest(text.as_bytes()));
    let origin = Origin { file_name: file_name.to_owned(), sha256, length_ms: None };
    let utterances: Vec<Utterance> = utterances_of(text);
    let empty = utterances.iter().all(|said| said.words.is_empty());
    let notices = empty.then(|| no_speech("the text holds no words")).into_iter().collect();
    read(lexicon, utterances, Sources { origin, model: None, other_models: Vec::new(), notices })
}

/// That bytes are no text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("byte {0} is not UTF-8 text; save it as UTF-8")]
pub struct NoText(pub usize);

/// The text that a file holds.
///
/// # Errors
/// If it is not UTF-8: the first byte that is none, from 1.
pub fn text_in(bytes: Vec<u8>) -> Result<String, NoText> {
    String::from_utf8(bytes).map_err(|fault| NoText(fault.utf8_error().valid_up_to() + 1))
}

/// The utterances of a text, one a line.
#[must_use]
pub fn utterances_of(text: &str) -> Vec<Utterance> {
    text.trim_start_matches('\u{feff}').lines().map(Utterance::from_text).collect()
}

/// Who hears a recording.
pub struct Hearers<'a> {
    /// Whose words the draft rests on.
    pub first: &'a mut dyn Transcriber,
    /// Who hear it again: what two came to is clear, and what only one of these understood is put in to be looked at.
    pub others: Vec<&'a mut dyn Transcriber>,
}

/// Recording → draft. A silent recording is not put before the recogniser, which would make words up.
///
/// # Errors
/// If a recogniser fails or was stopped. A recording without speech is no error: its draft says so.
pub fn of_sound(
    lexicon: &Lexicon,
    recording: &Recording,
    hearers: Hearers<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Narration, SpeechError> {
    of_dictation(lexicon, recording, hearers, &[], progress)
}

/// As [`of_sound`], with lines that were given otherwise than by voice, each at its time.
///
/// # Errors
/// As [`of_sound`].
pub fn of_dictation(
    lexicon: &Lexicon,
    recording: &Recording,
    hearers: Hearers<'_>,
    given: &[Utterance],
    progress: &mut dyn FnMut(Progress),
) -> Result<Narration, SpeechError> {
    of_source(lexicon, (&Source::of(recording), &recording.samples), hearers, given, progress)
}

/// What is told of a recording beside what is said in it.
struct Source {
    file_name: String,
    sha256: String,
    length_ms: u64,
    silent: bool,
    warnings: Vec<String>,
}

impl Source {
    fn of(recording: &Recording) -> Self {
        Self {
            file_name: recording.file_name.clone(),
            sha256: recording.sha256.clone(),
            length_ms: recording.length_ms(),
            silent: recording.is_silent(),
            warnings: recording.warnings.clone(),
        }
    }
}

fn of_source(
    lexicon: &Lexicon,
    (source, samples): (&Source, &dyn Sound),
    hearers: Hearers<'_>,
    given: &[Utterance],
    progress: &mut dyn FnMut(Progress),
) -> Result<Narration, SpeechError> {
    if source.silent {
        return Ok(nothing_said(lexicon, source));
    }
    let rounds = 1 + hearers.others.len() as u64;
    let mut half = |round: u64, one: Progress| {
        progress(Progress { done_ms: (round * one.total_ms + one.done_ms) / rounds, total_ms: one.total_ms });
    };
    let mut heard = hearers.first.transcribe(samples, &mut |one| half(0, one))?;
    let found_none = heard.utterances.is_empty();
    as_spoken::put_in(&mut heard.utterances, given);
    let mut sources = sources(source, Some(hearers.first.identity()));
    sources.notices.extend(heard.notices.iter().map(unheard));
    let mut again = Vec::new();
    let mut others = hearers.others;
    for (round, other) in (1..).zip(&mut others) {
        let mut heard = other.transcribe(samples, &mut |one| half(round, one))?.utterances;
        as_spoken::put_in(&mut heard, given);
        again.push(heard);
        sources.other_models.push(other.identity());
    }
    if again.is_empty() {
        sources.notices.extend(found_none.then(nothing_found));
        return Ok(read(lexicon, heard.utterances, sources));
    }
    let (all, asked) = taken_together(lexicon, samples, (heard.utterances, &again), others)?;
    sources.notices.extend((all.utterances.len() == given.len()).then(nothing_found));
    let mut narration = drafted(lexicon, all.utterances, all.reading, sources);
    for (line, at_first) in narration.draft.transcript.iter_mut().zip(all.at_first) {
        line.at_first = at_first;
    }
    narration.asked = asked;
    Ok(narration)
}

/// All hearings in one, with what the first of the others tells from the sound when it is asked again: who wrote the words
/// would stand by them.
fn taken_together(
    lexicon: &Lexicon,
    samples: &dyn Sound,
    (first, again): (Vec<Utterance>, &[Vec<Utterance>]),
    others: Vec<&mut dyn Transcriber>,
) -> Result<(Together, Vec<Asked>), SpeechError> {
    let mut all = gathered(lexicon, lines_of(first), again);
    let Some(judge) = others.into_iter().next() else { return Ok((all.marked(lexicon), Vec::new())) };
    let asked = put_right(lexicon, &mut all.now, (samples, 0), judge)?;
    let mut all = all.marked(lexicon);
    weighed::weigh(lexicon, &mut all, (samples, 0), judge)?;
    Ok((all, asked))
}

fn nothing_found() -> Notice {
    no_speech("no speech was found in the recording")
}

/// Silent recording → empty draft that says so. No model is needed, and none is named.
#[must_use]
pub fn of_silence(lexicon: &Lexicon, recording: &Recording) -> Narration {
    nothing_said(lexicon, &Source::of(recording))
}

fn nothing_said(lexicon: &Lexicon, source: &Source) -> Narration {
    let mut sources = sources(source, None);
    sources.notices.push(no_speech("no speech was found: the recording is silent; is the microphone muted"));
    read(lexicon, Vec::new(), sources)
}

fn sources(source: &Source, model: Option<ModelIdentity>) -> Sources {
    let origin = Origin {
        file_name: source.file_name.clone(),
        sha256: source.sha256.clone(),
        length_ms: Some(source.length_ms),
    };
    Sources {
        origin,
        model,
        other_models: Vec::new(),
        notices: source.warnings.iter().map(|words| warning(words)).collect(),
    }
}

/// Utterances → draft, wherever they came from.
#[must_use]
pub fn read(lexicon: &Lexicon, utterances: Vec<Utterance>, sources: Sources) -> Narration {
    let reading = reading::read(lexicon, &utterances);
    drafted(lexicon, utterances, reading, sources)
}

fn drafted(lexicon: &Lexicon, utterances: Vec<Utterance>, reading: Reading, mut sources: Sources) -> Narration {
    sources.notices.extend((reading.hearing == Hearing::Poorly).then(heard_poorly));
    let draft = record::draft(lexicon, &utterances, &reading, sources);
    Narration { utterances, reading, draft, asked: Vec::new() }
}

fn heard_poorly() -> Notice {
    let words = "many words heard are no words: findings that were not heard alike again are marked \"heard unclearly\" beside \
         them, and others may be missing";
    Notice { sound: None, words: words.to_owned(), loss: Loss::None }
}

fn no_speech(words: &str) -> Notice {
    Notice { sound: None, words: words.to_owned(), loss: Loss::NoSpeech }
}

fn warning(words: &str) -> Notice {
    Notice { sound: None, words: words.to_owned(), loss: Loss::Sound }
}

// A slammed door is no loss. Words that were dropped, or sound like speech that gave none, may be.
fn unheard(notice: &speech::Notice) -> Notice {
    let loss = if notice.reason == Unheard::NotSpeech { Loss::None } else { Loss::Sound };
    Notice { sound: Some(notice.sound), words: notice.reason.to_string(), loss }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::SourceFormat;
    use crate::span::SoundSpan;
    use crate::speech::scripted::Scripted;

    fn lexicon() -> Lexicon {
        Lexicon::load(None).unwrap()
    }

    fn recording(level: f32, warnings: &[&str]) -> Recording {
        let source =
            SourceFormat { container: "wave".into(), codec: "pcm_s16le".into(), sample_rate_hz: 16_000, channels: 1 };
        let warnings = warnings.iter().map(|words| (*words).to_owned()).collect();
        Recording {
            samples: vec![level; 64_000].into(),
            file_name: "a.wav".into(),
            sha256: "ab".into(),
            source,
            warnings,
        }
    }

    fn alone(first: &mut Scripted) -> Hearers<'_> {
        Hearers { first, others: Vec::new() }
    }

    fn losses(narration: &Narration) -> Vec<(&str, Loss)> {
        narration.draft.notices.iter().map(|notice| (notice.words.as_str(), notice.loss)).collect()
    }

    #[test]
    fn a_silent_recording_gives_an_empty_draft_that_says_so() {
        let mut scripted = Scripted::of_lines(&[(0, 1000, "No ankle clonus on the left.")]);
        let narration = of_sound(&lexicon(), &recording(0.0, &[]), alone(&mut scripted), &mut |_| ()).unwrap();
        assert!(narration.utterances.is_empty() && narration.draft.findings.is_empty());
        let [(words, loss)] = losses(&narration)[..] else { panic!("{:?}", losses(&narration)) };
        assert_eq!((words.split(':').next(), loss), (Some("no speech was found"), Loss::NoSpeech));
        assert!(narration.draft.lacks_sound());
    }

    #[test]
    fn sound_carries_its_times_into_the_evidence() {
        let mut scripted = Scripted::of_lines(&[(500, 3500, "No ankle clonus on the left.")]);
        let narration = of_sound(&lexicon(), &recording(0.1, &[]), alone(&mut scripted), &mut |_| ()).unwrap();
        let [clonus] = &narration.draft.findings[..] else { panic!("{:?}", narration.draft.findings) };
        let sound = clonus.proof.quote.sound.unwrap();
        assert!(sound.start_ms >= 500 && sound.end_ms <= 3500 && sound.start_ms < sound.end_ms);
        assert_eq!(narration.draft.source.length_ms, Some(4000));
        assert_eq!(narration.draft.model.as_ref().map(|model| model.name.as_str()), Some("scripted"));
        assert!(!narration.draft.lacks_sound());
    }

    #[test]
    fn what_was_dropped_is_a_loss_and_a_slammed_door_is_none() {
        let at = |start_ms| SoundSpan { start_ms, end_ms: start_ms + 100 };
        let door = speech::Notice { sound: at(0), reason: Unheard::NotSpeech };
        let lost = speech::Notice { sound: at(200), reason: Unheard::Repeated };
        let line = [(500, 3500, "No ankle clonus on the left.")];
        let hear = |warnings: &[&str], notices: Vec<speech::Notice>| {
            let mut scripted = Scripted::of_lines(&line).with_notices(notices);
            of_sound(&lexicon(), &recording(0.1, warnings), alone(&mut scripted), &mut |_| ()).unwrap()
        };
        assert!(!hear(&[], vec![door.clone()]).draft.lacks_sound());
        assert!(hear(&[], vec![door, lost]).draft.lacks_sound());
        assert!(hear(&["the file ends early"], Vec::new()).draft.lacks_sound());
    }

    #[test]
    fn lines_keep_their_numbers() {
        let narration = of_text(&lexicon(), "\u{feff}Right then.\r\n\r\nNo ankle clonus on the left.\r\n", "a.txt");
        assert_eq!(narration.utterances.len(), 3);
        assert_eq!(narration.utterances[0].text, "Right then.");
        assert_eq!(narration.draft.findings[0].proof.quote.span.utterance, 2);
        let none = of_text(&lexicon(), "\n ... \n", "a.txt");
        assert_eq!(losses(&none), [("the text holds no words", Loss::NoSpeech)]);
    }
}

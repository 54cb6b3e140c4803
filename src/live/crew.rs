//! Who does the work of a dictation.
//! Values and a trait only.
//!
//! base hears what was just said, tiny.en guesses meanwhile, and both hear again in quiet

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::audio::Recording;
use crate::flow::OTHER_WINDOW_MS;
use crate::lexicon::Lexicon;
use crate::speech::{Phrases, Settings, SpeechError, Transcriber, Voice, Whisper};
use crate::store::Taking;

/// Where sound is kept while it comes in.
pub trait Keep: Send {
    /// Takes samples, 16 kHz mono; they are in the file when it returns. An error is a sentence, and none of the samples are
    /// kept then.
    ///
    /// # Errors
    /// If it cannot be written.
    fn add(&mut self, samples: &[i16]) -> Result<(), String>;

    /// Waits until the disk has it.
    ///
    /// # Errors
    /// If the disk fails.
    fn synchronise(&mut self) -> Result<(), String>;

    /// All of it so far.
    ///
    /// # Errors
    /// If it cannot be read again.
    fn recording(&mut self) -> Result<Recording, String>;
}

impl Keep for Taking {
    fn add(&mut self, samples: &[i16]) -> Result<(), String> {
        Self::add(self, samples).map_err(|error| error.to_string())
    }

    fn synchronise(&mut self) -> Result<(), String> {
        Self::synchronise(self).map_err(|error| error.to_string())
    }

    fn recording(&mut self) -> Result<Recording, String> {
        Self::recording(self).map_err(|error| error.to_string())
    }
}

/// A recogniser that may work in a thread of its own.
pub type Hearer = Box<dyn Transcriber + Send>;

/// The recognisers of a dictation.
pub struct Crew {
    /// Hears what was just said.
    pub quick: Hearer,
    /// Guesses at what is being said; without one there are no guesses.
    pub guesser: Option<Hearer>,
    /// Set to break a guess off; the guesser's own.
    pub stop_guess: Arc<AtomicBool>,
    /// Hear again while it goes on, in the order of a final pass: the first one's words count, the second is asked again.
    pub again: Vec<Hearer>,
    /// Set to break that off; their own.
    pub stop_again: Arc<AtomicBool>,
    /// Hear the whole recording at the end, in the same order.
    pub last: Vec<Hearer>,
    /// Voice activity; without it pauses are told by the level.
    pub voice: Option<Voice>,
}

/// Where the models of a dictation are, and how they are used.
pub struct Models {
    /// Hears first.
    pub first: PathBuf,
    /// Hears a second time, guesses, and is asked again.
    pub second: Option<PathBuf>,
    /// The file of voice activity.
    pub voice: Option<PathBuf>,
    /// Whether the first hears again without leaning towards the lexicon.
    pub third: bool,
    /// Recognisers of the final pass. While the dictation goes on each hearer has one core: two of them work at once.
    pub threads: usize,
}

impl Crew {
    /// Loads the models once each; all that hear share them. `stop` breaks off what hears again, and the final pass.
    ///
    /// # Errors
    /// If a model cannot be loaded.
    pub fn load(models: &Models, lexicon: &Lexicon, stop: &Arc<AtomicBool>) -> Result<Self, SpeechError> {
        let phrases = Phrases(lexicon.phrases_to_favour());
        let stop_guess = Arc::new(AtomicBool::new(false));
        let settings = |threads: usize, cancel: &Arc<AtomicBool>| Settings {
            cancel: Arc::clone(cancel),
            voice: models.voice.clone(),
            ..Settings::new(threads)
        };
        let first = Whisper::load(&models.first, &phrases, settings(1, &Arc::default()))?;
        let second = models.second.as_deref();
        let second = second.map(|file| Whisper::load(file, &phrases, settings(1, &stop_guess))).transpose()?;
        let round = |threads: usize| -> Result<Vec<Hearer>, SpeechError> {
            let mut round: Vec<Hearer> = vec![Box::new(first.with(settings(threads, stop))?)];
            if let Some(second) = &second {
                round.push(Box::new(second.with(settings(threads, stop))?));
            }
            if models.third {
                let settings = Settings { window_ms: OTHER_WINDOW_MS, ..settings(threads, stop) };
                round.push(Box::new(first.otherwise(&Phrases::default(), settings)?));
            }
            Ok(round)
        };
        let (again, last) = (round(1)?, round(models.threads)?);
        let voice = models.voice.as_deref().map(Voice::load).transpose()?;
        let guesser = second.map(|second| Box::new(second) as Hearer);
        Ok(Self { quick: Box::new(first), guesser, stop_guess, again, stop_again: Arc::clone(stop), last, voice })
    }
}

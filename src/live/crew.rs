//! Who does the work of a dictation.
//! Values and a trait only.
//!
//! base hears what was just said, tiny.en guesses meanwhile, and both hear again in quiet

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use sha2::{Digest, Sha256};

use crate::audio::Recording;
use crate::lexicon::Lexicon;
use crate::speech::model_file::inspect;
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

/// Where the models are, and how they are used.
pub struct Models {
    /// Hears first.
    pub first: PathBuf,
    /// Hears a second time, guesses, and is asked again.
    pub second: Option<PathBuf>,
    /// The file of voice activity.
    pub voice: Option<PathBuf>,
    /// Whether the first hears again without leaning towards the lexicon.
    pub third: bool,
    /// Recognisers at the same time over a whole recording. While a dictation goes on each hearer has one core: two of them work at
    /// once.
    pub threads: usize,
}

/// The window of the hearing without a leaning, in milliseconds: other cuts make other errors.
const OTHER_WINDOW_MS: u64 = 20_000;

impl Models {
    /// Who hear a whole recording, in order; the model is loaded once that two of them share. `stop` breaks them off.
    ///
    /// # Errors
    /// If a model cannot be loaded.
    pub fn hearers(&self, lexicon: &Lexicon, stop: &Arc<AtomicBool>) -> Result<Vec<Hearer>, SpeechError> {
        self.load(lexicon)?.round(self, self.threads, stop)
    }

    /// Tells these models and ways of hearing from others, without loading them: 16 hexadecimal digits.
    ///
    /// # Errors
    /// If a file is missing or no speech model.
    pub fn identity(&self) -> Result<String, SpeechError> {
        let mut hash = Sha256::new();
        for file in std::iter::once(&self.first).chain(&self.second) {
            hash.update(inspect(file)?.identity.sha256);
            hash.update([0]);
        }
        let third = if self.third { OTHER_WINDOW_MS } else { 0 };
        hash.update(format!("{} {third} {}", Settings::new(1).window_ms, self.voice.is_some()));
        let mut digits = format!("{:x}", hash.finalize());
        digits.truncate(16);
        Ok(digits)
    }

    /// The same for several who hear a recording each at the same time; all share the models.
    ///
    /// # Errors
    /// If a model cannot be loaded.
    pub fn several(
        &self,
        lexicon: &Lexicon,
        stop: &Arc<AtomicBool>,
        rounds: usize,
    ) -> Result<Vec<Vec<Hearer>>, SpeechError> {
        let loaded = self.load(lexicon)?;
        (0..rounds).map(|_| loaded.round(self, self.threads, stop)).collect()
    }

    fn settings(&self, threads: usize, cancel: &Arc<AtomicBool>) -> Settings {
        Settings { cancel: Arc::clone(cancel), voice: self.voice.clone(), ..Settings::new(threads) }
    }

    // Leaning towards the lexicon's phrases is what makes a general recogniser hear the trade's words.
    fn load(&self, lexicon: &Lexicon) -> Result<Loaded, SpeechError> {
        let phrases = Phrases(lexicon.phrases_to_favour());
        let load = |file: &PathBuf| Whisper::load(file, &phrases, self.settings(1, &Arc::default()));
        Ok(Loaded { first: load(&self.first)?, second: self.second.as_ref().map(load).transpose()? })
    }
}

/// Models that are loaded, with what they lean towards.
struct Loaded {
    first: Whisper,
    second: Option<Whisper>,
}

impl Loaded {
    // They err in different ways: one is another model's, one has no leaning and other windows.
    fn round(&self, models: &Models, threads: usize, stop: &Arc<AtomicBool>) -> Result<Vec<Hearer>, SpeechError> {
        let settings = models.settings(threads, stop);
        let mut round: Vec<Hearer> = vec![Box::new(self.first.with(settings.clone())?)];
        if let Some(second) = &self.second {
            round.push(Box::new(second.with(settings.clone())?));
        }
        if models.third {
            let settings = Settings { window_ms: OTHER_WINDOW_MS, ..settings };
            round.push(Box::new(self.first.otherwise(&Phrases::default(), settings)?));
        }
        Ok(round)
    }
}

impl Crew {
    /// Loads the models once each; all that hear share them. `stop` breaks off what hears again, and the final pass.
    ///
    /// # Errors
    /// If a model cannot be loaded.
    pub fn load(models: &Models, lexicon: &Lexicon, stop: &Arc<AtomicBool>) -> Result<Self, SpeechError> {
        let loaded = models.load(lexicon)?;
        let (again, last) = (loaded.round(models, 1, stop)?, loaded.round(models, models.threads, stop)?);
        let stop_guess = Arc::new(AtomicBool::new(false));
        let guesser = loaded.second.map(|second| second.with(models.settings(1, &stop_guess))).transpose()?;
        let guesser = guesser.map(|guesser| Box::new(guesser) as Hearer);
        let voice = models.voice.as_deref().map(Voice::load).transpose()?;
        let (quick, stop_again) = (Box::new(loaded.first), Arc::clone(stop));
        Ok(Self { quick, guesser, stop_guess, again, stop_again, last, voice })
    }
}

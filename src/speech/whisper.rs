//! The recogniser: Whisper models in ggml form, through whisper-rs. Only `voice` touches that library as well.
//! Takes a model file, settings and phrases to lean towards; gives words with times and probabilities.
//! Leaves alone where the speech is (`voice`, `spoken`), how the work is shared out (`listening`) and what to believe
//! (`rejection`).
//!
//! `Whisper::load("models/ggml-base-q8_0.bin", &settings)?.transcribe(&samples, &mut |_| ())?`

use std::cell::RefCell;
use std::ffi::{CStr, c_char, c_int, c_void};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Once};

use whisper_rs::{
    FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters, WhisperSegment, WhisperState,
    WhisperSysContext, WhisperSysState, WhisperTokenData,
};

use crate::audio::Sound;
use crate::span::SoundSpan;
use crate::speech::again::{self, Contest};
use crate::speech::bias::{Bias, Phrases};
use crate::speech::bpe::Bpe;
use crate::speech::listening::{Raw, Work, listen};
use crate::speech::model_file::inspect;
use crate::speech::pauses::SAMPLE_RATE;
use crate::speech::settings::Settings;
use crate::speech::spoken::{loud, spoken};
use crate::speech::tokens::Piece;
use crate::speech::transcriber::{Heard, ModelIdentity, Progress, SpeechError, Transcriber};
use crate::speech::voice::Voice;

/// A loaded model with a way of listening.
pub struct Whisper {
    model: Arc<Model>,
    bias: Option<Arc<Bias>>,
    settings: Settings,
    voice: Option<Voice>,
}

/// What several ways of listening share: most of the memory.
struct Model {
    context: WhisperContext,
    identity: ModelIdentity,
    vocabulary: Vec<Vec<u8>>,
    bpe: Bpe,
}

/// Sound up to here fits the short context, in samples: 512 steps of 20 ms.
const SHORT: usize = SAMPLE_RATE * 102 / 10;
/// Steps of the short context. A tighter fit makes the decoder loop.
const SHORT_CONTEXT: c_int = 512;
/// The greatest multiple of 64 within the model's 1,500 steps.
const LONGEST_CONTEXT: c_int = 1472;
/// Samples a step.
const STEP: usize = SAMPLE_RATE / 50;
/// Steps of air behind the sound.
const AIR_STEPS: usize = 128;

impl Whisper {
    /// Loads a model and lays out the phrases to lean towards (none: it listens without a leaning).
    ///
    /// # Errors
    /// If the file is missing, not a Whisper model, cut short, or the recogniser refuses it.
    pub fn load(path: &Path, phrases: &Phrases, settings: Settings) -> Result<Self, SpeechError> {
        keep_errors();
        give_back_memory();
        let file = inspect(path)?;
        let mut parameters = WhisperContextParameters::default();
        let accelerated = cfg!(any(feature = "cuda", feature = "metal", feature = "vulkan"));
        parameters.use_gpu(accelerated).flash_attn(false);
        let refused = |error: whisper_rs::WhisperError| {
            let reason = last_error().unwrap_or_else(|| error.to_string());
            SpeechError::NotAModel { path: path.to_owned(), reason }
        };
        let context = WhisperContext::new_with_params(path, parameters).map_err(refused)?;
        let bpe = Bpe::new(&file.vocabulary);
        let model = Model { context, identity: file.identity, vocabulary: file.vocabulary, bpe };
        Self::of(Arc::new(model), phrases, settings)
    }

    /// The same model with another way of listening; the model is not loaded again.
    ///
    /// # Errors
    /// If the file of voice activity cannot be used.
    pub fn otherwise(&self, phrases: &Phrases, settings: Settings) -> Result<Self, SpeechError> {
        Self::of(Arc::clone(&self.model), phrases, settings)
    }

    /// The same model and phrases with other settings: nothing is loaded or laid out again, and how strongly it leans stays.
    ///
    /// # Errors
    /// If the file of voice activity cannot be used.
    pub fn with(&self, settings: Settings) -> Result<Self, SpeechError> {
        let voice = settings.voice.as_deref().map(Voice::load).transpose()?;
        Ok(Self { model: Arc::clone(&self.model), bias: self.bias.clone(), settings, voice })
    }

    fn of(model: Arc<Model>, phrases: &Phrases, settings: Settings) -> Result<Self, SpeechError> {
        let bias = Bias::new(phrases, &model.vocabulary, settings.lean).map(Arc::new);
        let voice = settings.voice.as_deref().map(Voice::load).transpose()?;
        Ok(Self { model, bias, settings, voice })
    }

    /// Hears one piece of sound. A fresh state each time: a used one remembers, and then the same sound need not give
    /// the same words.
    fn hear(&self, sound: &[f32]) -> Result<Raw, String> {
        let failed = |error: whisper_rs::WhisperError| last_error().unwrap_or_else(|| error.to_string());
        let mut state = self.model.context.create_state().map_err(failed)?;
        let short = sound.len() <= SHORT;
        state.full(self.parameters(sound.len(), short), sound).map_err(failed)?;
        let mut raw = self.written(&state, short);
        raw.no_speech = self.no_speech(&mut state).unwrap_or(raw.no_speech);
        Ok(raw)
    }

    /// How well each text fits a piece of sound. Texts are those of the whole piece: a part of it cut out at the times of
    /// its words would lack what the recogniser tells them by.
    fn weigh(&self, sound: &[f32], texts: &[String]) -> Result<Vec<f32>, String> {
        let failed = |error: whisper_rs::WhisperError| last_error().unwrap_or_else(|| error.to_string());
        let tokens = |text: &String| self.model.bpe.tokens_of(&format!(" {text}"));
        let texts: Option<Vec<Vec<i32>>> = texts.iter().map(tokens).collect();
        let texts = texts.ok_or("its vocabulary lacks a byte")?;
        let mut state = self.model.context.create_state().map_err(failed)?;
        let mut parameters = self.parameters(sound.len(), true);
        // SAFETY: the function given neither unwinds nor looks at what it is handed.
        #[allow(unsafe_code, reason = "whisper-rs has no safe setter for this callback")]
        unsafe {
            parameters.set_start_encoder_callback(Some(never));
        }
        // `encode` has no parameter for the length: this sets it, with the sound, and stops, which it calls an error.
        state.full(parameters, sound).map_err(failed)?;
        last_error();
        state.encode(0, 1).map_err(failed)?;
        let (prompt, last) = self.prompt();
        state.decode(&prompt, 0, 1).map_err(failed)?;
        again::scores(&texts, (last, prompt.len()), |token, past, wanted| {
            if self.settings.cancel.load(Ordering::Relaxed) {
                return Err("it was cancelled".to_owned());
            }
            // One token at a time: of several the library gives the chances behind the first, which it has not worked out.
            state.decode(&[token], past, 1).map_err(failed)?;
            Ok(again::log_chances(state.get_logits().map_err(failed)?, wanted))
        })
    }

    /// What the recogniser writes before a text without times, and the last token of it.
    fn prompt(&self) -> (Vec<i32>, i32) {
        let context = &self.model.context;
        let many = context.is_multilingual();
        let of_language = [context.token_lang(0), context.token_transcribe()].into_iter().filter(|_| many);
        let last = context.token_not();
        (std::iter::once(context.token_sot()).chain(of_language).collect(), last)
    }

    fn parameters(&self, sound: usize, short: bool) -> FullParams<'_, '_> {
        let beams = c_int::from(self.settings.beams.clamp(1, 8));
        let mut parameters = FullParams::new(match beams {
            1 => SamplingStrategy::Greedy { best_of: 1 },
            beam_size => SamplingStrategy::BeamSearch { beam_size, patience: -1.0 },
        });
        // The language is English by default; the setter would leak its copy on every call.
        parameters.set_n_threads(1);
        parameters.set_no_context(true);
        parameters.set_n_max_text_ctx(0);
        parameters.set_suppress_nst(true);
        parameters.set_token_timestamps(true);
        parameters.set_print_progress(false);
        // A hearing that went wrong is tried once more with some chance in it; more tries cost minutes on noise.
        parameters.set_temperature_inc(0.6);
        parameters.set_max_tokens(most_tokens(sound));
        parameters.set_audio_ctx(context_for(sound));
        parameters.set_single_segment(short);
        let cancel: *const AtomicBool = Arc::as_ptr(&self.settings.cancel);
        // SAFETY: the flag and the bias belong to `self`, which outlives the call that uses the parameters; both are
        // `Sync`, and the functions given neither unwind nor write anything but the logits. The raw setters are used
        // because the safe abort setter casts its closure to the wrong type and every safe setter leaks its closure.
        #[allow(unsafe_code, reason = "whisper-rs has no safe setter that works for these callbacks")]
        unsafe {
            parameters.set_abort_callback(Some(is_cancelled));
            parameters.set_abort_callback_user_data(cancel.cast_mut().cast());
            if let Some(bias) = &self.bias {
                parameters.set_filter_logits_callback(Some(raise_phrases));
                parameters.set_filter_logits_callback_user_data(Arc::as_ptr(bias).cast_mut().cast());
            }
        }
        parameters
    }

    /// The chance of there being no speech, as Whisper means it: right behind the token that starts a transcript.
    /// whisper.cpp reads it behind the tokens for language and task as well, where models of many languages always
    /// say 0.
    fn no_speech(&self, state: &mut WhisperState) -> Option<f32> {
        state.decode(&[self.model.context.token_sot()], 0, 1).ok()?;
        let chances = again::log_chances(state.get_logits().ok()?, &[self.model.context.token_nosp()]);
        chances.first().map(|chance| chance.exp())
    }

    fn written(&self, state: &WhisperState, short: bool) -> Raw {
        let mut raw = Raw::default();
        for segment in state.as_iter() {
            raw.no_speech = raw.no_speech.max(segment.no_speech_probability());
            let from = raw.pieces.len();
            self.take_pieces(&segment, &mut raw.pieces);
            if short {
                self.clip(&segment, raw.pieces.get_mut(from..).unwrap_or_default());
            }
        }
        raw
    }

    fn take_pieces(&self, segment: &WhisperSegment<'_>, pieces: &mut Vec<Piece>) {
        let ms = |centiseconds: i64| u64::try_from(centiseconds).unwrap_or(0) * 10;
        for token in (0..segment.n_tokens()).filter_map(|index| segment.get_token(index)) {
            let data = token.token_data();
            if data.id >= self.model.context.token_eot() {
                continue;
            }
            let Ok(bytes) = token.to_bytes() else { continue };
            let start_ms = ms(data.t0);
            let sound = SoundSpan { start_ms, end_ms: ms(data.t1).max(start_ms) };
            pieces.push(Piece { bytes: bytes.to_vec(), sound, probability: data.p.clamp(0.0, 1.0) });
        }
    }

    /// A single segment is said to last for half a minute, and its last words with it. The time tokens within know
    /// better: no word reaches over the one that follows it.
    fn clip(&self, segment: &WhisperSegment<'_>, pieces: &mut [Piece]) {
        let mut end_ms = u64::MAX;
        let mut index = pieces.len();
        for token in (0..segment.n_tokens()).rev().filter_map(|index| segment.get_token(index)) {
            let id = token.token_id();
            if id > self.model.context.token_beg() {
                end_ms = u64::from((id - self.model.context.token_beg()).unsigned_abs()) * 20;
            } else if id < self.model.context.token_eot() && index > 0 {
                index -= 1;
                if let Some(piece) = pieces.get_mut(index) {
                    piece.sound.start_ms = piece.sound.start_ms.min(end_ms);
                    piece.sound.end_ms = piece.sound.end_ms.min(end_ms);
                }
            }
        }
    }
}

/// Steps of 20 ms that the sound and some air behind it need. Always a multiple of 64: whisper.cpp's full context of 1,500
/// steps is none, which keeps its fast matrix products out and takes half as long again.
fn context_for(samples: usize) -> c_int {
    let steps = (samples / STEP + AIR_STEPS).div_ceil(64) * 64;
    c_int::try_from(steps).unwrap_or(LONGEST_CONTEXT).clamp(SHORT_CONTEXT, LONGEST_CONTEXT)
}

/// More tokens than anybody speaks in that many samples; a decoder in a loop would write on to its own limit.
fn most_tokens(samples: usize) -> c_int {
    c_int::try_from(20 + 10 * samples / SAMPLE_RATE).unwrap_or(c_int::MAX)
}

impl Transcriber for Whisper {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        let longest = self.settings.window_ms.clamp(1000, 29_000) as usize * SAMPLE_RATE / 1000;
        let work = Work { recognisers: self.settings.threads, longest, cancel: &self.settings.cancel };
        let found = match &mut self.voice {
            Some(voice) => spoken(sound, &voice.chances(sound, work.cancel)?)?,
            None => loud(sound)?,
        };
        let mut heard = listen(sound, &found.stretches, work, |samples| self.hear(samples), progress)?;
        heard.notices.extend(found.unheard);
        heard.notices.sort_by_key(|notice| notice.sound);
        Ok(heard)
    }

    fn scores(&mut self, sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        let samples = |at: SoundSpan| -> std::io::Result<Vec<f32>> {
            let place = |ms: u64| usize::try_from(ms).unwrap_or(usize::MAX).saturating_mul(SAMPLE_RATE / 1000);
            let mut samples = sound.piece(place(at.start_ms)..place(at.end_ms))?.into_owned();
            samples.resize(samples.len().max(SAMPLE_RATE), 0.0);
            Ok(samples)
        };
        let scores = again::all(contests, self.settings.threads, |contest| {
            self.weigh(&samples(contest.sound)?, &contest.texts).map_err(|reason| {
                if self.settings.cancel.load(Ordering::Relaxed) {
                    return SpeechError::Cancelled;
                }
                SpeechError::Failed { at: contest.sound, reason }
            })
        });
        scores.map(Some)
    }

    fn identity(&self) -> ModelIdentity {
        self.model.identity.clone()
    }
}

/// Asked whether to begin with the sound.
#[allow(unsafe_code, reason = "the recogniser's setter takes nothing else")]
unsafe extern "C" fn never(_: *mut WhisperSysContext, _: *mut WhisperSysState, _: *mut c_void) -> bool {
    false
}

/// Asked by the recogniser again and again while it works.
///
/// # Safety
/// `flag` must point to an `AtomicBool` that lives as long as the call.
#[allow(unsafe_code, reason = "the recogniser hands its caller's data back as a bare pointer")]
unsafe extern "C" fn is_cancelled(flag: *mut c_void) -> bool {
    // SAFETY: see above; `parameters` hands over such a pointer.
    unsafe { flag.cast::<AtomicBool>().as_ref() }.is_some_and(|flag| flag.load(Ordering::Relaxed))
}

/// Called before each token is chosen, under beam search for every beam.
///
/// # Safety
/// `bias` must point to a `Bias`, `tokens` to `count` tokens or be null if there are none, `logits` to one number for
/// each token of the vocabulary of `context`.
#[allow(unsafe_code, reason = "the recogniser hands over its tables as bare pointers")]
unsafe extern "C" fn raise_phrases(
    _context: *mut WhisperSysContext,
    _state: *mut WhisperSysState,
    tokens: *const WhisperTokenData,
    count: c_int,
    logits: *mut f32,
    bias: *mut c_void,
) {
    // SAFETY: see above. Text tokens are the first of the vocabulary, so a slice of their length lies within it.
    let (bias, tokens, logits) = unsafe {
        let Some(bias) = bias.cast::<Bias>().cast_const().as_ref() else { return };
        if logits.is_null() {
            return;
        }
        // Before the first token there may be no table at all.
        let count = if tokens.is_null() { 0 } else { usize::try_from(count).unwrap_or(0) };
        let tokens = if count == 0 { &[][..] } else { std::slice::from_raw_parts(tokens, count) };
        (bias, tokens, std::slice::from_raw_parts_mut(logits, bias.tokens()))
    };
    let from = tokens.len().saturating_sub(bias.reach());
    let written: Vec<i32> = tokens.iter().skip(from).map(|token| token.id).collect();
    bias.raise(&written, logits);
}

thread_local! {
    /// The last error that the recogniser reported on this thread.
    static LAST_ERROR: RefCell<Option<String>> = const { RefCell::new(None) };
}

pub(super) fn last_error() -> Option<String> {
    LAST_ERROR.with(RefCell::take)
}

/// Sends the recogniser's chatter nowhere and keeps its errors.
pub(super) fn keep_errors() {
    static ONCE: Once = Once::new();
    // SAFETY: the function given does not unwind and needs no data.
    #[allow(unsafe_code, reason = "whisper-rs's own hooks drop errors unless a logging crate is added")]
    ONCE.call_once(|| unsafe { whisper_rs::set_log_callback(Some(keep_error), std::ptr::null_mut()) });
}

/// Memory that the recogniser asks for in pieces from this size on goes back to the system when it is freed.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
const GIVEN_BACK: c_int = 256 * 1024;

/// Has the system's allocator, which the recogniser uses, give large pieces back at once. By itself it raises the size from which
/// it does so up to 32 MB; the pieces of a state, new for every window, then lie among those of others, and an hour of hearing
/// held 80 MB more than ten minutes.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
fn give_back_memory() {
    #[allow(unsafe_code, reason = "the C library has no safe way to be told")]
    unsafe extern "C" {
        safe fn mallopt(parameter: c_int, value: c_int) -> c_int;
    }
    const MMAP_THRESHOLD: c_int = -3;
    // Where it is refused, more memory is held and nothing else.
    let _ = mallopt(MMAP_THRESHOLD, GIVEN_BACK);
}

#[cfg(not(all(target_os = "linux", target_env = "gnu")))]
fn give_back_memory() {}

/// ggml's number for an error.
const ERROR: u32 = 4;

/// # Safety
/// `text` must be null or a C string.
#[allow(unsafe_code, reason = "the recogniser hands over its message as a bare pointer")]
unsafe extern "C" fn keep_error(level: u32, text: *const c_char, _: *mut c_void) {
    if level != ERROR || text.is_null() {
        return;
    }
    // SAFETY: see above.
    let text = unsafe { CStr::from_ptr(text) }.to_string_lossy().trim().to_owned();
    let _ = LAST_ERROR.try_with(|last| last.try_borrow_mut().map(|mut last| *last = Some(text)));
}

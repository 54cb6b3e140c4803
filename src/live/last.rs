//! The end: one more pass over the whole recording.
//! Takes the recording from the disk, the recognisers, and what is known beside the sound; gives the draft that a recorded note
//! would get, with the differences from the one that was shown. Leaves alone where the draft is kept.
//!
//! shown as "forty degrees", and now "fourteen": the finding needs the eye

use crate::export::words::clock;
use crate::flow::{self, Hearers};
use crate::lexicon::Lexicon;
use crate::live::{Crew, Event, Keep};
use crate::record::{DraftRecord, Loss, Notice};
use crate::span::SoundSpan;
use crate::speech::{SpeechError, Transcriber, Utterance};

/// A dictation that has ended.
pub struct Ended<K> {
    /// The draft of the whole recording.
    pub draft: DraftRecord,
    /// Where its sound is.
    pub keep: K,
}

/// What is known of a dictation beside its sound.
#[derive(Default)]
pub(super) struct Aside {
    pub(super) pauses: Vec<Pause>,
    /// Orders that were not spoken.
    pub(super) by_hand: Vec<Utterance>,
    /// The draft that was shown.
    pub(super) shown: Option<DraftRecord>,
}

/// A time of which nothing was kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pause {
    /// Where in the recording it lies.
    pub(super) at_ms: u64,
    pub(super) length_ms: u64,
    /// Whether somebody ordered it; otherwise the microphone was away.
    pub(super) wanted: bool,
}

/// Why a dictation could not be ended well. The recording is there, and can be recovered.
#[derive(Debug, thiserror::Error)]
pub enum LiveError {
    /// The recording cannot be read.
    #[error("cannot read the recording again: {0}")]
    Recording(String),
    /// A recogniser failed, or was stopped.
    #[error("cannot make a draft of the recording: {0}")]
    Speech(#[from] SpeechError),
    /// A thread of ours broke down.
    #[error("dictation broke off by a fault of the program; the recording is there and can be recovered")]
    BrokenOff,
}

/// Makes the draft of a recording that was never ended.
///
/// # Errors
/// As at the end of a session.
pub fn recover<K: Keep>(
    lexicon: &Lexicon,
    crew: &mut Crew,
    keep: K,
    tell: &dyn Fn(Event),
) -> Result<Ended<K>, LiveError> {
    pass(lexicon, crew, keep, &Aside::default(), tell)
}

/// Hears all of it once more.
pub(super) fn pass<K: Keep>(
    lexicon: &Lexicon,
    crew: &mut Crew,
    mut keep: K,
    aside: &Aside,
    tell: &dyn Fn(Event),
) -> Result<Ended<K>, LiveError> {
    let recording = keep.recording().map_err(LiveError::Recording)?;
    let Some((first, others)) = crew.last.split_first_mut() else { return Err(LiveError::BrokenOff) };
    let others = others.iter_mut().map(|other| other.as_mut() as &mut dyn Transcriber).collect();
    let hearers = Hearers { first: first.as_mut(), others };
    let mut progress = |progress| tell(Event::Final(progress));
    let narration = flow::of_dictation(lexicon, &recording, hearers, &aside.by_hand, &mut progress)?;
    let mut draft = narration.draft;
    draft.notices.extend(aside.pauses.iter().map(|pause| pause.notice()));
    if let Some(shown) = &aside.shown {
        flow::show_differences(&mut draft, shown);
    }
    Ok(Ended { draft, keep })
}

impl Pause {
    fn notice(self) -> Notice {
        let length = clock(self.length_ms);
        let (words, loss) = if self.wanted {
            (format!("paused here for {length} minutes: nothing of that time was kept"), Loss::None)
        } else {
            (format!("the microphone was away here for {length} minutes: what was said then is missing"), Loss::Sound)
        };
        let sound = SoundSpan { start_ms: self.at_ms, end_ms: self.at_ms };
        Notice { sound: Some(sound), words, loss }
    }
}

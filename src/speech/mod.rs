//! Recording → utterances and words.
//! Takes 16 kHz mono samples and plain phrases to lean towards; gives utterances with their words, and notices of
//! sound that gave none. Leaves alone what is said: it knows no lexicon.
//!
//! `transcriber` says what any recogniser does, `whisper` is one and `scripted` stands in for it in tests. Between
//! sound and words lie `voice`, `spoken`, `pauses`, `windows`, `listening`, `bias`, `tokens` and `rejection`, in that
//! order. `again` and `bpe` tell which of several texts fits the sound. `cutter` finds pauses while sound still comes in.

pub mod again;
pub mod bias;
pub mod bpe;
pub mod cutter;
pub mod listening;
pub mod model_file;
pub mod pauses;
pub mod rejection;
pub mod scripted;
pub mod settings;
pub mod spoken;
pub mod tokens;
pub mod transcriber;
pub mod utterances;
pub mod voice;
pub mod whisper;
pub mod windows;
pub mod words;

pub use again::Contest;
pub use bias::{Lean, Phrases};
pub use cutter::{Cut, Cutter};
pub use settings::Settings;
pub use transcriber::{Heard, ModelIdentity, Notice, Progress, SpeechError, Transcriber, Unheard};
pub use utterances::Utterance;
pub use voice::Voice;
pub use whisper::Whisper;
pub use words::{Stop, Word};

//! Words → mentions: the trade's knowledge, read from files, and what it recognises in an utterance.
//! Takes TOML files and utterances; gives mentions: stretches of words that mean something here, and how they were
//! recognised. Leaves alone what is said about whom (`reading`).
//!
//! "no clonus on the left" gives negation "no", item ankle-clonus "clonus", side "left"

mod alike;
mod attention;
pub mod beside;
pub mod check;
mod closed_sets;
pub mod codes;
mod commands;
pub mod compile;
mod english;
mod entries;
mod gist;
pub mod hearing;
mod item_set;
pub mod load;
pub mod mentions;
mod phonemes;
mod phrases;
pub mod quantities;
pub mod rivals;
pub mod rules;
mod sets;
mod skeletons;
pub mod sound;
mod sounded;
pub mod spelling;
mod vocabulary;

pub use commands::{Command, Understood};
pub use compile::{General, Item, ItemIx, Lexicon, Meaning, Strength, ValueIx, Word as LanguageWord};
pub use gist::Gist;
pub use hearing::Hearing;
pub use item_set::ItemSet;
pub use load::{Fault, LexiconError};
pub use mentions::{How, Mention, Said, mentions_heard, mentions_in, mentions_of_all};
pub use rivals::{Rival, rivals_in};
pub use sets::ExamSet;

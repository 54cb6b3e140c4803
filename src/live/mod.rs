//! Dictation: sound that is still coming in → a draft that grows while somebody speaks.
//! Takes blocks of samples, recognisers and spoken or given orders; keeps the sound on the disk, tells what was understood and
//! what is left, and makes the draft of the whole recording at the end. Leaves alone where the sound comes from (`audio`, the
//! page) and how anything is shown.
//!
//! "Scarf sign to the midline on the left", a pause, and a second later there is a finding

mod event;

pub use event::{Answer, Event, Left, Order, Picture};

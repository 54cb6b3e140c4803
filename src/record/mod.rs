//! Findings → draft record.
//! Takes the lexicon, utterances, their reading and where they came from; gives one `DraftRecord`: what somebody has to
//! look through and decide. Leaves alone how a record is written down (`export`). Nothing is inferred, and nothing here
//! knows the date: the same input gives the same record.
//!
//! A narration in which nothing was found gives a draft with every item under "not mentioned", none of them normal.

pub mod draft;
pub mod limits;

pub use draft::{
    DraftFinding, DraftRecord, Earlier, Figures, Line, Loss, Notice, Origin, Proof, Quote, Sources, Unmentioned, draft,
};
pub use limits::{HEARD_CLEARLY, heard_unclearly};

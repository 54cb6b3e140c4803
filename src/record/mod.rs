//! Findings → draft record → signed record.
//! Takes the lexicon, utterances, their reading and where they came from; gives one `DraftRecord`: what somebody has to
//! look through and decide. Takes what they decide (`Review`); gives a `SignedRecord` once nothing is undecided. Leaves
//! alone how a record is written down (`export`) and kept (`store`). Nothing is inferred, and nothing here knows the date:
//! the same input gives the same record.
//!
//! A narration in which nothing was found gives a draft with every item under "not mentioned", none of them normal.

pub mod decisions;
pub mod draft;
pub mod limits;
pub mod person;
pub mod remarks;
pub mod review;
pub mod signed;
pub mod stated;
pub mod words;

pub use decisions::{Author, Decision, Entry, FindingId, Refused, Wish};
pub use draft::{
    DraftFinding, DraftRecord, Earlier, Figures, Line, Loss, Notice, Origin, Proof, Quote, Sources, Unmentioned, draft,
};
pub use limits::{HEARD_CLEARLY, heard_unclearly};
pub use person::{Moment, NoPerson, Person};
pub use review::{NoReview, Review, Standing};
pub use signed::{SignedFinding, SignedRecord, Undecided, amend, sign};
pub use stated::{NotStated, Stated, is_outside};

//! A clinician's spoken newborn neurological examination → a draft record.

pub mod span;
pub mod speech;
pub mod lexicon;
pub mod reading;
pub mod score;

//! Draft record → text, JSON or rows; records → notes, growth charts and PDF.
//! Takes a draft; gives a text for people (`draft_table`), a promise for programs (`draft_json`, with its schema beside
//! it), or rows as the corpus has them (`draft_tsv`). Every form says that it is a draft. Takes measurements; gives a growth chart
//! (`chart`) as a drawing (`drawing`), for a page (`svg`) or for the PDF of a note (`pdf`). Takes a signed record (`Whole`); gives a note,
//! a PDF, an HL7 document or rows (`form`). Leaves alone where it is written.
//!
//! The finding "scarf sign, both, to midline" is one line in each of them

pub mod chart;
pub mod computed_json;
pub mod csv;
pub mod draft_json;
pub mod draft_table;
pub mod draft_tsv;
pub mod drawing;
pub mod fhir;
pub mod form;
pub mod growth_chart;
mod lines;
pub mod note;
pub mod pdf;
pub mod sheet;
pub mod svg;
pub mod words;
mod xml;

pub use draft_json::{SCHEMA, to_json, to_json_computed};
pub use draft_table::to_table;
pub use draft_tsv::to_tsv;
pub use fhir::{FhirError, to_fhir};

use crate::computed::Computed;
use crate::lexicon::Lexicon;
use crate::record::SignedRecord;
use crate::record::remarks::Remarks;

/// A signed record with everything that an export of it tells.
#[derive(Debug, Clone, Copy)]
pub struct Whole<'a> {
    /// Its id in the store.
    pub id: &'a str,
    /// What was signed.
    pub signed: &'a SignedRecord,
    /// What the signature covers, as SHA-256 in lower-case hexadecimal.
    pub sha256: &'a str,
    /// Whose it is, when the examination was, what was put aside.
    pub remarks: &'a Remarks,
    /// What is reckoned from it.
    pub computed: &'a Computed,
    /// The lexicon: names and codes of items.
    pub lexicon: &'a Lexicon,
}

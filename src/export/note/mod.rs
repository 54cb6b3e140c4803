//! A record as a note: short enough to be read, in the order in which clinicians read.
//! Takes what stands in a record and what is reckoned from it; gives what a note says, section by section (`content`), and that
//! as plain text and Markdown (`text`). Leaves alone pages (`pdf`).
//! Files, in reading order: `rows` `content` `text`.
//!
//! "Positive and abnormal" comes first, "Not mentioned" last

mod content;
mod rows;
mod text;

use crate::computed::Computed;
use crate::export::Whole;
use crate::lexicon::Lexicon;
use crate::record::remarks::Remarks;
use crate::record::{Review, SignedRecord};

pub use content::{note, standing_out};
pub use text::{to_markdown, to_text};

/// What a note is about: a signed record, or a draft that is printed as one.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The record's id.
    pub id: &'a str,
    /// What stands.
    pub review: &'a Review,
    /// What was signed, with the SHA-256 of what the signature covers; `None` for a draft.
    pub signed: Option<(&'a SignedRecord, &'a str)>,
    /// Whose it is, and when the examination was.
    pub remarks: &'a Remarks,
    /// What is reckoned from it.
    pub computed: &'a Computed,
    /// The lexicon.
    pub lexicon: &'a Lexicon,
}

impl<'a> From<&Whole<'a>> for Subject<'a> {
    fn from(whole: &Whole<'a>) -> Self {
        let Whole { id, signed, sha256, remarks, computed, lexicon } = *whole;
        Self { id, review: signed.review(), signed: Some((signed, sha256)), remarks, computed, lexicon }
    }
}

/// What a note says, whatever form it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// What it is.
    pub title: String,
    /// Whether nobody has signed it: every page of it must say so.
    pub draft: bool,
    /// DRAFT, or who signed what version when.
    pub status: String,
    /// Whose it is: names and words ("infant", "cot 7").
    pub heading: Vec<(String, String)>,
    /// Its sections, in the order in which they are read; none is empty.
    pub sections: Vec<Section>,
    /// Cautions, and what made it.
    pub foot: Vec<String>,
}

/// A section of a note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Its title.
    pub title: String,
    /// Its lines.
    pub lines: Vec<NoteLine>,
}

/// A line of a note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteLine {
    /// What comes first and stands out: "popliteal angle left", or the name of a region; may be empty.
    pub lead: String,
    /// What it says.
    pub words: String,
    /// What stands small beside or under it: the standard, the source, a mark; may be empty.
    pub small: String,
}

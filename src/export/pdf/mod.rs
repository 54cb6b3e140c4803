//! A record as PDF, to be filed or printed.
//! Takes a note, growth charts and the places of findings on the body; gives the bytes of a PDF: the note in two columns as large as one
//! page allows, charts and body under it or on the next page, on every page whose record it is, how it stands and which page it is, and
//! DRAFT across every page of what nobody has signed. Text can be copied and read aloud in order; the file is PDF/A-2a and PDF/UA-1; the
//! same sheet gives the same bytes. Nothing is cut off: what is long goes on, what the fonts lack is seen to be missing. Leaves alone
//! what the note says (`note`) and what a chart shows (`chart`).
//! Files, in reading order: `font` widths, `lines` text in lines, `blocks` the note in blocks, `columns` blocks in columns, `pages` the
//! whole on pages, `body` the drawing of the body, `paint` what is written into the file, `tags` its order for reading aloud.
//!
//! A signed note of 50 findings with one chart is one or two pages

mod blocks;
mod body;
mod columns;
mod font;
mod lines;
mod pages;
mod paint;
mod tags;

use thiserror::Error;

use crate::export::chart::Chart;
use crate::export::note::Note;
use crate::reading::Side;
use crate::record::person::Moment;

/// What a PDF is made of.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'a> {
    /// The record in words.
    pub note: &'a Note,
    /// Its growth charts.
    pub charts: &'a [Chart],
    /// Where findings are; the body is drawn if there are any.
    pub marks: &'a [BodyMark],
    /// On which paper.
    pub paper: Paper,
    /// Its language: `en-GB`.
    pub language: &'a str,
    /// When it was signed, or for a draft when it was made: the file says so.
    pub made: Moment,
}

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height, in points.
    fn size(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// A place of the body with a finding that is shown there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BodyMark {
    /// The region of the finding's item, as the drawing of the body names it. One that the drawing does not have is told beside it.
    pub place: String,
    /// On which side.
    pub side: Side,
    /// What it tells.
    pub kind: MarkKind,
}

/// What a mark tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkKind {
    /// A positive or abnormal finding.
    Positive,
    /// Left and right differ.
    Differs,
}

/// Why there is no PDF.
#[derive(Debug, Error)]
pub enum PdfError {
    /// A font that the program brings cannot be read.
    #[error("a font that is built in cannot be read: {0}; the program is damaged, install it again")]
    Font(String),
    /// The drawing of the body cannot be read.
    #[error("the drawing of the body that is built in cannot be read; the program is damaged, install it again")]
    Body,
    /// The file cannot be put together.
    #[error("the PDF cannot be put together: {0}; export the record in another format, and report this")]
    File(String),
}

/// The bytes of a PDF.
///
/// # Errors
/// If a part that the program brings is damaged, or the file cannot be put together.
pub fn to_pdf(sheet: &Sheet) -> Result<Vec<u8>, PdfError> {
    let fonts = font::Fonts::load()?;
    let body = if sheet.marks.is_empty() { None } else { Some(body::drawing(sheet.marks).ok_or(PdfError::Body)?) };
    let figures: Vec<_> = sheet.charts.iter().map(|chart| &chart.drawing).chain(body.as_ref()).collect();
    let pages = pages::arranged(&fonts, sheet.note, &figures, sheet.paper.size());
    paint::painted(&fonts, sheet, &pages)
}

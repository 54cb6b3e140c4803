//! A record on paper: its note with growth charts and the places of what stands out.
//! Takes a record and the examinations of the infant; gives a PDF. Leaves alone what stands in it (`note`, `growth_chart`) and how a
//! page is set (`pdf`).
//!
//! a draft is printed with DRAFT across every page

use crate::computed::serial::Examination;
use crate::export::chart::Chart;
use crate::export::growth_chart::growth_charts;
use crate::export::note::{Subject, note, standing_out};
use crate::export::pdf::{BodyMark, MarkKind, Paper, PdfError, Sheet, to_pdf};
use crate::record::Moment;

/// What is written in the file as its language.
const LANGUAGE: &str = "en-GB";

/// The PDF of a record. `made` is when it was signed, or when the draft was put in.
///
/// # Errors
/// If the library that writes it fails.
pub fn sheet(
    subject: &Subject<'_>,
    examinations: &[Examination],
    paper: Paper,
    made: Moment,
) -> Result<Vec<u8>, PdfError> {
    let charts: Vec<Chart> = growth_charts(examinations).into_iter().map(|(_, chart)| chart).collect();
    let marks: Vec<BodyMark> = standing_out(subject)
        .into_iter()
        .map(|(place, side, differs)| {
            let kind = if differs { MarkKind::Differs } else { MarkKind::Positive };
            BodyMark { place, side, kind }
        })
        .collect();
    to_pdf(&Sheet { note: &note(subject), charts: &charts, marks: &marks, paper, language: LANGUAGE, made })
}

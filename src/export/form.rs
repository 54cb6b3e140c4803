//! The forms in which a signed record leaves the program.
//! Takes a signed record and a form; gives the file's bytes. Leaves alone where they go.
//!
//! the form `markdown` gives a file that ends in `.md`

use thiserror::Error;

use crate::computed::serial::Examination;
use crate::export::Whole;
use crate::export::csv::to_csv;
use crate::export::fhir::{FhirError, to_fhir};
use crate::export::note::{Subject, note, to_markdown, to_text};
use crate::export::pdf::{Paper, PdfError};
use crate::export::sheet::sheet;

/// A form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A note as plain text.
    Note,
    /// A note as Markdown.
    Markdown,
    /// A note with chart and drawing, to print.
    Pdf,
    /// An HL7 FHIR R4 document.
    Fhir,
    /// Rows for research.
    Csv,
}

/// Why a record cannot be written in a form.
#[derive(Debug, Error)]
pub enum FormError {
    /// The table cannot be made.
    #[error("the table cannot be written: {0}")]
    Csv(#[from] csv::Error),
    /// The PDF cannot be made.
    #[error(transparent)]
    Pdf(#[from] PdfError),
    /// The document cannot be made.
    #[error("the document cannot be written: {0}")]
    Fhir(#[from] FhirError),
}

impl Form {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Note, Self::Markdown, Self::Pdf, Self::Fhir, Self::Csv];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Markdown => "markdown",
            Self::Pdf => "pdf",
            Self::Fhir => "fhir",
            Self::Csv => "csv",
        }
    }

    /// How the names of its files end.
    #[must_use]
    pub fn ending(self) -> &'static str {
        match self {
            Self::Note => "txt",
            Self::Markdown => "md",
            Self::Pdf => "pdf",
            Self::Fhir => "fhir.json",
            Self::Csv => "csv",
        }
    }

    /// Its media type.
    #[must_use]
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Note => "text/plain; charset=utf-8",
            Self::Markdown => "text/markdown; charset=utf-8",
            Self::Pdf => "application/pdf",
            Self::Fhir => "application/fhir+json",
            Self::Csv => "text/csv; charset=utf-8; header=present",
        }
    }

    /// A signed record in this form. The examinations of the infant up to this one, and the paper, matter to a PDF alone.
    ///
    /// # Errors
    /// If the library that writes it fails.
    pub fn of(self, whole: &Whole<'_>, examinations: &[Examination], paper: Paper) -> Result<Vec<u8>, FormError> {
        let note = || note(&Subject::from(whole));
        Ok(match self {
            Self::Note => to_text(&note()).into_bytes(),
            Self::Markdown => to_markdown(&note()).into_bytes(),
            Self::Csv => to_csv(&[*whole], None)?.into_bytes(),
            Self::Fhir => to_fhir(whole)?.into_bytes(),
            Self::Pdf => sheet(&Subject::from(whole), examinations, paper, whole.signed.at())?,
        })
    }
}

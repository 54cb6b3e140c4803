//! Signed records as exports take them.
//! Takes a record's id; gives its last signed version with its signature, remarks and what is reckoned from it. Leaves alone the forms
//! of exports (`export`).
//!
//! a record with decisions since it was signed is given as it was signed

use thiserror::Error;

use crate::computed::{Computed, computed};
use crate::export::Whole;
use crate::export::form::{Form, FormError};
use crate::export::note::Subject;
use crate::export::pdf::Paper;
use crate::export::sheet::sheet;
use crate::lexicon::Lexicon;
use crate::record::SignedRecord;
use crate::record::remarks::Remarks;
use crate::store::{Kept, Store, StoreError};

/// A signed record with everything that exports of it need.
#[derive(Debug)]
pub struct SignedWhole {
    id: String,
    signed: SignedRecord,
    sha256: String,
    remarks: Remarks,
    computed: Computed,
}

impl SignedWhole {
    /// As exports take it.
    #[must_use]
    pub fn whole<'a>(&'a self, lexicon: &'a Lexicon) -> Whole<'a> {
        Whole {
            id: &self.id,
            signed: &self.signed,
            sha256: &self.sha256,
            remarks: &self.remarks,
            computed: &self.computed,
            lexicon,
        }
    }
}

impl Store {
    /// The last signed version of a record, for exports.
    ///
    /// # Errors
    /// If it is not signed, or was altered.
    pub fn whole(&self, lexicon: &Lexicon, id: &str) -> Result<SignedWhole, StoreError> {
        let signed = self.signed(id, None)?;
        let kept = self.record(id)?;
        let last = kept.signatures.iter().find(|signature| signature.version == signed.version());
        let sha256 = last.ok_or_else(|| StoreError::NotSigned(id.to_owned()))?.sha256.clone();
        let computed = computed(lexicon, signed.review(), &kept.remarks);
        Ok(SignedWhole { id: kept.id, signed, sha256, remarks: kept.remarks, computed })
    }
}

/// Why a record is not exported.
#[derive(Debug, Error)]
pub enum NotExported {
    /// It cannot be had.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// It cannot be written.
    #[error(transparent)]
    Form(#[from] FormError),
}

impl Store {
    /// A record as a file: signed, or with `drafts` as a PDF that says on every page that it is a draft.
    ///
    /// # Errors
    /// If it is not signed and may not be a draft, was altered, or cannot be written.
    pub fn exported(
        &self,
        lexicon: &Lexicon,
        id: &str,
        (form, paper): (Form, Paper),
        drafts: bool,
    ) -> Result<Vec<u8>, NotExported> {
        match self.whole(lexicon, id) {
            Err(StoreError::NotSigned(_)) if drafts && form == Form::Pdf => {
                let kept = self.record(id)?;
                let computed = computed(lexicon, &kept.review, &kept.remarks);
                let subject = kept.as_draft(lexicon, &computed);
                let printed = sheet(&subject, &self.examinations(lexicon, id)?, paper, kept.at);
                Ok(printed.map_err(FormError::from)?)
            }
            whole => {
                let whole = whole?;
                // Only a chart has earlier examinations on it.
                let beside = if form == Form::Pdf { self.examinations(lexicon, id)? } else { Vec::new() };
                Ok(form.of(&whole.whole(lexicon), &beside, paper)?)
            }
        }
    }
}

impl Kept {
    /// A record that is not signed, to be printed as a draft.
    #[must_use]
    pub fn as_draft<'a>(&'a self, lexicon: &'a Lexicon, computed: &'a Computed) -> Subject<'a> {
        Subject { id: &self.id, review: &self.review, signed: None, remarks: &self.remarks, computed, lexicon }
    }
}

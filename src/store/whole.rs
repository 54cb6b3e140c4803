//! Signed records as exports take them.
//! Takes a record's id; gives its last signed version with its signature, remarks and what is reckoned from it. Leaves alone the forms
//! of exports (`export`).
//!
//! a record with decisions since it was signed is given as it was signed

use crate::computed::serial::Examination;
use crate::computed::{Computed, computed};
use crate::export::Whole;
use crate::export::note::Subject;
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
    examinations: Vec<Examination>,
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
            examinations: &self.examinations,
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
        let examinations = self.examinations(lexicon, id)?;
        Ok(SignedWhole { id: kept.id, signed, sha256, remarks: kept.remarks, computed, examinations })
    }
}

impl Kept {
    /// A record that is not signed, to be printed as a draft.
    #[must_use]
    pub fn as_draft<'a>(&'a self, lexicon: &'a Lexicon, computed: &'a Computed) -> Subject<'a> {
        Subject { id: &self.id, review: &self.review, signed: None, remarks: &self.remarks, computed, lexicon }
    }
}

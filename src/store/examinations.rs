//! The examinations of one infant, as the store has them.
//! Takes a record; gives the earlier signed records of the same infant and itself, oldest first, with what is reckoned from each.
//! Of a signed record what was signed counts, not what was decided since. Leaves alone which infant it is: somebody wrote that
//! (`remarks`), and nothing else makes two records one infant's.
//!
//! three records of "cot 7", the second not signed: the third stands beside the first

use crate::computed::by_tables;
use crate::computed::growth::Tables;
use crate::computed::held::held;
use crate::computed::serial::Examination;
use crate::lexicon::Lexicon;
use crate::record::remarks::Remarks;
use crate::record::{Moment, Review};
use crate::store::{Kept, Store, StoreError};

impl Kept {
    /// When the examination was: as somebody wrote, else the day on which the record was put in.
    #[must_use]
    pub fn when(&self) -> String {
        let put_in = || format!("put in on {}", self.at.day());
        self.remarks.examined().map_or_else(put_in, |remark| remark.words.replace('T', " "))
    }

    // For the order alone: ISO dates sort as text.
    fn sort_key(&self) -> (String, Moment) {
        (self.remarks.examined().map_or_else(|| self.at.day(), |remark| remark.words.clone()), self.at)
    }
}

impl Store {
    /// The earlier signed records of the same infant, and this record, oldest first; this record alone where no infant was named.
    ///
    /// # Errors
    /// If a record cannot be read.
    pub fn examinations(&self, lexicon: &Lexicon, id: &str) -> Result<Vec<Examination>, StoreError> {
        let this = self.record(id)?;
        let infant = this.remarks.infant().map(|remark| remark.words.clone());
        let mut others = Vec::new();
        for other in infant.map(|infant| self.of_infant(&infant)).transpose()?.unwrap_or_default() {
            let kept = if other == id { continue } else { self.record(&other)? };
            if !kept.signatures.is_empty() && kept.sort_key() < this.sort_key() {
                others.push(kept);
            }
        }
        others.sort_by_key(Kept::sort_key);
        others.push(this);
        others.iter().map(|kept| self.examination(lexicon, kept)).collect()
    }

    fn examination(&self, lexicon: &Lexicon, kept: &Kept) -> Result<Examination, StoreError> {
        let signed = if kept.signatures.is_empty() { None } else { Some(self.signed(&kept.id, None)?) };
        let review: &Review = signed.as_ref().map_or(&kept.review, |signed| signed.review());
        // What was put aside is no matter here.
        let held = held(lexicon, review);
        let computed = by_tables(lexicon, Tables::built_in(), &held, &Remarks::default());
        Ok(Examination { id: kept.id.clone(), when: kept.when(), held, computed })
    }
}

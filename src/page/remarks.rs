//! What is said on the page of a record that is no finding: whose it is, when the examination was, why a prompt is put aside.
//! Takes JSON with who says it; hands it to the store, and gives the record as it is then. Leaves alone what a remark may be
//! (`record::remarks`).
//!
//! `{"by": {"name": "A. Examiner", "role": "registrar"}, "infant": "cot 7", "examined": "2026-11-29"}`

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use serde::Deserialize;

use crate::page::Desk;
use crate::page::decisions::{Body, By, understood};
use crate::page::error::PageError;
use crate::page::records::{checked, shown};
use crate::page::shown::RecordShown;
use crate::record::remarks::{About, NoRemark, Remark};
use crate::record::{Moment, Person};
use crate::store::now;

/// What is said; what is left out stays as it is.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sent {
    by: By,
    infant: Option<String>,
    examined: Option<String>,
    put_aside: Option<Aside>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Aside {
    prompt: String,
    reason: String,
}

impl Sent {
    fn remarks(&self, at: Moment) -> Result<Vec<Remark>, PageError> {
        let by = Person::new(&self.by.name, &self.by.role)?;
        let said = [(About::Infant, "", self.infant.as_deref()), (About::Examined, "", self.examined.as_deref())];
        let aside =
            self.put_aside.as_ref().map(|aside| (About::Prompt, aside.prompt.as_str(), Some(aside.reason.as_str())));
        let said = said.into_iter().chain(aside).filter_map(|(about, prompt, words)| Some((about, prompt, words?)));
        let remarks = said.map(|(about, prompt, words)| Remark::new(about, prompt, words, &by, at));
        remarks.collect::<Result<_, NoRemark>>().map_err(|error| PageError::Store(error.into()))
    }
}

/// Takes in what is said: all of it, or nothing.
pub(super) async fn remark(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    body: Body,
) -> Result<Json<RecordShown>, PageError> {
    let (id, sent) = (checked(id)?, understood::<Sent>(body)?);
    let remarks = sent.remarks(now())?;
    desk.with_store(move |desk, store| {
        store.remark(&id, &remarks)?;
        Ok(Json(shown(&desk.lexicon, store, &id)?))
    })
    .await
}

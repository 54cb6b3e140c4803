//! A signed record as a file, and a draft to be printed.
//! Takes a record and a form; gives the file, for saving. What is not signed is given as a PDF that says on every page that it is a
//! draft, and in no other form. Leaves alone what the forms hold (`export`).
//!
//! `GET /api/records/018b…/export?as=fhir`

use std::sync::Arc;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use crate::export::form::Form;
use crate::page::Desk;
use crate::page::error::PageError;
use crate::page::records::checked;

/// Which form.
#[derive(Debug, Deserialize)]
pub(super) struct Wanted {
    #[serde(rename = "as")]
    form: String,
}

/// The file.
pub(super) async fn export(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Response, PageError> {
    let id = checked(id)?;
    let Query(wanted) = wanted.map_err(|error| PageError::NotUnderstood(error.body_text()))?;
    let form = Form::ALL.into_iter().find(|form| form.name() == wanted.form);
    let form = form
        .ok_or_else(|| PageError::NotUnderstood("the form is none of note, markdown, pdf, fhir and csv".to_owned()))?;
    let bytes = desk.with_store({
        let id = id.clone();
        move |desk, store| {
            let whole = store.whole(&desk.lexicon, &id)?;
            form.of(&whole.whole(&desk.lexicon)).map_err(|error| PageError::NotWritten(error.to_string()))
        }
    });
    let name = format!("attachment; filename=\"{id}.{}\"", form.ending());
    Ok(([(CONTENT_TYPE, form.media_type().to_owned()), (CONTENT_DISPOSITION, name)], bytes.await?).into_response())
}

//! A signed record as a file, a draft to be printed, and growth charts.
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

use crate::computed::growth::Measure;
use crate::export::form::Form;
use crate::export::growth_chart::growth_charts;
use crate::export::pdf::Paper;
use crate::export::svg::to_svg;
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
    let Query(wanted) = wanted?;
    let form = Form::ALL.into_iter().find(|form| form.name() == wanted.form);
    let form = form
        .ok_or_else(|| PageError::NotUnderstood("the form is none of note, markdown, pdf, fhir and csv".to_owned()))?;
    let bytes = desk.with_store({
        let id = id.clone();
        move |desk, store| Ok(store.exported(&desk.lexicon, &id, (form, Paper::A4), true)?)
    });
    let name = format!("attachment; filename=\"{id}.{}\"", form.ending());
    Ok(([(CONTENT_TYPE, form.media_type().to_owned()), (CONTENT_DISPOSITION, name)], bytes.await?).into_response())
}

/// Which chart.
#[derive(Debug, Deserialize)]
pub(super) struct WantedChart {
    measure: String,
}

/// A growth chart, with earlier measurements of the same infant.
pub(super) async fn chart(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    wanted: Result<Query<WantedChart>, QueryRejection>,
) -> Result<Response, PageError> {
    let id = checked(id)?;
    let Query(wanted) = wanted?;
    let measure = Measure::ALL.into_iter().find(|measure| measure.name() == wanted.measure);
    let measure = measure.ok_or(PageError::NoChart)?;
    let svg = desk.with_store(move |desk, store| {
        let charts = growth_charts(&store.examinations(&desk.lexicon, &id)?);
        let chart = charts.into_iter().find(|(known, _)| *known == measure).ok_or(PageError::NoChart)?;
        Ok(to_svg(&chart.1.drawing))
    });
    Ok(([(CONTENT_TYPE, "image/svg+xml")], svg.await?).into_response())
}

//! The signed records of one infant, side by side.
//! Takes a record; gives JSON: earlier signed records of the same infant beside it, as they stand. Leaves alone how they are
//! lined up (`computed::serial`), and which infant it is: somebody wrote that.
//!
//! `GET /api/records/018b…/serial` of a record of no known infant gives no examinations

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};

use crate::computed::serial::serial as lined_up;
use crate::export::computed_json::SerialJson;
use crate::page::Desk;
use crate::page::error::PageError;
use crate::page::records::checked;

/// The records of the same infant up to this one.
pub(super) async fn serial(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
) -> Result<Json<SerialJson>, PageError> {
    let id = checked(id)?;
    desk.with_store(move |desk, store| {
        let examinations = store.examinations(&desk.lexicon, &id)?;
        Ok(Json(SerialJson::of(lined_up(&examinations))))
    })
    .await
}

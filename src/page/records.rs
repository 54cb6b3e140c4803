//! Records: a page of the list, and one whole.
//! Takes what is looked for, or an id; gives JSON. Leaves alone what of a record is shown (`shown`), and decisions.
//!
//! `GET /api/records?search=39+2wk&state=draft&page=1`

use std::sync::Arc;

use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};

use crate::lexicon::Lexicon;
use crate::page::Desk;
use crate::page::error::PageError;
use crate::page::shown::{ListedShown, RecordShown};
use crate::store::{self, Store};

/// Records on a page of the list.
const ON_A_PAGE: u32 = 20;
/// Words of a search that are looked at: more are typed by nobody.
const MOST_WORDS: usize = 10;

/// What is looked for.
#[derive(Debug, Deserialize)]
pub(super) struct Wanted {
    #[serde(default)]
    search: String,
    #[serde(default)]
    state: String,
    page: Option<u32>,
}

#[derive(Serialize)]
pub(super) struct ListShown {
    records: Vec<ListedShown>,
    page: u32,
    pages: u64,
    total: u64,
}

/// A page of the records that were kept.
pub(super) async fn list(
    State(desk): State<Arc<Desk>>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Json<ListShown>, PageError> {
    let Query(wanted) = wanted?;
    let page = wanted.page.unwrap_or(1).max(1);
    let query = query(&wanted, page)?;
    desk.with_store(move |desk, store| {
        let found = store.list(&query)?;
        let records = found.records.iter().map(|listed| ListedShown::of(&desk.lexicon, listed)).collect();
        let pages = found.found.div_ceil(ON_A_PAGE.into()).max(1);
        Ok(Json(ListShown { records, page, pages, total: found.found }))
    })
    .await
}

fn query(wanted: &Wanted, page: u32) -> Result<store::Query, PageError> {
    let state = store::State::ALL.into_iter().find(|state| state.name() == wanted.state);
    if state.is_none() && !matches!(wanted.state.as_str(), "" | "all") {
        return Err(PageError::NotUnderstood("the state is none of draft, in-review, signed and amended".to_owned()));
    }
    let words = wanted.search.split_whitespace().take(MOST_WORDS).map(str::to_owned).collect();
    let from = (page - 1).saturating_mul(ON_A_PAGE);
    Ok(store::Query { words, state, from, most: ON_A_PAGE })
}

/// One record.
pub(super) async fn record(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
) -> Result<Json<RecordShown>, PageError> {
    let id = checked(id)?;
    desk.with_store(move |desk, store| Ok(Json(shown(&desk.lexicon, store, &id)?))).await
}

/// A record as the store has it now.
pub(super) fn shown(lexicon: &Lexicon, store: &Store, id: &str) -> Result<RecordShown, PageError> {
    Ok(RecordShown::of(lexicon, &store.record(id)?))
}

/// An id, if it can be one: nothing else reaches the store, or a file.
pub(super) fn checked(id: String) -> Result<String, PageError> {
    let can_be =
        !id.is_empty() && id.len() <= 64 && id.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f' | b'-'));
    if can_be { Ok(id) } else { Err(PageError::NotFound) }
}

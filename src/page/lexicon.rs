//! What can be found, for the fields of the page; and who the page is opened for.
//! Takes the lexicon; gives its items with their values, units and limits as JSON. Leaves alone how anything is said
//! (`misheard` adds to that).
//!
//! `{"id": "…", "paired": true, "values": [{"id": "to-midline", "words": "to midline"}], "unit": null, …}`

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::Serialize;

use crate::export::words::plain_value;
use crate::lexicon::quantities::Decimal;
use crate::lexicon::{Item, Lexicon};
use crate::page::Desk;
use crate::record::Figures;

#[derive(Serialize)]
pub(super) struct Items {
    items: Vec<ItemShown>,
    regions: Vec<String>,
}

#[derive(Serialize)]
struct ItemShown {
    id: String,
    name: String,
    region: String,
    paired: bool,
    values: Vec<ValueShown>,
    unit: Option<&'static str>,
    units: Vec<&'static str>,
    plausible: Option<[f64; 2]>,
    keeps_all: bool,
}

#[derive(Serialize)]
struct ValueShown {
    id: String,
    words: String,
}

#[derive(Serialize)]
pub(super) struct Session {
    program: &'static str,
    by: Option<ByShown>,
    own_lexicon: bool,
}

#[derive(Serialize)]
struct ByShown {
    name: String,
    role: String,
}

/// Every item that can be found; groups are not among them.
pub(super) async fn lexicon(State(desk): State<Arc<Desk>>) -> Json<Items> {
    Json(Items::of(&desk.lexicon))
}

/// Who the page is opened for, and whether what was misheard can be kept.
pub(super) async fn session(State(desk): State<Arc<Desk>>) -> Json<Session> {
    let by = desk.by.as_ref().map(|by| ByShown { name: by.name().to_owned(), role: by.role().to_owned() });
    Json(Session {
        program: concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")),
        by,
        own_lexicon: desk.own_lexicon.is_some(),
    })
}

impl Items {
    fn of(lexicon: &Lexicon) -> Self {
        let items: Vec<ItemShown> =
            lexicon.items.iter().filter(|item| item.members.is_empty()).map(ItemShown::of).collect();
        Self { items, regions: lexicon.regions() }
    }
}

impl ItemShown {
    fn of(item: &Item) -> Self {
        let measure = item.measure.as_ref();
        let units: Vec<&'static str> =
            measure.iter().flat_map(|measure| &measure.units).filter_map(|unit| unit.written()).collect();
        let values = item.values.iter().map(|value| ValueShown {
            id: value.id.clone(),
            words: plain_value(&value.id, Figures::parse(&value.id).as_ref()),
        });
        Self {
            id: item.id.clone(),
            name: item.name.clone(),
            region: item.region.clone(),
            paired: item.paired,
            values: values.collect(),
            unit: units.first().copied(),
            units,
            plausible: measure
                .and_then(|measure| measure.plausible)
                .and_then(|(least, most)| Some([number(least)?, number(most)?])),
            keeps_all: item.keeps_all,
        }
    }
}

// Limits are only shown; nothing is reckoned with them.
fn number(decimal: Decimal) -> Option<f64> {
    decimal.to_string().parse().ok()
}

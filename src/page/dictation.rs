//! Dictation, as far as the page asks for it: whether it can be had, what is kept of the sound, what was left unfinished.
//! Takes requests; gives JSON, and deletes a recording that nobody wants. Leaves alone the dictation itself (`dictating`).
//!
//! `GET /api/dictation` gives `{"available": true, "attention": "notebook", "unfinished": [], …}`

use std::fmt;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::lexicon::{Command, ExamSet, Lexicon};
use crate::live::Crew;
use crate::page::Desk;
use crate::page::decisions::{Body, understood};
use crate::page::error::{PageError, sentence};
use crate::page::records::checked;
use crate::store::{KeepSound, Unfinished, now};

/// Loads recognisers. An error is a sentence for whoever wanted to begin.
pub type Load = Box<dyn Fn(&Lexicon) -> Result<Crew, String> + Send + Sync>;

/// Says why they could not be loaded, without loading them.
pub type Check = Box<dyn Fn() -> Result<(), String> + Send + Sync>;

/// What a dictation on the page is made with.
pub struct Dictation {
    /// Asked when a dictation begins.
    pub crew: Load,
    /// Asked when somebody may want to begin one.
    pub check: Check,
}

impl fmt::Debug for Dictation {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Dictation")
    }
}

#[derive(Serialize)]
pub(super) struct Known {
    available: bool,
    why: Option<String>,
    attention: String,
    orders: Vec<OrderShown>,
    sets: Vec<SetShown>,
    policy: &'static str,
    chosen: bool,
    unfinished: Vec<UnfinishedShown>,
    running: Option<RunningShown>,
}

#[derive(Serialize)]
struct OrderShown {
    name: &'static str,
    phrase: String,
}

#[derive(Serialize)]
struct SetShown {
    name: String,
    title: String,
    items: usize,
}

#[derive(Serialize)]
struct UnfinishedShown {
    id: String,
    began: i64,
    length_ms: u64,
}

/// A dictation that is under way; its id goes to a page only while no other page holds it.
#[derive(Serialize)]
struct RunningShown {
    id: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    policy: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Dropped {
    id: String,
}

/// What the page must know before a dictation.
pub(super) async fn known(State(desk): State<Arc<Desk>>) -> Result<Json<Known>, PageError> {
    desk.with_store(|desk, store| {
        let (policy, chosen) = (store.keep_sound()?.name(), store.keep_sound_was_chosen()?);
        let unfinished = store.unfinished()?.into_iter().map(UnfinishedShown::of).collect();
        let why = desk.dictation().and_then(|dictation| (dictation.check)()).err().map(|why| sentence(&why));
        let running = desk.place.running().map(|running| RunningShown { id: running.id_of_the_lost() });
        let lexicon = &desk.lexicon;
        Ok(Json(Known {
            available: why.is_none(),
            why,
            attention: lexicon.attention().to_owned(),
            orders: Command::ALL.into_iter().map(|command| OrderShown::of(lexicon, command)).collect(),
            sets: lexicon.sets().iter().map(SetShown::of).collect(),
            policy,
            chosen,
            unfinished,
            running,
        }))
    })
    .await
}

/// Sets how long sound is kept.
pub(super) async fn keep_sound(State(desk): State<Arc<Desk>>, body: Body) -> Result<Json<()>, PageError> {
    let Kept { policy } = understood(body)?;
    let policy: KeepSound = policy.parse().map_err(PageError::NotUnderstood)?;
    desk.with_store(move |_, store| Ok(Json(store.set_keep_sound(policy, now())?))).await
}

/// Deletes a recording that was not ended, for good.
pub(super) async fn drop_unfinished(State(desk): State<Arc<Desk>>, body: Body) -> Result<Json<()>, PageError> {
    let Dropped { id } = understood(body)?;
    let id = checked(id)?;
    desk.with_store(move |_, store| {
        let taking = store.take_up(&id)?;
        Ok(Json(store.drop_taking(taking)?))
    })
    .await
}

impl OrderShown {
    fn of(lexicon: &Lexicon, command: Command) -> Self {
        Self { name: command.name(), phrase: lexicon.order_words(command) }
    }
}

impl SetShown {
    fn of(set: &ExamSet) -> Self {
        Self { name: set.name.clone(), title: set.title.clone(), items: set.items.len() }
    }
}

impl UnfinishedShown {
    fn of(unfinished: Unfinished) -> Self {
        Self { id: unfinished.id, began: unfinished.began.0, length_ms: unfinished.length_ms }
    }
}

//! A dictation that is under way, and the page that holds it.
//! Takes sound and orders of a WebSocket; hands them to the dictation, and tells the page what comes of it. A page that goes
//! away is waited for: its sound is on the disk already. Leaves alone what is understood (`live`) and how it is told (`told`).
//!
//! `{"order": "begin", "set": "full"}`, blocks of sound, `{"order": "end"}`; at the end `{"kind": "record", "id": "…"}`

use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use axum::extract::State;
use axum::extract::ws::rejection::WebSocketUpgradeRejection;
use axum::extract::ws::{Message, WebSocket, WebSocketUpgrade};
use axum::response::Response;
use serde::Deserialize;
use serde_json::{Value, json};
use tokio::sync::{Notify, mpsc, watch};

use crate::audio;
use crate::live::{Ended, Event, LiveError, Order, Session, recover};
use crate::page::error::{PageError, sentence};
use crate::page::told::{self, Told};
use crate::page::{Desk, MOST_SENT};
use crate::store::{Taking, now};

/// How long a page that went away is waited for.
const AWAY: Duration = Duration::from_secs(30);
/// How long it may take to say what it wants.
const FIRST: Duration = Duration::from_secs(10);
/// Messages that may wait for a page; one that takes none is better told all of it anew.
const MOST_WAITING: usize = 512;

/// What a page orders first, and later.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, tag = "order", rename_all = "kebab-case")]
enum Ordered {
    Begin { set: String },
    Recover { id: String },
    Rejoin { id: String },
    TakeBack,
    Left,
    Mark,
    Pause,
    Resume,
    SpeakingBegins,
    SpeakingEnds,
    Set { set: String },
    Away { ms: u64 },
    End,
}

/// The one place for a dictation.
#[derive(Default)]
pub(super) struct Place(Mutex<Option<Arc<Running>>>);

/// A dictation, from its first order until it is a record or was left.
pub(super) struct Running {
    id: OnceLock<String>,
    session: Mutex<Option<Session<Taking>>>,
    /// Blocks of sound that came in.
    heard: AtomicU64,
    page: Mutex<Page>,
    seated: watch::Sender<bool>,
    ending: Notify,
}

/// The page that holds it, and what one that comes back must be told.
#[derive(Default, Debug)]
struct Page {
    told: Told,
    seat: u64,
    to_page: Option<mpsc::Sender<String>>,
    /// What it came to.
    over: Option<Value>,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // What is held is whole after each change: after a panic it is as good as before.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl fmt::Debug for Place {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Place")
    }
}

impl Place {
    /// The dictation that is under way.
    pub(super) fn running(&self) -> Option<Arc<Running>> {
        held(&self.0).clone().filter(|running| !running.is_over())
    }

    fn of(&self, id: &str) -> Option<Arc<Running>> {
        held(&self.0).clone().filter(|running| running.id.get().is_some_and(|known| known == id))
    }

    /// Takes the place, if it is free.
    fn take(&self) -> Result<Arc<Running>, String> {
        let mut place = held(&self.0);
        if place.as_ref().is_some_and(|running| !running.is_over()) {
            return Err("a dictation is under way in another tab or window; there can be one at a time".to_owned());
        }
        let running = Arc::new(Running::new());
        *place = Some(Arc::clone(&running));
        Ok(running)
    }

    /// Leaves the dictation that is under way, so that it can be recovered.
    pub(super) fn leave(&self) {
        if let Some(session) = self.running().and_then(|running| running.take_session()) {
            session.leave();
        }
    }
}

impl Running {
    fn new() -> Self {
        Self {
            id: OnceLock::new(),
            session: Mutex::default(),
            heard: AtomicU64::new(0),
            page: Mutex::default(),
            seated: watch::Sender::new(true),
            ending: Notify::new(),
        }
    }

    fn is_over(&self) -> bool {
        held(&self.page).over.is_some()
    }

    /// Its id, if the page that held it is gone.
    pub(super) fn id_of_the_lost(&self) -> Option<String> {
        let seated = *self.seated.borrow();
        self.id.get().filter(|_| !seated).cloned()
    }

    fn take_session(&self) -> Option<Session<Taking>> {
        held(&self.session).take()
    }

    fn tell(&self, event: &Event) {
        held(&self.page).tell(told::message(event));
        if matches!(event, Event::EndAsked) {
            self.ending.notify_one();
        }
    }

    /// Ends it with what it came to.
    fn close(&self, over: Value) {
        let mut page = held(&self.page);
        page.tell(over.clone());
        page.over = Some(over);
        page.to_page = None;
    }

    fn hear(&self, bytes: &[u8]) {
        let samples: Vec<i16> = audio::samples_of(bytes).collect();
        self.heard.fetch_add(1, Ordering::Relaxed);
        if let Some(session) = held(&self.session).as_ref() {
            session.hear(&samples);
        }
    }

    fn obey(&self, text: &str) {
        let order = match serde_json::from_str(text) {
            Ok(Ordered::End) => return self.tell(&Event::EndAsked),
            Ok(Ordered::TakeBack) => Order::TakeBack,
            Ok(Ordered::Left) => Order::WhatIsLeft,
            Ok(Ordered::Mark) => Order::Mark,
            Ok(Ordered::Pause) => Order::Pause,
            Ok(Ordered::Resume) => Order::Resume,
            Ok(Ordered::SpeakingBegins) => Order::SpeakingBegins,
            Ok(Ordered::SpeakingEnds) => Order::SpeakingEnds,
            Ok(Ordered::Set { set }) => Order::Set(set),
            Ok(Ordered::Away { ms }) => Order::Away(ms),
            Ok(Ordered::Begin { .. } | Ordered::Recover { .. } | Ordered::Rejoin { .. }) | Err(_) => {
                let words = "The page sent an order that is none; load the page again.".to_owned();
                return self.tell(&Event::Trouble(words));
            }
        };
        if let Some(session) = held(&self.session).as_ref() {
            session.order(order);
        }
    }

    /// Seats a page; one that sat there must go. What it has to know comes first.
    fn seat(&self) -> (u64, mpsc::Receiver<String>) {
        let (to_page, told) = mpsc::channel(MOST_WAITING);
        let mut page = held(&self.page);
        page.seat += 1;
        page.to_page = Some(to_page);
        let heard = self.heard.load(Ordering::Relaxed);
        let kept_ms = page.told.kept_ms();
        page.hand(&json!({ "kind": "ready", "id": self.id.get(), "heard": heard, "kept_ms": kept_ms }));
        for message in page.told.again() {
            page.hand(&message);
        }
        if let Some(over) = page.over.clone() {
            page.hand(&over);
            page.to_page = None;
        }
        self.seated.send_replace(true);
        (page.seat, told)
    }

    fn unseat(&self, seat: u64) {
        let mut page = held(&self.page);
        if page.seat == seat {
            page.to_page = None;
            self.seated.send_replace(false);
        }
    }
}

impl Page {
    fn tell(&mut self, message: Value) {
        self.hand(&message);
        self.told.remember(message);
    }

    fn hand(&mut self, message: &Value) {
        // Who takes nothing any more comes back, and is told all that stands then.
        if self.to_page.as_ref().is_some_and(|page| page.try_send(message.to_string()).is_err()) {
            self.to_page = None;
        }
    }
}

/// The line between a page and a dictation.
pub(super) async fn line(
    State(desk): State<Arc<Desk>>,
    upgrade: Result<WebSocketUpgrade, WebSocketUpgradeRejection>,
) -> Result<Response, PageError> {
    let upgrade = upgrade.map_err(|error| PageError::NotUnderstood(error.body_text()))?;
    let upgrade = upgrade.max_message_size(MOST_SENT).max_frame_size(MOST_SENT);
    Ok(upgrade.on_upgrade(move |socket| answer(desk, socket)))
}

async fn answer(desk: Arc<Desk>, mut socket: WebSocket) {
    let first = tokio::time::timeout(FIRST, socket.recv()).await;
    let Ok(Some(Ok(Message::Text(first)))) = first else { return };
    let running = match serde_json::from_str(&first) {
        Ok(Ordered::Begin { set }) => begin(&desk, set).await,
        Ok(Ordered::Recover { id }) => begin_again(&desk, id),
        Ok(Ordered::Rejoin { id }) => {
            desk.place.of(&id).ok_or_else(|| "this dictation is not under way any more".to_owned())
        }
        _ => Err("the page must say first what it wants; load the page again".to_owned()),
    };
    match running {
        Ok(running) => attend(&running, socket).await,
        Err(words) => {
            let refused = json!({ "kind": "refused", "words": sentence(&words) });
            // A page that is gone needs no answer.
            let _ = socket.send(Message::Text(refused.to_string().into())).await;
        }
    }
}

async fn attend(running: &Running, mut socket: WebSocket) {
    let (seat, mut told) = running.seat();
    loop {
        tokio::select! {
            sent = socket.recv() => match sent {
                Some(Ok(Message::Binary(bytes))) => running.hear(&bytes),
                Some(Ok(Message::Text(text))) => running.obey(&text),
                Some(Ok(Message::Ping(_) | Message::Pong(_))) => {}
                Some(Ok(Message::Close(_)) | Err(_)) | None => break,
            },
            message = told.recv() => {
                let Some(message) = message else { break };
                if socket.send(Message::Text(message.into())).await.is_err() {
                    break;
                }
            }
        }
    }
    running.unseat(seat);
}

async fn begin(desk: &Arc<Desk>, set: String) -> Result<Arc<Running>, String> {
    let running = desk.place.take()?;
    let begun = Arc::clone(&running);
    let prepared = desk.apart(move |desk| {
        let crew = desk.crew()?;
        let taking = desk.store().begin_taking(now())?;
        let _ = begun.id.set(taking.id().to_owned());
        let teller = Arc::clone(&begun);
        let session = Session::begin(Arc::clone(&desk.lexicon), crew, taking, &set, move |event| teller.tell(&event));
        *held(&begun.session) = Some(session);
        Ok(())
    });
    match prepared.await {
        Ok(()) => {
            tokio::spawn(watch_over(Arc::clone(desk), Arc::clone(&running)));
            Ok(running)
        }
        Err(error) => {
            running.close(Value::Null);
            Err(error.to_string())
        }
    }
}

/// Makes the draft of a recording that was not ended.
fn begin_again(desk: &Arc<Desk>, id: String) -> Result<Arc<Running>, String> {
    let running = desk.place.take()?;
    let _ = running.id.set(id.clone());
    running.tell(&Event::EndAsked);
    let (desk, recovered) = (Arc::clone(desk), Arc::clone(&running));
    tokio::spawn(async move {
        let teller = Arc::clone(&recovered);
        let work = move |desk: &Desk| {
            let mut crew = desk.crew()?;
            let taking = desk.store().take_up(&id)?;
            let ended = recover(&desk.lexicon, &mut crew, taking, &|event| teller.tell(&event));
            keep(desk, ended)
        };
        recovered.close(outcome(desk.apart(work).await));
    });
    Ok(running)
}

/// Ends a dictation when that is ordered, and leaves it when its page does not come back.
async fn watch_over(desk: Arc<Desk>, running: Arc<Running>) {
    let mut seated = running.seated.subscribe();
    let is_ended = loop {
        let away = !*seated.borrow_and_update();
        tokio::select! {
            () = running.ending.notified() => break true,
            changed = seated.changed() => if changed.is_err() { break false },
            () = tokio::time::sleep(AWAY), if away => break false,
        }
    };
    let Some(session) = running.take_session() else { return };
    let over = if is_ended {
        outcome(desk.apart(move |desk| keep(desk, session.end())).await)
    } else {
        // What it was busy with is waited for elsewhere; the recording is there at once.
        let left = desk.apart(move |_| {
            session.leave();
            Ok(())
        });
        // It is left, whatever broke off on the way.
        let _ = left.await;
        let words = "The page was away for too long, and the dictation was left. Its recording stands among those that were \
                     not ended: make a draft of it.";
        json!({ "kind": "left", "words": words })
    };
    running.close(over);
}

fn keep(desk: &Desk, ended: Result<Ended<Taking>, LiveError>) -> Result<String, PageError> {
    let there = |error: &dyn fmt::Display| {
        PageError::Dictation(format!("{error}; the recording is on the disk, among those that were not ended"))
    };
    let ended = ended.map_err(|error| there(&error))?;
    desk.store().keep_taking(&ended.draft, ended.keep, now()).map_err(|error| there(&error))
}

fn outcome(kept: Result<String, PageError>) -> Value {
    match kept {
        Ok(id) => json!({ "kind": "record", "id": id }),
        Err(error) => json!({ "kind": "left", "words": sentence(&error.to_string()) }),
    }
}

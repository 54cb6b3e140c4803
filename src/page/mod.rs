//! The page: dictation, and review: records listed, looked through beside their words and sound, decided and signed in a browser.
//! Takes a store, a lexicon and requests of this machine; gives what the page shows, and hands what is decided to the store.
//! The only place that knows HTTP. Leaves alone what a decision means (`record`) and how it is kept (`store`). Nothing is
//! sent anywhere, nothing is logged.
//! Files, in reading order: `guard` `secret` `records` `shown` `finding` `words` `decisions` `remarks` `serial` `export` `sound` `lexicon` `misheard`
//! `dictation` `dictating` `told` `assets` `error`.
//!
//! `spoken-exam review` prints an address; whoever opens it on this machine may decide and sign

mod assets;
mod decisions;
mod dictating;
mod dictation;
mod error;
mod export;
mod finding;
mod guard;
mod lexicon;
mod misheard;
mod records;
mod remarks;
mod secret;
mod serial;
mod shown;
mod sound;
mod told;
mod words;

use std::net::{Ipv4Addr, TcpListener};
use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post};
use tokio::sync::Notify;

use crate::lexicon::Lexicon;
use crate::live::Crew;
use crate::record::Person;
use crate::store::Store;

use dictating::Place;
pub use dictation::{Check, Dictation, Load};
pub use error::CannotServe;
use error::PageError;
use guard::Guard;
use sound::Sounds;

/// How long requests that are being answered are waited for when the program is stopped.
const PATIENCE: Duration = Duration::from_secs(1);

/// Bytes that may be sent at once: some hundreds of decisions.
const MOST_SENT: usize = 64 * 1024;

/// Everything that the page works with.
#[derive(Debug)]
pub struct Desk {
    store: Mutex<Store>,
    lexicon: Arc<Lexicon>,
    own_lexicon: Option<PathBuf>,
    by: Option<Person>,
    guard: Guard,
    sounds: Sounds,
    /// Held by who writes into the user's own lexicon.
    writing: Mutex<()>,
    dictation: Option<Dictation>,
    place: Place,
}

impl Desk {
    /// For a server on this port, with new secrets.
    ///
    /// # Errors
    /// If the system gives no random numbers.
    pub fn new(store: Store, lexicon: impl Into<Arc<Lexicon>>, port: u16) -> Result<Self, CannotServe> {
        Ok(Self {
            store: Mutex::new(store),
            lexicon: lexicon.into(),
            own_lexicon: None,
            by: None,
            guard: Guard::new(port)?,
            sounds: Sounds::default(),
            writing: Mutex::new(()),
            dictation: None,
            place: Place::default(),
        })
    }

    /// With the folder of phrases that is laid over the built-in ones, to which what was misheard may be added.
    #[must_use]
    pub fn with_own_lexicon(self, folder: Option<PathBuf>) -> Self {
        Self { own_lexicon: folder, ..self }
    }

    /// With who is going to decide; they can still name somebody else on the page.
    #[must_use]
    pub fn with_reviewer(self, by: Option<Person>) -> Self {
        Self { by, ..self }
    }

    /// With what a dictation needs; without it there is none.
    #[must_use]
    pub fn with_dictation(self, dictation: Dictation) -> Self {
        Self { dictation: Some(dictation), ..self }
    }

    fn dictation(&self) -> Result<&Dictation, String> {
        let none = || "this page was opened without dictation; `spoken-exam review` opens one with it".to_owned();
        self.dictation.as_ref().ok_or_else(none)
    }

    fn crew(&self) -> Result<Crew, PageError> {
        let crew = self.dictation().and_then(|dictation| (dictation.crew)(&self.lexicon));
        crew.map_err(PageError::Dictation)
    }

    /// The store, for as long as it is held.
    fn store(&self) -> MutexGuard<'_, Store> {
        // What the store does is whole or not at all: after a panic it is as good as before.
        self.store.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The address that opens the page. It holds a secret.
    #[must_use]
    pub fn address(&self) -> String {
        self.guard.address()
    }

    /// Does some work with the store where it may take its time.
    async fn with_store<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self, &mut Store) -> Result<T, PageError> + Send + 'static,
    ) -> Result<T, PageError> {
        let desk = Arc::clone(self);
        desk.apart(move |desk| work(desk, &mut desk.store())).await
    }

    /// Does some work apart from the answering of requests.
    async fn apart<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&Self) -> Result<T, PageError> + Send + 'static,
    ) -> Result<T, PageError> {
        let desk = Arc::clone(self);
        tokio::task::spawn_blocking(move || work(&desk)).await.unwrap_or(Err(PageError::BrokenOff))
    }
}

/// The page with everything behind it.
pub fn app(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(assets::index))
        .route("/open/{secret}", get(guard::open))
        .route("/assets/{name}", get(assets::asset))
        .route("/api/lexicon", get(lexicon::lexicon))
        .route("/api/session", get(lexicon::session))
        .route("/api/records", get(records::list))
        .route("/api/records/{id}", get(records::record))
        .route("/api/records/{id}/decide", post(decisions::decide))
        .route("/api/records/{id}/confirm-clear", post(decisions::confirm_clear))
        .route("/api/records/{id}/sign", post(decisions::sign))
        .route("/api/records/{id}/amend", post(decisions::amend))
        .route("/api/records/{id}/remark", post(remarks::remark))
        .route("/api/records/{id}/serial", get(serial::serial))
        .route("/api/records/{id}/export", get(export::export))
        .route("/api/records/{id}/chart", get(export::chart))
        .route("/api/records/{id}/sound", get(sound::sound))
        .route("/api/misheard/preview", post(misheard::preview))
        .route("/api/misheard", post(misheard::write))
        .route("/api/dictation", get(dictation::known))
        .route("/api/dictation/keep-sound", post(dictation::keep_sound))
        .route("/api/dictation/drop", post(dictation::drop_unfinished))
        .route("/api/dictation/live", get(dictating::line))
        .fallback(guard::nothing_here)
        .layer(DefaultBodyLimit::max(MOST_SENT))
        .layer(from_fn_with_state(Arc::clone(&desk), guard::guard))
        .with_state(desk)
}

/// Listens on the loopback address; 0 lets the system choose the port.
///
/// # Errors
/// If the port is not to be had.
pub fn listen(port: u16) -> Result<(TcpListener, u16), CannotServe> {
    let no_port = |source| CannotServe::NoPort { port, source };
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(no_port)?;
    let chosen = listener.local_addr().map_err(no_port)?.port();
    listener.set_nonblocking(true).map_err(no_port)?;
    Ok((listener, chosen))
}

/// Ends a server.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<Notify>);

impl Stop {
    /// Lets it end what it is doing, and then itself.
    pub fn now(&self) {
        self.0.notify_one();
    }
}

/// Answers requests until it is stopped.
///
/// # Errors
/// If the system fails.
pub fn serve(listener: TcpListener, desk: Arc<Desk>, stop: &Stop) -> Result<(), CannotServe> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().max_blocking_threads(4).build()?;
    let stopped = Arc::clone(&stop.0);
    let left = Arc::clone(&desk);
    let served = runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let ending = Arc::new(Notify::new());
        let told = Arc::clone(&ending);
        let serving = axum::serve(listener, app(desk)).with_graceful_shutdown(async move {
            stopped.notified().await;
            told.notify_one();
        });
        // A connection that a browser holds open must not keep the program from ending.
        let patience = async {
            ending.notified().await;
            tokio::time::sleep(PATIENCE).await;
        };
        tokio::select! {
            served = serving => served.map_err(CannotServe::Io),
            () = patience => Ok(()),
        }
    });
    // Neither must a recording that is still being decoded. What the store does is whole or not at all.
    runtime.shutdown_timeout(PATIENCE);
    leave_dictation(left);
    served
}

// Its recording is on the disk already; what is still being heard of it is not waited for long.
fn leave_dictation(desk: Arc<Desk>) {
    let (done, is_done) = channel();
    std::thread::spawn(move || {
        desk.place.leave();
        done.send(())
    });
    // Whether it was in time or not, the program ends.
    let _ = is_done.recv_timeout(PATIENCE);
}

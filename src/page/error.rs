//! What can go wrong with a request, and with serving.
//! Takes what the store, a decision or a recording says; gives an answer with a plain sentence: what, and what now. Leaves
//! alone what the page shows of it. No words of a narration stand in an error.
//!
//! an unknown record is `{"error": "no-record", "words": "there is no record …"}` with 404

use std::io;

use axum::Json;
use axum::extract::rejection::QueryRejection;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde_json::json;
use thiserror::Error;

use crate::audio::AudioError;
use crate::record::remarks::NoRemark;
use crate::record::{NoPerson, NotStated, Refused};
use crate::store::{NotExported, StoreError};

/// Why no page can be served at all.
#[derive(Debug, Error)]
pub enum CannotServe {
    /// The system gives no random numbers.
    #[error("cannot make a secret: the system gives no random numbers: {0}")]
    NoRandomness(String),
    /// The port is not to be had.
    #[error("cannot listen on 127.0.0.1:{port}: {source}; name another port with --port, or none")]
    NoPort {
        /// Which was asked for.
        port: u16,
        /// What the system says.
        source: io::Error,
    },
    /// The system fails while serving.
    #[error("cannot serve the page: {0}")]
    Io(#[from] io::Error),
}

/// Why a request is answered by an error.
#[derive(Debug, Error)]
pub(super) enum PageError {
    #[error("this page is closed to whoever has not opened its address; open the address that the program printed")]
    Closed,
    #[error("this is not the address of the page; open the address that the program printed")]
    WrongHost,
    #[error("another page asked for this, and it is refused; open the address that the program printed")]
    Foreign,
    #[error("there is nothing here; go back to the list of records")]
    NotFound,
    #[error("this can only be read, or sent to as the page does it")]
    WrongMethod,
    #[error("what is sent must be of the type application/json")]
    NotJson,
    #[error("what was sent is longer than 64 KiB; send less at once")]
    TooLong,
    #[error("what was sent cannot be understood: {0}")]
    NotUnderstood(String),
    #[error("{0}")]
    Store(#[from] StoreError),
    #[error("{0}")]
    Person(#[from] NoPerson),
    #[error("the sound cannot be played: {0}")]
    Sound(#[from] AudioError),
    #[error("no measurement of this kind has a figure by a growth standard, so there is no chart")]
    NoChart,
    #[error("{0}")]
    NotWritten(String),
    #[error(
        "there is no folder of your own phrases; start `spoken-exam review --lexicon DIR`, or write it there by hand"
    )]
    NoFolder,
    #[error("{0}")]
    Misheard(String),
    #[error("{0}")]
    Dictation(String),
    #[error("the work was broken off; try again")]
    BrokenOff,
    /// What was wished meets what somebody else did in between: the record as it is now goes with it.
    #[error("{words}")]
    Meanwhile { id: &'static str, words: String, finding: Option<String>, record: Box<serde_json::Value> },
}

impl From<NotExported> for PageError {
    fn from(error: NotExported) -> Self {
        match error {
            NotExported::Store(error) => Self::Store(error),
            NotExported::Form(error) => Self::NotWritten(error.to_string()),
        }
    }
}

impl From<QueryRejection> for PageError {
    fn from(error: QueryRejection) -> Self {
        Self::NotUnderstood(error.body_text())
    }
}

impl PageError {
    /// Its name for programs, and the status.
    fn kind(&self) -> (&'static str, StatusCode) {
        match self {
            Self::Closed => ("closed", StatusCode::UNAUTHORIZED),
            Self::WrongHost => ("wrong-host", StatusCode::MISDIRECTED_REQUEST),
            Self::Foreign => ("foreign", StatusCode::FORBIDDEN),
            Self::NotFound => ("not-found", StatusCode::NOT_FOUND),
            Self::WrongMethod => ("wrong-method", StatusCode::METHOD_NOT_ALLOWED),
            Self::NotJson => ("not-json", StatusCode::UNSUPPORTED_MEDIA_TYPE),
            Self::TooLong => ("too-long", StatusCode::PAYLOAD_TOO_LARGE),
            Self::NotUnderstood(_) => ("not-understood", StatusCode::BAD_REQUEST),
            Self::Store(error) => of_store(error),
            Self::Person(_) => ("no-person", StatusCode::UNPROCESSABLE_ENTITY),
            Self::Sound(_) => ("unreadable-sound", StatusCode::INTERNAL_SERVER_ERROR),
            Self::NoChart => ("no-chart", StatusCode::NOT_FOUND),
            Self::NotWritten(_) => ("not-written", StatusCode::INTERNAL_SERVER_ERROR),
            Self::NoFolder => ("no-folder", StatusCode::CONFLICT),
            Self::Misheard(_) => ("not-proposed", StatusCode::UNPROCESSABLE_ENTITY),
            Self::Dictation(_) => ("no-dictation", StatusCode::CONFLICT),
            Self::BrokenOff => ("broken-off", StatusCode::INTERNAL_SERVER_ERROR),
            Self::Meanwhile { id, .. } => (id, StatusCode::CONFLICT),
        }
    }

    /// The answer for whoever looks at it in a browser rather than through the page.
    pub(super) fn as_page(&self) -> Response {
        let page = format!(
            "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<title>spoken-exam</title>\n<h1>spoken-exam</h1>\n\
             <p>{}</p>\n</html>\n",
            sentence(&self.to_string())
        );
        (self.kind().1, [(CONTENT_TYPE, "text/html; charset=utf-8")], page).into_response()
    }
}

/// An error as people write a sentence.
pub(super) fn sentence(error: &str) -> String {
    let mut letters = error.chars();
    let first: String = letters.next().map(|first| first.to_uppercase().collect()).unwrap_or_default();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}

fn of_store(error: &StoreError) -> (&'static str, StatusCode) {
    match error {
        StoreError::NoRecord(_) | StoreError::SeveralRecords(_) => ("no-record", StatusCode::NOT_FOUND),
        StoreError::NoTaking(_) => ("no-recording", StatusCode::NOT_FOUND),
        StoreError::TakingInUse(_) => ("in-use", StatusCode::CONFLICT),
        StoreError::NoSound { .. } => ("no-sound", StatusCode::NOT_FOUND),
        StoreError::Busy(_) => ("busy", StatusCode::SERVICE_UNAVAILABLE),
        StoreError::Full(_) => ("full", StatusCode::INSUFFICIENT_STORAGE),
        StoreError::ReadOnly(_) => ("read-only", StatusCode::INSUFFICIENT_STORAGE),
        StoreError::NotSigned(_) => ("not-signed", StatusCode::CONFLICT),
        StoreError::Undecided(_) => ("undecided", StatusCode::UNPROCESSABLE_ENTITY),
        StoreError::NoRemark(NoRemark::Signed(_)) => ("signed-otherwise", StatusCode::CONFLICT),
        StoreError::NoRemark(_) => ("no-remark", StatusCode::UNPROCESSABLE_ENTITY),
        StoreError::Refused(refused) => (of_refused(refused), StatusCode::UNPROCESSABLE_ENTITY),
        _ => ("store", StatusCode::INTERNAL_SERVER_ERROR),
    }
}

/// The name of what was refused; of what was done meanwhile by another there are others, in [`meanwhile`].
fn of_refused(refused: &Refused) -> &'static str {
    match refused {
        Refused::NotStated(NotStated::UnknownItem(_)) => "unknown-item",
        Refused::NotStated(NotStated::Group { .. }) => "group",
        Refused::NotStated(NotStated::NoSide { .. } | NotStated::NoSides { .. }) => "wrong-side",
        Refused::NotStated(NotStated::UnknownValue { .. }) => "wrong-value",
        Refused::NoFinding { .. } => "no-finding",
        Refused::SameAsBefore { .. } => "same-as-before",
        Refused::NotUndone { .. } => "not-undone",
        Refused::SeenTooMuch { .. } => "seen-too-much",
        Refused::AskedAgain { .. } => "decided-meanwhile",
        Refused::Decided { .. } => "decided",
    }
}

/// The name of what somebody else did in between, if an error is of that kind: then the page looks again.
pub(super) fn meanwhile(error: &StoreError) -> Option<&'static str> {
    match error {
        StoreError::Refused(refused) if matches!(**refused, Refused::AskedAgain { .. }) => Some("decided-meanwhile"),
        StoreError::NewerDraft { .. } => Some("newer-draft"),
        StoreError::NotSeen { .. } => Some("not-seen"),
        StoreError::Signed(_) => Some("signed"),
        _ => None,
    }
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        let (error, status) = self.kind();
        let words = sentence(&self.to_string());
        match self {
            Self::Meanwhile { record, finding, .. } => {
                let told = json!({ "error": error, "words": words, "finding": finding, "record": record });
                (status, Json(told)).into_response()
            }
            _ => (status, Json(json!({ "error": error, "words": words }))).into_response(),
        }
    }
}

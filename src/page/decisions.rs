//! What is decided and signed on the page.
//! Takes JSON: who, what draft and which last entry they had seen, and what they wish; hands it to the store, and gives the
//! record as it is then. Where somebody else decided in between, the record goes with the refusal, so that the page can show
//! what stands there now. Leaves alone what is refused and why (`record`).
//!
//! `{"seen": 3, "draft": 1, "by": {"name": "A. Examiner", "role": "registrar"}, "wishes": [{"kind": "confirm", "finding": "d2"}]}`

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::page::Desk;
use crate::page::error::{PageError, meanwhile};
use crate::page::finding::finding_id;
use crate::page::records::{checked, shown};
use crate::page::shown::RecordShown;
use crate::reading::Side;
use crate::record::{Author, FindingId, Person, Refused, Wish};
use crate::store::{DraftId, Store, StoreError, now};

/// What of a request is read; the error says why it was not.
pub(super) type Body = Result<Bytes, BytesRejection>;

/// What comes with every decision and signature.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    seen: u64,
    draft: u32,
    by: By,
    wishes: Option<Vec<Wished>>,
    reason: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct By {
    pub(super) name: String,
    pub(super) role: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, tag = "kind", rename_all = "lowercase")]
enum Wished {
    Confirm {
        finding: String,
    },
    Change {
        finding: String,
        side: Option<String>,
        value: Option<String>,
        approx: Option<bool>,
    },
    Reject {
        finding: String,
    },
    Add {
        item: String,
        side: Option<String>,
        value: String,
        #[serde(default)]
        approx: bool,
    },
    Undo {
        entry: u64,
    },
}

/// What is sent, understood.
pub(super) fn understood<T: DeserializeOwned>(body: Body) -> Result<T, PageError> {
    let bytes = body.map_err(|error| match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => PageError::TooLong,
        _ => PageError::NotUnderstood("it ended too early".to_owned()),
    })?;
    serde_json::from_slice(&bytes).map_err(|error| PageError::NotUnderstood(error.to_string()))
}

impl Wished {
    fn wish(self) -> Result<Wish, PageError> {
        Ok(match self {
            Self::Confirm { finding } => Wish::Confirm(known(&finding)?),
            Self::Change { finding, side, value, approx } => {
                let (finding, side) = (known(&finding)?, side.as_deref().map(known_side).transpose()?);
                Wish::Change { finding, side, value, approx }
            }
            Self::Reject { finding } => Wish::Reject(known(&finding)?),
            Self::Add { item, side, value, approx } => {
                let side = side.as_deref().map_or(Ok(Side::None), known_side)?;
                Wish::Add { item, side, value, approx }
            }
            Self::Undo { entry } => Wish::Undo(entry),
        })
    }
}

fn known(finding: &str) -> Result<FindingId, PageError> {
    finding_id(finding).ok_or_else(|| PageError::NotUnderstood("a finding is named d1 or a1".to_owned()))
}

fn known_side(name: &str) -> Result<Side, PageError> {
    let known = Side::ALL.into_iter().find(|side| side.name() == name);
    known.ok_or_else(|| PageError::NotUnderstood("a side is left, right or none".to_owned()))
}

/// What is done with a record.
enum Act {
    Decide(Vec<Wish>),
    ConfirmClear,
    Sign,
    Amend(Vec<Wish>, String),
}

impl Act {
    fn on(&self, desk: &Desk, store: &mut Store, on: &DraftId, author: &Author) -> Result<(), StoreError> {
        match self {
            Self::Decide(wishes) => store.decide(on, &desk.lexicon, author, wishes).map(drop),
            Self::ConfirmClear => {
                let wishes = store.record(&on.record)?.review.confirm_all_clear();
                store.decide(on, &desk.lexicon, author, &wishes).map(drop)
            }
            Self::Sign => store.sign(on, &desk.lexicon, author).map(drop),
            Self::Amend(wishes, reason) => store.decide_and_amend(on, &desk.lexicon, author, wishes, reason).map(drop),
        }
    }
}

/// Takes in decisions: all of them, or none.
pub(super) async fn decide(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    body: Body,
) -> Result<Json<RecordShown>, PageError> {
    let mut sent: Sent = understood(body)?;
    let wishes = sent.wishes()?;
    sent.done(&desk, id, Act::Decide(wishes)).await
}

/// Confirms what is undecided and clear, and nothing that needs the eye.
pub(super) async fn confirm_clear(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    body: Body,
) -> Result<Json<RecordShown>, PageError> {
    understood::<Sent>(body)?.done(&desk, id, Act::ConfirmClear).await
}

/// Signs a record for the first time.
pub(super) async fn sign(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    body: Body,
) -> Result<Json<RecordShown>, PageError> {
    understood::<Sent>(body)?.done(&desk, id, Act::Sign).await
}

/// Signs what was decided since as a new version, with decisions that come along.
pub(super) async fn amend(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    body: Body,
) -> Result<Json<RecordShown>, PageError> {
    let mut sent: Sent = understood(body)?;
    let (wishes, reason) = (sent.wishes()?, sent.reason.take().unwrap_or_default());
    sent.done(&desk, id, Act::Amend(wishes, reason)).await
}

impl Sent {
    fn wishes(&mut self) -> Result<Vec<Wish>, PageError> {
        self.wishes.take().unwrap_or_default().into_iter().map(Wished::wish).collect()
    }

    async fn done(self, desk: &Arc<Desk>, id: String, act: Act) -> Result<Json<RecordShown>, PageError> {
        if self.wishes.is_some() || self.reason.is_some() {
            return Err(PageError::NotUnderstood("wishes or a reason do not belong there".to_owned()));
        }
        let on = DraftId { record: checked(id)?, version: self.draft };
        let author = Author { by: Person::new(&self.by.name, &self.by.role)?, at: now(), seen: self.seen };
        desk.with_store(move |desk, store| {
            if let Err(error) = act.on(desk, store, &on, &author) {
                return Err(refused(desk, store, &on.record, error));
            }
            if matches!(act, Act::Sign | Act::Amend(..)) {
                // By the store's policy the recording may be gone: nothing of it stays in memory.
                desk.sounds.forget();
            }
            Ok(Json(shown(&desk.lexicon, store, &on.record)?))
        })
        .await
    }
}

fn refused(desk: &Desk, store: &Store, id: &str, error: StoreError) -> PageError {
    let Some(name) = meanwhile(&error) else { return PageError::Store(error) };
    let finding = match &error {
        StoreError::Refused(refused) => match **refused {
            Refused::AskedAgain { finding, .. } => Some(finding.written()),
            _ => None,
        },
        _ => None,
    };
    match shown(&desk.lexicon, store, id).map(serde_json::to_value) {
        Ok(Ok(record)) => {
            PageError::Meanwhile { id: name, words: error.to_string(), finding, record: Box::new(record) }
        }
        _ => PageError::Store(error),
    }
}

//! Requests as anybody may send them → answers that keep the page to itself, and a store that stays sound.
//! Takes requests as text: a method and a path, headers, an empty line, a body; a line of `===` begins the next. What a browser adds
//! is added (host, cookie, origin, type), unless the request names that header itself. `ID1` to `ID3` are a record that nobody
//! decided upon, one in review, and a signed one. Leaves alone the network, and what the page does with an answer.
//!
//! a decision with an entry that nobody can have seen is refused with a sentence, and the store is as it was

use std::fs;
use std::sync::{Arc, LazyLock};

use axum::body::Body;
use axum::http::{Request, Response, header};
use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::page::{Desk, app};
use spoken_exam::record::{Author, FindingId, Moment, Person, Wish};
use spoken_exam::store::Store;
use tokio::runtime::{Builder, Runtime};
use tower::ServiceExt;

use super::checks::LEXICON;

const HOST: &str = "127.0.0.1:4711";
const OWN: &str = "http://127.0.0.1:4711";
/// Requests that are sent at most: more of them reach nothing else.
const MOST: usize = 8;
/// Takes a second each, since the whole lexicon is loaded again; `lexicon` tries what it writes.
const SLOW: &str = "/api/misheard";
const NOTE: &str = "This is a girl, born at thirty nine weeks, two days old. Head thirty four centimetres.\n\
    No ankle clonus on the left.\nScarf sign on the right to the midline.";

/// A desk has a lexicon of its own, which takes a while to load.
static SHARED: LazyLock<Arc<Lexicon>> = LazyLock::new(|| Arc::new(Lexicon::load(None).expect("it has no faults")));

/// The database of a store with three records, and their ids.
static STORE: LazyLock<(Vec<u8>, [String; 3])> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Store::open(folder.path()).expect("it opens");
    let draft = flow::of_text(&LEXICON, NOTE, "note.txt").draft;
    let ids = [1, 2, 3].map(|at| store.keep(&draft, None, Moment(at)).expect("it is kept"));
    let by = Person::new("A. Examiner", "registrar").expect("a person");
    let author = |seen| Author { by: by.clone(), at: Moment(1_700_000_000_000), seen };
    let all = draft.all_findings().count() as u64;
    for (id, count) in [(&ids[1], 1), (&ids[2], all)] {
        let on = store.record(id).expect("it is there").draft_id();
        let wishes: Vec<Wish> = (1..=count).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
        store.decide(&on, &LEXICON, &author(0), &wishes).expect("decided");
    }
    let on = store.record(&ids[2]).expect("it is there").draft_id();
    store.sign(&on, &LEXICON, &author(all)).expect("signed");
    drop(store);
    (fs::read(folder.path().join("store.sqlite")).expect("it can be read"), ids)
});

thread_local! {
    static RUNTIME: Runtime = Builder::new_current_thread().enable_all().build().expect("a runtime");
}

pub(super) fn target(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let requests: Vec<Sent> = text.split("\n===\n").take(MOST).filter_map(Sent::read).collect();
    if requests.is_empty() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("store.sqlite"), &STORE.0).expect("it can be written");
    let store = Store::open(folder.path()).expect("it opens");
    let desk = Arc::new(Desk::new(store, Arc::clone(&SHARED), 4711).expect("a desk"));
    let opening = desk.address().strip_prefix(OWN).expect("its own address").to_owned();
    RUNTIME.with(|runtime| {
        runtime.block_on(async {
            let opening = Request::builder().uri(&opening).header("host", HOST).body(Body::empty()).expect("a request");
            let opened = app(Arc::clone(&desk)).oneshot(opening).await.expect("it never fails");
            let cookie = opened.headers()[header::SET_COOKIE].to_str().expect("plain letters");
            let cookie = cookie.split(';').next().unwrap_or_default().to_owned();
            for sent in &requests {
                let Some(request) = sent.request(&cookie) else { continue };
                let answer = app(Arc::clone(&desk)).oneshot(request).await.expect("it never fails");
                check(sent, answer).await;
            }
        });
    });
    let faults = Store::open(folder.path()).expect("it opens").verify().expect("it can be checked").faults;
    assert!(faults.is_empty(), "{faults:?}");
}

/// A request, in parts.
struct Sent {
    method: String,
    path: String,
    headers: Vec<(String, String)>,
    body: String,
}

impl Sent {
    fn read(text: &str) -> Option<Self> {
        let text = (0..3).fold(text.to_owned(), |text, at| text.replace(&format!("ID{}", at + 1), &STORE.1[at]));
        let (head, body) = text.split_once("\n\n").unwrap_or((&text, ""));
        let mut lines = head.lines();
        let (method, path) = lines.next()?.split_once(' ')?;
        let headers = lines.filter_map(|line| line.split_once(':'));
        let headers = headers.map(|(name, value)| (name.trim().to_lowercase(), value.trim().to_owned())).collect();
        if path.starts_with(SLOW) {
            return None;
        }
        Some(Self { method: method.to_owned(), path: path.to_owned(), headers, body: body.to_owned() })
    }

    fn names(&self, header: &str) -> bool {
        self.headers.iter().any(|(name, _)| name == header)
    }

    /// The request as it is sent; none where HTTP itself has no room for it.
    fn request(&self, cookie: &str) -> Option<Request<Body>> {
        let added = [("host", HOST), ("cookie", cookie), ("origin", OWN), ("content-type", "application/json")];
        let mut request = Request::builder().method(self.method.as_str()).uri(&self.path);
        for (name, value) in added.iter().filter(|(name, _)| !self.names(name)) {
            request = request.header(*name, *value);
        }
        for (name, value) in self.headers.iter().filter(|(_, value)| !value.is_empty()) {
            request = request.header(name, value);
        }
        request.body(Body::from(self.body.clone())).ok()
    }
}

async fn check(sent: &Sent, answer: Response<Body>) {
    let (head, body) = answer.into_parts();
    let body = axum::body::to_bytes(body, usize::MAX).await.expect("a body");
    let (status, words) = (head.status.as_u16(), String::from_utf8_lossy(&body));
    let what = format!("{} {} gives {status}: {words:.300}", sent.method, sent.path);
    assert!(status < 500, "{what}");
    for header in ["content-security-policy", "x-content-type-options", "x-frame-options"] {
        assert!(head.headers.contains_key(header), "no {header}: {what}");
    }
    assert!(!head.headers.contains_key("access-control-allow-origin"), "{what}");
    if sent.names("cookie") && !sent.path.starts_with("/open/") {
        assert!(status >= 400, "nobody else's cookie opens it: {what}");
    }
    if status >= 400 && sent.path.starts_with("/api/") && sent.method != "HEAD" {
        let told: serde_json::Value = serde_json::from_slice(&body).unwrap_or_else(|fault| panic!("{fault}: {what}"));
        assert!(told["words"].as_str().is_some_and(|words| words.ends_with('.')), "{what}");
    }
}

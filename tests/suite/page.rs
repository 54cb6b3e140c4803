//! The page's server, asked without a network: who may ask, what it shows, what becomes of decisions.
//! Takes requests as browsers and others send them; fails where one is answered that should not be, or otherwise than the page
//! is promised. Leaves alone what the page does with it (`tests/page`), and what is refused of decisions (`src/record`).

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request};
use serde_json::{Value, json};
use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::page::{Desk, app};
use spoken_exam::record::{DraftRecord, Moment, Person};
use spoken_exam::store::{KeepSound, Store};
use tower::ServiceExt;

use crate::corpus::LEXICON;
use crate::store::{NOTE, check_sound, sha256};

const PORT: u16 = 4711;
const OWN: &str = "http://127.0.0.1:4711";
const WHEN: Moment = Moment(1_700_000_000_000);

/// What was answered.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) headers: HeaderMap,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&self.body)))
    }

    fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("plain letters"))
    }

    #[track_caller]
    fn is(self, status: u16, error: &str) -> Value {
        let told = self.json();
        assert_eq!((self.status, told["error"].as_str()), (status, Some(error)), "{told}");
        assert!(told["words"].as_str().is_some_and(|words| words.ends_with('.')), "{told}");
        told
    }

    #[track_caller]
    fn ok(self) -> Value {
        assert_eq!(self.status, 200, "{}", String::from_utf8_lossy(&self.body));
        self.json()
    }
}

/// A server with a store of its own, and somebody who has opened its page.
pub(crate) struct Opened {
    pub(crate) folder: tempfile::TempDir,
    app: Router,
    opening: String,
    cookie: String,
}

/// A lexicon can be had once only by a desk, and takes a while to load: desks share what it was made of.
fn lexicon() -> Lexicon {
    Lexicon::load(None).expect("the lexicon has no faults")
}

impl Opened {
    pub(crate) fn new() -> Self {
        Self::with(|desk| desk)
    }

    fn with(more: impl FnOnce(Desk) -> Desk) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let store = Store::open(folder.path()).expect("it opens");
        let desk = more(Desk::new(store, lexicon(), PORT).expect("a desk"));
        let opening = desk.address().strip_prefix(OWN).expect("its own address").to_owned();
        let mut opened = Self { folder, app: app(Arc::new(desk)), opening, cookie: String::new() };
        let answer = opened.send("GET", &opened.opening, &[], "");
        assert_eq!((answer.status, answer.header("location")), (303, "/"));
        answer.header("set-cookie").split(';').next().expect("a cookie").clone_into(&mut opened.cookie);
        opened
    }

    /// Sends just this: headers are given whole, but for a host.
    fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: impl Into<Body>) -> Answer {
        let mut request = Request::builder().method(method).uri(path);
        if !headers.iter().any(|(name, _)| *name == "host") {
            request = request.header("host", "127.0.0.1:4711");
        }
        for (name, value) in headers.iter().filter(|(_, value)| !value.is_empty()) {
            request = request.header(*name, *value);
        }
        let request = request.body(body.into()).expect("a request");
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        runtime.block_on(async {
            let answer = self.app.clone().oneshot(request).await.expect("it never fails");
            let (head, body) = answer.into_parts();
            let body = axum::body::to_bytes(body, usize::MAX).await.expect("a body").to_vec();
            Answer { status: head.status.as_u16(), headers: head.headers, body }
        })
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[("cookie", &self.cookie)], "")
    }

    fn post_text(&self, path: &str, body: impl Into<Body>) -> Answer {
        let headers = [("cookie", self.cookie.as_str()), ("origin", OWN), ("content-type", "application/json")];
        self.send("POST", path, &headers, body)
    }

    pub(crate) fn post(&self, path: &str, body: &Value) -> Answer {
        self.post_text(path, body.to_string())
    }

    /// Somebody else's store on the same folder.
    fn store(&self) -> Store {
        Store::open(self.folder.path()).expect("it opens")
    }

    fn keep(&self, draft: &DraftRecord) -> String {
        self.store().keep(draft, None, WHEN).expect("it is kept")
    }

    fn keep_text(&self, text: &str) -> String {
        self.keep(&flow::of_text(&LEXICON, text, "note.txt").draft)
    }

    fn record(&self, id: &str) -> Value {
        self.get(&format!("/api/records/{id}")).ok()
    }
}

fn sent(record: &Value, more: Value) -> Value {
    let mut sent = json!({
        "seen": record["seen"], "draft": record["draft"]["version"], "by": { "name": "A. Examiner", "role": "registrar" },
    });
    sent.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
    sent
}

/// What a finding comes to and how it was decided, in a line.
fn line(finding: &Value) -> String {
    let kind = finding["decision"]["kind"].as_str().unwrap_or("undecided");
    let now = &finding["now"];
    let words = now["words"].as_str().unwrap_or("-");
    format!(
        "{} {} {} {words} ({kind})",
        finding["id"].as_str().unwrap(),
        finding["item"].as_str().unwrap(),
        now["side"].as_str().unwrap_or("-")
    )
}

fn lines(record: &Value) -> Vec<String> {
    record["findings"].as_array().expect("findings").iter().map(line).collect()
}

// --- Who may ask ---

#[test]
fn the_secret_address_alone_opens_the_page() {
    let page = Opened::new();
    for path in ["/", "/assets/index.html", "/api/records", "/api/lexicon", "/api/session", "/nowhere"] {
        let closed = page.send("GET", path, &[], "");
        assert_eq!(closed.status, 401, "{path}");
        assert!(String::from_utf8_lossy(&closed.body).contains("pen the address that the program printed"), "{path}");
        let other = Opened::new();
        assert_eq!(page.send("GET", path, &[("cookie", &other.cookie)], "").status, 401, "the cookie of another start");
    }
    for path in [
        "/open/",
        "/open/0",
        "/open/00000000000000000000000000000000",
        &page.opening.to_uppercase(),
        &page.opening[..20],
    ] {
        let closed = page.send("GET", path, &[], "");
        assert!(closed.header("set-cookie").is_empty() && [401, 404].contains(&closed.status), "{path}: {closed:?}");
    }
    let open = page.send("GET", &page.opening, &[], "");
    assert!(open.header("set-cookie").ends_with("; HttpOnly; SameSite=Strict; Path=/"), "{open:?}");
    assert!(!page.cookie.contains(&page.opening[6..]), "the cookie does not tell the address");
    let (name, value) = page.cookie.split_once('=').expect("a pair");
    assert_eq!((name, value.len()), ("spoken-exam-4711", 32));
    let among_others = format!("a=b; {name}=0; {}; {name}", page.cookie);
    assert_eq!(page.send("GET", "/api/records", &[("cookie", &among_others)], "").status, 200);
    assert_eq!(page.send("GET", "/api/records", &[("cookie", &format!("x{}", page.cookie))], "").status, 401);
}

#[test]
fn what_other_pages_ask_for_is_refused_whatever_the_browser_adds() {
    let page = Opened::new();
    let cookie = ("cookie", page.cookie.as_str());
    let (own, json) = (("origin", OWN), ("content-type", "application/json"));
    let check = |method: &str, headers: &[(&str, &str)], status: u16| {
        let path = if method == "POST" { "/api/misheard/preview" } else { "/api/records" };
        let body = json!({ "heard": "more oohs", "said": "Moro" }).to_string();
        let answer = page.send(method, path, &[&[cookie], headers].concat(), body);
        assert_eq!(answer.status, status, "{method} {headers:?}: {}", String::from_utf8_lossy(&answer.body));
    };
    check("GET", &[], 200);
    check("GET", &[own], 200);
    check("GET", &[("host", "localhost:4711"), ("origin", "http://localhost:4711")], 200);
    check("POST", &[own, json], 200);
    check("POST", &[own, ("content-type", "Application/JSON; charset=utf-8")], 200);
    check("HEAD", &[], 200);
    // A name that somebody else lets point to this machine.
    for host in
        ["evil.example:4711", "127.0.0.1", "127.0.0.1:80", "localhost", "127.0.0.1:4711.evil.example", "[::1]:4711", ""]
    {
        check("GET", &[("host", host)], 421);
    }
    for origin in [
        "http://evil.example",
        "http://127.0.0.1:4712",
        "https://127.0.0.1:4711",
        "null",
        "http://localhost:4711",
        OWN.trim_end_matches('1'),
    ] {
        check("GET", &[("origin", origin)], 403);
        check("POST", &[("origin", origin), json], 403);
    }
    check("POST", &[own, own, json], 403);
    check("POST", &[json], 403);
    for site in ["cross-site", "same-site", "anything"] {
        check("GET", &[("sec-fetch-site", site)], 403);
    }
    for site in ["same-origin", "none"] {
        check("GET", &[("sec-fetch-site", site)], 200);
    }
    // What a form of another page can send without asking first.
    for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "application/jsonp", ""] {
        check("POST", &[own, ("content-type", kind)], 415);
    }
    for method in ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"] {
        check(method, &[own, json], 405);
    }
}

#[test]
fn every_answer_keeps_the_page_to_itself() {
    let page = Opened::new();
    let long = page.post_text("/api/misheard/preview", vec![b' '; 64 * 1024 + 1]);
    let json = [("cookie", page.cookie.as_str()), ("origin", OWN)];
    let answers = [
        (200, page.get("/")),
        (200, page.get("/api/records")),
        (303, page.send("GET", &page.opening, &[], "")),
        (400, page.post_text("/api/misheard/preview", "{")),
        (401, page.send("GET", "/", &[], "")),
        (403, page.send("GET", "/", &[("origin", "null")], "")),
        (404, page.get("/nowhere")),
        (404, page.get("/api/records/0")),
        (405, page.post("/api/records", &json!({}))),
        (413, long),
        (415, page.send("POST", "/api/misheard", &json, "{}")),
        (421, page.send("GET", "/", &[("host", "evil.example")], "")),
    ];
    for (status, answer) in answers {
        assert_eq!(answer.status, status);
        let policy = answer.header("content-security-policy");
        for part in [
            "default-src 'none'",
            "script-src 'self'",
            "connect-src 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        ] {
            assert!(policy.contains(part), "{status}: {policy}");
        }
        assert!(!policy.contains("unsafe") && !policy.contains("http") && !policy.contains('*'), "{policy}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cache-control", "no-store"),
        ] {
            assert_eq!(answer.header(name), value, "{status}: {name}");
        }
        assert!(answer.header("access-control-allow-origin").is_empty(), "{status}");
    }
}

#[test]
fn the_page_is_made_of_its_own_files_alone() {
    let page = Opened::new();
    let mut files = vec!["/".to_owned()];
    for entry in std::fs::read_dir("src/page/assets").expect("it is a folder") {
        files.push(format!("/assets/{}", entry.expect("an entry").file_name().to_string_lossy()));
    }
    for path in files {
        let file = page.get(&path);
        let kind = file.header("content-type").split(';').next().expect("a type");
        assert_eq!(file.status, 200, "{path}");
        assert!(["text/html", "text/css", "text/javascript", "image/svg+xml"].contains(&kind), "{path}: {kind}");
        let text = String::from_utf8(file.body).expect("it is text");
        let elsewhere = text.replace("http://www.w3.org/", "");
        assert!(!elsewhere.contains("http://") && !elsewhere.contains("https://"), "{path} names another place");
    }
    for path in ["/assets/nothing.js", "/assets/..%2fmod.rs", "/assets/../mod.rs", "/assets/", "/assets/%00.js"] {
        assert_eq!(page.get(path).status, 404, "{path}");
    }
}

#[test]
fn nothing_but_an_id_is_looked_for() {
    let page = Opened::new();
    let id = page.keep_text(NOTE);
    page.record(&id);
    for wrong in ["..%2f..%2fetc%2fpasswd", "%2e%2e", "0%00", "A", "0'%20OR%201=1--", &"0".repeat(65), &id[..8]] {
        for path in [format!("/api/records/{wrong}"), format!("/api/records/{wrong}/sound")] {
            let answer = page.get(&path);
            assert_eq!(answer.status, 404, "{path}: {}", String::from_utf8_lossy(&answer.body));
        }
    }
}

// --- What is shown ---

#[test]
fn the_list_is_searched_and_turned_over() {
    let page = Opened::new();
    let listed = page.get("/api/records").ok();
    assert_eq!((&listed["total"], &listed["pages"], &listed["page"]), (&json!(0), &json!(1), &json!(1)));
    let ids: Vec<String> = (0..23).map(|_| page.keep_text(NOTE)).collect();
    let other = page.keep(&flow::of_text(&LEXICON, "A boy.", "ward 7 & bay.txt").draft);
    let first = page.get("/api/records").ok();
    assert_eq!((&first["total"], &first["pages"], &first["page"]), (&json!(24), &json!(2), &json!(1)));
    assert_eq!(first["records"].as_array().unwrap().len(), 20);
    let newest = &first["records"][0];
    assert_eq!(
        (&newest["id"], &newest["file_name"], &newest["state"]),
        (&json!(other), &json!("ward 7 & bay.txt"), &json!("draft"))
    );
    assert_eq!(newest["infant"], json!([{ "name": "sex", "words": "male" }]));
    assert_eq!((&newest["created"], &newest["undecided"], &newest["eye"]), (&json!(WHEN.0), &json!(1), &json!(0)));
    let second = page.get("/api/records?page=2").ok();
    assert_eq!(second["records"].as_array().unwrap().len(), 4);
    assert_eq!(second["records"][3]["id"], json!(ids[0]));
    assert_eq!(page.get("/api/records?page=4294967295").ok()["records"], json!([]));
    assert_eq!(page.get("/api/records?search=bay+male").ok()["total"], 1);
    assert_eq!(page.get("/api/records?search=%25").ok()["total"], 0);
    let record = page.record(&other);
    page.post(&format!("/api/records/{other}/confirm-clear"), &sent(&record, json!({}))).ok();
    assert_eq!(page.get("/api/records?state=in-review&search=").ok()["records"][0]["id"], json!(other));
    assert_eq!(page.get("/api/records?state=draft").ok()["total"], 23);
    page.get("/api/records?state=lost").is(400, "not-understood");
    page.get("/api/records?page=-1").is(400, "not-understood");
}

#[test]
fn a_record_shows_every_finding_with_its_words() {
    let page = Opened::new();
    let id = page.keep_text(
        "This is a girl.\nGrößer, 👶 no ankle clonus on the left.\nScarf sign to the midline.\n\
        Popliteal angle on the right about 95 degrees.",
    );
    let record = page.record(&id);
    assert_eq!((&record["state"], &record["seen"], &record["sound"]), (&json!("draft"), &json!(0), &json!("none")));
    assert!(record["draft"]["status"].as_str().unwrap().starts_with("DRAFT"));
    assert!(record["cautions"][0].as_str().unwrap().starts_with("DRAFT, not confirmed"), "{record}");
    let findings = record["findings"].as_array().unwrap();
    let found = |item: &str| findings.iter().find(|finding| finding["item"] == item).unwrap();
    let [sex, clonus, scarf, angle] = ["sex", "ankle-clonus", "scarf-sign", "popliteal-angle"].map(found);
    assert_eq!((&sex["item"], &sex["context"], &sex["clear"]), (&json!("sex"), &json!(true), &json!(true)));
    assert_eq!(
        (&clonus["side"], &clonus["value"], &clonus["words"]),
        (&json!("left"), &json!("absent"), &json!("absent"))
    );
    assert_eq!((&scarf["side"], &scarf["clear"]), (&json!("unstated"), &json!(false)));
    assert_eq!(scarf["reasons"][0]["id"], "side-unstated");
    for said in [angle, &angle["now"]] {
        assert_eq!((&said["words"], &said["approx"]), (&json!("95°"), &json!(true)), "{angle}");
    }
    let silent: Vec<&str> =
        record["not_mentioned"].as_array().unwrap().iter().map(|item| item["item"].as_str().unwrap()).collect();
    assert!(!silent.contains(&"ankle-clonus") && !silent.contains(&"sex") && silent.contains(&"moro"), "{silent:?}");
}

/// The words between two places of a line, as a browser cuts them.
fn cut(line: &str, quote: &Value) -> Option<String> {
    let units: Vec<u16> = line.encode_utf16().collect();
    let place = |name: &str| Some(usize::try_from(quote[name].as_u64()?).expect("a place"));
    Some(String::from_utf16(units.get(place("start")?..place("end")?)?).expect("whole letters"))
}

#[test]
fn every_quote_stands_where_the_page_marks_it() {
    let page = Opened::new();
    let mut quotes = 0;
    for folder in ["samples", "tests/corpus", "tests/corpus-extra"] {
        for pair in spoken_exam::score::pairs(Path::new(folder)).expect("the folder can be read").iter().step_by(3) {
            let text = std::fs::read_to_string(pair.text.as_ref().expect("a text")).expect("it can be read");
            let record = page.record(&page.keep_text(&text.replace("left", "👶 left")));
            for finding in record["findings"].as_array().unwrap() {
                let evidence = &finding["evidence"];
                let sides = evidence["sides"].as_array().unwrap().iter();
                for quote in [evidence, &evidence["item"], &evidence["value"]].into_iter().chain(sides) {
                    if quote.is_null() {
                        continue;
                    }
                    let line = &record["draft"]["transcript"][quote["utterance"].as_u64().unwrap() as usize]["text"];
                    assert_eq!(cut(line.as_str().unwrap(), quote).as_deref(), quote["quote"].as_str(), "{finding}");
                    quotes += 1;
                }
            }
        }
    }
    assert!(quotes > 1500, "{quotes} quotes");
}

#[test]
fn the_fields_of_the_page_know_the_lexicon() {
    let page = Opened::with(|desk| desk.with_reviewer(Person::new("A. Examiner", "registrar").ok()));
    let shown = page.get("/api/lexicon").ok();
    let items: HashMap<&str, &Value> =
        shown["items"].as_array().unwrap().iter().map(|item| (item["id"].as_str().unwrap(), item)).collect();
    assert_eq!(items.len(), LEXICON.items.iter().filter(|item| item.members.is_empty()).count());
    let angle = items["popliteal-angle"];
    assert_eq!((&angle["unit"], &angle["paired"]), (&json!("deg"), &json!(true)));
    assert!(angle["plausible"][0].as_f64() < angle["plausible"][1].as_f64(), "{angle}");
    let values = items["scarf-sign"]["values"].as_array().unwrap();
    for value in
        [json!({ "id": "past-midline", "words": "past midline" }), json!({ "id": "not-tested", "words": "not tested" })]
    {
        assert!(values.contains(&value), "{values:?}");
    }
    let regions: Vec<&str> =
        shown["regions"].as_array().unwrap().iter().map(|region| region.as_str().unwrap()).collect();
    assert!(items.values().all(|item| regions.contains(&item["region"].as_str().unwrap())));
    let session = page.get("/api/session").ok();
    assert_eq!(session["by"], json!({ "name": "A. Examiner", "role": "registrar" }));
    assert_eq!(session["own_lexicon"], false);
}

// --- Decisions ---

#[test]
fn a_record_is_reviewed_signed_and_amended() {
    let page = Opened::new();
    let id = page.keep_text("A girl.\nNo ankle clonus on the left.\nScarf sign to the midline.\nThe suck is strong.");
    let to = |what: &str| format!("/api/records/{id}/{what}");
    let record = page.record(&id);
    let place = |item: &str| {
        let findings = record["findings"].as_array().unwrap();
        findings.iter().find(|finding| finding["item"] == item).unwrap_or_else(|| panic!("{item}: {record}"))["id"]
            .clone()
    };
    // Clear ones go together; what needs the eye stays.
    let record = page.post(&to("confirm-clear"), &sent(&record, json!({}))).ok();
    let open: Vec<String> = lines(&record).into_iter().filter(|line| line.ends_with("(undecided)")).collect();
    assert_eq!(open.len(), 1, "{:?}", lines(&record));
    assert!(open[0].contains("scarf-sign unstated"), "{open:?}");
    let refused = page.post(&to("sign"), &sent(&record, json!({}))).is(422, "undecided");
    assert!(refused["words"].as_str().unwrap().contains("side unstated"), "{refused}");
    // A change that makes no sense changes nothing.
    let wrong = json!({ "wishes": [{ "kind": "change", "finding": place("scarf-sign"), "side": "none" }] });
    page.post(&to("decide"), &sent(&record, wrong)).is(422, "wrong-side");
    let wrong =
        json!({ "wishes": [{ "kind": "change", "finding": place("scarf-sign"), "side": "left", "value": "34cm" }] });
    page.post(&to("decide"), &sent(&record, wrong)).is(422, "wrong-value");
    let both = json!({ "wishes": [
        { "kind": "change", "finding": place("scarf-sign"), "side": "left" },
        { "kind": "add", "item": "scarf-sign", "side": "right", "value": "past-midline" },
        { "kind": "reject", "finding": place("sex") },
        { "kind": "add", "item": "gag", "value": "not-tested" },
    ] });
    let record = page.post(&to("decide"), &sent(&record, both)).ok();
    let now = lines(&record);
    for line in [
        "scarf-sign left to midline (changed)",
        "scarf-sign right past midline (added)",
        "sex - - (rejected)",
        "gag none not tested (added)",
    ] {
        assert!(now.iter().any(|now| now.ends_with(line)), "{line}: {now:?}");
    }
    let silent = record["not_mentioned"].as_array().unwrap();
    assert!(!silent.iter().any(|item| item["item"] == "gag"), "what was added is not listed as not mentioned");
    let added = record["findings"].as_array().unwrap().iter().find(|finding| finding["item"] == "gag").unwrap();
    assert_eq!(
        (&added["name"], &added["evidence"], &added["decision"]["by"]),
        (&json!("gag"), &Value::Null, &json!("A. Examiner"))
    );
    let record = page
        .post(
            &to("decide"),
            &sent(&record, json!({ "wishes": [{ "kind": "undo", "entry": added["decision"]["entry"] }] })),
        )
        .ok();
    assert!(!lines(&record).iter().any(|line| line.contains("gag")), "{:?}", lines(&record));
    let record = page.post(&to("sign"), &sent(&record, json!({}))).ok();
    assert_eq!((&record["state"], &record["decided_since"]), (&json!("signed"), &json!(0)));
    let signature = &record["signatures"][0];
    assert_eq!(
        (&signature["signer"], &signature["role"], &signature["reason"]),
        (&json!("A. Examiner"), &json!("registrar"), &Value::Null)
    );
    assert_eq!(record["cautions"][0], "Confirmed by A. Examiner, registrar, as version 1; the time stands beside it.");
    let again = page.post(&to("sign"), &sent(&record, json!({}))).is(409, "signed");
    assert_eq!(again["record"]["signatures"].as_array().unwrap().len(), 1);
    // What is decided behind a signature is a draft until it is signed, too.
    let wish = json!({ "wishes": [{ "kind": "add", "item": "gag", "value": "present" }] });
    let later = page.post(&to("decide"), &sent(&record, wish)).ok();
    assert_eq!((&later["state"], &later["decided_since"]), (&json!("signed"), &json!(1)));
    assert!(later["cautions"][1].as_str().unwrap().starts_with("DRAFT, not confirmed"), "{later}");
    amended(&page, &id, &later, &place("suck"));
}

fn amended(page: &Opened, id: &str, record: &Value, suck: &Value) {
    let to = format!("/api/records/{id}/amend");
    let wishes = json!([{ "kind": "change", "finding": suck, "value": "weak" }]);
    // Without a reason neither the decision nor the signature is taken in.
    page.post(&to, &sent(record, json!({ "wishes": wishes }))).is(422, "undecided");
    page.post(&to, &sent(record, json!({ "wishes": wishes, "reason": " " }))).is(422, "undecided");
    assert_eq!(page.record(id)["seen"], record["seen"]);
    let record =
        page.post(&to, &sent(record, json!({ "wishes": wishes, "reason": "seen again with the parents" }))).ok();
    assert_eq!((&record["state"], &record["signatures"][1]["version"]), (&json!("amended"), &json!(2)));
    assert_eq!(record["signatures"][1]["reason"], "seen again with the parents");
    assert_eq!(record["signatures"][1]["last"], record["seen"]);
    let store = page.store();
    let (first, second) = (store.signed(id, Some(1)).unwrap(), store.signed(id, Some(2)).unwrap());
    let value = |signed: &spoken_exam::record::SignedRecord| {
        signed.findings().iter().find(|finding| finding.item == "suck").unwrap().value.clone()
    };
    assert_eq!((value(&first).as_str(), value(&second).as_str()), ("strong", "weak"));
    check_sound(&store);
}

#[test]
fn what_somebody_else_decided_meanwhile_is_shown_and_asked_again() {
    let page = Opened::new();
    let id = page.keep_text(NOTE);
    let decide = format!("/api/records/{id}/decide");
    let looked_at = page.record(&id);
    let mine = json!({ "wishes": [{ "kind": "confirm", "finding": "d2" }] });
    let mut theirs = sent(&looked_at, json!({ "wishes": [{ "kind": "reject", "finding": "d2" }] }));
    theirs["by"] = json!({ "name": "B. Other", "role": "consultant" });
    page.post(&decide, &theirs).ok();
    let refused = page.post(&decide, &sent(&looked_at, mine.clone())).is(409, "decided-meanwhile");
    assert!(refused["words"].as_str().unwrap().contains("B. Other, consultant"), "{refused}");
    assert_eq!(refused["finding"], "d2");
    let now = &refused["record"];
    assert_eq!(now, &page.record(&id), "the record as it is now goes with it");
    assert_eq!(now["findings"][1]["decision"]["by"], "B. Other");
    // Another finding is another matter.
    let other = json!({ "wishes": [{ "kind": "confirm", "finding": "d1" }] });
    page.post(&decide, &sent(&looked_at, other)).ok();
    page.post(&format!("/api/records/{id}/sign"), &sent(&looked_at, json!({}))).is(409, "not-seen");
    // All clear: one of them was decided by somebody else, and is left alone.
    let record = page.post(&format!("/api/records/{id}/confirm-clear"), &sent(&looked_at, json!({}))).ok();
    assert_eq!(record["findings"][1]["decision"]["kind"], "rejected");
    page.post(&decide, &sent(&page.record(&id), json!({ "wishes": [{ "kind": "confirm", "finding": "d1" }] })))
        .is(422, "decided");
}

#[test]
fn nobody_decides_upon_a_draft_that_was_replaced() {
    let page = Opened::new();
    let id = page.keep_text(NOTE);
    let looked_at = page.record(&id);
    let mut newer = flow::of_text(&LEXICON, NOTE, "note.txt").draft;
    newer.findings.pop();
    page.store().redraft(&id, &newer, WHEN).unwrap();
    let wish = json!({ "wishes": [{ "kind": "confirm", "finding": "d2" }] });
    let refused = page.post(&format!("/api/records/{id}/decide"), &sent(&looked_at, wish)).is(409, "newer-draft");
    assert_eq!(refused["record"]["draft"]["version"], 2);
    assert_eq!(page.record(&id)["seen"], 0);
}

#[test]
fn what_cannot_be_understood_decides_nothing() {
    let page = Opened::new();
    let id = page.keep_text(NOTE);
    let record = page.record(&id);
    let decide = format!("/api/records/{id}/decide");
    let confirm = json!([{ "kind": "confirm", "finding": "d1" }]);
    let mut nobody = sent(&record, json!({ "wishes": confirm }));
    nobody["by"]["name"] = json!(" ");
    page.post(&decide, &nobody).is(422, "no-person");
    for wishes in [
        json!([{ "kind": "confirm", "finding": "d1" }, { "kind": "confirm", "finding": "d99" }]),
        json!([{ "kind": "confirm", "finding": "d1" }, { "kind": "undo", "entry": 7 }]),
        json!([{ "kind": "confirm", "finding": "d1" }, { "kind": "add", "item": "horn", "value": "normal" }]),
    ] {
        assert_eq!(page.post(&decide, &sent(&record, json!({ "wishes": wishes }))).status, 422, "{wishes}");
    }
    for body in [
        json!(null),
        json!([]),
        json!({ "wishes": confirm }),
        sent(&record, json!({ "wishes": [{ "kind": "sign" }] })),
        sent(&record, json!({ "wishes": [{ "kind": "confirm", "finding": 1 }] })),
        sent(&record, json!({ "wishes": [{ "kind": "confirm", "finding": "d1", "also": 1 }] })),
        sent(&record, json!({ "wishes": confirm, "seen": -1 })),
        sent(&record, json!({ "wishes": confirm, "force": true })),
        sent(&record, json!({ "wishes": confirm, "reason": "a reason belongs to an amendment" })),
    ] {
        page.post(&decide, &body).is(400, "not-understood");
    }
    for text in ["", "{", "[[[[", &"[".repeat(60_000), "\u{feff}{}"] {
        page.post_text(&decide, text.to_owned()).is(400, "not-understood");
    }
    page.post_text(&decide, vec![b'['; 64 * 1024 + 1]).is(413, "too-long");
    assert_eq!(page.record(&id)["seen"], 0);
}

// --- Sound ---

/// Two seconds of a rising saw, so that every place sounds otherwise; and the draft of a note with that sound.
fn recorded(page: &Opened) -> (String, Vec<i16>) {
    let samples: Vec<i16> = (0..32_000_i16).collect();
    let file: PathBuf = page.folder.path().join("visit.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&file, spec).unwrap();
    samples.iter().for_each(|sample| writer.write_sample(*sample).unwrap());
    writer.finalize().unwrap();
    let mut draft = flow::of_text(&LEXICON, NOTE, "visit.wav").draft;
    draft.source.sha256 = sha256(&std::fs::read(&file).unwrap());
    (page.store().keep(&draft, Some(&file), WHEN).unwrap(), samples)
}

fn heard(answer: Answer) -> Vec<i16> {
    assert_eq!((answer.status, answer.header("content-type")), (200, "audio/wav"));
    let mut wav = hound::WavReader::new(&answer.body[..]).unwrap();
    assert_eq!(wav.spec().sample_rate, 16_000);
    wav.samples::<i16>().map(Result::unwrap).collect()
}

#[test]
fn a_stretch_of_the_recording_is_played_as_long_as_there_is_one() {
    let page = Opened::new();
    let (id, samples) = recorded(&page);
    assert_eq!(page.record(&id)["sound"], "kept");
    let sound = |span: &str| page.get(&format!("/api/records/{id}/sound{span}"));
    for _ in 0..2 {
        assert_eq!(heard(sound("?from=500&to=750")), samples[8_000..12_000]);
    }
    assert_eq!(heard(sound("?from=1900&to=999999")), samples[30_400..]);
    assert_eq!(heard(sound("")), samples);
    assert_eq!(heard(sound("?from=9000&to=9100")), Vec::<i16>::new());
    sound("?from=-500&to=750").is(400, "not-understood");
    // By the store's policy the recording goes with the signature, out of memory too.
    let record = page.post(&format!("/api/records/{id}/confirm-clear"), &sent(&page.record(&id), json!({}))).ok();
    let record = page.post(&format!("/api/records/{id}/sign"), &sent(&record, json!({}))).ok();
    assert_eq!(record["sound"], "deleted");
    sound("?from=500&to=750").is(404, "no-sound");
    page.get(&format!("/api/records/{}/sound", page.keep_text(NOTE))).is(404, "no-sound");
}

#[test]
fn a_recording_that_somebody_deletes_is_not_played_from_memory() {
    let page = Opened::new();
    page.store().set_keep_sound(KeepSound::ForEver, WHEN).unwrap();
    let (id, samples) = recorded(&page);
    assert_eq!(heard(page.get(&format!("/api/records/{id}/sound"))), samples);
    page.store().delete_sound(&id, WHEN).unwrap();
    page.get(&format!("/api/records/{id}/sound")).is(404, "no-sound");
}

// --- What was misheard ---

#[test]
fn what_was_misheard_is_shown_first_and_then_understood() {
    let own = tempfile::tempdir().unwrap();
    let page = Opened::with(|desk| desk.with_own_lexicon(Some(own.path().to_owned())));
    let misheard = json!({ "heard": "zibble \"wockets\"", "said": "ankle clonus" });
    let shown = page.post("/api/misheard/preview", &misheard).ok();
    assert!(shown["toml"].as_str().unwrap().contains("heard = \"zibble \\\"wockets\\\"\""), "{shown}");
    assert_eq!((&shown["known"], std::fs::read_dir(own.path()).unwrap().count()), (&json!(false), 0));
    let said = "No zibble wockets on the left.";
    assert!(flow::of_text(&LEXICON, said, "a.txt").draft.findings.is_empty());
    page.post("/api/misheard", &misheard).ok();
    let lexicon = Lexicon::load(Some(own.path())).unwrap();
    let findings = flow::of_text(&lexicon, said, "a.txt").draft.findings;
    assert_eq!(findings.first().map(|finding| finding.item.as_str()), Some("ankle-clonus"));
    let before = std::fs::read(own.path().join("misheard.toml")).unwrap();
    assert_eq!(page.post("/api/misheard", &misheard).ok()["known"], true);
    assert_eq!(
        std::fs::read(own.path().join("misheard.toml")).unwrap(),
        before,
        "what stands there is not written twice"
    );
    page.post("/api/misheard", &json!({ "heard": "popper teal", "said": "popliteal" })).ok();
    let after = std::fs::read(own.path().join("misheard.toml")).unwrap();
    assert!(after.starts_with(&before) && after.len() > before.len());
    assert_eq!(std::fs::read_dir(own.path()).unwrap().count(), 1, "nothing is left beside it");
}

#[test]
fn what_would_spoil_the_lexicon_is_not_written() {
    let own = tempfile::tempdir().unwrap();
    let page = Opened::with(|desk| desk.with_own_lexicon(Some(own.path().to_owned())));
    for (heard, said) in [
        ("more oohs", "a horn on the forehead"),
        ("fifteen", "Moro"),
        ("no clonk us", "clonus"),
        ("lift", ""),
        ("left", "Moro"),
        ("knee jerk", "Moro"),
        ("...", "Moro"),
        ("the", "Moro"),
        ("it is", "Moro"),
        ("him", "Moro"),
        ("baby", "Moro"),
        ("two\nlines", "Moro"),
        (&"long ".repeat(30), "Moro"),
    ] {
        for path in ["/api/misheard/preview", "/api/misheard"] {
            page.post(path, &json!({ "heard": heard, "said": said })).is(422, "not-proposed");
        }
    }
    assert_eq!(std::fs::read_dir(own.path()).unwrap().count(), 0);
    let without = Opened::new();
    let misheard = json!({ "heard": "morrow oohs", "said": "Moro" });
    assert_eq!(without.post("/api/misheard/preview", &misheard).ok()["file"], "misheard.toml");
    without.post("/api/misheard", &misheard).is(409, "no-folder");
}

// --- Whatever is sent ---

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]
    #[test]
    fn whatever_is_sent_is_answered_and_decides_nothing(body in "\\PC{0,200}", path in "[a-z0-9/%.?=&-]{0,40}", number in proptest::num::u64::ANY) {
        static PAGE: LazyLock<(Opened, String)> = LazyLock::new(|| {
            let page = Opened::new();
            let id = page.keep_text(NOTE);
            (page, id)
        });
        let (page, id) = &*PAGE;
        let wish = json!({ "seen": number, "draft": 1, "by": { "name": body, "role": body }, "wishes": [
            { "kind": "change", "finding": format!("d{number}"), "side": body, "value": body },
        ] });
        for (to, sent) in [("decide", body.clone()), ("decide", wish.to_string()), ("sign", wish.to_string()), ("amend", body)] {
            let answer = page.post_text(&format!("/api/records/{id}/{to}"), sent);
            proptest::prop_assert!((400..500).contains(&answer.status), "{answer:?}");
        }
        let path = format!("/{path}");
        if path.parse::<axum::http::Uri>().is_ok() {
            let status = page.get(&path).status;
            proptest::prop_assert!(status < 500, "{} {}", path, status);
        }
        proptest::prop_assert_eq!(&page.record(id)["seen"], 0);
    }
}

// --- Many at once ---

#[test]
fn fifty_reviewers_at_once_are_answered_and_nothing_is_lost() {
    let page = Opened::new();
    let shared = page.keep_text("No ankle clonus on the left.");
    let review = |number: usize| {
        let own = page.keep_text(&format!("Baby number {number}. No ankle clonus on the left."));
        assert!(page.get("/api/records?search=clonus&page=1").status == 200);
        let confirmed =
            page.post(&format!("/api/records/{own}/confirm-clear"), &sent(&page.record(&own), json!({}))).ok();
        assert_eq!(confirmed["state"], "in-review");
        page.post(&format!("/api/records/{own}/sign"), &sent(&confirmed, json!({}))).ok();
        let wish = json!({ "kind": "add", "item": "suck", "side": "none", "value": "strong", "approx": false });
        // Whoever comes later is asked again, sees what stands there, and decides again.
        let mut seen = page.record(&shared);
        loop {
            let answer = page.post(&format!("/api/records/{shared}/decide"), &sent(&seen, json!({ "wishes": [wish] })));
            if answer.status == 200 {
                break;
            }
            seen = answer.is(409, "decided-meanwhile")["record"].clone();
        }
    };
    std::thread::scope(|scope| {
        let all: Vec<_> = (0..50).map(|number| scope.spawn(move || review(number))).collect();
        all.into_iter().for_each(|one| one.join().expect("every request is answered as it should be"));
    });
    assert_eq!(page.record(&shared)["seen"], 50);
    assert_eq!(page.get("/api/records?state=signed").ok()["total"], 50);
    assert_eq!(page.store().verify().expect("it can be read").faults, []);
}

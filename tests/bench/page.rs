//! How long the page's server takes to answer, without a network.
//! Takes a store of 1,000 records, one of them of about sixty findings with a recording of ten minutes; measures the list, that
//! record, a decision and a stretch of sound. Leaves alone what the browser does with it (`tests/page`).
//! The store lies in memory where Linux has /dev/shm, so that the figures are the program's and not a disk's.

#![allow(clippy::expect_used, missing_docs, reason = "a bench may give up, and its macros document nothing")]

use std::path::Path;
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use criterion::{Criterion, criterion_group, criterion_main};
use serde_json::{Value, json};
use sha2::Digest;
use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::page::{Desk, app};
use spoken_exam::record::Moment;
use spoken_exam::store::Store;
use tokio::runtime::Runtime;
use tower::ServiceExt;

const PORT: u16 = 4711;
/// Short records.
const RECORDS: i64 = 800;
/// Long ones that decisions are made about: nobody decides a thousand times about one.
const DECIDED: usize = 199;

/// A server and the cookie that opens it.
struct Page {
    runtime: Runtime,
    app: Router,
    cookie: String,
}

impl Page {
    fn ask(&self, method: &str, path: &str, body: String) -> (Option<String>, Vec<u8>) {
        let request = Request::builder().method(method).uri(path).header("host", format!("127.0.0.1:{PORT}"));
        let request = request.header("cookie", &self.cookie).header("origin", format!("http://127.0.0.1:{PORT}"));
        let request = request.header("content-type", "application/json").body(Body::from(body)).expect("a request");
        self.runtime.block_on(async {
            let (head, body) = self.app.clone().oneshot(request).await.expect("an answer").into_parts();
            assert!(head.status.as_u16() < 400, "{path}: {}", head.status);
            let cookie = head.headers.get("set-cookie").and_then(|value| value.to_str().ok()).map(str::to_owned);
            (cookie, axum::body::to_bytes(body, usize::MAX).await.expect("a body").to_vec())
        })
    }

    fn json(&self, method: &str, path: &str, body: String) -> Value {
        serde_json::from_slice(&self.ask(method, path, body).1).expect("JSON")
    }
}

/// Records of about sixty findings; the last one has a recording of ten minutes, which is no more than long.
fn long(store: &mut Store, lexicon: &Lexicon, folder: &Path) -> Vec<String> {
    let text = ["girl-on-the-ward", "quick-term-boy"].map(|name| {
        std::fs::read_to_string(format!("{}/samples/{name}.txt", env!("CARGO_MANIFEST_DIR"))).expect("a sample")
    });
    let mut draft = flow::of_text(lexicon, &text.join("\n"), "long.wav").draft;
    let file = folder.join("long.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&file, spec).expect("a file");
    (0..9_600_000_u32).for_each(|at| writer.write_sample((at % 20_011) as i16).expect("written"));
    writer.finalize().expect("written");
    draft.source.sha256 = format!("{:x}", sha2::Sha256::digest(std::fs::read(&file).expect("it is there")));
    let recorded = store.keep(&draft, Some(&file), Moment(1_700_000_002_000)).expect("it is kept");
    let more = (0..DECIDED).map(|_| store.keep(&draft, None, Moment(1_700_000_001_000)).expect("it is kept"));
    more.chain([recorded]).collect()
}

fn opened(folder: &Path) -> (Page, Vec<String>) {
    let lexicon = Lexicon::load(None).expect("the lexicon has no faults");
    let mut store = Store::open(&folder.join("store")).expect("it opens");
    let short = flow::of_text(&lexicon, include_str!("../cli/narrations/short.txt"), "visit.m4a").draft;
    for number in 0..RECORDS {
        store.keep(&short, None, Moment(1_700_000_000_000 + number)).expect("it is kept");
    }
    let ids = long(&mut store, &lexicon, folder);
    let desk = Desk::new(store, lexicon, PORT).expect("a desk");
    let address = desk.address();
    let opening = address.split_at(address.find("/open").expect("a secret path")).1.to_owned();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let mut page = Page { runtime, app: app(Arc::new(desk)), cookie: String::new() };
    page.cookie =
        page.ask("GET", &opening, String::new()).0.expect("a cookie").split(';').next().expect("a pair").to_owned();
    (page, ids)
}

fn page(criterion: &mut Criterion) {
    let memory = Path::new("/dev/shm");
    let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.expect("a folder");
    let (page, ids) = opened(folder.path());
    let id = ids.last().expect("a record");
    let findings =
        page.json("GET", &format!("/api/records/{id}"), String::new())["findings"].as_array().map_or(0, Vec::len);
    let mut group = criterion.benchmark_group(format!("the page, a record of {findings} findings"));
    group.sample_size(20);
    let mut get = |name: &str, path: String| {
        group.bench_function(name, |bench| bench.iter(|| page.ask("GET", &path, String::new())));
    };
    get("the lexicon", "/api/lexicon".to_owned());
    get("the list", "/api/records".to_owned());
    get("a search", "/api/records?search=39%2B2wk&state=draft".to_owned());
    get("the record", format!("/api/records/{id}"));
    get("three seconds of its sound", format!("/api/records/{id}/sound?from=300000&to=303000"));
    let mut others = ids.iter().take(DECIDED).map(|id| (format!("/api/records/{id}/decide"), id)).cycle();
    let by = json!({ "name": "A. Examiner", "role": "registrar" });
    group.bench_function("a decision, with the record before and behind it", |bench| {
        bench.iter(|| {
            let (decide, id) = others.next().expect("without end");
            let record = page.json("GET", &format!("/api/records/{id}"), String::new());
            // What was decided in the round before is undone in this one.
            let (seen, entry) = (&record["seen"], &record["findings"][2]["decision"]["entry"]);
            let wish = match entry {
                Value::Null => json!({ "kind": "confirm", "finding": "d3" }),
                entry => json!({ "kind": "undo", "entry": entry }),
            };
            page.ask("POST", &decide, json!({ "seen": seen, "draft": 1, "by": by, "wishes": [wish] }).to_string())
        });
    });
    group.finish();
}

criterion_group!(benches, page);
criterion_main!(benches);

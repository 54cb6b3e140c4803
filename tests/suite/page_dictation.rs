//! Dictation on the page, over the loopback address: who may begin one, what goes over its line, and what becomes of it when the
//! page goes, the program is stopped, or another page wants one.
//! A recogniser that says the same of every stretch of sound stands in; everything else is the program's own. Leaves alone what
//! is understood (`live`) and what the browser shows (`tests/page`).

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::live::Crew;
use spoken_exam::page::{self, Desk, Dictation, Stop};
use spoken_exam::speech::scripted::Scripted;
use spoken_exam::store::Store;

const SAID: &str = "no ankle clonus on the left";
const BLOCK: usize = 1600;

/// A served page that somebody has opened.
struct Served {
    port: u16,
    cookie: String,
    stop: Stop,
    serving: Option<JoinHandle<()>>,
}

fn crew() -> Crew {
    let hearer = || Box::new(Scripted::of_lines(&[(100, 900, SAID)]));
    Crew {
        quick: hearer(),
        guesser: None,
        stop_guess: Arc::default(),
        again: Vec::new(),
        stop_again: Arc::default(),
        last: vec![hearer()],
        voice: None,
    }
}

impl Served {
    fn new(folder: &Path) -> Self {
        let dictation = Dictation { crew: Box::new(|_| Ok(crew())), check: Box::new(|| Ok(())) };
        Self::with(folder, |desk| desk.with_dictation(dictation))
    }

    fn with(folder: &Path, more: impl FnOnce(Desk) -> Desk) -> Self {
        let store = Store::open(folder).expect("it opens");
        let (listener, port) = page::listen(0).expect("a port");
        let desk = more(Desk::new(store, Lexicon::load(None).expect("no faults"), port).expect("a desk"));
        let path = desk.address().split_once(&port.to_string()).expect("its port").1.to_owned();
        let stop = Stop::default();
        let stopped = stop.clone();
        let serving = std::thread::spawn(move || page::serve(listener, Arc::new(desk), &stopped).expect("it serves"));
        let mut served = Self { port, cookie: String::new(), stop, serving: Some(serving) };
        let opened = served.ask(&format!("GET {path} HTTP/1.1"), &[], "");
        let cookie = opened.split("set-cookie: ").nth(1).and_then(|rest| rest.split(';').next());
        served.cookie = cookie.expect("a cookie").to_owned();
        served
    }

    fn own(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).expect("it listens");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a timeout");
        stream
    }

    /// Asks once, and gives all of the answer.
    fn ask(&self, first_line: &str, headers: &[(&str, &str)], body: &str) -> String {
        let mut stream = self.connect();
        let own = [("connection", "close"), ("cookie", self.cookie.as_str())];
        self.write_head(&mut stream, first_line, &[&own, headers].concat(), body);
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("it answers");
        answer
    }

    fn write_head(&self, stream: &mut TcpStream, first_line: &str, headers: &[(&str, &str)], body: &str) {
        let mut head = format!("{first_line}\r\nhost: 127.0.0.1:{}\r\ncontent-length: {}\r\n", self.port, body.len());
        for (name, value) in headers {
            head.push_str(&format!("{name}: {value}\r\n"));
        }
        write!(stream, "{head}\r\n{body}").expect("sent");
    }

    fn get(&self, path: &str) -> Value {
        let answer = self.ask(&format!("GET {path} HTTP/1.1"), &[], "");
        serde_json::from_str(answer.split_once("\r\n\r\n").expect("a body").1).unwrap_or_else(|_| panic!("{answer}"))
    }

    fn post(&self, path: &str, body: &Value) -> (u16, Value) {
        let own = self.own();
        let headers = [("origin", own.as_str()), ("content-type", "application/json")];
        let answer = self.ask(&format!("POST {path} HTTP/1.1"), &headers, &body.to_string());
        let body = answer.split_once("\r\n\r\n").expect("a body").1;
        (status(&answer), serde_json::from_str(body).unwrap_or_else(|_| panic!("{answer}")))
    }

    /// Asks for a line with these headers beside those that every line is asked for with.
    fn line_with(&self, headers: &[(&str, &str)]) -> Result<Line, u16> {
        let mut stream = self.connect();
        let wanted = [
            ("connection", "Upgrade"),
            ("upgrade", "websocket"),
            ("sec-websocket-version", "13"),
            ("sec-websocket-key", "dGhlIHNhbXBsZSBub25jZQ=="),
        ];
        self.write_head(&mut stream, "GET /api/dictation/live HTTP/1.1", &[&wanted, headers].concat(), "");
        let mut head = Vec::new();
        while !head.ends_with(b"\r\n\r\n") {
            let mut byte = [0];
            stream.read_exact(&mut byte).expect("a head");
            head.extend(byte);
        }
        match status(&String::from_utf8(head).expect("letters")) {
            101 => Ok(Line(stream)),
            refused => Err(refused),
        }
    }

    fn line(&self) -> Line {
        let own = self.own();
        self.line_with(&[("cookie", &self.cookie), ("origin", &own)]).unwrap_or_else(|status| panic!("{status}"))
    }

    fn stop(mut self) {
        self.stop.now();
        self.serving.take().expect("once").join().expect("it ends well");
    }
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or_else(|| panic!("{answer}"))
}

/// A WebSocket, as much of one as is needed.
struct Line(TcpStream);

impl Line {
    fn send(&mut self, kind: u8, payload: &[u8]) {
        let mut frame = vec![0x80 | kind];
        match payload.len() {
            short @ 0..126 => frame.push(0x80 | u8::try_from(short).expect("short")),
            long @ 126..65536 => {
                frame.push(0x80 | 126);
                frame.extend(u16::try_from(long).expect("long").to_be_bytes());
            }
            longer => {
                frame.push(0x80 | 127);
                frame.extend((longer as u64).to_be_bytes());
            }
        }
        // A mask of zeros leaves everything as it is.
        frame.extend([0; 4]);
        frame.extend(payload);
        // Who is refused need not wait until all of it was sent.
        let _ = self.0.write_all(&frame);
    }

    fn order(&mut self, order: &Value) {
        self.send(1, order.to_string().as_bytes());
    }

    /// A second and a half of something, and as much quiet.
    fn speak(&mut self) {
        for at in 0..30 {
            let loud: i16 = if at < 15 { 6000 } else { 0 };
            let block = (0..BLOCK).flat_map(|at| (if at / 8 % 2 == 0 { loud } else { -loud }).to_le_bytes());
            self.send(2, &block.collect::<Vec<u8>>());
        }
    }

    /// What comes next; nothing if the line was closed.
    fn next(&mut self) -> Option<Value> {
        let mut head = [0; 2];
        match self.0.read_exact(&mut head) {
            Ok(()) => {}
            Err(error) if matches!(error.kind(), ErrorKind::UnexpectedEof | ErrorKind::ConnectionReset) => return None,
            Err(error) => panic!("nothing came: {error}"),
        }
        let length = match head[1] {
            126 => {
                let mut long = [0; 2];
                self.0.read_exact(&mut long).expect("a length");
                u16::from_be_bytes(long).into()
            }
            127 => panic!("too long a message"),
            short => usize::from(short),
        };
        let mut payload = vec![0; length];
        self.0.read_exact(&mut payload).expect("all of it");
        match head[0] & 0x0f {
            1 => Some(serde_json::from_slice(&payload).expect("JSON")),
            8 => None,
            _ => self.next(),
        }
    }

    /// Waits for what is of this kind and so.
    #[track_caller]
    fn wait(&mut self, kind: &str, is_so: impl Fn(&Value) -> bool) -> Value {
        let late = Instant::now() + Duration::from_secs(20);
        while let Some(told) = self.next() {
            if told["kind"] == kind && is_so(&told) {
                return told;
            }
            assert!(Instant::now() < late, "it never came to {kind}");
        }
        panic!("the line was closed before it came to {kind}")
    }

    #[track_caller]
    fn begins(&mut self, order: &Value) -> String {
        self.order(order);
        self.wait("ready", |_| true)["id"].as_str().expect("an id").to_owned()
    }
}

fn has_finding(told: &Value) -> bool {
    told["findings"].as_array().is_some_and(|findings| findings.iter().any(|found| found["item"] == "ankle-clonus"))
}

fn begin() -> Value {
    json!({ "order": "begin", "set": "full" })
}

#[test]
fn a_line_is_for_the_page_itself_alone() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(folder.path());
    let (own, cookie) = (served.own(), served.cookie.clone());
    let refused = |headers: &[(&str, &str)]| served.line_with(headers).err();
    assert_eq!(refused(&[("cookie", &cookie), ("origin", &own)]), None);
    assert_eq!(refused(&[("origin", &own)]), Some(401));
    assert_eq!(refused(&[("cookie", "spoken-exam-1=0"), ("origin", &own)]), Some(401));
    assert_eq!(refused(&[("cookie", &cookie)]), Some(403));
    assert_eq!(refused(&[("cookie", &cookie), ("origin", "http://127.0.0.1:1")]), Some(403));
    assert_eq!(refused(&[("cookie", &cookie), ("origin", "null")]), Some(403));
    assert_eq!(refused(&[("cookie", &cookie), ("origin", &own), ("origin", &own)]), Some(403));
    assert_eq!(refused(&[("cookie", &cookie), ("origin", &own), ("sec-fetch-site", "same-site")]), Some(403));
    assert_eq!(status(&served.ask("GET /api/dictation/live HTTP/1.1", &[], "")), 400);
    served.stop();
}

#[test]
fn what_is_spoken_becomes_a_record() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(folder.path());
    let mut line = served.line();
    line.begins(&begin());
    line.speak();
    let draft = line.wait("draft", has_finding);
    let found = &draft["findings"][0];
    assert_eq!((&found["side"], &found["words"], &found["newest"]), (&json!("left"), &json!("absent"), &json!(true)));
    line.order(&json!({ "order": "end" }));
    line.wait("ending", |_| true);
    let record = line.wait("record", |_| true)["id"].as_str().expect("an id").to_owned();
    assert_eq!(line.next(), None, "nothing comes behind it");
    let record = served.get(&format!("/api/records/{record}"));
    assert_eq!(record["findings"][0]["item"], "ankle-clonus");
    assert_eq!(record["sound"], "kept");
    let known = served.get("/api/dictation");
    assert_eq!((&known["running"], &known["unfinished"]), (&Value::Null, &json!([])));
    served.stop();
}

#[test]
fn there_is_one_dictation_and_its_page_may_come_back() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(folder.path());
    let mut line = served.line();
    let id = line.begins(&begin());
    assert_eq!(served.get("/api/dictation")["running"], json!({ "id": null }), "no other page learns its id");
    let mut other = served.line();
    other.order(&begin());
    let words = other.wait("refused", |_| true)["words"].as_str().expect("words").to_owned();
    assert!(words.starts_with("A dictation is under way in another tab"), "{words}");
    let mut stranger = served.line();
    stranger.order(&json!({ "order": "rejoin", "id": "0198" }));
    stranger.wait("refused", |_| true);
    line.speak();
    line.wait("draft", has_finding);
    drop(line);
    let late = Instant::now() + Duration::from_secs(5);
    while served.get("/api/dictation")["running"] != json!({ "id": id }) {
        assert!(Instant::now() < late, "it is offered to whoever comes when its page is gone");
    }
    let mut back = served.line();
    back.order(&json!({ "order": "rejoin", "id": id }));
    let ready = back.wait("ready", |_| true);
    assert_eq!(ready["heard"], 30, "the page learns how many blocks came in");
    let draft = back.wait("draft", has_finding);
    assert_eq!(draft["first"], true);
    // A page that was thought to be there gives way to the one that comes.
    let mut again = served.line();
    again.order(&json!({ "order": "rejoin", "id": id }));
    again.wait("draft", has_finding);
    while back.next().is_some() {}
    again.order(&json!({ "order": "end" }));
    again.wait("record", |_| true);
    served.stop();
}

#[test]
fn what_is_too_long_or_not_understood_ends_no_dictation() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(folder.path());
    let mut line = served.line();
    let id = line.begins(&begin());
    line.order(&json!({ "order": "dance" }));
    line.wait("trouble", |told| told["words"].as_str().is_some_and(|words| words.contains("load the page again")));
    line.send(2, &vec![0; 64 * 1024 + 2]);
    while line.next().is_some() {}
    let mut back = served.line();
    back.order(&json!({ "order": "rejoin", "id": id }));
    back.wait("ready", |_| true);
    back.order(&json!({ "order": "end" }));
    back.wait("record", |_| true);
    served.stop();
}

#[test]
fn a_program_that_is_stopped_leaves_a_recording_of_which_a_draft_is_made_later() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::new(folder.path());
    let mut line = served.line();
    let id = line.begins(&begin());
    line.speak();
    line.wait("draft", has_finding);
    served.stop();
    let served = Served::new(folder.path());
    let unfinished = served.get("/api/dictation")["unfinished"].clone();
    assert_eq!((&unfinished[0]["id"], &unfinished[0]["length_ms"]), (&json!(id), &json!(3000)));
    let mut line = served.line();
    line.begins(&json!({ "order": "recover", "id": id }));
    let record = line.wait("record", |_| true)["id"].as_str().expect("an id").to_owned();
    assert_eq!(served.get(&format!("/api/records/{record}"))["findings"][0]["item"], "ankle-clonus");
    let mut again = served.line();
    again.order(&json!({ "order": "recover", "id": id }));
    again.wait("left", |told| told["words"].as_str().is_some_and(|words| words.ends_with('.')));
    served.stop();
}

#[test]
fn a_recording_that_nobody_wants_is_deleted_and_how_long_sound_is_kept_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    let id = store.begin_taking(spoken_exam::record::Moment(1_700_000_000_000)).unwrap().id().to_owned();
    drop(store);
    let served = Served::new(folder.path());
    let known = served.get("/api/dictation");
    assert_eq!((&known["available"], &known["chosen"]), (&json!(true), &json!(false)));
    assert!(known["orders"].as_array().is_some_and(|orders| orders.len() == 7), "{known}");
    assert_eq!(served.post("/api/dictation/keep-sound", &json!({ "policy": "sometimes" })).0, 400);
    assert_eq!(served.post("/api/dictation/keep-sound", &json!({ "policy": "not-kept" })).0, 200);
    assert_eq!(served.post("/api/dictation/drop", &json!({ "id": "../store" })).0, 404);
    assert_eq!(served.post("/api/dictation/drop", &json!({ "id": "0198" })).0, 404);
    assert_eq!(served.post("/api/dictation/drop", &json!({ "id": id })).0, 200);
    let known = served.get("/api/dictation");
    assert_eq!((&known["policy"], &known["chosen"]), (&json!("not-kept"), &json!(true)));
    assert_eq!(known["unfinished"], json!([]));
    served.stop();
}

#[test]
fn where_there_can_be_no_dictation_it_is_said_why() {
    let folder = tempfile::tempdir().unwrap();
    let none = || Err("cannot find the speech model base; run `spoken-exam setup`".to_owned());
    let no_models = Dictation { crew: Box::new(|_| Err("no model".to_owned())), check: Box::new(none) };
    let served = Served::with(folder.path(), |desk| desk.with_dictation(no_models));
    let known = served.get("/api/dictation");
    assert_eq!(known["available"], false);
    assert_eq!(known["why"], "Cannot find the speech model base; run `spoken-exam setup`.");
    let mut line = served.line();
    line.order(&begin());
    assert_eq!(line.wait("refused", |_| true)["words"], "No model.");
    assert_eq!(served.get("/api/dictation")["running"], Value::Null, "the place is free again");
    served.stop();
}

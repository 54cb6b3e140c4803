//! Nothing of a narration, and no name, is left where nobody looks for it: not on standard error, and in no file but those that were
//! asked for.
//! Takes the built program in a home of its own, with everything switched on that makes libraries talk; fails where a word of the
//! narration stands beside the results. Leaves alone the results, the store, the screen of a dictation, what a file is called by its
//! owner, memory and swap, and what was in files that are gone again.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use spoken_exam::record::{FindingId, Wish};
use spoken_exam::store::Store;

use crate::corpus::LEXICON;
use crate::store::author;

const NOTE: &str = "Baby Zebedee Quillfeather, a boy, two days old.\nNo ankle clonus on the left.\n\
    Scarf sign on the right to the midline, and grandmother Philomena is watching.";
/// Words of the note that stand nowhere in the program's own messages.
const TOLD: [&str; 6] = ["zebedee", "quillfeather", "philomena", "clonus", "scarf", "midline"];

/// A home with nothing in it, and folders for what is asked for.
struct Home(tempfile::TempDir);

impl Home {
    fn new() -> Self {
        let home = Self(tempfile::tempdir().expect("a folder"));
        for folder in ["home", "tmp", "work", "asked"] {
            fs::create_dir(home.at(folder)).expect("a folder");
        }
        fs::write(home.at("asked/note.txt"), NOTE).expect("it can be written");
        home
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
        command.env_clear().env("PATH", std::env::var_os("PATH").unwrap_or_default());
        for (name, folder) in
            [("HOME", "home"), ("TMPDIR", "tmp"), ("XDG_STATE_HOME", "home"), ("XDG_CACHE_HOME", "home")]
        {
            command.env(name, self.at(folder));
        }
        for talkative in ["RUST_LOG", "GGML_LOG", "WHISPER_LOG", "ALSA_DEBUG", "DEBUG", "SQLITE_LOG", "TRACE"] {
            command.env(talkative, "trace");
        }
        command.env("RUST_BACKTRACE", "full").env("LIBASOUND_DEBUG", "1").env("SPOKEN_EXAM_STORE", self.at("store"));
        command.env("SPOKEN_EXAM_MODELS", models()).current_dir(self.at("work"));
        command.args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        command
    }

    /// Runs a command; nothing it says beside its result may hold one of the words.
    #[track_caller]
    fn run(&self, arguments: &[&str], words: &[String]) -> Output {
        let output = self.command(arguments).output().expect("it starts");
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(found(said.as_bytes(), words), Vec::<String>::new(), "{arguments:?} says {said}");
        output
    }

    /// Every file that was not asked for, with the words that stand in it.
    fn left_behind(&self, words: &[String]) -> Vec<(PathBuf, Vec<String>)> {
        let places = ["home", "tmp", "work"].map(|folder| self.at(folder));
        let files = places.iter().flat_map(|folder| files_below(folder));
        files.map(|file| (file.clone(), found(&fs::read(file).expect("it can be read"), words))).collect()
    }

    #[track_caller]
    fn check(&self, words: &[String]) {
        let told: Vec<_> = self.left_behind(words).into_iter().filter(|(_, words)| !words.is_empty()).collect();
        assert!(told.is_empty(), "{told:?}");
    }
}

fn models() -> PathBuf {
    spoken_exam::setup::default_folder(&|name| std::env::var_os(name)).expect("a folder")
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("it is a folder").map(|entry| entry.expect("it can be read").path());
    entries.flat_map(|path| if path.is_dir() { files_below(&path) } else { vec![path] }).collect()
}

/// The words that stand in some bytes, however they are written.
fn found(bytes: &[u8], words: &[String]) -> Vec<String> {
    let text = String::from_utf8_lossy(bytes).to_lowercase();
    words.iter().filter(|word| text.contains(word.as_str())).cloned().collect()
}

fn told() -> Vec<String> {
    TOLD.map(str::to_owned).to_vec()
}

/// The record that the note became.
fn kept(home: &Home) -> String {
    let note = home.at("asked/note.txt");
    let output = home.run(&["draft", &note.to_string_lossy(), "--keep"], &told());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("an id").trim().to_owned()
}

#[test]
fn no_word_of_a_note_is_left_by_drafting_keeping_listing_and_exporting() {
    let home = Home::new();
    let id = kept(&home);
    let note = home.at("asked/note.txt");
    let printed = home.run(&["draft", &note.to_string_lossy(), "--format", "json"], &told()).stdout;
    for arguments in [
        &["store", "list"][..],
        &["store", "check"],
        &["store", "show", &id],
        &["draft", &note.to_string_lossy(), "--show", "statements"],
        &["draft", &note.to_string_lossy(), "--show", "mentions"],
        &["export", &id, "--as", "note"],
        &["draft", "../asked/nothing.txt"],
        &["explain", "no ankle clonus, says Philomena"],
    ] {
        home.run(arguments, &told());
    }
    let mut store = Store::open(&home.at("store")).expect("it opens");
    let on = store.record(&id).expect("it is there").draft_id();
    let all = store.record(&id).expect("it is there").review.draft().all_findings().count() as u64;
    let wishes: Vec<Wish> = (1..=all).map(|number| Wish::Confirm(FindingId::Drafted(number))).collect();
    store.decide(&on, &LEXICON, &author(0), &wishes).expect("decided");
    store.sign(&on, &LEXICON, &author(all)).expect("signed");
    drop(store);
    for form in ["note", "markdown", "pdf", "fhir", "csv"] {
        let file = home.at(&format!("asked/visit.{form}"));
        let output = home.run(&["export", &id, "--as", form, "-o", &file.to_string_lossy()], &told());
        assert!(output.status.success() && file.is_file(), "{form}: {}", String::from_utf8_lossy(&output.stderr));
    }
    home.check(&told());
    // The same search finds the words where they belong: it could have found them elsewhere.
    assert_eq!(found(&printed, &told()), TOLD, "in what was printed");
    assert_eq!(found(&fs::read(home.at("store/store.sqlite")).expect("a store"), &told()), TOLD, "in the store");
    assert_eq!(found(&fs::read(home.at("asked/visit.fhir")).expect("a document"), &["clonus".into()]), ["clonus"]);
    fs::write(home.at("home/some.log"), "drafted: No ankle CLONUS").expect("it can be written");
    let planted = home.left_behind(&told());
    assert!(planted.iter().any(|(_, words)| *words == ["clonus"]), "a file with a word in it is found: {planted:?}");
}

#[test]
fn no_word_of_a_record_is_left_by_serving_its_page() {
    let home = Home::new();
    let id = kept(&home);
    let mut program = home.command(&["review", &id[..13]]).spawn().expect("it starts");
    let mut address = String::new();
    BufReader::new(program.stdout.take().expect("a pipe")).read_line(&mut address).expect("it can be read");
    let rest = address.trim_end().strip_prefix("http://127.0.0.1:").expect("an address");
    let (port, path) = rest.split_once('/').expect("a path");
    let path = path.split('#').next().expect("a path");
    let ask = |method: &str, path: &str, headers: &str, body: &str| {
        let mut line = TcpStream::connect((Ipv4Addr::LOCALHOST, port.parse().expect("a port"))).expect("it listens");
        let length = body.len();
        write!(
            line,
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{headers}Content-Length: {length}\r\n\
             Connection: close\r\n\r\n{body}"
        )
        .expect("sent");
        let mut answer = String::new();
        line.read_to_string(&mut answer).map(|_| answer).unwrap_or_default()
    };
    let opened = ask("GET", &format!("/{path}"), "", "");
    let cookie = opened.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
    let cookie = format!("Cookie: {}\r\n", cookie.split(';').next().expect("a pair"));
    let sends = format!("{cookie}Origin: http://127.0.0.1:{port}\r\nContent-Type: application/json\r\n");
    let whole = ask("GET", &format!("/api/records/{id}"), &cookie, "");
    assert_eq!(found(whole.as_bytes(), &told()), TOLD, "the page gets the record");
    let by = "\"by\":{\"name\":\"Zebedee Quillfeather\",\"role\":\"registrar\"}";
    let decide = format!("/api/records/{id}/decide");
    for (method, path, headers, body) in [
        ("GET", "/api/records?search=Quillfeather", "", String::new()),
        ("GET", "/api/records?search=Quillfeather&state=clonus", cookie.as_str(), String::new()),
        ("GET", "/clonus/Quillfeather", cookie.as_str(), String::new()),
        ("DELETE", "/api/records/clonus", cookie.as_str(), String::new()),
        ("POST", &decide, cookie.as_str(), format!("{{{by}}}")),
        ("POST", &decide, sends.as_str(), "{\"clonus\": Quillfeather".to_owned()),
        ("POST", &decide, sends.as_str(), format!("{{\"seen\":9,\"draft\":7,{by}}}")),
        (
            "POST",
            &decide,
            sends.as_str(),
            format!(
                "{{\"seen\":0,\"draft\":1,{by},\"wishes\":[{{\"kind\":\"add\",\"item\":\"philomena\",\"value\":\"x\"}}]}}"
            ),
        ),
        ("POST", &format!("/api/records/{id}/remark"), sends.as_str(), format!("{{{by},\"infant\":\"Quillfeather\"}}")),
        ("POST", &format!("/api/records/{id}/sign"), sends.as_str(), format!("{{\"seen\":0,\"draft\":1,{by}}}")),
    ] {
        let answer = ask(method, path, headers, &body);
        assert!(answer.starts_with("HTTP/1.1 "), "{method} {path}: {answer}");
    }
    let interrupted = Command::new("kill").args(["-INT", &program.id().to_string()]).status().expect("kill runs");
    let output = program.wait_with_output().expect("it ends");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(interrupted.success() && output.status.success(), "{said}");
    assert_eq!(found(said.as_bytes(), &told()), Vec::<String>::new(), "{said}");
    home.check(&told());
}

#[test]
fn no_word_that_was_heard_is_left_where_sound_is_drafted_and_dictated() {
    assert!(spoken_exam::setup::voice_is_there(&models()), "the speech models are missing: run `spoken-exam setup`");
    let home = Home::new();
    let sound = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sounds/orders.opus");
    let hearing = ["--model", "tiny.en", "--hearings", "1"];
    let sound = sound.to_string_lossy().into_owned();
    let output = home.run(&[&["draft", &sound, "--format", "json"][..], &hearing].concat(), &told());
    let draft: serde_json::Value = serde_json::from_slice(&output.stdout).expect("a draft");
    let lines = draft["transcript"].as_array().expect("a transcript").iter();
    let lines: Vec<String> = lines.filter_map(|line| Some(line["text"].as_str()?.trim().to_lowercase())).collect();
    let heard: Vec<String> = lines.into_iter().filter(|line| line.len() > 12).collect();
    assert!(heard.len() > 2, "{heard:?}");
    assert_eq!(found(&output.stderr, &heard), Vec::<String>::new(), "{}", String::from_utf8_lossy(&output.stderr));
    home.run(&[&["draft", &sound, "--keep"][..], &hearing].concat(), &heard);
    // A dictation shows on standard error what it hears: that is its screen, and is asked for.
    let samples =
        spoken_exam::audio::read(Path::new(&sound)).expect("it can be read").samples.all().expect("they can be read");
    let bytes: Vec<u8> =
        samples.iter().take(8 * 16_000).flat_map(|sample| spoken_exam::audio::whole(*sample).to_le_bytes()).collect();
    let mut dictation =
        home.command(&[&["dictate", "-"][..], &hearing].concat()).stdin(Stdio::piped()).spawn().unwrap();
    dictation.stdin.take().expect("a pipe").write_all(&bytes).expect("it listens");
    let output = dictation.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    home.check(&heard);
    home.check(&told());
    let store = fs::read(home.at("store/store.sqlite")).expect("a store");
    assert!(!found(&store, &heard).is_empty(), "the store holds what was heard");
}

// --- Panics ---

const PANICS: &str = "SPOKEN_EXAM_CHILD_PANICS";

/// No test: what the one below starts as a process of its own. Without the variable it does nothing.
#[test]
fn a_child_that_panics() {
    let Ok(text) = std::env::var(PANICS) else { return };
    if text.starts_with("told") {
        spoken_exam::cli::tell_places_of_panics_alone();
    }
    // Rust's own message quotes the text that is cut in the middle of a letter.
    let middle = text.find('é').expect("a letter of two bytes") + 1;
    println!("{}", &text[middle..]);
}

#[test]
fn a_panic_tells_its_place_and_no_narration() {
    let said = |text: &str| {
        let mut child = Command::new(std::env::current_exe().expect("this program"));
        child.args(["--exact", "unlogged::a_child_that_panics", "--nocapture", "--test-threads=1"]);
        let output = child.env(PANICS, text).env("RUST_BACKTRACE", "full").output().expect("it starts");
        assert!(!output.status.success(), "it panics");
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    let hushed = said("told: Zoé has no clonus");
    assert!(hushed.contains("a fault of the program itself, at tests/suite/unlogged.rs:"), "{hushed}");
    assert!(!hushed.contains("clonus") && !hushed.contains("Zo"), "{hushed}");
    let open = said("as Rust does: Zoé has no clonus");
    assert!(open.contains("clonus"), "Rust's own message has the words, so that leaving them out is needed: {open}");
}

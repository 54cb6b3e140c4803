//! The page as the program serves it: over the loopback address, from its start to Ctrl-C.
//! Takes the built program; fails where it does not print an address that opens the page, listens elsewhere, or does not end
//! when it is asked to. Leaves alone what is answered (`page`).

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use spoken_exam::record::Moment;
use spoken_exam::store::Store;

use crate::store::{NOTE, draft};

/// A served page, with its address: port, secret path, fragment.
struct Served {
    program: Child,
    port: u16,
    path: String,
    fragment: String,
}

fn command(store: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.arg("review").arg("--store").arg(store).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn serve(store: &Path, more: &[&str]) -> Served {
    let mut program = command(store).args(more).spawn().expect("it starts");
    let mut address = String::new();
    BufReader::new(program.stdout.take().expect("a pipe")).read_line(&mut address).expect("it can be read");
    let rest = address.trim_end().strip_prefix("http://127.0.0.1:").unwrap_or_else(|| panic!("{address:?}"));
    let (port, path) = rest.split_once('/').expect("a path");
    let (path, fragment) = path.split_once('#').unwrap_or((path, ""));
    let (path, fragment) = (format!("/{path}"), fragment.to_owned());
    Served { program, port: port.parse().expect("a port"), path, fragment }
}

impl Served {
    fn get(&self, path: &str, cookie: &str) -> String {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).expect("it listens");
        let port = self.port;
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
        )
        .expect("sent");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("it answers");
        answer
    }

    fn interrupt(&self) {
        let id = self.program.id().to_string();
        assert!(Command::new("kill").args(["-INT", &id]).status().expect("kill runs").success());
    }
}

#[test]
fn the_printed_address_opens_the_page_and_ctrl_c_ends_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let id = Store::open(folder.path()).unwrap().keep(&draft(NOTE), None, Moment(1)).unwrap();
    let mut served = serve(folder.path(), &[&id[..8], "--by", "A. Examiner", "--role", "registrar"]);
    assert_eq!(served.fragment, format!("/{id}"));
    assert!(served.get("/", "").starts_with("HTTP/1.1 401 "));
    let opened = served.get(&served.path, "");
    let cookie = opened.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
    let cookie = cookie.split(';').next().expect("a pair");
    let record = served.get(&format!("/api/records/{id}"), cookie);
    assert!(record.starts_with("HTTP/1.1 200 ") && record.contains("No ankle clonus on the left."), "{record}");
    // A connection that somebody holds open does not keep it from ending.
    let held = TcpStream::connect((Ipv4Addr::LOCALHOST, served.port)).expect("it listens");
    let asked = Instant::now();
    served.interrupt();
    let status = served.program.wait().expect("it ends");
    assert!(status.success() && asked.elapsed() < Duration::from_secs(10), "{status} after {:?}", asked.elapsed());
    drop(held);
    let mut said = String::new();
    served.program.stderr.take().expect("a pipe").read_to_string(&mut said).expect("it can be read");
    assert!(said.contains("Ctrl-C"), "{said}");
    assert!(!said.contains("clonus"), "nothing of a narration is said beside the page: {said}");
}

#[test]
fn it_listens_on_the_loopback_address_alone() {
    let (listener, port) = spoken_exam::page::listen(0).expect("a port");
    assert_eq!(listener.local_addr().expect("an address"), SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
    let taken = spoken_exam::page::listen(port).expect_err("it is taken").to_string();
    assert!(taken.starts_with(&format!("cannot listen on 127.0.0.1:{port}: ")), "{taken}");
}

#[test]
fn what_cannot_be_served_is_said_before_anything_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let run = |store: &Path, more: &[&str]| {
        let output = command(store).args(more).output().expect("it starts");
        (output.status.code(), String::from_utf8(output.stderr).expect("text"), output.stdout)
    };
    let (code, said, printed) = run(&folder.path().join("nowhere"), &[]);
    assert!(code == Some(2) && said.contains("there is no store in ") && printed.is_empty(), "{said}");
    Store::open(folder.path()).unwrap();
    let (code, said, printed) = run(folder.path(), &["0123"]);
    assert!(code == Some(2) && said.contains("there is no record 0123") && printed.is_empty(), "{said}");
    let (code, said, _) = run(folder.path(), &["--by", " ", "--role", "registrar"]);
    assert!(code == Some(2) && said.contains("no name was given"), "{said}");
    let (listener, port) = spoken_exam::page::listen(0).expect("a port");
    let (code, said, _) = run(folder.path(), &["--port", &port.to_string()]);
    assert!(code == Some(2) && said.contains("name another port with --port"), "{said}");
    drop(listener);
}

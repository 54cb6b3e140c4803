//! What goes wrong around the program: readers that leave, files that cannot be written, input that is no text.
//! Takes the built program; fails where it says too little, says it twice, or leaves something half done behind.
//! Leaves alone what whole commands print (`cli`).

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.env("SPOKEN_EXAM_MODELS", "no-models").stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Output {
    program().args(arguments).output().expect("the program starts")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("it is a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("it can be read").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

const NOTE: &str = "tests/cli/narrations/short.txt";

#[test]
fn a_reader_that_leaves_is_no_error() {
    let mut child = program()
        .args(["draft", NOTE, "--format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let mut said = String::new();
    child.stderr.take().expect("a pipe").read_to_string(&mut said).expect("it can be read");
    let status = child.wait().expect("it ends");
    assert_eq!((status.code(), said.as_str()), (Some(0), ""));
}

#[test]
fn a_draft_is_whole_under_its_name_or_not_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let draft = folder.path().join("draft.json");
    let name = draft.to_string_lossy();
    let written = run(&["draft", NOTE, "--format", "json", "-o", &name]);
    assert_eq!((written.status.code(), written.stdout.len()), (Some(0), 0), "{}", said(&written));
    let printed = run(&["draft", NOTE, "--format", "json"]);
    assert_eq!(std::fs::read(&draft).expect("it is there"), printed.stdout, "the same bytes in a file and printed");
    let again = run(&["draft", NOTE, "-o", &name]);
    assert_eq!(again.status.code(), Some(2), "not over an existing file");
    assert_eq!(std::fs::read(&draft).expect("it is there"), printed.stdout);
    let forced = run(&["draft", NOTE, "-o", &name, "--force"]);
    assert_eq!(forced.status.code(), Some(0), "{}", said(&forced));
    assert!(std::fs::read_to_string(&draft).expect("it is there").starts_with("DRAFT"));
    assert_eq!(names(folder.path()), ["draft.json"], "nothing is left beside it");
}

#[cfg(unix)]
#[test]
fn a_draft_in_a_file_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let draft = folder.path().join("draft.txt");
    let written = run(&["draft", NOTE, "-o", &draft.to_string_lossy()]);
    assert_eq!(written.status.code(), Some(0), "{}", said(&written));
    let mode = std::fs::metadata(&draft).expect("it is there").permissions().mode();
    assert_eq!(mode & 0o077, 0, "{mode:o}");
}

#[test]
fn bytes_that_are_no_text_are_named_with_their_place() {
    let mut child = program()
        .args(["draft", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    child.stdin.take().expect("a pipe").write_all(b"left\xff\n").expect("it reads");
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(said(&output), "error: cannot read standard input: byte 5 is not UTF-8 text; save it as UTF-8\n");
}

#[test]
fn a_cut_recording_is_no_text_and_its_fault_is_told_before_a_model_is_looked_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let cut = folder.path().join("visit.wav");
    std::fs::write(&cut, b"RIFF\x24\x00\x00\x00WAVEfmt ").expect("it can be written");
    let output = run(&["draft", &cut.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(2));
    let said = said(&output);
    assert!(said.starts_with("error: cannot hear the recording: visit.wav ") && !said.contains("model"), "{said}");
}

#[test]
fn a_long_text_is_read_in_one_go() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = folder.path().join("long.txt");
    let text = std::fs::read_to_string(NOTE).expect("it is there");
    std::fs::write(&long, text.repeat(500)).expect("it can be written");
    let one_line = folder.path().join("line.txt");
    std::fs::write(&one_line, text.replace('\n', " ").repeat(100)).expect("it can be written");
    for file in [&long, &one_line] {
        let output = run(&["draft", &file.to_string_lossy(), "--format", "tsv"]);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        let rows = String::from_utf8_lossy(&output.stdout);
        assert!(rows.contains("ankle-clonus\tright\tabsent"), "{rows}");
    }
}

//! Long recordings in little memory.
//! Takes this test program started anew as a child that reads a long file, and the built program on a full disk; fails where memory
//! grows with the length, a sample is another, or something is left behind. Leaves alone what is heard (`hearing`), and the same
//! in small steps (`src/audio/samples.rs`).
#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::Command;

use spoken_exam::audio::{self, PIECE, Sound, wave_head};

use crate::store::Disk;

/// What the child is to do: the file that it reads.
const TASK: &str = "SPOKEN_EXAM_CHILD_READS";
const MINUTE: usize = 60 * 16_000;

/// The sample of a place; no two minutes are alike.
fn sample(at: usize) -> i16 {
    (at % 65_521) as u16 as i16
}

/// A wav of 16 kHz, one channel and so many minutes.
fn wav(path: &Path, minutes: usize, sample: impl Fn(usize) -> i16) {
    let mut file = BufWriter::new(File::create(path).expect("it can be written"));
    file.write_all(&wave_head(2 * (minutes * MINUTE) as u64)).expect("there is room");
    for at in 0..minutes * MINUTE {
        file.write_all(&sample(at).to_le_bytes()).expect("there is room");
    }
    file.flush().expect("there is room");
}

/// No test: what the one below starts as a process of its own, to know its memory. Without a task it does nothing.
#[test]
fn a_child_that_reads() {
    let Ok(task) = std::env::var(TASK) else { return };
    let recording = audio::read(Path::new(&task)).expect("it is a wav");
    assert!(fs::read_dir(std::env::temp_dir()).expect("a folder").next().is_none(), "a kill would leave something");
    let sound: &dyn Sound = &recording.samples;
    let mut at = 0;
    for piece in sound.pieces(PIECE) {
        for read in piece.expect("it can be read").iter() {
            assert!(*read == f32::from(sample(at)) / 32_768.0, "sample {at}");
            at += 1;
        }
    }
    let status = fs::read_to_string("/proc/self/status").expect("Linux tells");
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).expect("Linux tells");
    println!("\nminutes {}\npeak {}", at / MINUTE, peak.trim().trim_end_matches(" kB"));
}

/// Kilobytes that the child took at most.
fn peak(minutes: usize) -> u64 {
    let (folder, aside) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let path = folder.path().join("visit.wav");
    wav(&path, minutes, sample);
    let mut command = Command::new(std::env::current_exe().expect("this program"));
    command.args(["--exact", "long_sound::a_child_that_reads", "--nocapture", "--test-threads=1"]);
    let output = command.env(TASK, &path).env("TMPDIR", aside.path()).output().expect("it starts");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(said.contains(&format!("\nminutes {minutes}\n")), "{said}{}", String::from_utf8_lossy(&output.stderr));
    let peak = said.lines().find_map(|line| line.strip_prefix("peak ")).expect("it says so");
    peak.parse().expect("a number")
}

#[test]
fn an_hour_takes_no_more_memory_than_ten_minutes() {
    let (short, long) = (peak(10), peak(60));
    // In memory, the other fifty minutes would be 192 MB.
    assert!(long < short + 8_000, "{short} kB for ten minutes, {long} kB for an hour");
    println!("{short} kB for ten minutes, {long} kB for an hour");
}

fn refused(file: &Path, aside: &Path) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    let output = command.arg("draft").arg(file).env("TMPDIR", aside).output().expect("it starts");
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(output.stdout.is_empty());
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn where_nothing_can_be_put_aside_is_said_with_what_to_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("visit.wav");
    wav(&file, 11, |_| 0);
    let check = |aside: &Path, fault: &str| {
        let line = refused(&file, aside);
        let begins = format!("error: cannot hear the recording: cannot put the sound aside in {} ", aside.display());
        assert!(line.starts_with(&begins) && line.contains(fault) && line.contains("TMPDIR"), "{line}");
    };
    check(&folder.path().join("none"), "No such file or directory");
    let Some(disk) = Disk::new("size=1m") else { return };
    check(disk.0.path(), "No space left on device");
    assert!(fs::read_dir(disk.0.path()).expect("a folder").next().is_none(), "something was left behind");
}

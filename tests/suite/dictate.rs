//! The command `dictate`, from a microphone to a record in the store: nothing is touched between start and end.
//! Takes ALSA's file device, into which a recording is spoken as fast as somebody speaks, and standard input; fails where the
//! program does not end by the spoken order, answers nothing, or makes another record. Leaves alone how well voices are heard.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use spoken_exam::audio;
use spoken_exam::store::{Sound, Store};

const BLOCK: usize = 1600;
/// ALSA's file device asks for so much at once, and takes what it does not get for sound all the same.
#[cfg(all(target_os = "linux", feature = "microphone"))]
const PERIOD: usize = 3200;

/// A narration with orders among it, by a synthetic voice.
fn spoken() -> Vec<i16> {
    let samples = audio::read(Path::new("tests/sounds/orders.opus")).unwrap().samples.all().unwrap();
    samples.iter().map(|sample| (sample * 32_767.0).round() as i16).collect()
}

fn bytes(samples: &[i16]) -> Vec<u8> {
    samples.iter().flat_map(|sample| sample.to_le_bytes()).collect()
}

/// Writes sound as fast as it is spoken, and quiet behind it, until nobody reads any more; gives how much was spoken.
fn speak(mut to: impl Write, samples: &[i16], block: usize) -> usize {
    let begun = Instant::now();
    let quiet = vec![0; block];
    let blocks = samples.chunks(block).chain(std::iter::repeat(&quiet[..]));
    for (sound, at) in blocks.zip(1u32..) {
        if to.write_all(&bytes(sound)).and_then(|()| to.flush()).is_err() {
            return ((at as usize - 1) * block).min(samples.len());
        }
        let due = Duration::from_millis(block as u64 / 16) * at;
        std::thread::sleep(due.saturating_sub(begun.elapsed()));
        assert!(begun.elapsed() < Duration::from_secs(240), "the order to end was not understood");
    }
    samples.len()
}

fn dictate(store: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.arg("dictate").args(arguments).arg("--store").arg(store);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Whether a recording holds what was spoken sample by sample, but for what was said before anybody listened.
fn keeps_what_was_spoken(wav: &[u8]) -> bool {
    let kept = audio::decode(wav.to_vec(), "a.wav").unwrap().samples.all().unwrap();
    let kept: Vec<i16> = kept.iter().map(|sample| (sample * 32_768.0).round() as i16).collect();
    let spoken = spoken();
    let from = (0..8 * 16_000).step_by(BLOCK).find(|from| kept.starts_with(&spoken[*from..from + 16_000]));
    // The order to end is understood before its recording ends.
    from.map(|from| &spoken[from..spoken.len() - 16_000]).is_some_and(|most| kept.starts_with(most))
}

/// What the record must hold, and what the terminal must have shown.
#[track_caller]
fn check(folder: &Path, output: &std::process::Output) {
    let (out, said) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{said}");
    for shown in
        ["Recording as ", "note: sound is kept until-signed", "Still to do:", "You said:", "ending", "Review and sign"]
    {
        assert!(said.contains(shown), "{shown} was not shown: {said}");
    }
    let store = Store::open_existing(folder).unwrap();
    assert!(store.unfinished().unwrap().is_empty());
    let record = store.record(out.trim()).unwrap();
    assert!(matches!(record.sound, Sound::Kept(_)), "{:?}", record.sound);
    let draft = record.review.draft();
    assert!(keeps_what_was_spoken(&store.sound_bytes(out.trim()).unwrap()), "another sound is kept than was spoken");
    let expected = fs::read_to_string("tests/sounds/orders.tsv").unwrap();
    let expected: Vec<&str> = expected.lines().filter_map(|line| line.strip_prefix("finding\t")).collect();
    let found: Vec<String> =
        draft.all_findings().map(|found| format!("{}\t{}\t{}", found.item, found.side.name(), found.value)).collect();
    let right = expected.iter().filter(|row| found.iter().any(|found| found == *row)).count();
    assert!(right * 10 >= expected.len() * 7, "{right} of {}: {found:?}", expected.len());
    // What was taken back is not there, and no order became a finding.
    assert!(!found.iter().any(|found| found == "scarf-sign\tleft\tpast-midline"), "{found:?}");
    assert!(found.len() <= expected.len() + 1, "{found:?}");
}

#[test]
#[cfg(all(target_os = "linux", feature = "microphone"))]
fn a_microphone_is_listened_to_until_the_spoken_order_to_end() {
    let folder = tempfile::tempdir().unwrap();
    let fifo = folder.path().join("spoken.raw");
    assert!(Command::new("mkfifo").arg(&fifo).status().unwrap().success());
    let configuration = folder.path().join("asound.conf");
    let text = format!(
        "pcm.null {{ type null }}\npcm.!default {{ type file slave.pcm null file /dev/null infile {} format raw \
         hint {{ show on description \"The sample\" }} }}\n",
        fifo.display()
    );
    fs::write(&configuration, text).unwrap();
    let store = folder.path().join("store");
    let child = dictate(&store, &["--set", "screening"]).env("ALSA_CONFIG_PATH", &configuration).spawn().unwrap();
    // The device is opened twice, at first to see whether it is there. Behind the end nobody opens it, and nobody waits for
    // this thread.
    std::thread::spawn(move || {
        let (sound, mut from) = (spoken(), 0);
        loop {
            from += speak(fs::OpenOptions::new().write(true).open(&fifo).unwrap(), &sound[from..], PERIOD);
        }
    });
    let output = child.wait_with_output().unwrap();
    check(&store, &output);
}

#[test]
fn standard_input_is_listened_to_as_it_comes() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = dictate(folder.path(), &["-", "--set", "screening"]).stdin(Stdio::piped()).spawn().unwrap();
    let stdin = child.stdin.take().unwrap();
    let speaker = std::thread::spawn(move || speak(stdin, &spoken(), BLOCK));
    let output = child.wait_with_output().unwrap();
    assert!(speaker.join().unwrap() > 0);
    check(folder.path(), &output);
}

//! Batches from outside: whole commands over folders as people have them, and a worker that is killed again and again.
//! Takes the built program, and the library with recognisers that say what they were told; fails where a file is lost, done twice or
//! mixed up. Leaves alone single steps, whose tests stand beside them, and buckets (`tests/bucket`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, LazyLock};
use std::time::Duration;

use spoken_exam::audio::{Sound, wave_file};
use spoken_exam::batch::{self, Batch, Ears, Event, Place, Shard};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::live::Hearer;
use spoken_exam::speech::scripted::Scripted;
use spoken_exam::speech::{Contest, Heard, ModelIdentity, Progress, SpeechError, Transcriber};

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    command.env("SPOKEN_EXAM_MODELS", "no-models").stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Output {
    program().args(arguments).output().expect("it starts")
}

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// All files below a folder with their bytes.
fn tree(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(&next).expect("a folder") {
            let path = entry.expect("it can be read").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("below it").to_string_lossy().into_owned();
                all.insert(name, std::fs::read(&path).expect("a file"));
            }
        }
    }
    all
}

/// What two runs have in common: the report tells how long it took, a claim's file says nothing.
fn results(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = tree(folder);
    all.retain(|name, _| !name.starts_with("report") && !name.ends_with(".claim"));
    all
}

fn outcomes(folder: &Path) -> Vec<(String, String, String)> {
    let manifest = std::fs::read_to_string(folder.join("manifest.jsonl")).expect("a manifest");
    let line = |line: &str| {
        let line: serde_json::Value = serde_json::from_str(line).expect("JSON");
        let text = |name: &str| line[name].as_str().unwrap_or_default().to_owned();
        (text("file"), text("outcome"), text("reason"))
    };
    manifest.lines().map(line).collect()
}

const CLONUS: &str = "No ankle clonus on the left.\n";
const HEAD: &str = "Head circumference 35.8 cm.\n";

/// A folder as people have them.
fn odd_folder(folder: &Path) {
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("it can be made");
        std::fs::write(path, bytes).expect("it can be written");
    };
    write("visit one.txt", CLONUS.as_bytes());
    write("bay 2/größe 新生児\n.txt", HEAD.as_bytes());
    write("bay 2/no ending", CLONUS.as_bytes());
    write("bay 2/photo.png", b"\x89PNG\r\n\x1a\n\0\0");
    write("findings.tsv", b"item\tside\nmoro\tleft\n");
    write("empty.wav", b"");
    write("broken.wav", b"RIFF\x04\0\0\0WAVE");
    write("latin.txt", b"caf\xe9");
    write(".hidden/a.txt", CLONUS.as_bytes());
    write("bay 2/.notes.txt.part", CLONUS.as_bytes());
    write(&format!("{}/{}.txt", "d".repeat(200), "ü".repeat(115)), HEAD.as_bytes());
}

#[test]
fn every_file_has_its_outcome_and_one_fault_stops_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, to) = (folder.path().join("from"), folder.path().join("to"));
    odd_folder(&from);
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt;
        std::fs::write(from.join(std::ffi::OsStr::from_bytes(b"caf\xe9.txt")), CLONUS).expect("it can be written");
        std::os::unix::fs::symlink("nowhere", from.join("broken link")).expect("a link");
        std::os::unix::fs::symlink("..", from.join("bay 2/up")).expect("a link");
        std::os::unix::fs::symlink("visit one.txt", from.join("linked.txt")).expect("a link");
        assert!(Command::new("mkfifo").arg(from.join("pipe.wav")).status().expect("it starts").success());
    }
    // The broken recording is told without a model: it cannot be decoded.
    let models = crate::hearing::model();
    let output = program()
        .env("SPOKEN_EXAM_MODELS", models.parent().expect("a folder"))
        .args([Path::new("batch"), &from, Path::new("--to"), &to])
        .output()
        .expect("it starts");
    let said = text_of(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    let long = format!("{}/{}.txt", "d".repeat(200), "ü".repeat(115));
    let outcomes = outcomes(&to);
    let of = |outcome: &str| -> Vec<(&str, &str)> {
        let these = outcomes.iter().filter(|one| one.1 == outcome);
        these.map(|(file, _, reason)| (file.as_str(), reason.as_str())).collect()
    };
    let drafted: Vec<&str> = of("drafted").into_iter().map(|(file, _)| file).collect();
    assert_eq!(
        drafted,
        ["bay 2/größe 新生児%0A.txt", "bay 2/no ending", "caf%E9.txt", &long, "linked.txt", "visit one.txt"]
    );
    let left: Vec<&str> = of("left-out").into_iter().map(|(file, _)| file).collect();
    assert_eq!(left, ["bay 2/photo.png", "findings.tsv"]);
    let failed = of("failed");
    assert_eq!(failed.len(), 6, "{failed:?}");
    for ((file, reason), (wanted, why)) in failed.iter().zip([
        ("bay 2/up", "leads back to a folder above"),
        ("broken link", "leads nowhere"),
        ("broken.wav", ""),
        ("empty.wav", "empty"),
        ("latin.txt", "neither sound nor text"),
        ("pipe.wav", "neither a file nor a folder"),
    ]) {
        assert!(*file == wanted && reason.contains(why) && !reason.is_empty(), "{file}: {reason}");
        assert!(said.contains(&format!("failed: {file}: {reason}")), "{said}");
    }
    let shown = text_of(&output.stdout);
    assert!(shown.contains("14 files: 6 drafts in ") && shown.contains("6 files failed"), "{shown}");
}

#[test]
fn a_draft_of_a_batch_is_the_draft_and_a_second_run_writes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, to) = (folder.path().join("from"), folder.path().join("to"));
    odd_folder(&from);
    let arguments =
        ["batch", &from.to_string_lossy(), "--to", &to.to_string_lossy(), "--format", "json"].map(str::to_owned);
    let arguments = arguments.each_ref().map(String::as_str);
    std::fs::remove_file(from.join("broken.wav")).expect("it is there");
    let first = run(&arguments);
    assert_eq!(first.status.code(), Some(1), "{}", text_of(&first.stderr));
    let single = run(&["draft", &from.join("visit one.txt").to_string_lossy(), "--format", "json"]);
    let made = std::fs::read(to.join("drafts/visit one.txt.json")).expect("a draft");
    assert_eq!(text_of(&made), text_of(&single.stdout));
    let (before, written) = (results(&to), modified(&to.join("drafts/visit one.txt.json")));
    let second = run(&arguments);
    assert_eq!((results(&to), modified(&to.join("drafts/visit one.txt.json"))), (before, written));
    // Lines of JSON for programs, the report behind them.
    for (output, already) in [(first, 0), (second, 4)] {
        let lines: Vec<serde_json::Value> =
            text_of(&output.stdout).lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        let report = lines.last().expect("a report");
        assert_eq!((report["files"].as_u64(), lines.len()), (Some(8), 9));
        assert_eq!((report["drafted"].as_u64(), report["already"].as_u64()), (Some(4), Some(already)));
    }
}

fn modified(path: &Path) -> std::time::SystemTime {
    std::fs::metadata(path).and_then(|about| about.modified()).expect("it is there")
}

#[test]
fn what_cannot_begin_says_why() {
    let folder = tempfile::tempdir().expect("a folder");
    let from = folder.path().join("from");
    std::fs::create_dir(&from).expect("it can be made");
    std::fs::write(from.join("a.wav"), wave_file(&[3000; 16_000])).expect("it can be written");
    let (from, to) = (from.to_string_lossy().into_owned(), folder.path().join("to").to_string_lossy().into_owned());
    let nowhere = folder.path().join("nowhere").to_string_lossy().into_owned();
    for (arguments, words) in [
        (&["batch", &nowhere, "--to", &to][..], "cannot use "),
        (&["batch", &from, "--to", &to], "cannot find the speech model base in no-models; run `spoken-exam setup`"),
        (&["batch", &from, "--to", "gs://ward"], "name a folder, or s3://BUCKET/PREFIX"),
        (&["batch", &from, "--to", &to, "--shard", "3/2"], "write K/N with K from 1 to N"),
        (
            &["batch", &from, "--to", &to, "--shard", "/2"],
            "neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX is set",
        ),
        (&["batch", &from, "--shard", "1/2"], "--to"),
        (&["batch", &from, "--to", &nowhere, "--gather"], "cannot use "),
    ] {
        let output = run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(text_of(&output.stderr).contains(words), "{arguments:?}: {}", text_of(&output.stderr));
    }
    // Clusters tell the part.
    let in_a_job = |name: &str, value: &str| {
        let mut command = program();
        command.env(name, value).args(["batch", &from, "--to", &to, "--shard", "/1"]);
        text_of(&command.output().expect("it starts").stderr)
    };
    assert!(in_a_job("JOB_COMPLETION_INDEX", "0").contains("cannot find the speech model"));
    assert!(in_a_job("JOB_COMPLETION_INDEX", "1").contains("`2/1` is no part of a batch"));
}

#[cfg(unix)]
#[test]
fn a_full_disk_ends_it_and_the_next_run_goes_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, to) = (folder.path().join("from"), folder.path().join("to"));
    std::fs::create_dir(&from).expect("it can be made");
    for number in 0..5 {
        std::fs::write(from.join(format!("{number}.txt")), HEAD).expect("it can be written");
    }
    std::fs::write(from.join("long.txt"), "The weather is fine today.\n".repeat(4_000)).expect("it can be written");
    // The signal of the limit would kill the program; ignored, writing fails. Blocks are of 512 or 1024 bytes.
    let shell = "trap '' XFSZ; ulimit -f 400; exec \"$0\" batch \"$1\" --to \"$2\" --jobs 1";
    let mut command = Command::new("sh");
    command.args(["-c", shell, env!("CARGO_BIN_EXE_spoken-exam")]).args([&from, &to]);
    let output = command.output().expect("it starts");
    let said = text_of(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.starts_with("error: cannot write ") && said.contains("long.txt.json"), "{said}");
    assert!(tree(&to).keys().all(|name| !name.contains("long")), "nothing half written has a name");
    let again = run(&["batch", &from.to_string_lossy(), "--to", &to.to_string_lossy()]);
    assert_eq!(again.status.code(), Some(0), "{}", text_of(&again.stderr));
    assert_eq!(outcomes(&to).len(), 6);
}

// --- Killed ---

/// A recogniser that takes a moment, and says what fits the recording's length.
struct Slow(Scripted);

impl Transcriber for Slow {
    fn transcribe(&mut self, sound: &dyn Sound, progress: &mut dyn FnMut(Progress)) -> Result<Heard, SpeechError> {
        std::thread::sleep(Duration::from_millis(8));
        self.0.transcribe(sound, progress)
    }

    fn scores(&mut self, sound: &dyn Sound, contests: &[Contest]) -> Result<Option<Vec<Vec<f32>>>, SpeechError> {
        self.0.scores(sound, contests)
    }

    fn identity(&self) -> ModelIdentity {
        self.0.identity()
    }
}

struct SlowEars;

impl Ears for SlowEars {
    fn identity(&self) -> Result<String, String> {
        Ok("0123456789abcdef".to_owned())
    }

    fn rounds(&self, rounds: usize) -> Result<Vec<Vec<Hearer>>, String> {
        let lines = [
            (0, 900, "No ankle clonus on the left."),
            (1000, 1900, "Scarf sign on the right to the midline."),
            (2000, 2900, "The Moro is symmetrical and complete."),
        ];
        let chances = [("No ankle clonus on the left.", -10.0), ("No ankle clonus on the right.", -10.5)];
        let one = || -> Hearer { Box::new(Slow(Scripted::of_lines(&lines).with_chances(&chances))) };
        Ok((0..rounds).map(|_| (0..3).map(|_| one()).collect()).collect())
    }
}

fn work(from: &Path, to: &Path, tell: &mut dyn FnMut(Event<'_>)) {
    static LEXICON: LazyLock<Lexicon> = LazyLock::new(|| Lexicon::load(None).expect("the lexicon"));
    let batch = Batch {
        from: Place::Folder(from.to_owned()),
        to: Some(Place::Folder(to.to_owned())),
        beside: Vec::new(),
        shard: Shard::WHOLE,
        jobs: 2,
        listen_again: false,
        lexicon: &LEXICON,
        ears: &SlowEars,
        stop: Arc::new(AtomicBool::new(false)),
    };
    batch::run(&batch, None, tell).expect("it ends well");
}

/// A test that is the child of another: it works on a batch until it is killed.
#[test]
#[ignore = "run by the test that kills it"]
fn works_until_it_is_killed() {
    let folder = |name: &str| std::env::var_os(name).map(PathBuf::from);
    let (Some(from), Some(to)) = (folder("SPOKEN_EXAM_TEST_FROM"), folder("SPOKEN_EXAM_TEST_TO")) else { return };
    work(&from, &to, &mut |event| {
        if let Event::Found { .. } = event {
            println!("begun");
        }
    });
}

/// Kills a worker so many milliseconds after it began; whether it had ended by then.
fn killed(from: &Path, to: &Path, after: u64) -> bool {
    use std::io::{BufRead, BufReader};
    let mut child = Command::new(std::env::current_exe().expect("this program"))
        .args(["--ignored", "--exact", "batch::works_until_it_is_killed", "--nocapture"])
        .envs([("SPOKEN_EXAM_TEST_FROM", from), ("SPOKEN_EXAM_TEST_TO", to)])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    let mut lines = BufReader::new(child.stdout.take().expect("a pipe")).lines();
    assert!(lines.by_ref().map_while(Result::ok).any(|line| line.contains("begun")), "it begins");
    std::thread::sleep(Duration::from_millis(after));
    let had_ended = child.try_wait().expect("a child").is_some();
    child.kill().expect("a child");
    child.wait().expect("a child");
    had_ended
}

#[test]
fn killed_a_hundred_times_it_ends_in_the_same_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    let from = folder.path().join("from");
    std::fs::create_dir(&from).expect("it can be made");
    for number in 0..30usize {
        let samples: Vec<i16> = (0..16_000 + 1600 * number).map(|at| if at % 40 < 20 { 4000 } else { -4000 }).collect();
        std::fs::write(from.join(format!("{number}.wav")), wave_file(&samples)).expect("it can be written");
        let text = format!("Head circumference {}.{} cm.\n", 30 + number % 8, number % 10);
        std::fs::write(from.join(format!("{number}.txt")), text).expect("it can be written");
    }
    let undisturbed = folder.path().join("undisturbed");
    work(&from, &undisturbed, &mut |_| ());
    let expected = results(&undisturbed);
    assert_eq!(expected.len(), 91, "a draft each, words of the recordings, the manifest");
    let mut chance = 4711u64;
    let mut one = || {
        chance = chance.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (chance >> 33) % 120
    };
    let rounds: Vec<Vec<u64>> = (0..10).map(|_| (0..10).map(|_| one()).collect()).collect();
    let amid = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for (number, round) in rounds.iter().enumerate() {
            let (from, expected, amid) = (&from, &expected, &amid);
            let to = folder.path().join(format!("to-{number}"));
            scope.spawn(move || {
                for after in round {
                    let ended = killed(from, &to, *after);
                    amid.fetch_add(usize::from(!ended), std::sync::atomic::Ordering::Relaxed);
                }
                work(from, &to, &mut |_| ());
                let results = results(&to);
                let other: Vec<&String> = results
                    .iter()
                    .filter(|(name, bytes)| expected.get(*name) != Some(bytes))
                    .map(|(name, _)| name)
                    .chain(expected.keys().filter(|name| !results.contains_key(*name)))
                    .collect();
                assert!(other.is_empty(), "not as they would be undisturbed: {other:?}");
            });
        }
    });
    assert!(amid.into_inner() >= 50, "most kills came while it worked");
}

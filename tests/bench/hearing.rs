//! How well and how fast recordings are heard, with the usual settings or others.
//!
//!     cargo bench --bench hearing -- FOLDER [NAME=VALUE ...]
//!
//! FOLDER holds NAME.flac with NAME.txt and NAME.tsv, as `samples/speak-corpus` makes them. Settings: hearings (1 to 3),
//! model and second (file names in the models' folder), beams, window and other-window (seconds), strength, start, known,
//! gate, start-gate (of the leaning), threads, voice (0: without voice activity), keep (a folder for what was heard), asked
//! (any: what was listened for again, with its scores).
//! Prints a line a recording with its wrong findings that look sure, one line for all, and how findings came about: right
//! or wrong, by which hearings, their doubts, and how their items were told.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench ends at the first fault and prints its figures")]

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::time::Instant;

use spoken_exam::audio;
use spoken_exam::flow::{self, Hearers, Narration};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::score::{HeardWords, Tally, compare, compare_words, pairs, predicted, read_gold};
use spoken_exam::speech::{Phrases, Settings, Transcriber, Whisper};

type Given<'a> = HashMap<&'a str, &'a str>;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let (settings, folders): (Vec<_>, Vec<_>) = arguments.iter().partition(|argument| argument.contains('='));
    let given: Given<'_> = settings.iter().filter_map(|setting| setting.split_once('=')).collect();
    let lexicon = Lexicon::load(None).unwrap();
    let mut hearers = hearers(&lexicon, &given);
    println!("{:36} errors  names  put in |  prec.  recall     F1  clear silent | CPU s / s", arguments.join(" "));
    for folder in folders {
        measure(&lexicon, &mut hearers, Path::new(folder), given.get("keep").copied(), given.contains_key("asked"));
    }
}

/// The same hearers as the command line's, but for what was given.
fn hearers(lexicon: &Lexicon, given: &Given<'_>) -> Vec<Whisper> {
    let phrases = Phrases(lexicon.phrases_to_favour());
    let model = |name: &str, usual: &str| models_folder().join(given.get(name).copied().unwrap_or(usual));
    let first = Whisper::load(&model("model", "ggml-base-q8_0.bin"), &phrases, of(given)).unwrap();
    let seconds: f64 = number(given, "other-window", 20.0);
    let other = Settings { window_ms: (seconds * 1000.0) as u64, ..of(given) };
    let third = first.otherwise(&Phrases::default(), other).unwrap();
    let second = Whisper::load(&model("second", "ggml-tiny.en-q8_0.bin"), &phrases, of(given)).unwrap();
    let mut all = vec![first, second, third];
    all.truncate(number(given, "hearings", 3));
    all
}

fn models_folder() -> PathBuf {
    spoken_exam::setup::default_folder(&|name| std::env::var_os(name)).unwrap()
}

fn number<T: std::str::FromStr>(given: &Given<'_>, name: &str, usual: T) -> T {
    given.get(name).map_or(usual, |text| text.parse().ok().unwrap())
}

fn of(given: &Given<'_>) -> Settings {
    let mut settings = Settings::new(number(given, "threads", 2));
    settings.beams = number(given, "beams", settings.beams);
    settings.window_ms = (number(given, "window", settings.window_ms as f64 / 1000.0) * 1000.0) as u64;
    settings.voice = (given.get("voice") != Some(&"0")).then(|| spoken_exam::setup::voice_path(&models_folder()));
    settings.lean.strength = number(given, "strength", settings.lean.strength);
    settings.lean.at_start = number(given, "start", settings.lean.at_start);
    settings.lean.known_word = number(given, "known", settings.lean.known_word);
    settings.lean.gate = number(given, "gate", settings.lean.gate);
    settings.lean.start_gate = number(given, "start-gate", settings.lean.start_gate);
    settings
}

fn measure(lexicon: &Lexicon, hearers: &mut [Whisper], folder: &Path, keep: Option<&str>, asked: bool) {
    let (mut words, mut tally, mut sound, mut cpu) = (HeardWords::default(), Tally::default(), 0.0, 0.0);
    let mut ways: BTreeMap<String, usize> = BTreeMap::new();
    let begun = Instant::now();
    for pair in pairs(folder).unwrap() {
        let (Some(text), Some(recording)) = (&pair.text, &pair.sound) else { continue };
        let recording = audio::read(recording).unwrap();
        let before = cpu_seconds();
        let (first, others) = hearers.split_first_mut().unwrap();
        let others = others.iter_mut().map(|other| other as &mut dyn Transcriber).collect();
        let narration = flow::of_sound(lexicon, &recording, Hearers { first, others }, &mut |_| ()).unwrap();
        let spent = cpu_seconds() - before;
        let said = flow::utterances_of(&std::fs::read_to_string(text).unwrap());
        let heard = compare_words(lexicon, &said, &narration.utterances);
        let gold = read_gold(&std::fs::read_to_string(&pair.gold).unwrap()).unwrap();
        let agreement = compare(&predicted(&narration.draft), &gold);
        let length = recording.length_ms() as f64 / 1000.0;
        println!("{}", line(&pair.name, &heard, &agreement, spent / length));
        for (extra, kind) in agreement.extra.iter().filter(|(extra, _)| extra.clear) {
            let row = &extra.row;
            println!("  {} {} {}: {}, \"{}\"", row.item, row.side, row.value, kind.words(), extra.quote);
        }
        for asked in narration.asked.iter().filter(|_| asked) {
            println!(
                "  asked: {:.1} {}\n    {:?}\n    put in: {:?}",
                asked.chance, asked.heard, asked.rivals, asked.put_in
            );
        }
        count_ways(&narration, &agreement, &mut ways);
        if let Some(folder) = keep {
            write_down(&narration, folder, &pair.name);
        }
        words.add(&heard);
        tally.add(&agreement);
        (sound, cpu) = (sound + length, cpu + spent);
    }
    println!("{}", line("all", &words, &tally, cpu / sound));
    println!("{:.0} s of sound, {:.1} times real time", sound, sound / begun.elapsed().as_secs_f64());
    for (way, count) in ways {
        println!("  {count:4} {way}");
    }
    for (kind, count) in tally.silent {
        println!("  {} {count}", kind.words());
    }
}

fn count_ways(narration: &Narration, agreement: &Tally, ways: &mut BTreeMap<String, usize>) {
    for finding in narration.draft.all_findings() {
        let is_it = |row: &spoken_exam::score::GoldRow| row.item == finding.item && row.value == finding.value;
        let wrong = agreement.extra.iter().any(|(extra, _)| is_it(&extra.row));
        let right = if wrong { "wrong" } else { "right" };
        let way = format!("{right} {:?} {:?} {:?}", finding.heard_by, finding.reasons, finding.proof.told);
        *ways.entry(way).or_default() += 1;
    }
}

fn write_down(narration: &Narration, folder: &str, name: &str) {
    let lines: Vec<&str> = narration.utterances.iter().map(|said| said.text.as_str()).collect();
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(Path::new(folder).join(format!("{name}.txt")), lines.join("\n")).unwrap();
}

fn line(name: &str, words: &HeardWords, tally: &Tally, cpu: f64) -> String {
    format!(
        "{name:36} {:6.3}  {:5.3}  {:6.1} |  {:5.3}  {:6.3}  {:5.3}  {:5.3} {:6} |  {cpu:.3}",
        words.error_rate(),
        words.names_recall(),
        words.put_in_per_1000(),
        tally.precision(),
        tally.recall(),
        tally.f1(),
        tally.clear(),
        tally.silent_errors()
    )
}

/// CPU time of this process so far, in seconds: of all its threads.
fn cpu_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = text.rsplit(')').next().unwrap().split_whitespace().collect();
    let ticks: u64 = fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap();
    ticks as f64 / 100.0
}

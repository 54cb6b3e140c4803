//! How well and how fast recordings are heard with other settings than the usual.
//!
//!     cargo bench --bench hearing -- FOLDER [NAME=VALUE ...]
//!
//! FOLDER holds NAME.flac with NAME.txt and NAME.tsv, as `samples/speak-corpus` makes them. Settings: model and second (files of
//! models), beams, window (seconds), strength, start, known, gate, start-gate, threads, favour (names, values or all), keep (a folder for
//! what was heard), asked (prints what was listened for again). Prints a line a recording and one for all.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

use spoken_exam::audio;
use spoken_exam::flow::{self, Hearers};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::score::{HeardWords, Tally, compare, compare_words, pairs, predicted, read_gold};
use spoken_exam::speech::{Phrases, Settings, Transcriber, Whisper};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let (settings, folders): (Vec<_>, Vec<_>) = arguments.iter().partition(|argument| argument.contains('='));
    let given: HashMap<&str, &str> = settings.iter().filter_map(|setting| setting.split_once('=')).collect();
    let lexicon = Lexicon::load(None).unwrap();
    let mut whisper = Whisper::load(&model(&given), &phrases(&lexicon, &given), of(&given)).unwrap();
    // Each `second` is a model, or a model with another window and no leaning: `second=FILE` or `third=SECONDS`.
    let mut others = Vec::new();
    if let Some(name) = given.get("second") {
        let settings = of(&given);
        others.push(
            Whisper::load(&model(&HashMap::from([("model", *name)])), &phrases(&lexicon, &given), settings).unwrap(),
        );
    }
    if let Some(seconds) = given.get("third") {
        let mut settings = of(&given);
        settings.window_ms = (seconds.parse::<f64>().unwrap() * 1000.0) as u64;
        others.push(Whisper::load(&model(&given), &Phrases::default(), settings).unwrap());
    }
    println!("{:36} errors  names  put in |  prec.  recall     F1  clear silent | CPU s / s", arguments.join(" "));
    for folder in folders {
        measure(
            &lexicon,
            (&mut whisper, &mut others),
            Path::new(folder),
            given.get("keep").copied(),
            given.contains_key("asked"),
        );
    }
}

fn number<T: std::str::FromStr>(given: &HashMap<&str, &str>, name: &str, usual: T) -> T {
    given.get(name).map_or(usual, |text| text.parse().ok().expect("a setting is a number"))
}

fn model(given: &HashMap<&str, &str>) -> PathBuf {
    let name = given.get("model").copied().unwrap_or("ggml-base-q8_0.bin");
    models_folder().join(name)
}

fn models_folder() -> PathBuf {
    std::env::var_os("SPOKEN_EXAM_MODELS").map_or_else(
        || Path::new(&std::env::var_os("HOME").unwrap()).join(".local/share/spoken-exam/models"),
        PathBuf::from,
    )
}

fn phrases(lexicon: &Lexicon, _given: &HashMap<&str, &str>) -> Phrases {
    Phrases(lexicon.phrases_to_favour())
}

fn of(given: &HashMap<&str, &str>) -> Settings {
    let mut settings = Settings::new(number(given, "threads", 2));
    settings.beams = number(given, "beams", settings.beams);
    settings.window_ms = (number(given, "window", settings.window_ms as f64 / 1000.0) * 1000.0) as u64;
    settings.voice = given.get("voice").map(|_| models_folder().join("ggml-silero-v6.2.0.bin"));
    settings.lean.strength = number(given, "strength", settings.lean.strength);
    settings.lean.at_start = number(given, "start", settings.lean.at_start);
    settings.lean.known_word = number(given, "known", settings.lean.known_word);
    settings.lean.gate = number(given, "gate", settings.lean.gate);
    settings.lean.start_gate = number(given, "start-gate", settings.lean.start_gate);
    settings
}

fn measure(
    lexicon: &Lexicon,
    (first, others): (&mut Whisper, &mut [Whisper]),
    folder: &Path,
    keep: Option<&str>,
    asked: bool,
) {
    let (mut words, mut tally, mut sound, mut cpu) = (HeardWords::default(), Tally::default(), 0.0, 0.0);
    let mut doubts: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    let begun = Instant::now();
    for pair in pairs(folder).unwrap() {
        let (Some(text), Some(recording)) = (&pair.text, &pair.sound) else { continue };
        let recording = audio::read(recording).unwrap();
        let before = cpu_seconds();
        let others = others.iter_mut().map(|other| other as &mut dyn Transcriber).collect();
        let hearers = Hearers { first: &mut *first, others };
        let narration = flow::of_sound(lexicon, &recording, hearers, &mut |_| ()).unwrap();
        let spent = cpu_seconds() - before;
        let said = flow::utterances_of(&std::fs::read_to_string(text).unwrap());
        let heard = compare_words(lexicon, &said, &narration.utterances);
        let gold = read_gold(&std::fs::read_to_string(&pair.gold).unwrap()).unwrap();
        let agreement = compare(&predicted(&narration.draft), &gold);
        let wrong = |finding: &spoken_exam::record::DraftFinding| {
            let said = |extra: &spoken_exam::score::Predicted| {
                extra.row.item == finding.item && extra.row.value == finding.value
            };
            agreement.extra.iter().any(|(extra, _)| said(extra))
        };
        for finding in narration.draft.all_findings() {
            let right = if wrong(finding) { "wrong" } else { "right" };
            let how = if matches!(finding.proof.how, spoken_exam::lexicon::How::Sound(_)) { "sound" } else { "words" };
            let why = format!(
                "{right} {:?} {:?} {:?} {how} {}",
                finding.heard_by,
                finding.reasons,
                finding.proof.told,
                finding.proof.item.is_some()
            );
            *doubts.entry(why).or_default() += 1;
        }
        for (extra, kind) in agreement.extra.iter().filter(|(extra, _)| extra.clear) {
            let row = &extra.row;
            println!("  {} {} {}: {}, \"{}\"", row.item, row.side, row.value, kind.words(), extra.quote);
        }
        if let Some(folder) = keep {
            let lines: Vec<&str> = narration.utterances.iter().map(|said| said.text.as_str()).collect();
            std::fs::create_dir_all(folder).unwrap();
            std::fs::write(Path::new(folder).join(format!("{}.txt", pair.name)), lines.join("\n")).unwrap();
        }
        if asked {
            narration.asked.iter().for_each(print_asked);
        }
        let length = recording.length_ms() as f64 / 1000.0;
        println!("{}", line(&pair.name, &heard, &agreement, spent / length));
        words.add(&heard);
        tally.add(&agreement);
        (sound, cpu) = (sound + length, cpu + spent);
    }
    println!("{}", line("all", &words, &tally, cpu / sound));
    println!("{:.0} s of sound, {:.1} times real time", sound, sound / begun.elapsed().as_secs_f64());
    for (why, count) in doubts {
        println!("  {count:4} {why}");
    }
    for (kind, count) in tally.silent {
        println!("  {} {count}", kind.words());
    }
}

/// What was listened for again: each text with its sum of logarithms and how it stands to what was written, `*` before
/// what stands there now.
fn print_asked(asked: &flow::Asked) {
    println!("  ? {:7.1}        {}", asked.chance, asked.heard);
    for (text, chance) in &asked.rivals {
        println!("    {chance:7.1} {:+6.1} {text}", chance - asked.chance);
    }
    if let Some(text) = &asked.put_in {
        println!("  *                {text}");
    }
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

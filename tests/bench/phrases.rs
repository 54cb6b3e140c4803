//! How long phrases take to be found, for the comparison with other libraries that `beside.py` makes.
//! Takes a lexicon's folder, a file of lines and a file to write to; prints CPU seconds and the number of mentions for
//! each way of looking, and writes every phrase found beside its line. Leaves alone what the phrases mean.
//!
//! `phrases FOLDER LINES FOUND` prints `exact 0.012345 678`

#![allow(clippy::expect_used, clippy::print_stdout, reason = "a bench may give up, and prints what it measured")]

use std::fmt::Write;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use spoken_exam::lexicon::mentions::phrases_in;
use spoken_exam::lexicon::{How, Lexicon, load, mentions_in};
use spoken_exam::speech::Utterance;

/// Seconds that each way of looking is repeated for.
const LONG_ENOUGH: f64 = 1.0;
/// Parts of a second that Linux counts CPU time in.
const TICKS: f64 = 100.0;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let [folder, lines, found] = arguments.as_slice() else {
        println!("python3 tests/bench/beside.py runs this beside other libraries");
        return;
    };
    let sources = load::from_folder(Path::new(folder)).expect("the folder can be read");
    let lexicon = Lexicon::from_sources(&sources).expect("the phrases have no faults");
    let text = std::fs::read_to_string(lines).expect("the lines can be read");
    let lines: Vec<&str> = text.lines().collect();
    let utterances: Vec<Utterance> = lines.iter().map(|line| Utterance::from_text(line)).collect();
    measure("words", || lines.iter().map(|line| Utterance::from_text(line).words.len()).sum());
    measure("matching", || utterances.iter().map(|utterance| phrases_in(&lexicon, utterance).len()).sum());
    measure("exact", || lines.iter().map(|line| phrases_in(&lexicon, &Utterance::from_text(line)).len()).sum());
    measure("all", || lines.iter().map(|line| mentions_in(&lexicon, &Utterance::from_text(line)).len()).sum());
    let whole = Lexicon::load(None).expect("the lexicon has no faults");
    measure("whole", || lines.iter().map(|line| mentions_in(&whole, &Utterance::from_text(line)).len()).sum());
    std::fs::write(found, pairs(&lexicon, &utterances)).expect("the phrases found can be written");
}

/// Prints how long a round takes on the CPU, and what it counts.
fn measure(what: &str, mut round: impl FnMut() -> usize) {
    let (mut rounds, mut count) = (0, 0);
    let start = Clock::start();
    while start.seconds() < LONG_ENOUGH {
        count = black_box(round());
        rounds += 1;
    }
    println!("{what} {:.6} {count}", start.seconds() / f64::from(rounds));
}

/// CPU time, or the clock's where the system does not tell it.
struct Clock {
    cpu: Option<f64>,
    clock: Instant,
}

impl Clock {
    fn start() -> Self {
        Self { cpu: cpu_seconds(), clock: Instant::now() }
    }

    fn seconds(&self) -> f64 {
        let cpu = self.cpu.zip(cpu_seconds()).map(|(start, now)| now - start);
        cpu.unwrap_or_else(|| self.clock.elapsed().as_secs_f64())
    }
}

fn cpu_seconds() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // The name of the program, in brackets, may hold blanks; the times are the 12th and 13th field behind it.
    let (_, fields) = stat.rsplit_once(") ")?;
    let ticks: Vec<f64> = fields.split(' ').skip(11).take(2).filter_map(|field| field.parse().ok()).collect();
    (ticks.len() == 2).then(|| ticks.iter().sum::<f64>() / TICKS)
}

/// Number of the line, how it was found, and the phrase, a line each.
fn pairs(lexicon: &Lexicon, utterances: &[Utterance]) -> String {
    let mut pairs = String::new();
    for (number, utterance) in utterances.iter().enumerate() {
        for mention in mentions_in(lexicon, utterance) {
            let Some(phrase) = mention.phrase(lexicon) else { continue };
            let how = if mention.how == How::Exact { "exact" } else { "near" };
            let _ = writeln!(pairs, "{number}\t{how}\t{}", phrase.text);
        }
    }
    pairs
}

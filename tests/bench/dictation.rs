//! How soon what is said is shown while it is said, and how well, beside the final pass.
//!
//!     cargo bench --bench dictation -- FOLDER [NAME=VALUE ...]
//!
//! FOLDER holds NAME.flac or NAME.opus with NAME.txt and NAME.tsv, as `samples` does. Each recording is dictated as fast as it
//! was spoken, a block of a tenth of a second at a time. Settings: most (recordings), seconds (of each), alone (any: hear
//! once only, nothing again), pace (times as fast as it was spoken, 1), differences (any: what was shown otherwise, and the
//! words of both).
//! Prints a line a recording: from the end of what was said to the draft that holds it, the median and what 95 in 100 stay
//! below; the scores of the draft that was shown last, and of the final pass.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench ends at the first fault and prints its figures")]

use std::collections::HashMap;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use spoken_exam::audio::{self, Recording};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::live::{Crew, Event, Keep, Models, Picture, Session};
use spoken_exam::record::DraftRecord;
use spoken_exam::score::{Tally, compare, pairs, predicted, read_gold};
use spoken_exam::setup;

/// A block of a tenth of a second.
const BLOCK: usize = 1600;
/// Utterances up to this length count, in milliseconds.
const LONGEST_MS: u64 = 10_000;

/// Keeps nothing but what it was made of: the disk is not measured here.
struct Known(Recording);

impl Keep for Known {
    fn add(&mut self, _: &[i16]) -> Result<(), String> {
        Ok(())
    }

    fn synchronise(&mut self) -> Result<(), String> {
        Ok(())
    }

    fn recording(&mut self) -> Result<Recording, String> {
        Ok(self.0.clone())
    }
}

/// What was told, and when.
#[derive(Default)]
struct Told {
    said: Option<u64>,
    late: Vec<f64>,
    picture: Option<Arc<Picture>>,
    troubles: Vec<String>,
    behind: u64,
    guesses: usize,
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let (settings, folders): (Vec<_>, Vec<_>) = arguments.iter().partition(|argument| argument.contains('='));
    let given: HashMap<&str, &str> = settings.iter().filter_map(|setting| setting.split_once('=')).collect();
    let lexicon = Arc::new(Lexicon::load(None).unwrap());
    println!("{:36} said  median   95 %  guesses | shown: F1  clear silent | final: F1  clear silent", "");
    let (mut late, mut shown, mut last) = (Vec::new(), Tally::default(), Tally::default());
    let most = given.get("most").map_or(usize::MAX, |most| most.parse().unwrap());
    let pace: f64 = given.get("pace").map_or(1.0, |pace| pace.parse().unwrap());
    for pair in folders.iter().flat_map(|folder| pairs(Path::new(folder)).unwrap()).take(most) {
        let Some(file) = &pair.sound else { continue };
        let mut recording = audio::read(file).unwrap();
        let seconds = given.get("seconds").map_or(usize::MAX / 16_000, |seconds| seconds.parse().unwrap());
        let mut samples = recording.samples.all().unwrap();
        samples.truncate(seconds * 16_000);
        recording.samples = samples.into();
        let (told, draft) = dictate(&lexicon, recording, pace, given.contains_key("alone"));
        let gold = read_gold(&std::fs::read_to_string(&pair.gold).unwrap()).unwrap();
        let picture = told.picture.unwrap();
        let (one, two) = (compare(&predicted(&picture.draft), &gold), compare(&predicted(&draft), &gold));
        println!("{}", line(&pair.name, &told.late, told.guesses, (&one, &two)));
        let differences = draft.notices.iter().filter(|_| given.contains_key("differences"));
        for words in told.troubles.iter().chain(differences.map(|notice| &notice.words)) {
            println!("  {words}");
        }
        late.extend(told.late);
        if given.contains_key("differences") {
            print_words("shown", &picture.draft);
            print_words("final", &draft);
        }
        shown.add(&one);
        last.add(&two);
    }
    println!("{}", line("all", &late, 0, (&shown, &last)));
}

fn crew(lexicon: &Lexicon, alone: bool) -> Crew {
    let folder = setup::default_folder(&|name| std::env::var_os(name)).unwrap();
    let models = Models {
        first: folder.join("ggml-base-q8_0.bin"),
        second: Some(folder.join("ggml-tiny.en-q8_0.bin")),
        voice: Some(setup::voice_path(&folder)),
        third: true,
        threads: 2,
    };
    let mut crew = Crew::load(&models, lexicon, &Arc::default()).unwrap();
    if alone {
        crew.again.truncate(1);
    }
    crew
}

fn dictate(lexicon: &Arc<Lexicon>, recording: Recording, pace: f64, alone: bool) -> (Told, DraftRecord) {
    let samples: Vec<i16> = recording.samples.all().unwrap().iter().map(|sample| (sample * 32_767.0) as i16).collect();
    let told = Arc::new(Mutex::new(Told::default()));
    let crew = crew(lexicon, alone);
    let begun = Instant::now();
    let tell = {
        let told = Arc::clone(&told);
        move |event: Event| take(&mut told.lock().unwrap(), event, begun)
    };
    let session = Session::begin(Arc::clone(lexicon), crew, Known(recording), "full", tell);
    for (block, at) in samples.chunks(BLOCK).zip(1u32..) {
        let due = Duration::from_secs_f64(f64::from(at) / 10.0 / pace);
        std::thread::sleep(due.saturating_sub(begun.elapsed()));
        session.hear(block);
    }
    // What was said last is heard behind the quiet that follows.
    for at in 1..=60u32 {
        session.hear(&[0; BLOCK]);
        std::thread::sleep(Duration::from_millis(100).saturating_sub(Duration::from_nanos(u64::from(at))));
    }
    let draft = session.end().unwrap().draft;
    let told = std::mem::take(&mut *told.lock().unwrap());
    (told, draft)
}

fn take(told: &mut Told, event: Event, begun: Instant) {
    match event {
        Event::Said { at_ms, to_ms, .. } if to_ms <= at_ms + LONGEST_MS => told.said = Some(to_ms),
        Event::Draft(picture) => {
            // A draft that holds nothing new is not told; a said line without findings is not measured.
            if let Some(to_ms) = told.said.take() {
                told.late.push((begun.elapsed().as_secs_f64() - to_ms as f64 / 1000.0).max(0.0));
            }
            told.picture = Some(picture);
        }
        Event::Guess(text) if !text.is_empty() => told.guesses += 1,
        Event::Behind(ms) => {
            told.behind = told.behind.max(ms);
            told.troubles.push(format!("behind by {ms} ms at {:.0} s", begun.elapsed().as_secs_f64()));
        }
        Event::Trouble(words) => told.troubles.push(words),
        _ => (),
    }
}

fn print_words(which: &str, draft: &DraftRecord) {
    for line in &draft.transcript {
        println!("  {which} {:6} {}", line.sound.map_or(0, |sound| sound.start_ms), line.text);
    }
    for row in predicted(draft) {
        println!("  {which} {:?} {}", row.row, if row.clear { "" } else { "(check)" });
    }
}

fn line(name: &str, late: &[f64], guesses: usize, (shown, last): (&Tally, &Tally)) -> String {
    let mut late = late.to_vec();
    late.sort_by(f64::total_cmp);
    let at = |share: f64| late.get(((late.len() as f64 - 1.0) * share).round() as usize).copied().unwrap_or(0.0);
    let scores = |tally: &Tally| format!("{:5.3}  {:5.3} {:6}", tally.f1(), tally.clear(), tally.silent_errors());
    format!(
        "{name:36} {:4} {:6.2}s {:6.2}s {guesses:7}  |     {}  |     {}",
        late.len(),
        at(0.5),
        at(0.95),
        scores(shown),
        scores(last)
    )
}

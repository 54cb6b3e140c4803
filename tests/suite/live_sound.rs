//! Dictation with the real recognisers: what is shown while somebody speaks, beside the pass over the whole recording.
//! Takes a sample, spoken two and a half times as fast as it was; fails where what was shown in the end is poorer than the draft by more
//! than the corpus allows. Leaves alone how soon it is shown: `cargo bench --bench dictation` measures that.

use std::path::Path;
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

use spoken_exam::audio::{self, Recording};
use spoken_exam::live::{Crew, Event, Keep, Models, Picture, Session};
use spoken_exam::score::{compare, predicted, read_gold};
use spoken_exam::setup;

use crate::corpus::LEXICON;
use crate::hearing::model;

const BLOCK: usize = 1600;
/// How far the draft that is shown may be behind the final one.
const BEHIND: f64 = 0.03;

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

/// The last picture, and when it was told.
type Shown = (Mutex<(Option<Arc<Picture>>, Instant)>, Condvar);

fn crew() -> Crew {
    let folder = model().parent().expect("a folder").to_owned();
    let models = Models {
        first: model(),
        second: Some(folder.join("ggml-tiny.en-q8_0.bin")),
        voice: Some(setup::voice_path(&folder)),
        third: true,
        threads: 2,
    };
    Crew::load(&models, &LEXICON, &Arc::default()).expect("the models are there")
}

#[test]
fn what_is_shown_comes_to_what_the_final_pass_comes_to() {
    let recording = audio::read(Path::new("samples/quick-term-boy.flac")).unwrap();
    let samples: Vec<i16> = recording.samples.all().unwrap().iter().map(|sample| (sample * 32_767.0) as i16).collect();
    let shown: Arc<Shown> = Arc::new((Mutex::new((None, Instant::now())), Condvar::new()));
    let tell = Arc::clone(&shown);
    let lexicon = Arc::new(spoken_exam::lexicon::Lexicon::load(None).unwrap());
    let session = Session::begin(lexicon, crew(), Known(recording), "full", move |event| {
        if let Event::Draft(picture) = event {
            *tell.0.lock().unwrap() = (Some(picture), Instant::now());
            tell.1.notify_all();
        }
    });
    let quiet = vec![0; 4 * 16_000];
    for block in samples.chunks(BLOCK).chain(quiet.chunks(BLOCK)) {
        session.hear(block);
        std::thread::sleep(Duration::from_millis(40));
    }
    // All was heard again when nothing changes any more.
    let picture = loop {
        let (picture, at) = shown.0.lock().unwrap().clone();
        if at.elapsed() > Duration::from_secs(15) {
            break picture.expect("something was shown");
        }
        std::thread::sleep(Duration::from_millis(200));
    };
    let draft = session.end().unwrap().draft;
    let gold = read_gold(&std::fs::read_to_string("samples/quick-term-boy.tsv").unwrap()).unwrap();
    let (one, two) = (compare(&predicted(&picture.draft), &gold), compare(&predicted(&draft), &gold));
    println!(
        "shown: F1 {:.3}, clear {:.3}; final: F1 {:.3}, clear {:.3}",
        one.f1(),
        one.clear(),
        two.f1(),
        two.clear()
    );
    assert!(one.f1() >= two.f1() - BEHIND, "shown {:.3}, final {:.3}", one.f1(), two.f1());
    assert!(two.f1() > 0.9, "{:.3}", two.f1());
}

//! Recordings through the recogniser.
//! Takes the model `ggml-base-q8_0.bin` and voice activity from the folder that SPOKEN_EXAM_MODELS names, and the samples; compares what is
//! heard with what was said. Leaves alone what the words mean.
//! Silence and a ward without a speaker must come back without a word.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use spoken_exam::audio;
use spoken_exam::speech::{Contest, Heard, Phrases, Settings, SpeechError, Transcriber, Whisper};

pub(crate) fn model() -> PathBuf {
    let folder = std::env::var_os("SPOKEN_EXAM_MODELS")
        .expect("SPOKEN_EXAM_MODELS must name the folder of the speech models; `spoken-exam setup` makes them");
    let path = Path::new(&folder).join("ggml-base-q8_0.bin");
    assert!(path.is_file(), "{} is missing; `spoken-exam setup` makes it", path.display());
    path
}

fn whisper(phrases: &[&str], settings: Settings) -> Whisper {
    by_level(phrases, Settings { voice: Some(crate::voice::file()), ..settings })
}

/// Without voice activity: what rises above the room is put before the recogniser.
fn by_level(phrases: &[&str], settings: Settings) -> Whisper {
    let phrases = Phrases(phrases.iter().map(|&phrase| phrase.to_owned()).collect());
    Whisper::load(&model(), &phrases, settings).unwrap()
}

fn samples(name: &str) -> Vec<f32> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples").join(name);
    audio::read(&path).unwrap().samples.all().unwrap()
}

fn hear(whisper: &mut Whisper, samples: &[f32]) -> Heard {
    whisper.transcribe(&samples, &mut |_| ()).unwrap()
}

/// Noise that is the same on every run.
fn noise(seconds: usize, loudness: impl Fn(f32) -> f32) -> Vec<f32> {
    let mut state = 2024u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 23) as f32 - 1.0
    };
    (0..seconds * 16_000).map(|at| next() * loudness(at as f32 / 16_000.0)).collect()
}

#[test]
fn silence_and_noise_give_no_words() {
    let phrases = ["Moro reflex", "galant reflex", "popliteal angle"];
    let (mut whisper, mut by_level) = (whisper(&phrases, Settings::new(1)), by_level(&phrases, Settings::new(1)));
    let check = |whisper: &mut Whisper, what: &str, samples: &[f32], noticed: bool| {
        let heard = hear(whisper, samples);
        assert_eq!(heard.utterances, [], "{what}");
        assert_eq!(!heard.notices.is_empty(), noticed, "{what}: {:?}", heard.notices);
    };
    let bursts = noise(12, |at| if at % 4.0 < 1.5 { 0.2 } else { 0.001 });
    let ward = samples("ward-noise.flac");
    for whisper in [&mut whisper, &mut by_level] {
        check(whisper, "nothing", &[], false);
        check(whisper, "digital silence", &samples("silent.flac"), false);
        check(whisper, "steady noise", &noise(20, |_| 0.05), false);
    }
    // What rises above the room could be speech by its level: it is heard, found to be none, and said so. Voice activity
    // knows it for none.
    check(&mut by_level, "bursts of noise", &bursts, true);
    check(&mut by_level, "a ward without a speaker", &ward, true);
    check(&mut whisper, "bursts of noise", &bursts, false);
    check(&mut whisper, "a ward without a speaker", &ward, false);
}

#[test]
fn one_recogniser_and_two_hear_the_same() {
    let sound = samples("quick-term-boy.flac");
    let of = |threads| {
        let mut settings = Settings::new(threads);
        settings.window_ms = 15_000;
        hear(&mut whisper(&["Moro reflex"], settings), &sound)
    };
    let (one, two) = (of(1), of(2));
    assert_eq!(one, two);
    assert!(one.utterances.len() > 10, "{one:?}");
}

#[test]
fn words_have_places_in_order_and_a_sentence_each() {
    let sound = samples("quick-term-boy.flac");
    let heard = hear(&mut whisper(&[], Settings::new(2)), &sound);
    let length_ms = sound.len() as u64 / 16;
    let mut last = 0;
    for said in &heard.utterances {
        for word in &said.words {
            let place = word.sound.unwrap();
            assert!(last <= place.start_ms + 1000 && place.start_ms <= place.end_ms && place.end_ms <= length_ms);
            assert!(word.probability.is_some_and(|p| (0.0..=1.0).contains(&p)), "{word:?}");
            last = place.start_ms;
        }
        let stops = said.text.matches(['.', '?']).filter(|_| !said.text.contains("...")).count();
        assert!(stops <= 2, "{}", said.text);
    }
}

#[test]
fn stopping_takes_moments() {
    let cancel = Arc::new(AtomicBool::new(false));
    let settings = Settings { cancel: Arc::clone(&cancel), ..Settings::new(1) };
    let sound = samples("quick-term-boy.flac");
    let mut whisper = whisper(&[], settings);
    // The flag is raised while the first window is being heard: it must not be finished, nor the others begun.
    let raise = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(200));
        cancel.store(true, Ordering::Relaxed);
    });
    let mut progressed = 0;
    let result = whisper.transcribe(&sound, &mut |_| progressed += 1);
    raise.join().unwrap();
    assert!(matches!(result, Err(SpeechError::Cancelled)), "{result:?}");
    assert!(progressed <= 1, "{progressed} windows were finished");
}

/// Everyday sentences with words that sound like the trade's.
const BAIT: [&str; 6] = [
    "the moral of the story is short",
    "she laid her palm on the grass",
    "he wore a scarf and signed the letter",
    "they sat by the fountain near the elbow of the river",
    "the gallant captain took a route along the coast",
    "he asked them to sort the plans for the planter",
];

#[test]
fn everyday_words_are_not_bent_towards_the_lexicon() {
    let lexicon = spoken_exam::lexicon::Lexicon::load(None).unwrap();
    let favoured = lexicon.phrases_to_favour();
    let favoured: Vec<&str> = favoured.iter().map(String::as_str).collect();
    let (mut leaning, mut plain) = (whisper(&favoured, Settings::new(2)), whisper(&[], Settings::new(2)));
    let folder = tempfile::tempdir().unwrap();
    let mut bent = 0;
    for line in BAIT {
        let file = folder.path().join("said.wav");
        let flite = std::process::Command::new("flite").args(["-voice", "rms", "-t", line, "-o"]).arg(&file).status();
        assert!(flite.expect("flite is installed; tests/all does").success());
        let sound = audio::read(&file).unwrap().samples.all().unwrap();
        let words = |whisper: &mut Whisper| -> Vec<String> {
            let heard = hear(whisper, &sound);
            heard.utterances.iter().flat_map(|said| &said.words).map(|word| word.plain.clone()).collect()
        };
        let (with, without) = (words(&mut leaning), words(&mut plain));
        bent += strsim::generic_levenshtein(&with, &without);
        for trade in ["moro", "palmar", "galant", "plantar", "sutures", "fontanelle"] {
            assert!(!with.iter().any(|word| word == trade), "{line}: {with:?}");
        }
    }
    assert!(bent <= 2, "{bent} words are heard otherwise for the leaning");
}

#[test]
fn asked_again_the_sound_tells_what_was_said() {
    let sound = samples("quick-term-boy.flac");
    let mut whisper = whisper(&["Moro reflex"], Settings::new(2));
    let heard = hear(&mut whisper, &sound);
    let said = heard.utterances.iter().find(|said| said.text.contains("Moro")).expect("the Moro reflex was heard");
    let place = said.sound.unwrap();
    let texts = ["Moro", "Arm recoil", "Biceps"].map(|other| said.text.replacen("Moro", other, 1));
    let contest = Contest { sound: place, texts: texts.to_vec() };
    let scores = whisper.scores(&sound, &[contest.clone(), contest]).unwrap().expect("it can tell");
    let [moro, others @ ..] = &scores[0][..] else { panic!("{scores:?}") };
    assert!(others.iter().all(|other| moro - other > 10.0), "{texts:?}: {scores:?}");
    // The same sound gives the same figures, whoever works it out.
    assert_eq!(scores[0], scores[1]);
    assert!(scores[0].iter().all(|score| (-200.0..0.0).contains(score)), "{scores:?}");
    assert_eq!(whisper.scores(&sound, &[]).unwrap(), Some(Vec::new()));
}

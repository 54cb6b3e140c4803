//! Real speech through the models that the set-up made.
//! Takes the models' folder from SPOKEN_EXAM_MODELS (made by `spoken-exam setup`), recordings of people from the Debian
//! package pocketsphinx-testdata, and one sentence spoken by flite; compares what whisper.cpp says about a model with
//! what it must be, and what it hears with what was said. Leaves alone: the trade's words, which need the lexicon.
//! "he was not an ill disposed young man" must come back with few words wrong.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::time::Instant;

use spoken_exam::setup::{Model, Precision, model_path};
use whisper_rs::{FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters};

/// Five sentences of "Sense and Sensibility" read for LibriVox, with their texts.
const SPEECH: &str = "/usr/share/pocketsphinx/test/data";
/// Of 71 words read aloud: one in ten wrong is the most that is allowed, whatever the model.
const READ_ALOUD_AT_MOST: f64 = 0.10;
/// Plain words spoken by a machine.
const FLITE_SAYS: &str = "the baby is awake and both arms move well";
const FLITE_AT_MOST: f64 = 0.15;

/// What whisper.cpp must report: size's name, tokens, languages, width, heads, layers.
const REPORTS: [(Model, &str, i32, bool, [i32; 3]); 2] =
    [(Model::Base, "base", 51_865, true, [512, 8, 6]), (Model::TinyEn, "tiny", 51_864, false, [384, 6, 4])];

#[test]
fn whisper_reports_the_sizes_of_the_model() {
    for &(model, precision, ref context) in models() {
        let (_, name, tokens, languages, sizes) = *REPORTS.iter().find(|report| report.0 == model).unwrap();
        assert_eq!(context.model_type_readable_str_lossy().unwrap(), name);
        assert_eq!(context.n_vocab(), tokens, "{model}");
        assert_eq!(context.is_multilingual(), languages, "{model}");
        assert_eq!([context.n_audio_ctx(), context.n_text_ctx()], [1500, 448], "{model}");
        let audio = [context.model_n_audio_state(), context.model_n_audio_head(), context.model_n_audio_layer()];
        let text = [context.model_n_text_state(), context.model_n_text_head(), context.model_n_text_layer()];
        assert_eq!((audio, text, context.model_n_mels()), (sizes, sizes, 80), "{model}");
        assert_eq!(context.model_ftype(), if precision == Precision::Q8 { 7 } else { 1 }, "{model} {precision}");
    }
}

#[test]
fn the_words_of_the_model_are_its_own() {
    for &(model, precision, ref context) in models() {
        let word = |token| context.token_to_str_lossy(token).unwrap().into_owned();
        // " the" is an early merge in both vocabularies, at another place; the end mark follows the last word.
        let (the, end) = if model == Model::Base { (264, 50_257) } else { (262, 50_256) };
        assert_eq!([word(0), word(the)], ["!", " the"], "{model} {precision}");
        assert_eq!(context.token_eot(), end, "{model} {precision}");
    }
}

#[test]
fn people_reading_aloud_are_heard() {
    let said = texts("librivox/transcription");
    for &(model, precision, ref context) in models() {
        let rate = measure(&said, model, precision, context);
        assert!(rate <= READ_ALOUD_AT_MOST, "{model} {precision}: {rate:.3} of the words are wrong");
    }
}

#[test]
fn a_speaking_machine_is_heard() {
    let folder = tempfile::tempdir().unwrap();
    let wav = folder.path().join("said.wav");
    let spoken = Command::new("flite").args(["-voice", "slt", "-t", FLITE_SAYS, "-o"]).arg(&wav).status();
    assert!(spoken.is_ok_and(|status| status.success()), "flite is missing: install it with `apt-get install flite`");
    let sound = samples(&wav);
    for &(model, precision, ref context) in models() {
        let heard = hear(context, &sound);
        let (wrong, words) = wrong_words(FLITE_SAYS, &heard);
        println!("flite {model} {precision}: {wrong} of {words} words wrong: {heard}");
        assert!(wrong as f64 <= FLITE_AT_MOST * words as f64, "{model} {precision} heard: {heard}");
    }
}

/// The default model, which must be there, and those of the others that are; each is loaded once.
fn models() -> &'static [(Model, Precision, WhisperContext)] {
    static MODELS: OnceLock<Vec<(Model, Precision, WhisperContext)>> = OnceLock::new();
    MODELS.get_or_init(|| {
        let all = Model::ALL.into_iter().flat_map(|model| Precision::ALL.map(|precision| (model, precision)));
        let needed = model_path(&folder(), &Model::Base, Precision::Q8);
        assert!(needed.is_file(), "there is no {}: run `spoken-exam setup` with that folder first", needed.display());
        let there = all.filter(|(model, precision)| model_path(&folder(), model, *precision).is_file());
        there.map(|(model, precision)| (model, precision, load(model, precision))).collect()
    })
}

fn folder() -> PathBuf {
    let folder = std::env::var_os("SPOKEN_EXAM_MODELS").map(PathBuf::from);
    folder.expect("set SPOKEN_EXAM_MODELS to the folder that `spoken-exam setup` wrote the speech model to")
}

fn load(model: Model, precision: Precision) -> WhisperContext {
    whisper_rs::install_logging_hooks();
    let path = model_path(&folder(), &model, precision);
    let loaded = WhisperContext::new_with_params(&path, WhisperContextParameters::default());
    loaded.unwrap_or_else(|error| panic!("{} cannot be loaded: {error}", path.display()))
}

/// Recordings by name, each with what was said, from a file of lines "<s> the words </s> (name)".
fn texts(file: &str) -> Vec<(String, String)> {
    let path = Path::new(SPEECH).join(file);
    let text = std::fs::read_to_string(&path);
    let text = text.unwrap_or_else(|_| panic!("{} is missing: apt-get install pocketsphinx-testdata", path.display()));
    let line = |line: &str| {
        let (said, name) = line.rsplit_once('(').unwrap();
        (name.trim_end_matches(')').to_owned(), said.replace("<s>", "").replace("</s>", ""))
    };
    text.lines().map(line).collect()
}

/// The share of words wrong over all recordings; every recording is printed.
fn measure(said: &[(String, String)], model: Model, precision: Precision, context: &WhisperContext) -> f64 {
    let start = Instant::now();
    let (mut wrong, mut words) = (0, 0);
    for (name, said) in said {
        let heard = hear(context, &samples(&Path::new(SPEECH).join("librivox").join(format!("{name}.wav"))));
        let counted = wrong_words(said, &heard);
        println!("read aloud, {model} {precision} {} of {}: {heard}", counted.0, counted.1);
        (wrong, words) = (wrong + counted.0, words + counted.1);
    }
    let rate = wrong as f64 / words as f64;
    println!(
        "read aloud, {model} {precision}: {wrong} of {words} words wrong, {rate:.3}, in {:.1} s",
        start.elapsed().as_secs_f64()
    );
    rate
}

fn samples(wav: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(wav).unwrap();
    assert_eq!((reader.spec().sample_rate, reader.spec().channels), (16_000, 1), "{}", wav.display());
    let samples: Vec<f32> = reader.samples::<i16>().map(|sample| f32::from(sample.unwrap()) / 32_768.0).collect();
    // whisper.cpp hears nothing in less than a second.
    let silence = 16_000_usize.saturating_sub(samples.len());
    samples.into_iter().chain(std::iter::repeat_n(0.0, silence)).collect()
}

fn hear(context: &WhisperContext, samples: &[f32]) -> String {
    let mut parameters = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
    parameters.set_n_threads(1);
    parameters.set_language(Some("en"));
    // 512 positions of 20 ms hold 10 s, which is more than any of the recordings and a third of the work.
    assert!(samples.len() < 10 * 16_000);
    parameters.set_audio_ctx(512);
    parameters.set_single_segment(true);
    parameters.set_print_progress(false);
    parameters.set_print_realtime(false);
    let mut state = context.create_state().unwrap();
    state.full(parameters, samples).unwrap();
    state.as_iter().map(|segment| segment.to_str_lossy().unwrap().into_owned()).collect()
}

/// Words wrong (wrong, missing or added) and words said.
fn wrong_words(said: &str, heard: &str) -> (usize, usize) {
    let (said, heard) = (words(said), words(heard));
    let mut row: VecDeque<usize> = (0..=heard.len()).collect();
    for (index, word) in said.iter().enumerate() {
        let mut next = VecDeque::from([index + 1]);
        for (at, other) in heard.iter().enumerate() {
            let changed = row[at] + usize::from(word != other);
            next.push_back(changed.min(row[at + 1] + 1).min(next[at] + 1));
        }
        row = next;
    }
    (row[heard.len()], said.len())
}

/// Lower-case words without marks; a hyphen parts words, and a number is spelled as it is spoken.
fn words(text: &str) -> Vec<String> {
    const NUMBERS: [&str; 11] = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let text = text.to_lowercase().replace(|c: char| !c.is_alphanumeric() && c != '\'', " ");
    let spell = |word: &str| match (word, word.parse::<usize>().ok().and_then(|number| NUMBERS.get(number))) {
        ("mr", _) => "mister".to_owned(),
        (_, Some(number)) => (*number).to_owned(),
        _ => word.to_owned(),
    };
    text.split_whitespace().map(spell).collect()
}

#[test]
fn wrong_missing_and_added_words_are_counted() {
    assert_eq!(wrong_words("mister john had", "Mr. John had."), (0, 3));
    assert_eq!(wrong_words("ten of clubs", "10 of the club"), (2, 3));
    assert_eq!(wrong_words("ill disposed", ""), (2, 2));
}

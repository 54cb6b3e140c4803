//! Voice activity on real and made sounds.
//! Takes the models' folder from SPOKEN_EXAM_MODELS, the samples, flite, and sounds computed here; compares the stretches
//! that are put before the recogniser with where somebody speaks. Leaves alone what is heard in them (`hearing`).
//! A monitor's beeps must give no word, and "no" said alone must be put before the recogniser.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use spoken_exam::audio;
use spoken_exam::setup::{voice_is_there, voice_path};
use spoken_exam::speech::pauses::{self, SAMPLE_RATE, Stretch};
use spoken_exam::speech::spoken::{Found, spoken};
use spoken_exam::speech::voice::Voice;
use spoken_exam::speech::{Phrases, Settings, Transcriber, Whisper};

/// Recordings of the samples' folder with speech.
const NARRATIONS: [&str; 5] = [
    "bedside-round.opus",
    "girl-on-the-ward.opus",
    "preterm-in-the-side-room.opus",
    "quick-term-boy.flac",
    "second-thoughts.opus",
];

/// Where each line of `girl-on-the-ward` is spoken, in milliseconds, as `samples/make-recordings` put them together.
const GIRL_ON_THE_WARD: [(usize, usize); 25] = [
    (50, 5023),
    (5574, 8241),
    (8991, 11256),
    (11706, 15383),
    (16333, 18027),
    (18677, 19782),
    (20332, 23281),
    (24031, 25284),
    (25734, 27705),
    (28655, 30000),
    (30650, 33057),
    (33607, 37526),
    (38276, 40500),
    (40950, 43902),
    (44852, 47308),
    (47958, 51446),
    (51996, 54330),
    (55080, 58602),
    (59053, 61432),
    (62382, 65494),
    (66144, 69225),
    (69775, 72775),
    (73525, 76893),
    (77343, 80394),
    (81344, 83116),
];

pub(crate) fn file() -> PathBuf {
    let folder = std::env::var_os("SPOKEN_EXAM_MODELS").map(PathBuf::from);
    let folder =
        folder.expect("SPOKEN_EXAM_MODELS must name the folder of the speech models; `spoken-exam setup` makes them");
    assert!(voice_is_there(&folder), "voice activity is missing in {}; `spoken-exam setup` makes it", folder.display());
    voice_path(&folder)
}

fn voice() -> Voice {
    Voice::load(&file()).unwrap()
}

fn sample(name: &str) -> Vec<f32> {
    audio::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("samples").join(name)).unwrap().samples.all().unwrap()
}

fn found(voice: &mut Voice, samples: &[f32]) -> Found {
    spoken(&samples, &voice.chances(&samples, &AtomicBool::new(false)).unwrap()).unwrap()
}

fn seconds(stretches: &[Stretch]) -> f64 {
    stretches.iter().map(|stretch| stretch.len()).sum::<usize>() as f64 / SAMPLE_RATE as f64
}

/// A sound of some seconds from its course over time.
fn sound(seconds: usize, course: impl Fn(f32) -> f32) -> Vec<f32> {
    (0..seconds * SAMPLE_RATE).map(|at| course(at as f32 / SAMPLE_RATE as f32)).collect()
}

/// Noise that is the same on every run.
fn noise(seconds: usize, loudness: f32) -> Vec<f32> {
    let mut state = 2024u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / (1 << 23) as f32 - 1.0
    };
    (0..seconds * SAMPLE_RATE).map(|_| next() * loudness).collect()
}

fn sine(hz: f32, at: f32) -> f32 {
    (std::f32::consts::TAU * hz * at).sin()
}

/// An infant's cry as its overtones, gliding and trembling, for a second of every one and a half.
fn cry(seconds: usize) -> Vec<f32> {
    let mut phase = 0.0f32;
    let mut next = |at: f32| {
        phase = (phase + (450.0 + 60.0 * sine(0.8, at) + 15.0 * sine(7.0, at)) / SAMPLE_RATE as f32).fract();
        let overtones = [0.6, 1.0, 0.9, 0.5, 0.5, 0.6, 0.4, 0.2, 0.2, 0.1];
        let tone = |(index, loudness): (usize, &f32)| loudness * sine(index as f32 + 1.0, phase);
        overtones.iter().enumerate().map(tone).sum::<f32>() * if at % 1.5 < 1.0 { 0.1 } else { 0.0 }
    };
    (0..seconds * SAMPLE_RATE).map(|at| next(at as f32 / SAMPLE_RATE as f32)).collect()
}

/// Four chords in turn, a second each, struck and fading.
fn music(seconds: usize) -> Vec<f32> {
    let chords = [[220.0, 277.2, 329.6], [196.0, 246.9, 293.7], [261.6, 329.6, 392.0], [174.6, 220.0, 261.6]];
    sound(seconds, |at| {
        let chord = chords[at as usize % chords.len()];
        chord.iter().map(|hz| sine(*hz, at)).sum::<f32>() * 0.1 * (-2.0 * at.fract()).exp()
    })
}

fn other_sounds() -> Vec<(&'static str, Vec<f32>)> {
    vec![
        ("silence", sample("silent.flac")),
        ("a ward without a speaker", sample("ward-noise.flac")),
        ("a cry", cry(20)),
        ("a monitor's beeps", sound(20, |at| if at % 0.8 < 0.12 { 0.3 * sine(960.0, at) } else { 0.0 })),
        ("mains hum", sound(20, |at| 0.3 * sine(50.0, at) + 0.1 * sine(150.0, at))),
        ("steady noise", noise(20, 0.05)),
        ("loud steady noise", noise(20, 0.5)),
    ]
}

#[test]
fn other_sounds_are_not_put_before_the_recogniser() {
    let mut voice = voice();
    for (what, samples) in other_sounds() {
        assert_eq!(found(&mut voice, &samples), Found::default(), "{what}");
    }
}

#[test]
fn other_sounds_give_no_words() {
    let settings = Settings { voice: Some(file()), ..Settings::new(1) };
    let phrases = Phrases(vec!["Moro reflex".to_owned(), "popliteal angle".to_owned()]);
    let mut whisper = Whisper::load(&crate::hearing::model(), &phrases, settings).unwrap();
    for (what, samples) in other_sounds().into_iter().chain([("music", music(20))]) {
        let heard = whisper.transcribe(&samples, &mut |_| ()).unwrap();
        assert_eq!(heard.utterances, [], "{what}");
    }
}

/// Whether each hundredth of a second lies in one of the places.
fn covered(places: &[(usize, usize)], length: usize) -> Vec<bool> {
    let step = SAMPLE_RATE / 100;
    let within = |at: usize| places.iter().any(|&(start, end)| start <= at && at < end);
    (0..length / step).map(|index| within(index * step + step / 2)).collect()
}

/// The share of the time spoken that lies in stretches.
fn share(spoken: &[bool], stretches: &[Stretch], length: usize) -> f64 {
    let places: Vec<(usize, usize)> = stretches.iter().map(|stretch| (stretch.start, stretch.end)).collect();
    let inside = covered(&places, length);
    let kept = spoken.iter().zip(&inside).filter(|(spoken, inside)| **spoken && **inside).count();
    kept as f64 / spoken.iter().filter(|spoken| **spoken).count() as f64
}

#[test]
fn speech_on_the_ward_is_kept() {
    let samples = sample("girl-on-the-ward.opus");
    let places = GIRL_ON_THE_WARD.map(|(start, end)| (start * 16, end * 16));
    let said = covered(&places, samples.len());
    let found = found(&mut voice(), &samples);
    let kept = share(&said, &found.stretches, samples.len());
    // The last hundredths of a second of a word fade into the ward.
    assert!(kept > 0.995, "{kept:.4} of the time spoken is kept");
    assert_eq!(found.unheard, []);
}

/// What flite makes of the words, freed of silence, at half the full level.
fn flite(voice: &str, words: &str) -> Vec<f32> {
    let folder = tempfile::tempdir().unwrap();
    let wav = folder.path().join("said.wav");
    let said = Command::new("flite").args(["-voice", voice, "-t", words, "-o"]).arg(&wav).status();
    assert!(said.is_ok_and(|status| status.success()), "flite is missing: install it with `apt-get install flite`");
    let samples = audio::read(&wav).unwrap().samples.all().unwrap();
    let peak = samples.iter().fold(0.0f32, |peak, sample| peak.max(sample.abs()));
    let heard = |sample: &f32| sample.abs() > peak * 0.01;
    let (first, last) = (samples.iter().position(heard).unwrap(), samples.iter().rposition(heard).unwrap());
    samples[first..=last].iter().map(|sample| sample * 0.5 / peak).collect()
}

#[test]
fn short_words_alone_are_put_before_the_recogniser() {
    let mut judge = voice();
    let ward = sample("ward-noise.flac");
    let mut lost = Vec::new();
    for voice in ["slt", "rms", "awb", "kal"] {
        for word in ["no", "yes", "absent", "present", "left", "right", "none", "normal", "plus one", "ten"] {
            let said = flite(voice, word);
            let start = 2 * SAMPLE_RATE;
            let mut alone = vec![0.0; said.len() + 4 * SAMPLE_RATE];
            alone[start..start + said.len()].copy_from_slice(&said);
            let on_the_ward = under(&ward, &alone, loudness(&said));
            let quiet: Vec<f32> = alone.iter().map(|sample| sample * 0.005).collect();
            let places = covered(&[(start, start + said.len())], alone.len());
            for (how, samples) in [("alone", &alone), ("on the ward", &on_the_ward), ("quietly", &quiet)] {
                let kept = share(&places, &found(&mut judge, samples).stretches, samples.len());
                if kept < 0.99 {
                    lost.push(format!("{word:?} by {voice} {how}: {kept:.2} kept"));
                }
            }
        }
    }
    assert!(lost.is_empty(), "{}", lost.join("\n"));
}

fn loudness(samples: &[f32]) -> f32 {
    (samples.iter().map(|sample| sample * sample).sum::<f32>() / samples.len() as f32).sqrt()
}

/// A sound with the ward's noise over it again and again, 17 dB below the loudness given.
fn under(ward: &[f32], samples: &[f32], loud: f32) -> Vec<f32> {
    let factor = loud / loudness(ward) * 10f32.powf(-17.0 / 20.0);
    samples.iter().zip(ward.iter().cycle()).map(|(sample, noise)| sample + noise * factor).collect()
}

#[test]
fn the_long_pauses_of_a_visit_on_the_ward_are_left_out() {
    let (mut clean, mut places, mut loud) = (Vec::new(), Vec::new(), 0.0f32);
    for words in ["she opens her eyes now", "the left arm is a little stiff", "no", "that is all for today"] {
        // The ward's infant cries right before the "no".
        clean.resize(clean.len() + 9 * SAMPLE_RATE, 0.0);
        let said = flite("slt", words);
        loud = loud.max(loudness(&said));
        places.push((clean.len(), clean.len() + said.len()));
        clean.extend(said);
    }
    let samples = under(&sample("ward-noise.flac"), &clean, loud);
    let found = found(&mut voice(), &samples);
    let kept = share(&covered(&places, samples.len()), &found.stretches, samples.len());
    // The last hundredths of a second of a word fade into the ward.
    assert!(kept > 0.995, "{kept:.4} of the time spoken is kept");
    let by_level = seconds(&pauses::stretches(&samples).unwrap());
    let by_voice = seconds(&found.stretches);
    println!(
        "a visit of {:.0} s: by level {by_level:.1}, by voice {by_voice:.1}",
        samples.len() as f64 / SAMPLE_RATE as f64
    );
    assert!(by_voice < by_level / 2.0, "{by_voice:.1} s by voice, {by_level:.1} s by level");
}

#[test]
fn no_more_is_put_before_the_recogniser_than_by_level() {
    let mut voice = voice();
    let (mut all, mut by_level, mut by_voice, start) = (0.0, 0.0, 0.0, Instant::now());
    for name in NARRATIONS.into_iter().chain(["silent.flac", "ward-noise.flac"]) {
        let samples = sample(name);
        let (level, found) =
            (seconds(&pauses::stretches(&samples).unwrap()), seconds(&found(&mut voice, &samples).stretches));
        println!(
            "{name}: {:.1} s, by level {level:.1}, by voice {found:.1}",
            samples.len() as f64 / SAMPLE_RATE as f64
        );
        (all, by_level, by_voice) =
            (all + samples.len() as f64 / SAMPLE_RATE as f64, by_level + level, by_voice + found);
    }
    println!("{all:.1} s, by level {by_level:.1}, by voice {by_voice:.1}; in {:.1} s", start.elapsed().as_secs_f64());
    assert!(by_voice <= by_level, "{by_voice:.1} s by voice, {by_level:.1} s by level");
}

#[test]
fn chances_are_the_same_on_every_run_and_do_not_leak_from_one_sound_into_the_next() {
    let mut voice = voice();
    let no_stop = AtomicBool::new(false);
    let speech = sample("quick-term-boy.flac");
    let first = voice.chances(&speech, &no_stop).unwrap();
    assert_eq!(first.len(), speech.len().div_ceil(512));
    assert!(first.iter().all(|chance| (0.0..=1.0).contains(chance)));
    voice.chances(&noise(3, 0.3), &no_stop).unwrap();
    assert_eq!(voice.chances(&speech, &no_stop).unwrap(), first);
    assert!(voice.chances(&Vec::new(), &no_stop).unwrap().is_empty());
    // Numbers that are none do no harm behind them.
    let mut damaged = speech.clone();
    damaged[100] = f32::NAN;
    let judged = voice.chances(&damaged, &no_stop).unwrap();
    assert!(judged.iter().zip(&first).skip(100).all(|(a, b)| (a - b).abs() < 0.1));
    assert!(voice.chances(&speech, &AtomicBool::new(true)).is_err());
}

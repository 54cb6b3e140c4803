//! Real sound files of every format → recordings.
//! Takes the files of `tests/sounds/`, 1.5 s of a 440 Hz tone each, whole, cut and damaged; leaves alone speech.

use std::path::{Path, PathBuf};

use spoken_exam::audio::{self, AudioError, Recording, Sound};

/// Every sound file with its container, codec, rate and channels.
const SOUNDS: [(&str, &str, &str, u32, usize); 13] = [
    ("8-bit.wav", "wave", "pcm_u8", 8_000, 1),
    ("mu-law.wav", "wave", "pcm_mulaw", 8_000, 1),
    ("adpcm.wav", "wave", "adpcm_ima_wav", 16_000, 1),
    ("plain.aiff", "aiff", "pcm_s16be", 8_000, 1),
    ("mono.flac", "flac", "flac", 22_050, 1),
    ("stereo.mp3", "mp3", "mp3", 44_100, 2),
    ("stereo.m4a", "isomp4", "aac", 44_100, 2),
    ("fragmented.m4a", "isomp4", "aac", 48_000, 1),
    ("plain.aac", "aac", "aac", 44_100, 1),
    ("vorbis.ogg", "ogg", "vorbis", 44_100, 1),
    ("opus.ogg", "ogg", "opus", 48_000, 1),
    ("opus.webm", "matroska", "opus", 48_000, 2),
    ("live.webm", "matroska", "opus", 48_000, 1),
];
const TONE_HZ: f64 = 440.0;
const TONE_MS: u64 = 1500;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sounds")
}

fn bytes_of(name: &str) -> Vec<u8> {
    std::fs::read(folder().join(name)).unwrap()
}

/// Strength of one frequency in a stretch of samples (Goertzel).
fn power(samples: &[f32], hz: f64) -> f64 {
    let turn = 2.0 * (2.0 * std::f64::consts::PI * hz / f64::from(audio::SAMPLE_RATE_HZ)).cos();
    let (mut last, mut before) = (0.0, 0.0);
    for &sample in samples {
        (last, before) = (f64::from(sample) + turn * last - before, last);
    }
    last * last + before * before - turn * last * before
}

/// The strongest frequency of the middle second, to 20 Hz.
fn dominant_hz(recording: &Recording) -> f64 {
    let middle = &recording.samples.all().unwrap()[4_000..20_000];
    let candidates = (2..400).map(|step| f64::from(step) * 20.0);
    candidates.max_by(|a, b| power(middle, *a).total_cmp(&power(middle, *b))).unwrap()
}

/// Whatever a file is, a recording's promises hold, or the error is one line with the name, and not a long one.
#[track_caller]
fn check_promises(read: &Result<Recording, AudioError>, name: &str) {
    match read {
        Ok(recording) => {
            assert!(!recording.samples.is_empty(), "{name}");
            assert!(recording.samples.all().unwrap().iter().all(|sample| (-1.0..=1.0).contains(sample)), "{name}");
        }
        Err(fault) => {
            let line = fault.to_string();
            assert!(line.contains(name) && !line.contains('\n') && line.len() < 250, "{line}");
        }
    }
}

#[test]
fn every_format_keeps_length_and_tone() {
    for (name, container, codec, rate_hz, channels) in SOUNDS {
        let recording = audio::read(&folder().join(name)).unwrap();
        let source = &recording.source;
        let found = (source.container.as_str(), source.codec.as_str(), source.sample_rate_hz, source.channels);
        assert_eq!(found, (container, codec, rate_hz, channels), "{name}");
        assert!(recording.length_ms().abs_diff(TONE_MS) <= 60, "{name}: {} ms", recording.length_ms());
        assert_eq!(dominant_hz(&recording), TONE_HZ, "{name}");
        let open_end =
            "the file does not state its length, so nothing tells whether its end is missing: 1.5 s were read";
        let warnings: &[&str] = if name == "live.webm" { &[open_end] } else { &[] };
        assert_eq!(recording.warnings, warnings, "{name}");
        assert!(!recording.is_silent(), "{name}");
    }
}

#[test]
fn the_content_counts_not_the_name() {
    let as_wav = audio::decode(bytes_of("stereo.mp3"), "stereo.wav").unwrap();
    assert_eq!(as_wav.source.codec, "mp3");
    assert_eq!(as_wav.samples, audio::read(&folder().join("stereo.mp3")).unwrap().samples);
}

#[test]
fn a_film_without_sound_says_so() {
    let line = audio::read(&folder().join("picture-only.mp4")).unwrap_err().to_string();
    assert_eq!(line, "picture-only.mp4 (isomp4) holds no sound track: choose the file that holds the sound");
}

/// All but `stereo.m4a`, whose index is at its end, and `live.webm`, of which no length is known.
#[test]
fn a_cut_file_gives_its_first_part_and_a_warning() {
    for name in [
        "8-bit.wav",
        "mu-law.wav",
        "adpcm.wav",
        "plain.aiff",
        "mono.flac",
        "stereo.mp3",
        "plain.aac",
        "opus.ogg",
        "vorbis.ogg",
        "opus.webm",
        "fragmented.m4a",
    ] {
        let mut bytes = bytes_of(name);
        bytes.truncate(bytes.len() * 7 / 8);
        let recording = audio::decode(bytes, name).unwrap();
        assert!((1000..1450).contains(&recording.length_ms()), "{name}: {} ms", recording.length_ms());
        let last = recording.warnings.last().unwrap();
        assert!(last.starts_with("the file ends early: 1."), "{name}: {:?}", recording.warnings);
    }
}

#[test]
fn an_m4a_without_its_index_says_that_it_is_damaged() {
    let mut bytes = bytes_of("stereo.m4a");
    bytes.truncate(bytes.len() / 2);
    let line = audio::decode(bytes, "visit.m4a").unwrap_err().to_string();
    assert!(line.starts_with("visit.m4a is damaged and no sound could be read ("), "{line}");
}

#[test]
fn a_cut_file_keeps_its_promises_wherever_it_is_cut() {
    for (name, ..) in SOUNDS {
        let bytes = bytes_of(name);
        for sixteenth in 0..16 {
            let cut = bytes[..bytes.len() * sixteenth / 16 + 1].to_vec();
            check_promises(&audio::decode(cut, name), name);
        }
    }
}

#[test]
fn a_file_with_changed_bits_keeps_its_promises() {
    // The usual linear congruence, so that every run damages the same places.
    let mut dice: u64 = 1;
    let mut roll = |sides: usize| {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (dice >> 33) as usize % sides
    };
    for (name, ..) in SOUNDS {
        for round in 0..24 {
            let mut bytes = bytes_of(name);
            // Half of the rounds damage the header, which decides most.
            let reach = if round % 2 == 0 { bytes.len() } else { bytes.len().min(200) };
            for _ in 0..=roll(8) {
                bytes[roll(reach)] ^= 1 << roll(8);
            }
            check_promises(&audio::decode(bytes, name), name);
        }
    }
}

/// Where each Ogg page starts, and its end in samples of the source.
fn ogg_pages(bytes: &[u8]) -> Vec<(usize, u64)> {
    let starts = (0..bytes.len()).filter(|&at| bytes[at..].starts_with(b"OggS"));
    starts.map(|at| (at, u64::from_le_bytes(bytes[at + 6..at + 14].try_into().unwrap()))).collect()
}

/// The sound behind a lost page must stay at its time, or everything said later points to the wrong moment.
#[test]
fn a_lost_ogg_page_becomes_silence_of_its_length_in_its_place() {
    for (name, rate_hz) in [("opus.ogg", 48_000), ("vorbis.ogg", 44_100)] {
        let bytes = bytes_of(name);
        let pages = ogg_pages(&bytes);
        let victim = pages.len() / 2;
        let mut damaged = bytes.clone();
        damaged[pages[victim].0 + 40] ^= 0xff;
        let missing = [&bytes[..pages[victim].0], &bytes[pages[victim + 1].0..]].concat();
        let sample_of = |page: usize| (pages[page].1 * 16_000 / rate_hz) as usize;
        let (from, to) = (sample_of(victim - 1), sample_of(victim));
        for bytes in [missing, damaged] {
            let recording = audio::decode(bytes, name).unwrap();
            let length_ms = recording.length_ms();
            assert!(length_ms.abs_diff(TONE_MS) <= 60, "{name}: {length_ms} ms, {:?}", recording.warnings);
            let warning = format!("a piece is missing at {:.1} s: ", from as f64 / 16_000.0);
            assert!(recording.warnings[0].starts_with(&warning), "{name}: {:?}", recording.warnings);
            let samples = recording.samples.all().unwrap();
            let level = |at: usize| samples[at - 400..at + 400].iter().fold(0.0_f32, |l, s| l.max(s.abs()));
            assert!(level((from + to) / 2) < 0.001, "{name}: silence between {from} and {to}");
            assert!(level(from - 800) > 0.05 && level(to + 1600) > 0.05, "{name}: the tone around {from} and {to}");
        }
    }
}

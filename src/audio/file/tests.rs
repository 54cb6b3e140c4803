//! Files made at test time → recordings, or one plain line.

use super::*;
use crate::audio::{SAMPLE_RATE_HZ, Sound};
use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::*;

const SECOND_MS: u64 = 1000;

/// One second of a 300 Hz tone at half of full scale, the same on all channels.
fn tone(rate_hz: u32, bits: u16, channels: u16, format: SampleFormat) -> Vec<u8> {
    let spec = WavSpec { channels, sample_rate: rate_hz, bits_per_sample: bits, sample_format: format };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).unwrap();
    for n in 0..rate_hz {
        let value = 0.5 * (2.0 * std::f64::consts::PI * 300.0 * f64::from(n) / f64::from(rate_hz)).sin();
        for _ in 0..channels {
            match format {
                SampleFormat::Float => writer.write_sample(value as f32).unwrap(),
                SampleFormat::Int => writer.write_sample((value * f64::from(1_u32 << (bits - 1))) as i32).unwrap(),
            }
        }
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

/// A wav of floats, one channel, 16 kHz.
fn floats(samples: &[f32]) -> Vec<u8> {
    let spec = WavSpec { channels: 1, sample_rate: 16_000, bits_per_sample: 32, sample_format: SampleFormat::Float };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).unwrap();
    samples.iter().for_each(|&sample| writer.write_sample(sample).unwrap());
    writer.finalize().unwrap();
    bytes.into_inner()
}

/// A 16-bit wav by hand, for headers that no writer would make.
fn plain_wav(channels: u16, rate_hz: u32, stated_bytes: u32, data: &[u8]) -> Vec<u8> {
    let mut bytes = b"RIFF".to_vec();
    bytes.extend(stated_bytes.saturating_add(36).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16_u32.to_le_bytes());
    bytes.extend(1_u16.to_le_bytes());
    bytes.extend(channels.to_le_bytes());
    bytes.extend(rate_hz.to_le_bytes());
    bytes.extend(rate_hz.wrapping_mul(2 * u32::from(channels)).to_le_bytes());
    bytes.extend(channels.wrapping_mul(2).to_le_bytes());
    bytes.extend(16_u16.to_le_bytes());
    bytes.extend(b"data");
    bytes.extend(stated_bytes.to_le_bytes());
    bytes.extend(data);
    bytes
}

/// Largest distance from the tone, away from the ends.
fn off_tone(samples: &[f32]) -> f64 {
    let wanted = |n: usize| 0.5 * (2.0 * std::f64::consts::PI * 300.0 * n as f64 / f64::from(SAMPLE_RATE_HZ)).sin();
    (1000..samples.len() - 1000).map(|n| (f64::from(samples[n]) - wanted(n)).abs()).fold(0.0, f64::max)
}

#[track_caller]
fn fault(bytes: Vec<u8>) -> String {
    decode(bytes, "a.wav").unwrap_err().to_string()
}

#[test]
fn every_width_rate_and_channel_count_gives_the_same_tone() {
    let mut rows = vec![(16_000, 32, 1, SampleFormat::Float), (48_000, 32, 2, SampleFormat::Float)];
    rows.extend([8, 16, 24, 32].map(|bits| (44_100, bits, 2, SampleFormat::Int)));
    rows.extend([1_000, 8_000, 11_025, 22_050, 96_000, 192_000].map(|rate_hz| (rate_hz, 16, 1, SampleFormat::Int)));
    rows.extend([3, 6, 8].map(|channels| (16_000, 16, channels, SampleFormat::Int)));
    for row in rows {
        let (rate_hz, bits, channels, format) = row;
        let recording = decode(tone(rate_hz, bits, channels, format), "tone.wav").unwrap();
        assert_eq!(recording.length_ms(), SECOND_MS, "{row:?}");
        assert_eq!(recording.source.sample_rate_hz, rate_hz);
        assert_eq!(recording.source.channels, usize::from(channels));
        assert_eq!(recording.warnings, [""; 0], "{row:?}");
        // One step of 8 bits is 0.0078.
        let off = off_tone(&recording.samples.all().unwrap());
        assert!(off < if bits == 8 { 0.012 } else { 0.005 }, "{row:?}: off by {off}");
    }
}

#[test]
fn channels_become_their_mean() {
    let data: Vec<u8> = (0..16_000).flat_map(|_| [16_384_i16, -8_192]).flat_map(i16::to_le_bytes).collect();
    let recording = decode(plain_wav(2, 16_000, 64_000, &data), "a.wav").unwrap();
    assert!(recording.samples.all().unwrap().iter().all(|sample| (sample - 0.125).abs() < 1e-6));
}

#[test]
fn a_path_gives_the_name_and_the_hash() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("visit.wav");
    std::fs::write(&path, plain_wav(1, 16_000, 4, &[1, 2, 3, 4])).unwrap();
    let recording = read(&path).unwrap();
    assert_eq!(recording.file_name, "visit.wav");
    assert_eq!(recording.sha256, format!("{:x}", Sha256::digest(std::fs::read(&path).unwrap())));
    assert_eq!(recording, decode(std::fs::read(&path).unwrap(), "visit.wav").unwrap());
}

#[test]
fn what_is_no_file_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let line = read(folder.path()).unwrap_err().to_string();
    assert_eq!(line, format!("{} is not a file: name one sound file", folder.path().display()));
    let missing = folder.path().join("none.wav");
    let line = read(&missing).unwrap_err().to_string();
    assert!(line.starts_with(&format!("cannot read {}: ", missing.display())), "{line}");
    let empty = folder.path().join("a.wav");
    std::fs::write(&empty, "").unwrap();
    assert_eq!(read(&empty).unwrap_err().to_string(), fault(Vec::new()));
    assert_eq!(fault(Vec::new()), "a.wav is empty (0 bytes): copy it again from the recorder");
}

#[test]
fn text_named_wav_is_not_sound() {
    let line = "a.wav is not a sound file of a known kind, whatever its name ends in: use wav, flac, mp3, m4a, ogg, \
                opus or webm, or convert it to wav";
    assert_eq!(fault(b"not sound, however it is named\n".repeat(1000)), line);
    assert_eq!(fault(b"RI".to_vec()), line);
    assert_eq!(fault(vec![0; 300_000]), line);
}

#[test]
fn absurd_headers_are_refused() {
    let data = [0; 6400];
    assert_eq!(
        fault(plain_wav(1, 0, 6400, &data)),
        "a.wav states 0 samples a second; from 1000 to 768000 can be read: convert it to a 16 kHz wav"
    );
    assert!(fault(plain_wav(1, 768_001, 6400, &data)).contains("states 768001 samples a second"));
    assert!(fault(plain_wav(1, u32::MAX, 6400, &data)).contains("states 4294967295 samples a second"));
    for channels in [0, 33, 64, 9_999] {
        let line = fault(plain_wav(channels, 16_000, 6400, &data));
        assert!(
            line.starts_with("a.wav cannot be decoded here (malformed stream: riff: invalid channel count)"),
            "{line}"
        );
    }
    assert_eq!(
        fault(plain_wav(1, 16_000, 0, &[])),
        "a.wav holds no sound (0 samples): record again, or choose another file"
    );
}

#[test]
fn the_sound_that_is_there_counts_not_what_the_header_says() {
    let ten_hours = 36_000 * 32_000;
    let three_bytes = decode(plain_wav(1, 16_000, ten_hours, &[1, 2, 3]), "a.wav").unwrap();
    assert_eq!(three_bytes.samples.len(), 1);
    assert_eq!(three_bytes.warnings, ["the file ends early: 0.0 s were read of the 36000.0 s it states"]);
    let recording = decode(plain_wav(1, 16_000, ten_hours, &[1; 32_000]), "a.wav").unwrap();
    assert_eq!(recording.length_ms(), SECOND_MS);
    assert_eq!(recording.warnings, ["the file ends early: 1.0 s were read of the 36000.0 s it states"]);
    let open_ended = decode(plain_wav(1, 16_000, u32::MAX, &[1; 32_000]), "a.wav").unwrap();
    assert_eq!(open_ended.length_ms(), SECOND_MS);
}

#[test]
fn values_that_are_no_numbers_become_silence_unless_they_are_most() {
    let mut samples = vec![0.25; 1000];
    samples[10] = f32::NAN;
    samples[11] = f32::INFINITY;
    samples[12] = -1e30;
    let recording = decode(floats(&samples), "a.wav").unwrap();
    assert_eq!(recording.samples.all().unwrap()[9..14], [0.25, 0.0, 0.0, -1.0, 0.25]);
    assert_eq!(
        recording.warnings,
        [
            "2 of 1000 samples are not numbers and became silence",
            "1 of 1000 samples are beyond full scale and were cut to it"
        ]
    );
    samples[..600].fill(f32::NAN);
    assert_eq!(fault(floats(&samples)), "a.wav: 60 % of its samples are not numbers: export it again as a 16-bit wav");
}

#[test]
fn silence_is_a_recording() {
    let recording = decode(plain_wav(1, 8_000, 16_000, &[0; 16_000]), "a.wav").unwrap();
    assert!(recording.is_silent());
    assert_eq!(recording.length_ms(), SECOND_MS);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..4000), start in 0_usize..10) {
        // The start of a known format leads further into its reader than chance does.
        let starts: [&[u8]; 10] = [
            b"", b"RIFF\xff\xff\0\0WAVE", b"OggS\0\x02", b"fLaC\0\0\0\x22", b"\0\0\0\x18ftypM4A ", b"\xff\xfb\x90\x64",
            b"\xff\xf1\x50\x80", b"\x1a\x45\xdf\xa3", b"FORM\0\0\xff\0AIFF", b"caff\0\x01\0\0",
        ];
        let all = [starts[start], &bytes].concat();
        if let Err(fault) = decode(all, "a.wav") {
            prop_assert!(fault.to_string().starts_with("a.wav"));
        }
    }

    #[test]
    fn a_changed_header_never_panics(at in 0_usize..44, value in any::<u8>()) {
        let mut bytes = plain_wav(2, 16_000, 6400, &[7; 6400]);
        bytes[at] = value;
        if let Ok(recording) = decode(bytes, "a.wav") {
            prop_assert!(recording.samples.all().unwrap().iter().all(|sample| (-1.0..=1.0).contains(sample)));
        }
    }
}

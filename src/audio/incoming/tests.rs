//! Tests of sound that is read as it comes.
//! Takes made-up streams that come in pieces of any length; fails where a sample is lost or another, or something else is taken for
//! sound. Leaves alone standard input itself.

use std::io;

use super::*;
use crate::audio::{decode, wave_bytes, wave_head};

/// A stream that comes in pieces of so many bytes.
struct Pieces(Cursor<Vec<u8>>, usize);

impl Read for Pieces {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let most = into.len().min(self.1);
        self.0.read(&mut into[..most])
    }
}

fn incoming(bytes: &[u8], piece: usize) -> Result<Incoming, AudioError> {
    Incoming::new(Pieces(Cursor::new(bytes.to_vec()), piece))
}

fn all(bytes: &[u8], piece: usize) -> Vec<i16> {
    let mut stream = incoming(bytes, piece).unwrap();
    let mut all = Vec::new();
    while let Some(block) = stream.next().unwrap() {
        assert!((1..=BLOCK).contains(&block.len()), "{}", block.len());
        all.extend(block);
    }
    assert!(stream.next().unwrap().is_none(), "the end stays");
    all
}

fn tone(length: usize, rate_hz: f64) -> Vec<i16> {
    (0..length).map(|at| ((at as f64 * 440.0 * std::f64::consts::TAU / rate_hz).sin() * 9000.0) as i16).collect()
}

/// A wav with the lengths that its head states.
fn wave(samples: &[i16], lengths: Option<u32>) -> Vec<u8> {
    let bytes = wave_bytes(samples);
    let mut head = wave_head(bytes.len() as u64);
    if let Some(length) = lengths {
        put(&mut head, 4, length.to_le_bytes());
        put(&mut head, 40, length.to_le_bytes());
    }
    [&head[..], &bytes].concat()
}

/// A wav of another kind, by a library that is not ours.
fn foreign(spec: hound::WavSpec, frames: impl Iterator<Item = Vec<i32>>) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    frames.flatten().for_each(|sample| writer.write_sample(sample).unwrap());
    writer.finalize().unwrap();
    bytes.into_inner()
}

#[test]
fn raw_samples_come_as_they_are() {
    let samples = tone(10_001, 16_000.0);
    for piece in [1, 3, 1000, 4096, 100_000] {
        assert_eq!(all(&wave_bytes(&samples), piece), samples, "{piece}");
        let with_half = [wave_bytes(&samples), vec![7]].concat();
        assert_eq!(all(&with_half, piece), samples, "{piece}, half a sample more");
    }
    assert_eq!(all(&[1, 2, 3], 1), [0x0201]);
    assert_eq!(all(&[1], 1), Vec::<i16>::new());
    assert_eq!(all(&[0; 64_000], 64_000), vec![0; 32_000], "silence");
}

#[test]
fn a_wav_comes_whatever_length_it_states() {
    let samples = tone(40_000, 16_000.0);
    for stated in [None, Some(0), Some(u32::MAX), Some(0x7fff_ffff), Some(0x8000_0000)] {
        for piece in [1, 700, 1 << 20] {
            assert_eq!(all(&wave(&samples, stated), piece), samples, "{stated:?} in pieces of {piece}");
        }
        let with_half = [wave(&samples, stated.or(Some(0))), vec![7]].concat();
        assert_eq!(all(&with_half, 4096), samples, "{stated:?}, half a sample more");
    }
    assert_eq!(all(&wave(&[], None), 100), Vec::<i16>::new());
}

#[test]
fn a_wav_of_any_rate_and_channels_is_as_when_it_is_read_from_a_file() {
    for (sample_rate, channels, bits_per_sample) in [(48_000, 2, 24), (44_100, 1, 16), (8000, 2, 16), (96_000, 4, 32)] {
        let spec = hound::WavSpec { channels, sample_rate, bits_per_sample, sample_format: hound::SampleFormat::Int };
        let scale = 1 << (bits_per_sample - 16);
        let frames = tone(2 * sample_rate as usize, sample_rate.into()).into_iter();
        let file = foreign(spec, frames.map(|sample| vec![i32::from(sample) * scale; channels.into()]));
        let wanted = as_samples(&decode(file.clone(), "a.wav").unwrap().samples.all().unwrap());
        assert_eq!(wanted.len(), 32_000);
        for piece in [997, 65_536] {
            assert_eq!(all(&file, piece), wanted, "{sample_rate} Hz, {channels} channels, {bits_per_sample} bits");
        }
    }
}

#[test]
fn what_stands_between_head_and_sound_is_skipped() {
    let samples = tone(5000, 16_000.0);
    let file = wave(&samples, Some(0));
    let list = [&b"LIST"[..], &7_u32.to_le_bytes(), b"INFOxyz\0", b"junk", &2_u32.to_le_bytes(), b"ab"].concat();
    assert_eq!(all(&[&file[..36], &list, &file[36..]].concat(), 500), samples);
}

#[test]
fn sound_is_given_while_more_is_still_to_come() {
    // A stream that would wait for ever behind its first second.
    struct Open(Cursor<Vec<u8>>);
    impl Read for Open {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let read = self.0.read(into)?;
            assert!(read > 0, "it was waited for more than came");
            Ok(read)
        }
    }
    let samples = tone(16_000, 16_000.0);
    for bytes in [wave_bytes(&samples), wave(&samples, Some(0))] {
        let mut stream = Incoming::new(Open(Cursor::new(bytes))).unwrap();
        let mut given = 0;
        while given < 14_400 {
            given += stream.next().unwrap().unwrap().len();
        }
    }
}

#[test]
fn what_is_no_sound_is_refused_and_the_error_says_what_is_wanted() {
    let check = |bytes: &[u8], what: &str| {
        let told = incoming(bytes, 100).unwrap_err().to_string();
        let wanted = "wanted are raw samples (16 kHz, one channel, 16 bits, little-endian) or a wav file";
        assert_eq!(told, format!("the incoming sound is {what}; {wanted}"));
    };
    check(b"", "empty (0 bytes)");
    check(b"hello\n", "text");
    check("Größe: übrig\n".repeat(1000).as_bytes(), "text");
    check(b"fLaC\0\0\0\x22", "flac");
    check(b"\0\0\0\x20ftypM4A ", "m4a or mp4");
    check(b"RIFF\x10\0\0\0AVI LIST", "a RIFF file without sound");
    check(b"RIFF\x10\0\0\0WAVE", "a wav that ends before its sound");
    check(&wave(&[], None)[..40], "a wav that ends before its sound");
    let mut number = 1_u64;
    let by_chance: Vec<u8> = std::iter::repeat_with(|| {
        number = number.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (number >> 40) as u8
    })
    .take(10_000)
    .collect();
    check(&by_chance, "no sound: its bytes look like compressed or encrypted ones");
    let mut bad = wave(&tone(1000, 16_000.0), None);
    bad[20] = 0x99;
    let told = incoming(&bad, 100).unwrap_err().to_string();
    assert!(told.starts_with("the incoming sound cannot be decoded here"), "{told}");
}

#[test]
fn a_stream_that_breaks_is_an_error_and_not_the_end() {
    struct Broken(Cursor<Vec<u8>>);
    impl Read for Broken {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            match self.0.read(into)? {
                0 => Err(io::Error::other("the cable was pulled")),
                read => Ok(read),
            }
        }
    }
    for bytes in [wave_bytes(&tone(8000, 16_000.0)), wave(&tone(8000, 16_000.0), Some(0))] {
        let mut stream = Incoming::new(Broken(Cursor::new(bytes))).unwrap();
        let told = loop {
            match stream.next() {
                Ok(Some(_)) => {}
                Ok(None) => panic!("it ended"),
                Err(error) => break error.to_string(),
            }
        };
        assert_eq!(told, "reading the incoming sound failed: the cable was pulled");
    }
}

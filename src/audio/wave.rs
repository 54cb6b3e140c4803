//! The wav file of a recording that this program makes itself: 16 kHz, one channel, 16 bits.
//! Takes a number of samples, or the bytes of them; gives the file's head, and samples as every later stage wants them. Leaves
//! alone wav files from elsewhere (`file`, `incoming`), and where one is written.
//! 16,000 samples are a head of 44 bytes, and 32,000 bytes of sound

use super::error::AudioError;
use super::recording::{Recording, SAMPLE_RATE_HZ, SourceFormat};
use super::samples::Gathering;

/// Bytes of the head.
pub const WAVE_HEAD: usize = 44;

/// The head of the file that holds so many bytes of samples. One that is longer than 4 GiB, which is 37 hours, says 4 GiB.
#[must_use]
pub fn wave_head(bytes: u64) -> [u8; WAVE_HEAD] {
    let length = u32::try_from(bytes).unwrap_or(u32::MAX);
    let rate = SAMPLE_RATE_HZ;
    let mut head = [0; WAVE_HEAD];
    let fields: [&[u8]; 13] = [
        b"RIFF",
        &length.saturating_add(WAVE_HEAD as u32 - 8).to_le_bytes(),
        b"WAVE",
        b"fmt ",
        &16_u32.to_le_bytes(),
        &1_u16.to_le_bytes(), // plain samples
        &1_u16.to_le_bytes(), // one channel
        &rate.to_le_bytes(),
        &(2 * rate).to_le_bytes(), // bytes a second
        &2_u16.to_le_bytes(),      // bytes a sample
        &16_u16.to_le_bytes(),     // bits a sample
        b"data",
        &length.to_le_bytes(),
    ];
    for (byte, given) in head.iter_mut().zip(fields.into_iter().flatten()) {
        *byte = *given;
    }
    head
}

/// Samples as such a file holds them.
#[must_use]
pub fn wave_bytes(samples: &[i16]) -> Vec<u8> {
    samples.iter().flat_map(|sample| sample.to_le_bytes()).collect()
}

/// The whole file.
#[must_use]
pub fn wave_file(samples: &[i16]) -> Vec<u8> {
    let bytes = wave_bytes(samples);
    [&wave_head(bytes.len() as u64)[..], &bytes].concat()
}

/// The samples of bytes that such a file holds; a last odd byte is left out.
pub fn samples_of(bytes: &[u8]) -> impl Iterator<Item = i16> {
    let (pairs, _) = bytes.as_chunks::<2>();
    pairs.iter().map(|pair| i16::from_le_bytes(*pair))
}

/// Samples of 16 bits as every later stage wants them: -1 to 1.
pub fn as_fractions(samples: &[i16]) -> impl Iterator<Item = f32> {
    samples.iter().map(|sample| fraction(*sample))
}

fn fraction(sample: i16) -> f32 {
    f32::from(sample) / 32_768.0
}

/// A sample as 16 bits; what is beyond full scale is cut to it.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "the cast keeps to the range of 16 bits")]
pub fn whole(sample: f32) -> i16 {
    (sample * 32_768.0).round() as i16
}

/// A recording that this program makes itself, as its sound is read again.
#[derive(Default)]
pub struct OfOurOwn(Gathering);

impl OfOurOwn {
    /// Takes the next sound as our own wav file holds it, behind its head.
    ///
    /// # Errors
    /// If what does not stay in memory cannot be put aside.
    pub fn take(&mut self, bytes: &[u8]) -> Result<(), AudioError> {
        self.0.take(&samples_of(bytes).map(fraction).collect::<Vec<f32>>())
    }

    /// The whole of it, with the hash of the wav file.
    #[must_use]
    pub fn finish(self, file_name: &str, sha256: String) -> Recording {
        Recording {
            samples: self.0.finish(),
            file_name: file_name.to_owned(),
            sha256,
            source: SourceFormat {
                container: "wave".to_owned(),
                codec: "pcm_s16le".to_owned(),
                sample_rate_hz: SAMPLE_RATE_HZ,
                channels: 1,
            },
            warnings: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::decode;

    #[test]
    fn what_we_write_is_read_as_it_was() {
        let samples: Vec<i16> = (0..40_000).map(|at| (at * 7 % 65_536 - 32_768) as i16).collect();
        let bytes = wave_bytes(&samples);
        let file = [&wave_head(bytes.len() as u64)[..], &bytes].concat();
        let read = decode(file, "a.wav").unwrap();
        let mut own = OfOurOwn::default();
        bytes.chunks(6400).for_each(|piece| own.take(piece).unwrap());
        let own = own.finish("a.wav", read.sha256.clone());
        assert_eq!(read, own);
        assert_eq!(own.length_ms(), 2500);
    }

    #[test]
    fn a_length_beyond_the_field_is_the_longest() {
        assert_eq!(wave_head(u64::MAX)[40..], u32::MAX.to_le_bytes());
        assert_eq!(wave_head(u64::MAX)[4..8], u32::MAX.to_le_bytes());
    }
}

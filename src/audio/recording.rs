//! The value of the audio stage: a recording as every later stage wants it.
//! Takes and gives values only. Leaves alone how the samples came to be.
//! `Recording { samples: vec![0.0; 16_000].into(), .. }.length_ms()` is 1000

use super::samples::Samples;
use super::sound::Sound;

/// Samples a second of every recording.
pub const SAMPLE_RATE_HZ: u32 = 16_000;

/// A recording whose every sample is below this, of full scale 1, is silent: -60 dB.
/// Common practice, no source: a muted microphone leaves dither (about -90 dB), speech a metre away about -40 dB.
pub const SILENCE_LEVEL: f32 = 0.001;

/// A recording: one channel at 16 kHz, and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Samples at [`SAMPLE_RATE_HZ`], one channel, each finite and from -1 to 1.
    pub samples: Samples,
    /// Name of the source file, without its folder.
    pub file_name: String,
    /// SHA-256 of the source file's bytes: 64 hexadecimal digits in lower case.
    pub sha256: String,
    /// What the source was, before it became 16 kHz.
    pub source: SourceFormat,
    /// What was odd about the file, a plain sentence each, without the file's name; empty for a sound file.
    pub warnings: Vec<String>,
}

/// How the source file holds its sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFormat {
    /// Short name of the container: `wave`, `ogg`, `isomp4`.
    pub container: String,
    /// Short name of the codec: `pcm_s16le`, `opus`, `aac`.
    pub codec: String,
    /// Samples a second, as decoded.
    pub sample_rate_hz: u32,
    /// Number of channels, as decoded.
    pub channels: usize,
}

impl Recording {
    /// Length in milliseconds, rounded down.
    #[must_use]
    pub fn length_ms(&self) -> u64 {
        self.samples.len() as u64 * 1000 / u64::from(SAMPLE_RATE_HZ)
    }

    /// Whether every sample is quieter than [`SILENCE_LEVEL`]; true for a recording without samples.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.samples.loudest() < SILENCE_LEVEL
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recording(samples: Vec<f32>) -> Recording {
        let source =
            SourceFormat { container: "wave".into(), codec: "pcm_s16le".into(), sample_rate_hz: 16_000, channels: 1 };
        Recording {
            samples: samples.into(),
            file_name: "a.wav".into(),
            sha256: String::new(),
            source,
            warnings: Vec::new(),
        }
    }

    #[test]
    fn length_is_in_milliseconds() {
        assert_eq!(recording(vec![0.0; 24_000]).length_ms(), 1500);
        assert_eq!(recording(Vec::new()).length_ms(), 0);
    }

    #[test]
    fn one_loud_sample_is_not_silence() {
        let mut samples = vec![0.0009; 16_000];
        assert!(recording(samples.clone()).is_silent());
        samples[15_999] = -0.0011;
        assert!(!recording(samples).is_silent());
    }
}

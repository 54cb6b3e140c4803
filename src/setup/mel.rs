//! Count of bands → the mel filter bank that Whisper listens through.
//! Takes how many bands (80 for the models here); gives for each band the weight of each of the 201 frequencies of a
//! 400-sample spectrum at 16 kHz, band after band. Leaves alone: the spectrum itself (whisper.cpp computes it).
//! It is Slaney's bank: even steps below 1 kHz, logarithmic ones above, triangles of equal area; the test compares
//! all of it with the published one.

/// Frequencies of a spectrum over 400 samples: 0 to 8 kHz in steps of 40 Hz.
pub(super) const FREQUENCIES: usize = 201;
/// Hertz from one frequency of the spectrum to the next.
const HERTZ_A_STEP: f64 = 40.0;
/// Hertz a mel below 1 kHz.
const HERTZ_A_MEL: f64 = 200.0 / 3.0;
/// Where the scale turns logarithmic: 1 kHz is 15 mel.
const TURN_HERTZ: f64 = 1000.0;
const TURN_MEL: f64 = 15.0;
/// Above the turn, 27 mel are a factor of 6.4.
const LOGARITHMIC_FACTOR: f64 = 6.4;
const LOGARITHMIC_MELS: f64 = 27.0;
/// The highest frequency, half of 16 kHz.
const HIGHEST_HERTZ: f64 = 8000.0;

/// The weights, `bands` × 201 of them, band after band.
pub(super) fn bank(bands: usize) -> Vec<f32> {
    let top = mel(HIGHEST_HERTZ);
    let step = top / (bands + 1) as f64;
    let edges: Vec<f64> =
        (0..bands + 2).map(|edge| hertz(if edge == bands + 1 { top } else { edge as f64 * step })).collect();
    edges.windows(3).flat_map(|edges| triangle(edges.first(), edges.get(1), edges.get(2))).collect()
}

/// One band: rises from `low` to `middle`, falls to `high`, and has an area of 1 whatever its width.
fn triangle(low: Option<&f64>, middle: Option<&f64>, high: Option<&f64>) -> Vec<f32> {
    let (Some(low), Some(middle), Some(high)) = (low, middle, high) else { return Vec::new() };
    (0..FREQUENCIES)
        .map(|index| {
            let hertz = index as f64 * HERTZ_A_STEP;
            let rising = (hertz - low) / (middle - low);
            let falling = (high - hertz) / (high - middle);
            // The published bank was rounded to 32 bits before and after it was scaled.
            let height = rising.min(falling).max(0.0) as f32;
            (f64::from(height) * (2.0 / (high - low))) as f32
        })
        .collect()
}

fn mel(hertz: f64) -> f64 {
    if hertz < TURN_HERTZ {
        hertz / HERTZ_A_MEL
    } else {
        TURN_MEL + (hertz / TURN_HERTZ).ln() / (LOGARITHMIC_FACTOR.ln() / LOGARITHMIC_MELS)
    }
}

fn hertz(mel: f64) -> f64 {
    if mel < TURN_MEL {
        mel * HERTZ_A_MEL
    } else {
        TURN_HERTZ * (LOGARITHMIC_FACTOR.ln() / LOGARITHMIC_MELS * (mel - TURN_MEL)).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every weight that is not zero, from `mel_filters.npz` (`mel_80`) of OpenAI's Whisper, MIT, as carried by the
    /// PyPI package mlx-whisper 0.4.3: band, frequency, and the bits of the 32-bit float in hexadecimal.
    const PUBLISHED: &str = include_str!("../../tests/reference/mel-80.tsv");

    #[test]
    fn the_bank_is_the_published_one_bit_for_bit() {
        let mut published = vec![0.0_f32; 80 * FREQUENCIES];
        let rows = PUBLISHED.lines().filter(|line| !line.starts_with('#'));
        for fields in rows.map(|line| line.split('\t').collect::<Vec<_>>()) {
            let (band, frequency): (usize, usize) = (fields[0].parse().unwrap(), fields[1].parse().unwrap());
            published[band * FREQUENCIES + frequency] = f32::from_bits(u32::from_str_radix(fields[2], 16).unwrap());
        }
        assert_eq!(published.iter().filter(|weight| **weight != 0.0).count(), 391);
        assert_eq!(bank(80), published);
    }

    #[test]
    fn any_count_of_bands_has_its_size() {
        for bands in [0, 1, 2, 128] {
            assert_eq!(bank(bands).len(), bands * FREQUENCIES);
        }
    }
}

//! The sound that may still be needed.
//! Takes samples as they come in; gives stretches of them by their place in the recording. Forgets what it is told to.
//!
//! After two hours it holds the last half minute

use crate::audio::as_fractions;
use crate::speech::pauses::Stretch;

/// The end of a recording.
#[derive(Debug, Default)]
pub(super) struct Recent {
    samples: Vec<i16>,
    /// Where the first of them lies.
    from: usize,
    /// Samples at the front that are not needed any more.
    forgotten: usize,
}

/// So many are let go of at once: each time the rest is moved.
const AT_ONCE: usize = 16_000 * 4;

impl Recent {
    pub(super) fn push(&mut self, samples: &[i16]) {
        self.samples.extend_from_slice(samples);
    }

    /// How many samples there were in all.
    pub(super) fn end(&self) -> usize {
        self.from + self.samples.len()
    }

    /// A stretch, about -1 to 1; what was forgotten of it is missing.
    pub(super) fn sound(&self, stretch: Stretch) -> Vec<f32> {
        let place = |at: usize| at.saturating_sub(self.from).min(self.samples.len());
        as_fractions(self.samples.get(place(stretch.start)..place(stretch.end)).unwrap_or_default()).collect()
    }

    /// Forgets what lies before a place.
    pub(super) fn forget(&mut self, before: usize) {
        self.forgotten = before.saturating_sub(self.from).min(self.samples.len());
        if self.forgotten >= AT_ONCE {
            self.samples.drain(..self.forgotten);
            self.from += std::mem::take(&mut self.forgotten);
            self.samples.shrink_to(2 * self.samples.len().max(AT_ONCE));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_forgotten_is_gone_and_the_rest_keeps_its_place() {
        let mut recent = Recent::default();
        for at in 0..20_i16 {
            recent.push(&vec![at; 16_000]);
        }
        recent.forget(16_000);
        recent.forget(10 * 16_000 + 5);
        assert_eq!(recent.end(), 20 * 16_000);
        let sound = recent.sound(Stretch { start: 10 * 16_000 + 5, end: 11 * 16_000 + 1 });
        assert_eq!((sound.len(), sound[0], sound[15_995]), (15_996, 10.0 / 32_768.0, 11.0 / 32_768.0));
        assert!(recent.sound(Stretch { start: 0, end: 16_000 }).is_empty());
        assert_eq!(recent.sound(Stretch { start: 19 * 16_000, end: 30 * 16_000 }).len(), 16_000);
        assert!(recent.samples.len() < 11 * 16_000);
    }
}

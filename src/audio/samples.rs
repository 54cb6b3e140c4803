//! The samples of a recording, in a bounded amount of memory.
//! Takes samples as they come in; ten minutes are kept in memory, and what is longer is put aside on a disk. Gives any stretch of
//! them. Leaves alone how they lie there (`aside`).
//! of three hours a second lies in memory, and 690 MB aside

use std::borrow::Cow;
use std::fmt;
use std::io;
use std::ops::Range;
use std::sync::Arc;

use super::aside::{Aside, BLOCK};
use super::error::AudioError;
use super::sound::{PIECE, Sound, within};

/// Samples of a recording that stays in memory: ten minutes, 38 MB.
const HELD: usize = 600 * 16_000;
/// Room is made for so many samples at a time: growing by halves would need half as much again for a moment.
const ROOM: usize = 60 * 16_000;

/// Samples of one channel at 16 kHz, each finite and from -1 to 1.
#[derive(Clone, Default)]
pub struct Samples {
    aside: Option<Arc<Aside>>,
    /// All of them, or what is behind those put aside and fills no block.
    held: Vec<f32>,
    loudest: f32,
}

impl Samples {
    /// The greatest distance of any of them from 0.
    #[must_use]
    pub fn loudest(&self) -> f32 {
        self.loudest
    }

    /// All of them, in memory.
    ///
    /// # Errors
    /// If those put aside cannot be read.
    pub fn all(&self) -> io::Result<Vec<f32>> {
        Ok(self.piece(0..self.len())?.into_owned())
    }
}

impl Sound for Samples {
    fn len(&self) -> usize {
        self.aside.as_ref().map_or(0, |aside| aside.len()) + self.held.len()
    }

    fn piece(&self, stretch: Range<usize>) -> io::Result<Cow<'_, [f32]>> {
        let Some(aside) = &self.aside else { return Ok(Cow::Borrowed(within(&self.held, &stretch))) };
        let mut piece = Vec::new();
        aside.read(&stretch, &mut piece)?;
        let behind = |at: usize| at.saturating_sub(aside.len());
        piece.extend_from_slice(within(&self.held, &(behind(stretch.start)..behind(stretch.end))));
        Ok(Cow::Owned(piece))
    }
}

impl From<Vec<f32>> for Samples {
    fn from(held: Vec<f32>) -> Self {
        let loudest = loudest(&held);
        Self { held, loudest, ..Self::default() }
    }
}

/// Two that cannot be read are not the same.
impl PartialEq for Samples {
    fn eq(&self, other: &Self) -> bool {
        let (one, two): (&dyn Sound, &dyn Sound) = (self, other);
        one.len() == two.len()
            && one.pieces(PIECE).zip(two.pieces(PIECE)).all(|pair| matches!(pair, (Ok(one), Ok(two)) if one == two))
    }
}

// What an infant's examination sounds like is no matter for a message.
impl fmt::Debug for Samples {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Samples({}, the loudest {})", self.len(), self.loudest)
    }
}

/// Samples that are still coming in.
#[derive(Default)]
pub(super) struct Gathering {
    samples: Samples,
    aside: Option<Aside>,
}

impl Gathering {
    /// Takes the next ones; the error says that they cannot be put aside.
    pub(super) fn take(&mut self, samples: &[f32]) -> Result<(), AudioError> {
        let Samples { held, loudest: most, .. } = &mut self.samples;
        *most = most.max(loudest(samples));
        if held.capacity() - held.len() < samples.len() {
            held.reserve_exact(samples.len().max(if self.aside.is_none() { ROOM } else { BLOCK }));
        }
        held.extend_from_slice(samples);
        if self.aside.is_none() && held.len() <= HELD {
            return Ok(());
        }
        let aside = match &mut self.aside {
            Some(aside) => aside,
            none => none.insert(Aside::new()?),
        };
        let (blocks, rest) = held.as_chunks::<BLOCK>();
        if !blocks.is_empty() {
            blocks.iter().try_for_each(|block| aside.push(block))?;
            *held = rest.to_vec();
        }
        Ok(())
    }

    /// All that came in.
    pub(super) fn finish(mut self) -> Samples {
        self.samples.aside = self.aside.map(Arc::new);
        self.samples
    }
}

fn loudest(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |most, sample| most.max(sample.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Samples of which no two near each other are alike.
    fn made(count: usize) -> Vec<f32> {
        (0..count).map(|at| (at % 65_521) as f32 / 65_521.0 - 0.5).collect()
    }

    fn gathered(samples: &[f32], block: usize) -> Samples {
        let mut gathering = Gathering::default();
        samples.chunks(block).for_each(|block| gathering.take(block).unwrap());
        gathering.finish()
    }

    fn set_aside(samples: &Samples) -> usize {
        samples.aside.as_ref().map_or(0, |aside| aside.len())
    }

    #[test]
    fn what_is_aside_is_the_same_as_in_memory() {
        let wanted = made(HELD + 3 * BLOCK + 1234);
        let samples = gathered(&wanted, 7001);
        let aside = set_aside(&samples);
        assert!(samples.len() == wanted.len() && aside > HELD && wanted.len() - aside < BLOCK);
        assert!(samples.all().unwrap() == wanted && samples == Samples::from(wanted.clone()));
        let mut stretches = vec![(0, 10), (BLOCK - 5, BLOCK + 5), (HELD + 1, HELD + 2 * BLOCK + 7), (50, usize::MAX)];
        stretches.extend([(aside - 5, aside + 5), (aside, aside + 1), (aside + 9, usize::MAX), (9 * HELD, 10 * HELD)]);
        for (from, to) in stretches {
            assert!(*samples.piece(from..to).unwrap() == *within(&wanted, &(from..to)), "{from} to {to}");
        }
    }

    #[test]
    fn ten_minutes_stay_in_memory_and_of_what_is_longer_a_second() {
        let short = gathered(&made(HELD), 160_000);
        assert!(set_aside(&short) == 0 && short.held.capacity() <= HELD + ROOM);
        let long = gathered(&made(HELD + 1), 160_000);
        assert!(set_aside(&long) > HELD - BLOCK && long.held.capacity() <= 2 * BLOCK);
        let at_once = gathered(&made(2 * HELD), 2 * HELD);
        assert!(set_aside(&at_once) > 2 * HELD - BLOCK && at_once.held.capacity() <= 2 * BLOCK);
    }

    #[test]
    fn the_loudest_is_known_wherever_it_lies() {
        let mut loud = made(HELD + 2 * BLOCK);
        for at in [5, HELD + 5, HELD + 2 * BLOCK - 1] {
            loud[at] = -0.9;
            assert_eq!(gathered(&loud, 4096).loudest(), 0.9);
            loud[at] = 0.0;
        }
        assert_eq!(Samples::from(vec![0.25, -0.5]).loudest(), 0.5);
        assert_eq!(Samples::default().loudest(), 0.0);
    }
}

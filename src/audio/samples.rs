//! The samples of a recording, in a bounded amount of memory.
//! Takes samples as they come in; keeps the first ten minutes in memory and puts the rest aside on a disk. Gives any stretch of
//! them. Leaves alone how they lie there (`aside`).
//! of three hours ten minutes lie in memory, and 650 MB aside

use std::borrow::Cow;
use std::fmt;
use std::io;
use std::ops::Range;
use std::sync::Arc;

use super::aside::{Aside, BLOCK};
use super::error::AudioError;
use super::sound::{PIECE, Sound, within};

/// Samples that stay in memory: ten minutes, 38 MB.
const HELD: usize = 600 * 16_000;
/// Room is made for so many samples at a time: growing by halves would need half as much again for a moment.
const ROOM: usize = 60 * 16_000;

/// Samples of one channel at 16 kHz, each finite and from -1 to 1.
#[derive(Clone, Default)]
pub struct Samples {
    held: Vec<f32>,
    aside: Option<Arc<Aside>>,
    /// What is behind them and fills no block.
    rest: Vec<f32>,
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

    fn set_aside(&self) -> usize {
        self.aside.as_ref().map_or(0, |aside| aside.len())
    }
}

impl Sound for Samples {
    fn len(&self) -> usize {
        self.held.len() + self.set_aside() + self.rest.len()
    }

    fn piece(&self, stretch: Range<usize>) -> io::Result<Cow<'_, [f32]>> {
        if stretch.end <= self.held.len() || self.len() == self.held.len() {
            return Ok(Cow::Borrowed(within(&self.held, &stretch)));
        }
        let mut piece = within(&self.held, &stretch).to_vec();
        let behind = |at: usize, count: usize| at.saturating_sub(count);
        let stretch = behind(stretch.start, self.held.len())..behind(stretch.end, self.held.len());
        if let Some(aside) = &self.aside {
            aside.read(&stretch, &mut piece)?;
        }
        let stretch = behind(stretch.start, self.set_aside())..behind(stretch.end, self.set_aside());
        piece.extend_from_slice(within(&self.rest, &stretch));
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
        let Samples { held, rest, loudest: most, .. } = &mut self.samples;
        *most = most.max(loudest(samples));
        let (first, behind) = samples.split_at(samples.len().min(HELD.saturating_sub(held.len())));
        if held.capacity() - held.len() < first.len() {
            held.reserve_exact(first.len().max(ROOM));
        }
        held.extend_from_slice(first);
        rest.extend_from_slice(behind);
        while let Some(block) = rest.first_chunk::<BLOCK>() {
            let aside = match &mut self.aside {
                Some(aside) => aside,
                none => none.insert(Aside::new()?),
            };
            aside.push(block)?;
            rest.drain(..BLOCK);
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

    #[test]
    fn what_is_aside_is_the_same_as_in_memory() {
        let wanted = made(HELD + 3 * BLOCK + 1234);
        let samples = gathered(&wanted, 7001);
        assert_eq!((samples.len(), samples.set_aside()), (wanted.len(), 3 * BLOCK));
        assert!(samples.all().unwrap() == wanted && samples == Samples::from(wanted.clone()));
        for (from, to) in [(0, 10), (HELD - 5, HELD), (HELD - 5, HELD + 5), (HELD + 1, HELD + 2 * BLOCK + 7)] {
            assert!(*samples.piece(from..to).unwrap() == wanted[from..to], "{from} to {to}");
        }
        let end = HELD + 3 * BLOCK;
        for (from, to) in [(HELD - 1, usize::MAX), (end - 5, end + 5), (end + 9, usize::MAX), (end + 5000, end + 6000)]
        {
            assert!(*samples.piece(from..to).unwrap() == *within(&wanted, &(from..to)), "{from} to {to}");
        }
    }

    #[test]
    fn no_more_than_ten_minutes_stay_in_memory() {
        let samples = gathered(&made(3 * HELD), 160_000);
        assert!(samples.held.capacity() <= HELD + ROOM && samples.rest.capacity() < 2 * (160_000 + BLOCK));
        let short = gathered(&made(HELD), HELD);
        assert_eq!((short.set_aside(), short.rest.len()), (0, 0));
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

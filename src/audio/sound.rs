//! Sound that is looked at piece by piece, wherever it lies.
//! Takes a stretch in samples; gives what there is of it, without a copy where it lies in memory. Leaves alone where that is
//! (`samples`), and what is looked for.
//! of three seconds the stretch from second 2 to 9 is one second

use std::borrow::Cow;
use std::io;
use std::ops::Range;

/// Samples that are looked at in one go by whoever goes through all of a sound: 8 s, half a megabyte. A multiple of every frame
/// that is 20, 32 or 50 ms long.
pub const PIECE: usize = 128_000;

/// Samples of one channel at 16 kHz.
pub trait Sound: Sync {
    /// How many there are.
    fn len(&self) -> usize;

    /// Whether there is none.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Those of a stretch, as far as there are any.
    ///
    /// # Errors
    /// If they lie on a disk and cannot be read.
    fn piece(&self, stretch: Range<usize>) -> io::Result<Cow<'_, [f32]>>;
}

impl dyn Sound + '_ {
    /// All of it in order, in pieces of so many samples; the last may be shorter.
    pub fn pieces(&self, size: usize) -> impl Iterator<Item = io::Result<Cow<'_, [f32]>>> {
        (0..self.len()).step_by(size.max(1)).map(move |at| self.piece(at..at + size.max(1)))
    }
}

impl Sound for &[f32] {
    fn len(&self) -> usize {
        <[f32]>::len(self)
    }

    fn piece(&self, stretch: Range<usize>) -> io::Result<Cow<'_, [f32]>> {
        Ok(Cow::Borrowed(within(self, &stretch)))
    }
}

impl Sound for Vec<f32> {
    fn len(&self) -> usize {
        self.as_slice().len()
    }

    fn piece(&self, stretch: Range<usize>) -> io::Result<Cow<'_, [f32]>> {
        Ok(Cow::Borrowed(within(self, &stretch)))
    }
}

/// What samples hold of a stretch.
pub(super) fn within<'a>(samples: &'a [f32], stretch: &Range<usize>) -> &'a [f32] {
    let end = stretch.end.min(samples.len());
    samples.get(stretch.start.min(end)..end).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_ends_where_the_sound_does() {
        let samples: Vec<f32> = (0..10_u8).map(f32::from).collect();
        let sound: &dyn Sound = &samples;
        assert_eq!(*sound.piece(3..5).unwrap(), [3.0, 4.0]);
        assert_eq!(*sound.piece(8..50).unwrap(), [8.0, 9.0]);
        assert_eq!(*sound.piece(50..60).unwrap(), [0.0; 0]);
        let pieces: Vec<usize> = sound.pieces(4).map(|piece| piece.unwrap().len()).collect();
        assert_eq!(pieces, [4, 4, 2]);
        assert_eq!(sound.pieces(0).count(), 10);
    }
}

//! What was said there: a stretch of a record's recording.
//! Takes a record and two times; gives that stretch as a WAV file, cut to what there is. The recording that was listened to
//! last is kept in memory, decoded; one, and no longer than an hour. Leaves alone how recordings are decoded (`audio`) and
//! where they lie (`store`).
//!
//! `GET /api/records/018b…/sound?from=61500&to=64000` is 80 kB of 16 kHz, one channel, 16 bit

use std::path::{Path as FilePath, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use crate::audio::{self, AudioError, PIECE, SAMPLE_RATE_HZ, Sound, wave_file, whole};
use crate::page::Desk;
use crate::page::error::PageError;
use crate::page::records::checked;

/// Samples of a recording that is kept: an hour, 115 MB.
const MOST_KEPT: usize = 3600 * SAMPLE_RATE_HZ as usize;
/// Samples of a stretch: what a page asks for at once is a few seconds; this is two minutes, 4 MB.
const MOST_AT_ONCE: usize = 120 * SAMPLE_RATE_HZ as usize;

/// From when to when, in milliseconds.
#[derive(Debug, Deserialize)]
pub(super) struct Wanted {
    from: Option<u64>,
    to: Option<u64>,
}

/// The recording that was listened to last.
#[derive(Default)]
pub(super) struct Sounds(Mutex<Option<(PathBuf, Arc<[i16]>)>>);

// A recording is no matter for a message.
impl std::fmt::Debug for Sounds {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("Sounds")
    }
}

impl Sounds {
    /// Forgets it.
    pub(super) fn forget(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// The samples of the recording that lies there, if they are known.
    fn known(&self, path: &FilePath) -> Option<Arc<[i16]>> {
        let last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        last.as_ref().filter(|(known, _)| known == path).map(|(_, samples)| Arc::clone(samples))
    }

    // Whoever asks for the same while it is decoded waits for that, rather than have it decoded twice.
    fn decoded(&self, path: PathBuf, bytes: Vec<u8>) -> Result<Arc<[i16]>, PageError> {
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, samples)) = last.as_ref().filter(|(known, _)| *known == path) {
            return Ok(Arc::clone(samples));
        }
        *last = None;
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let sound = audio::decode(bytes, &name)?.samples;
        let unreadable = |fault| AudioError::Unreadable { path: path.clone(), fault };
        let mut samples = Vec::with_capacity(sound.len());
        for piece in (&sound as &dyn Sound).pieces(PIECE) {
            samples.extend(piece.map_err(unreadable)?.iter().map(|sample| whole(*sample)));
        }
        let samples: Arc<[i16]> = samples.into();
        if samples.len() <= MOST_KEPT {
            *last = Some((path, Arc::clone(&samples)));
        }
        Ok(samples)
    }
}

/// A stretch of a record's recording.
pub(super) async fn sound(
    State(desk): State<Arc<Desk>>,
    Path(id): Path<String>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Response, PageError> {
    let id = checked(id)?;
    let Query(wanted) = wanted?;
    let found = desk.with_store(move |desk, store| {
        // A recording that was deleted is not played from memory either.
        let path = store.sound(&id).inspect_err(|_| desk.sounds.forget())?;
        let known = desk.sounds.known(&path);
        let bytes = if known.is_some() { Vec::new() } else { store.sound_bytes(&id)? };
        Ok((path, known, bytes))
    });
    let (path, known, bytes) = found.await?;
    let samples = match known {
        Some(samples) => samples,
        None => desk.apart(move |desk| desk.sounds.decoded(path, bytes)).await?,
    };
    let file = wave_file(stretch(&samples, &wanted));
    Ok(([(CONTENT_TYPE, "audio/wav")], file).into_response())
}

/// The samples between two times, as far as there are any.
fn stretch<'a>(samples: &'a [i16], wanted: &Wanted) -> &'a [i16] {
    let place = |ms: u64| {
        let at = ms.saturating_mul(u64::from(SAMPLE_RATE_HZ)) / 1000;
        usize::try_from(at).unwrap_or(usize::MAX).min(samples.len())
    };
    let from = place(wanted.from.unwrap_or(0));
    let to = wanted.to.map_or(samples.len(), place).min(from.saturating_add(MOST_AT_ONCE));
    samples.get(from..to).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(from: u64, to: u64, samples: std::ops::Range<usize>) {
        let all: Vec<i16> = (0..32_000).collect();
        let wanted = Wanted { from: Some(from), to: Some(to) };
        assert_eq!(stretch(&all, &wanted), &all[samples], "{from} to {to}");
    }

    #[test]
    fn a_stretch_is_cut_to_what_there_is() {
        check(0, 1000, 0..16_000);
        check(1500, 1501, 24_000..24_016);
        check(1500, 99_999, 24_000..32_000);
        check(u64::MAX, u64::MAX, 0..0);
        check(1500, 1000, 0..0);
        let long = vec![0; MOST_AT_ONCE + 5];
        assert_eq!(stretch(&long, &Wanted { from: None, to: None }).len(), MOST_AT_ONCE);
    }

    #[test]
    fn what_is_written_is_read_back_by_another_reader() {
        let samples = [0, 1, -1, whole(1.0), whole(-1.0), whole(0.5)];
        assert_eq!(samples[3..], [32_767, -32_768, 16_384]);
        let file = wave_file(&samples);
        let mut read = hound::WavReader::new(&file[..]).unwrap();
        let spec = read.spec();
        assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (1, 16_000, 16));
        assert_eq!(read.samples::<i16>().map(Result::unwrap).collect::<Vec<_>>(), samples);
    }
}

//! The two doors: a path or bytes → recording.
//! Takes a sound file; gives the recording with the SHA-256 of the bytes. The format is found from the content; the name
//! is only repeated in messages. Leaves alone how a format is decoded (`track`).
//! `read("visit.wav")` gives its samples even where the content is an mp3

use std::fs::File;
use std::io::{self, BufReader, Cursor};
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::clues::Clues;
use super::container::SourceOpener;
use super::error::AudioError;
use super::recording::Recording;
use super::track::decode_track;

/// Reads a sound file: wav, flac, mp3, m4a, ogg, opus, webm, aiff, caf, of any rate and number of channels.
///
/// What is odd but readable (a file that ends early, a damaged stretch) is a warning on the recording.
///
/// # Errors
/// An [`AudioError`] where the file cannot be read, is empty, is not sound, or holds nothing that can be decoded.
pub fn read(path: &Path) -> Result<Recording, AudioError> {
    let unreadable = |fault| AudioError::Unreadable { path: path.to_owned(), fault };
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    // Asked before opening: opening a pipe would wait for its other end.
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if !about.is_file() {
        return Err(AudioError::NotAFile { path: path.to_owned() });
    }
    let open = || File::open(path).map_err(unreadable);
    let mut hash = Sha256::new();
    if io::copy(&mut open()?, &mut hash).map_err(unreadable)? == 0 {
        return Err(AudioError::Empty { file: name });
    }
    let clues = Clues::of(&mut BufReader::new(open()?));
    from_source(&|| Ok(Box::new(open()?)), clues, &name, hash)
}

/// Reads a sound file that is already in memory; `file_name` is repeated in messages and in the recording, no more.
///
/// # Errors
/// An [`AudioError`] where the bytes are none, are not sound, or hold nothing that can be decoded.
pub fn decode(bytes: Vec<u8>, file_name: &str) -> Result<Recording, AudioError> {
    if bytes.is_empty() {
        return Err(AudioError::Empty { file: file_name.to_owned() });
    }
    let hash = Sha256::new_with_prefix(&bytes);
    let clues = Clues::of(&mut Cursor::new(&bytes));
    let bytes: Arc<[u8]> = bytes.into();
    from_source(&|| Ok(Box::new(Cursor::new(Arc::clone(&bytes)))), clues, file_name, hash)
}

fn from_source(
    open_source: &SourceOpener<'_>,
    clues: Clues,
    file_name: &str,
    hash: Sha256,
) -> Result<Recording, AudioError> {
    let decoded = decode_track(open_source, clues, file_name)?;
    Ok(Recording {
        samples: decoded.samples,
        file_name: file_name.to_owned(),
        sha256: format!("{:x}", hash.finalize()),
        source: decoded.source,
        warnings: decoded.warnings,
    })
}

#[cfg(test)]
mod tests;

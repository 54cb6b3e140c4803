//! Recordings, encrypted piece by piece.
//! Takes a recording as it is read, and gives it sealed; takes a sealed one, and gives it as it was, or an error where a single
//! bit is another: pieces cannot be changed, left out, put elsewhere or cut off, nor the file be given another's name. Leaves
//! alone what sound it is, and where it lies.
//! A piece is 64 KiB and 16 bytes; the STREAM construction over XChaCha20-Poly1305 numbers it and says whether it is the last.
//!
//! A recording of 100,000 bytes is 20 and 19 bytes of head, one piece of 65,552 bytes, and one of 34,480

use std::fs::File;
use std::io::{self, Read, Write};

use chacha20poly1305::XChaCha20Poly1305;
use chacha20poly1305::aead::rand_core::RngCore;
use chacha20poly1305::aead::stream::{DecryptorBE32, EncryptorBE32};
use chacha20poly1305::aead::{OsRng, Payload};
use zeroize::Zeroizing;

use super::Keys;

/// What a file begins with.
const HEAD: &[u8; 20] = b"spoken-exam sound 1\n";
/// Bytes of chance behind it, by which no two recordings are sealed alike.
const CHANCE: usize = 19;
/// Bytes of sound in a piece.
const PIECE: usize = 64 * 1024;
/// Bytes that sealing adds to a piece.
const MARK: usize = 16;

/// Seals what is read under a name, and gives how many bytes that was. An error says whether reading failed.
pub(in crate::store) fn seal(
    from: &mut dyn Read,
    to: &mut dyn Write,
    keys: &Keys,
    name: &str,
) -> Result<u64, (bool, io::Error)> {
    let (reading, writing) = (|error| (true, error), |error| (false, error));
    let mut chance = [0; CHANCE];
    OsRng.fill_bytes(&mut chance);
    to.write_all(HEAD).and_then(|()| to.write_all(&chance)).map_err(writing)?;
    let mut sealing = EncryptorBE32::from_aead(keys.of_sound(), (&chance).into());
    let failed = |_| writing(io::Error::other("it cannot be encrypted"));
    let mut pieces = Pieces::new(from, PIECE).map_err(reading)?;
    let mut bytes = 0;
    while !pieces.is_last() {
        bytes += pieces.now.len() as u64;
        let piece = sealing.encrypt_next(Payload { msg: &pieces.now, aad: name.as_bytes() }).map_err(failed)?;
        to.write_all(&piece).map_err(writing)?;
        pieces.step(from).map_err(reading)?;
    }
    bytes += pieces.now.len() as u64;
    let piece = sealing.encrypt_last(Payload { msg: &pieces.now, aad: name.as_bytes() }).map_err(failed)?;
    to.write_all(&piece).map_err(writing)?;
    Ok(bytes)
}

/// A sealed recording that is read as it was.
pub(in crate::store) struct Opened {
    file: File,
    name: String,
    pieces: Pieces,
    opening: Option<DecryptorBE32<XChaCha20Poly1305>>,
    open: Zeroizing<Vec<u8>>,
    given: usize,
}

impl Opened {
    /// Begins to read a file by its name.
    pub(in crate::store) fn new(mut file: File, keys: &Keys, name: &str) -> io::Result<Self> {
        let (mut head, mut chance) = ([0; HEAD.len()], [0; CHANCE]);
        let read = file.read_exact(&mut head).and_then(|()| file.read_exact(&mut chance));
        if read.is_err() || head != *HEAD {
            return Err(altered());
        }
        let opening = Some(DecryptorBE32::from_aead(keys.of_sound(), (&chance).into()));
        let pieces = Pieces::new(&mut file, PIECE + MARK)?;
        Ok(Self { file, name: name.to_owned(), pieces, opening, open: Zeroizing::default(), given: 0 })
    }

    // The next piece; false behind the last one.
    fn next(&mut self) -> io::Result<bool> {
        let Some(mut opening) = self.opening.take() else { return Ok(false) };
        let payload = Payload { msg: &self.pieces.now, aad: self.name.as_bytes() };
        let open = if self.pieces.is_last() {
            opening.decrypt_last(payload).map_err(|_| altered())?
        } else {
            let open = opening.decrypt_next(payload).map_err(|_| altered())?;
            self.pieces.step(&mut self.file)?;
            self.opening = Some(opening);
            open
        };
        (self.open, self.given) = (Zeroizing::new(open), 0);
        Ok(true)
    }
}

impl Read for Opened {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.given == self.open.len() {
            if !self.next()? {
                return Ok(0);
            }
        }
        let count = into.len().min(self.open.len() - self.given);
        into[..count].copy_from_slice(&self.open[self.given..self.given + count]);
        self.given += count;
        Ok(count)
    }
}

fn altered() -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, "it was altered after it was encrypted")
}

/// A piece, and the one behind it: only who sees nothing behind a piece knows that it is the last.
struct Pieces {
    now: Vec<u8>,
    behind: Vec<u8>,
    size: usize,
}

impl Pieces {
    fn new(from: &mut dyn Read, size: usize) -> io::Result<Self> {
        let (now, behind) = (piece(from, size)?, piece(from, size)?);
        Ok(Self { now, behind, size })
    }

    fn is_last(&self) -> bool {
        self.behind.is_empty()
    }

    fn step(&mut self, from: &mut dyn Read) -> io::Result<()> {
        self.now = std::mem::replace(&mut self.behind, piece(from, self.size)?);
        Ok(())
    }
}

fn piece(from: &mut dyn Read, size: usize) -> io::Result<Vec<u8>> {
    let mut piece = Vec::with_capacity(size);
    from.take(size as u64).read_to_end(&mut piece)?;
    Ok(piece)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sealed(sound: &[u8], keys: &Keys) -> Vec<u8> {
        let mut file = Vec::new();
        assert_eq!(seal(&mut &*sound, &mut file, keys, "a").unwrap(), sound.len() as u64);
        file
    }

    fn opened(file: &[u8], keys: &Keys, name: &str) -> io::Result<Vec<u8>> {
        let mut on_disk = tempfile::tempfile()?;
        on_disk.write_all(file)?;
        io::Seek::rewind(&mut on_disk)?;
        let mut sound = Vec::new();
        Opened::new(on_disk, keys, name)?.read_to_end(&mut sound)?;
        Ok(sound)
    }

    fn some_sound(length: usize) -> Vec<u8> {
        (0..length).map(|at| (at * 7 % 251) as u8).collect()
    }

    #[test]
    fn a_recording_of_any_length_is_whole_again() {
        let keys = Keys::new();
        for length in [0, 1, PIECE - 1, PIECE, PIECE + 1, 2 * PIECE, 3 * PIECE + 5] {
            let sound = some_sound(length);
            let file = sealed(&sound, &keys);
            assert_eq!(file.len(), 39 + length + 16 * length.div_ceil(PIECE).max(1), "{length}");
            assert_eq!(opened(&file, &keys, "a").unwrap(), sound, "{length}");
        }
        assert_ne!(sealed(b"sound", &keys), sealed(b"sound", &keys));
    }

    #[test]
    fn whatever_is_altered_is_refused() {
        let keys = Keys::new();
        let sound = some_sound(2 * PIECE + 100);
        let file = sealed(&sound, &keys);
        let check = |what: &str, file: &[u8]| {
            let error = opened(file, &keys, "a").expect_err(what);
            assert_eq!(error.to_string(), "it was altered after it was encrypted", "{what}");
        };
        let body = HEAD.len() + CHANCE;
        let (first, second) = (body..body + PIECE + MARK, body + PIECE + MARK..body + 2 * (PIECE + MARK));
        for at in [0, 25, body, body + 70_000, file.len() - 1] {
            let mut other = file.clone();
            other[at] ^= 1;
            check(&format!("bit of byte {at}"), &other);
        }
        check("nothing", b"");
        check("only the head", &file[..body]);
        check("cut behind a piece", &file[..second.end]);
        check("cut within a piece", &file[..second.end - 9]);
        check("something behind", &[&file[..], b"x"].concat());
        check("a piece left out", &[&file[..first.start], &file[second.start..]].concat());
        let turned = [&file[..body], &file[second.clone()], &file[first], &file[second.end..]].concat();
        check("two pieces turned round", &turned);
        assert!(opened(&file, &keys, "b").is_err(), "another's name");
        assert!(opened(&file, &Keys::new(), "a").is_err(), "another's keys");
    }
}

//! The file of a recording that is still being made.
//! Takes blocks of sound and writes them behind what is there; gives back the sound, as the wav file that will be kept, whether
//! the file is encrypted or not. What fails leaves the file as it was. Leaves alone where the file lies and who may use it.
//! Plain, it is a wav file whose head is right again after every block: any program can play it. Encrypted, it is a head and
//! sealed blocks (`encryption/blocks`).
//!
//! Killed in the middle of a block, it holds all blocks before

use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::audio::{WAVE_HEAD, wave_bytes, wave_head};
use crate::store::StoreError;
use crate::store::encryption::{Blocks, Keys};

/// Bytes of sound in a sealed block at most: a second.
const MOST: usize = 32_000;
/// Bytes that are read at a time where there are no blocks.
const PIECE: u64 = 64 * 1024;

/// What lies behind the sound that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::store) enum Rest {
    Nothing,
    /// So many bytes of a block that was not written to its end.
    CutOff(u64),
    /// So many bytes that were altered, or stand where something was left out.
    Altered(u64),
}

/// The file of a recording that is being made, or was never ended.
pub(in crate::store) struct TakingFile {
    path: PathBuf,
    file: File,
    /// Where it is encrypted: behind the last block.
    blocks: Option<Blocks>,
    /// Where the next block goes.
    end: u64,
    /// Bytes of sound.
    bytes: u64,
    rest: Rest,
}

impl TakingFile {
    /// Begins an empty file; `name` is the one that it will have.
    pub(in crate::store) fn begin(
        mut file: File,
        path: PathBuf,
        keys: Option<&Keys>,
        name: &str,
    ) -> Result<Self, StoreError> {
        let blocks = keys.map(|keys| Blocks::new(keys, name));
        let head = head(blocks.as_ref(), 0);
        let wrong = |error| StoreError::io("write", &path, error);
        file.write_all(&head).and_then(|()| file.sync_all()).map_err(wrong)?;
        Ok(Self { path, file, blocks, end: head.len() as u64, bytes: 0, rest: Rest::Nothing })
    }

    /// Opens one that is there, and reads it to its end.
    pub(in crate::store) fn open(
        file: File,
        path: PathBuf,
        keys: Option<&Keys>,
        name: &str,
    ) -> Result<Self, StoreError> {
        let blocks = keys.map(|keys| Blocks::new(keys, name));
        let mut opened = Self { path, file, blocks, end: 0, bytes: 0, rest: Rest::Nothing };
        let mut pieces = opened.pieces().map_err(|error| opened.unreadable(error))?;
        let mut bytes = 0;
        // A plain file's sound need not be read to know how much there is.
        if pieces.blocks.is_none() {
            bytes = pieces.limit.saturating_sub(pieces.at);
            pieces.at += bytes;
        }
        while let Some(piece) = pieces.next().map_err(|error| opened.unreadable(error))? {
            bytes += piece.len() as u64;
        }
        let Pieces { blocks, at, rest, .. } = pieces;
        (opened.blocks, opened.end, opened.bytes, opened.rest) = (blocks, at, bytes, rest);
        Ok(opened)
    }

    /// The file.
    pub(in crate::store) fn path(&self) -> &Path {
        &self.path
    }

    /// The same file, which has got another name.
    pub(in crate::store) fn renamed(mut self, path: PathBuf) -> Self {
        self.path = path;
        self
    }

    /// What lies behind the sound that can be read.
    pub(in crate::store) fn rest(&self) -> Rest {
        self.rest
    }

    /// Length of its sound in milliseconds.
    pub(in crate::store) fn length_ms(&self) -> u64 {
        self.bytes / 2 * 1000 / u64::from(crate::audio::SAMPLE_RATE_HZ)
    }

    /// Length in bytes of the wav file that will be kept.
    pub(in crate::store) fn wave_length(&self) -> u64 {
        self.bytes + WAVE_HEAD as u64
    }

    /// Writes samples behind those that are there: all of them, or if it fails, none.
    pub(in crate::store) fn add(&mut self, samples: &[i16]) -> Result<(), StoreError> {
        if samples.is_empty() {
            return Ok(());
        }
        self.add_bytes(&wave_bytes(samples))
    }

    /// As [`TakingFile::add`], of samples as a wav file holds them.
    pub(in crate::store) fn add_bytes(&mut self, sound: &[u8]) -> Result<(), StoreError> {
        let (end, bytes) = (self.end, self.bytes);
        let before = self.blocks.clone();
        let written = self.write(sound);
        written.map_err(|error| {
            (self.end, self.bytes, self.blocks) = (end, bytes, before);
            // What is there already can be read as it is, should this fail too.
            let _ = self.file.set_len(end);
            match StoreError::io("write", &self.path, error) {
                StoreError::Full(path) => StoreError::TakingFull(path),
                error => error,
            }
        })
    }

    fn write(&mut self, sound: &[u8]) -> io::Result<()> {
        if self.rest != Rest::Nothing {
            self.file.set_len(self.end)?;
            self.rest = Rest::Nothing;
        }
        if self.end == 0 {
            let head = head(self.blocks.as_ref(), 0);
            self.file.rewind()?;
            self.file.write_all(&head)?;
            self.end = head.len() as u64;
        }
        self.file.seek(SeekFrom::Start(self.end))?;
        let Some(blocks) = &mut self.blocks else {
            self.file.write_all(sound)?;
            self.end += sound.len() as u64;
            self.bytes += sound.len() as u64;
            // Behind the sound: killed in between, the head says too little, and never what is not there.
            self.file.rewind()?;
            return self.file.write_all(&wave_head(self.bytes));
        };
        for sound in sound.chunks(MOST) {
            let block = blocks.seal(sound)?;
            self.file.write_all(&block)?;
            blocks.written(&block);
            self.end += block.len() as u64;
            self.bytes += sound.len() as u64;
        }
        Ok(())
    }

    /// Waits until the disk has it.
    pub(in crate::store) fn synchronise(&self) -> Result<(), StoreError> {
        self.file.sync_data().map_err(|error| StoreError::io("write", &self.path, error))
    }

    /// Gives all of its sound, piece by piece, and the SHA-256 of the wav file.
    pub(in crate::store) fn read(&mut self, mut take: impl FnMut(&[u8])) -> Result<String, StoreError> {
        let mut hash = Sha256::new_with_prefix(wave_head(self.bytes));
        let mut pieces = self.pieces().map_err(|error| self.unreadable(error))?;
        let mut bytes = 0;
        while let Some(piece) = pieces.next().map_err(|error| self.unreadable(error))? {
            hash.update(&piece);
            bytes += piece.len() as u64;
            take(&piece);
        }
        if bytes != self.bytes {
            return Err(self.unreadable(io::Error::new(io::ErrorKind::InvalidData, "it was altered while it was open")));
        }
        Ok(format!("{:x}", hash.finalize()))
    }

    /// The SHA-256 of the wav file that will be kept.
    pub(in crate::store) fn sha256(&mut self) -> Result<String, StoreError> {
        self.read(|_| ())
    }

    /// The wav file that will be kept, to be read.
    pub(in crate::store) fn wave(&mut self) -> Wave<'_> {
        Wave { pieces: None, now: wave_head(self.bytes).to_vec(), given: 0, of: self }
    }

    // From the start to where it can be read; the whole file while that is not known yet.
    fn pieces(&self) -> io::Result<Pieces<'_>> {
        let mut from = BufReader::with_capacity(PIECE as usize, &self.file);
        from.rewind()?;
        let there = self.file.metadata()?.len();
        let limit = if self.end == 0 { there } else { self.end.min(there) };
        let blocks = self.blocks.as_ref().map(Blocks::anew);
        let wanted = head(blocks.as_ref(), 0);
        let mut found = Vec::new();
        (&mut from).take(wanted.len() as u64).read_to_end(&mut found)?;
        let mut pieces = Pieces { from, blocks, at: found.len() as u64, limit, rest: Rest::Nothing };
        if pieces.blocks.is_none() {
            // A last odd byte is no sample.
            pieces.limit = limit - limit % 2;
            pieces.at = wanted.len() as u64;
        } else if found != wanted {
            pieces.at = 0;
            pieces.rest = Rest::Altered(limit);
        }
        Ok(pieces)
    }

    fn unreadable(&self, error: io::Error) -> StoreError {
        StoreError::io("read", &self.path, error)
    }
}

fn head(blocks: Option<&Blocks>, bytes: u64) -> Vec<u8> {
    match blocks {
        None => wave_head(bytes).to_vec(),
        Some(_) => Blocks::HEAD.to_vec(),
    }
}

/// The sound of a file, read from its start.
struct Pieces<'a> {
    from: BufReader<&'a File>,
    blocks: Option<Blocks>,
    at: u64,
    limit: u64,
    rest: Rest,
}

impl Pieces<'_> {
    /// The next piece; none at the end, or where nothing can be read any more: then `rest` says so.
    fn next(&mut self) -> io::Result<Option<Vec<u8>>> {
        let left = self.limit.saturating_sub(self.at);
        if left == 0 || self.rest != Rest::Nothing {
            return Ok(None);
        }
        let Some(blocks) = &mut self.blocks else {
            let mut piece = Vec::new();
            (&mut self.from).take(left.min(PIECE)).read_to_end(&mut piece)?;
            self.at += piece.len() as u64;
            return Ok(Some(piece).filter(|piece| !piece.is_empty()));
        };
        let mut block = Vec::new();
        (&mut self.from).take(left.min(Blocks::FRONT as u64)).read_to_end(&mut block)?;
        let Some(length) = block.first_chunk().filter(|_| block.len() == Blocks::FRONT) else {
            self.rest = Rest::CutOff(left);
            return Ok(None);
        };
        let length = u32::from_le_bytes(*length) as usize;
        if length > MOST || length == 0 {
            self.rest = Rest::Altered(left);
            return Ok(None);
        }
        (&mut self.from).take((length + Blocks::BACK) as u64).read_to_end(&mut block)?;
        let whole = Blocks::FRONT + length + Blocks::BACK;
        if left < whole as u64 || block.len() < whole {
            self.rest = Rest::CutOff(left);
            return Ok(None);
        }
        let opened = blocks.open(&block);
        match opened {
            Some(_) => self.at += whole as u64,
            None => self.rest = Rest::Altered(left),
        }
        Ok(opened)
    }
}

/// A recording as the wav file that will be kept.
pub(in crate::store) struct Wave<'a> {
    of: &'a TakingFile,
    pieces: Option<Pieces<'a>>,
    now: Vec<u8>,
    given: usize,
}

impl Read for Wave<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.given == self.now.len() {
            let pieces = match &mut self.pieces {
                Some(pieces) => pieces,
                none => none.insert(self.of.pieces()?),
            };
            match pieces.next()? {
                Some(piece) => (self.now, self.given) = (piece, 0),
                None => return Ok(0),
            }
        }
        let count = into.len().min(self.now.len() - self.given);
        into[..count].copy_from_slice(&self.now[self.given..self.given + count]);
        self.given += count;
        Ok(count)
    }
}

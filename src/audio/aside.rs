//! Sound that is put aside on a disk while it is worked on.
//! Takes samples block by block; gives any stretch of them again. They lie sealed in a file without a name, of which nothing is left
//! when the program ends, however it ends. Leaves alone what is put aside (`samples`).
//! an hour is 3,516 blocks, 231 MB

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::error::AudioError;
use super::seal::{MARK, Seal};

/// Samples in a block: a second.
pub(super) const BLOCK: usize = 16_384;
/// Bytes of a block as it lies in the file.
const SEALED: usize = BLOCK * size_of::<f32>() + MARK;

/// Blocks of samples in a file.
pub(super) struct Aside {
    file: Mutex<File>,
    folder: PathBuf,
    seal: Seal,
    blocks: usize,
}

impl Aside {
    /// A new file, still empty.
    pub(super) fn new() -> Result<Self, AudioError> {
        let (file, folder) = made()?;
        Ok(Self { file: Mutex::new(file), folder, seal: Seal::new(), blocks: 0 })
    }

    /// How many samples there are.
    pub(super) fn len(&self) -> usize {
        self.blocks * BLOCK
    }

    /// Puts the next block aside.
    pub(super) fn push(&mut self, block: &[f32; BLOCK]) -> Result<(), AudioError> {
        let plain: Vec<u8> = block.iter().flat_map(|sample| sample.to_le_bytes()).collect();
        let file = self.file.get_mut().unwrap_or_else(PoisonError::into_inner);
        let written = self.seal.close(self.blocks, plain).and_then(|sealed| {
            file.seek(SeekFrom::Start(place(self.blocks)))?;
            file.write_all(&sealed)
        });
        written.map_err(|fault| AudioError::NotPutAside { folder: self.folder.clone(), fault })?;
        self.blocks += 1;
        Ok(())
    }

    /// Appends the samples of a stretch to `to`, as far as there are any.
    pub(super) fn read(&self, stretch: &Range<usize>, to: &mut Vec<f32>) -> io::Result<()> {
        let end = stretch.end.min(self.len());
        let mut at = stretch.start;
        to.reserve(end.saturating_sub(at));
        while at < end {
            let (block, from) = (at / BLOCK, at % BLOCK);
            let until = (end - block * BLOCK).min(BLOCK);
            let plain = self.block(block)?;
            let (samples, _) = plain.as_chunks::<4>();
            to.extend(samples.get(from..until).unwrap_or_default().iter().map(|bytes| f32::from_le_bytes(*bytes)));
            at = block * BLOCK + until;
        }
        Ok(())
    }

    fn block(&self, number: usize) -> io::Result<Vec<u8>> {
        let mut sealed = vec![0; SEALED];
        {
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            file.seek(SeekFrom::Start(place(number)))?;
            file.read_exact(&mut sealed)?;
        }
        self.seal.open(number, sealed)
    }
}

fn place(block: usize) -> u64 {
    block as u64 * SEALED as u64
}

/// A file that nobody else can open, and where it takes its room.
fn made() -> Result<(File, PathBuf), AudioError> {
    let mut refused = None;
    for folder in folders() {
        match tempfile::tempfile_in(&folder) {
            Ok(file) => return Ok((file, folder)),
            Err(fault) => drop(refused.get_or_insert((folder, fault))),
        }
    }
    let (folder, fault) = refused.unwrap_or_else(|| (std::env::temp_dir(), io::ErrorKind::NotFound.into()));
    Err(AudioError::NotPutAside { folder, fault })
}

/// Where to try: where the user says, or else where large files may lie. On many systems the usual folder is memory, which is
/// just what is to be spared.
fn folders() -> Vec<PathBuf> {
    let usual = std::env::temp_dir();
    let large = Path::new("/var/tmp").to_owned();
    if std::env::var_os("TMPDIR").is_some() || !large.is_dir() { vec![usual] } else { vec![large, usual] }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(number: usize) -> [f32; BLOCK] {
        std::array::from_fn(|at| (number * BLOCK + at) as f32 / 1e6)
    }

    #[test]
    fn a_stretch_is_read_from_the_blocks_it_lies_in() {
        let mut aside = Aside::new().unwrap();
        let all: Vec<f32> = (0..4).flat_map(block).collect();
        (0..4).for_each(|number| aside.push(&block(number)).unwrap());
        for (from, to) in
            [(0, 0), (0, 4 * BLOCK), (BLOCK - 1, BLOCK + 1), (BLOCK, 2 * BLOCK), (5, 6), (3 * BLOCK, 9 * BLOCK)]
        {
            let mut read = vec![7.0];
            aside.read(&(from..to), &mut read).unwrap();
            assert!(read[0] == 7.0 && read[1..] == all[from..to.min(all.len())], "{from} to {to}");
        }
        let mut none: Vec<f32> = Vec::new();
        aside.read(&(9 * BLOCK..10 * BLOCK), &mut none).unwrap();
        assert!(none.is_empty());
    }

    #[test]
    fn a_file_that_cannot_be_written_is_an_error_that_says_where() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("read-only");
        std::fs::write(&path, "").unwrap();
        let file = Mutex::new(File::open(&path).unwrap());
        let mut aside = Aside { file, folder: folder.path().to_owned(), seal: Seal::new(), blocks: 0 };
        let line = aside.push(&block(0)).unwrap_err().to_string();
        assert!(line.starts_with(&format!("cannot put the sound aside in {}", folder.path().display())), "{line}");
        assert_eq!(aside.len(), 0);
    }

    #[test]
    fn a_file_that_lost_its_end_is_an_error() {
        let mut aside = Aside::new().unwrap();
        aside.push(&block(0)).unwrap();
        aside.file.get_mut().unwrap().set_len(100).unwrap();
        assert_eq!(aside.read(&(0..1), &mut Vec::new()).unwrap_err().kind(), io::ErrorKind::UnexpectedEof);
    }

    #[test]
    #[cfg(feature = "encrypted")]
    fn what_lies_on_the_disk_is_not_the_sound_and_cannot_be_changed() {
        let mut aside = Aside::new().unwrap();
        (0..2).for_each(|number| aside.push(&[0.25; BLOCK]).map(|()| number).map(drop).unwrap());
        let mut bytes = Vec::new();
        let file = aside.file.get_mut().unwrap();
        file.rewind().unwrap();
        file.read_to_end(&mut bytes).unwrap();
        assert_eq!(bytes.len(), 2 * SEALED);
        assert!(!bytes.windows(8).any(|eight| eight == [0, 0, 0x80, 0x3e, 0, 0, 0x80, 0x3e]));
        assert_ne!(bytes[..SEALED], bytes[SEALED..], "alike blocks are sealed differently");
        // Exchanged blocks are found out, and so is one changed bit.
        file.rewind().unwrap();
        file.write_all(&bytes[SEALED..]).unwrap();
        assert_eq!(aside.read(&(0..1), &mut Vec::new()).unwrap_err().kind(), io::ErrorKind::InvalidData);
        assert!(aside.read(&(BLOCK..BLOCK + 1), &mut Vec::new()).is_ok());
    }
}

//! A recording that is still being made, encrypted block by block as it comes.
//! Takes the sound of a moment; gives it sealed, and opens what was sealed so. Each block is sealed with its number, the name of
//! its file and the mark of the block before: none can be changed, exchanged, left out, or put in from elsewhere. Leaves alone
//! the file. That the end is missing cannot be seen: a program that was killed leaves just such a file.
//!
//! 3,200 bytes of sound are 4 bytes of length, 24 of chance, 3,200 encrypted, and a mark of 16

use std::io;

use chacha20poly1305::aead::rand_core::RngCore;
use chacha20poly1305::aead::{Aead, OsRng, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};

use super::Keys;

/// What a file begins with.
const HEAD: &[u8; 21] = b"spoken-exam taking 1\n";
/// Bytes of the block's length.
const LENGTH: usize = 4;
/// Bytes of chance. So many never come twice, also where a block that was cut off is written anew under its number.
const CHANCE: usize = 24;
/// Bytes that sealing adds at the end.
const MARK: usize = 16;

/// Seals or opens the blocks of one file, in order.
#[derive(Clone)]
pub(in crate::store) struct Blocks {
    cipher: XChaCha20Poly1305,
    name: String,
    number: u64,
    before: [u8; MARK],
}

impl Blocks {
    /// What a file begins with.
    pub(in crate::store) const HEAD: &'static [u8] = HEAD;
    /// Bytes before a block's encrypted sound, the first four of which are its length, little-endian.
    pub(in crate::store) const FRONT: usize = LENGTH + CHANCE;
    /// Bytes behind it.
    pub(in crate::store) const BACK: usize = MARK;

    /// Before the first block of a file.
    pub(in crate::store) fn new(keys: &Keys, name: &str) -> Self {
        Self { cipher: keys.of_takings(), name: name.to_owned(), number: 0, before: [0; MARK] }
    }

    /// Before the first block of the same file.
    pub(in crate::store) fn anew(&self) -> Self {
        Self { number: 0, before: [0; MARK], ..self.clone() }
    }

    /// The next block, sealed. It counts once [`Blocks::written`] says so.
    pub(in crate::store) fn seal(&self, sound: &[u8]) -> io::Result<Vec<u8>> {
        let length = u32::try_from(sound.len()).map_err(io::Error::other)?;
        let mut chance = [0; CHANCE];
        OsRng.fill_bytes(&mut chance);
        let payload = Payload { msg: sound, aad: &self.place() };
        let sealed = self.cipher.encrypt(XNonce::from_slice(&chance), payload);
        let sealed = sealed.map_err(|_| io::Error::other("it cannot be encrypted"))?;
        Ok([&length.to_le_bytes()[..], &chance, &sealed].concat())
    }

    /// Opens the next block; none if it is not the one that was sealed here.
    pub(in crate::store) fn open(&mut self, block: &[u8]) -> Option<Vec<u8>> {
        let (chance, sealed) = (block.get(LENGTH..Self::FRONT)?, block.get(Self::FRONT..)?);
        let payload = Payload { msg: sealed, aad: &self.place() };
        let sound = self.cipher.decrypt(XNonce::from_slice(chance), payload).ok()?;
        self.written(block);
        Some(sound)
    }

    /// Goes on behind a block.
    pub(in crate::store) fn written(&mut self, block: &[u8]) {
        if let Some(mark) = block.last_chunk() {
            self.before = *mark;
        }
        self.number += 1;
    }

    // What a block is bound to.
    fn place(&self) -> Vec<u8> {
        [self.name.as_bytes(), b"\n", &self.number.to_be_bytes(), &self.before].concat()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_open_in_their_order_and_in_their_file_alone() {
        let keys = Keys::new();
        let mut sealing = Blocks::new(&keys, "a");
        let blocks: Vec<Vec<u8>> = ["one", "two", "three"]
            .iter()
            .map(|sound| {
                let block = sealing.seal(sound.as_bytes()).unwrap();
                sealing.written(&block);
                block
            })
            .collect();
        let mut opening = Blocks::new(&keys, "a");
        let opened: Vec<_> = blocks.iter().map(|block| opening.open(block).unwrap()).collect();
        assert_eq!(opened, [b"one".to_vec(), b"two".to_vec(), b"three".to_vec()]);
        assert_eq!(blocks[0].len(), Blocks::FRONT + 3 + Blocks::BACK);
        assert!(Blocks::new(&keys, "b").open(&blocks[0]).is_none(), "another file");
        assert!(Blocks::new(&Keys::new(), "a").open(&blocks[0]).is_none(), "another store");
        let mut opening = Blocks::new(&keys, "a");
        assert!(opening.open(&blocks[1]).is_none(), "the first left out");
        assert!(opening.open(&blocks[0]).is_some() && opening.open(&blocks[2]).is_none(), "the second left out");
        assert!(opening.open(&blocks[0]).is_none(), "the first once more");
        let own = Blocks::new(&keys, "a").seal(b"one").unwrap();
        let mut opening = Blocks::new(&keys, "a");
        assert!(opening.open(&own).is_some() && opening.open(&blocks[1]).is_none(), "behind another first");
        for at in 4..blocks[0].len() {
            let mut other = blocks[0].clone();
            other[at] ^= 1;
            assert!(Blocks::new(&keys, "a").open(&other).is_none(), "bit of byte {at}");
        }
        assert!(Blocks::new(&keys, "a").open(b"").is_none());
    }
}

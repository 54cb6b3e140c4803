//! Sound that lies on a disk for a while is sealed with a key that lies nowhere.
//! Takes a block and its number; gives it sealed, and as it was. The key is made by chance and is gone with the value. Leaves alone
//! where blocks lie (`aside`). Built without the feature `encrypted`, `absent` stands for it and blocks lie there as they are.
//! 65,536 bytes of sound are as many encrypted, and a mark of 16

use std::io;

use chacha20poly1305::aead::{Aead, KeyInit, OsRng};
use chacha20poly1305::{ChaCha20Poly1305, Nonce};

/// Bytes that sealing adds.
pub(super) const MARK: usize = 16;

/// A key of its own.
pub(super) struct Seal(ChaCha20Poly1305);

impl Seal {
    /// A new key.
    pub(super) fn new() -> Self {
        Self(ChaCha20Poly1305::new(&ChaCha20Poly1305::generate_key(&mut OsRng)))
    }

    /// Seals a block. A number must be used once only.
    pub(super) fn close(&self, number: usize, plain: Vec<u8>) -> io::Result<Vec<u8>> {
        let sealed = self.0.encrypt(&chance(number), plain.as_slice());
        sealed.map_err(|_| io::Error::other("it cannot be encrypted"))
    }

    /// Opens the block that was sealed under this number.
    pub(super) fn open(&self, number: usize, sealed: Vec<u8>) -> io::Result<Vec<u8>> {
        let plain = self.0.decrypt(&chance(number), sealed.as_slice());
        plain.map_err(|_| io::Error::new(io::ErrorKind::InvalidData, "it was altered after it was put aside"))
    }
}

// The key is new for each file, so that a number serves as well as chance would.
fn chance(number: usize) -> Nonce {
    let mut chance = Nonce::default();
    chance.iter_mut().zip((number as u64).to_le_bytes()).for_each(|(byte, given)| *byte = given);
    chance
}

//! In the place of `seal` where the program is built without encryption: blocks lie on the disk as they are.
//! Takes and gives them unchanged. Leaves alone where they lie (`aside`), in a file that nobody else can open.
//! 65,536 bytes of sound are 65,536 bytes

use std::io;

/// Bytes that sealing adds.
pub(super) const MARK: usize = 0;

/// No key.
pub(super) struct Seal;

impl Seal {
    /// As with encryption.
    pub(super) fn new() -> Self {
        Self
    }

    /// The block as it is.
    #[allow(clippy::unused_self, clippy::unnecessary_wraps, reason = "with encryption it is otherwise")]
    pub(super) fn close(&self, _number: usize, plain: Vec<u8>) -> io::Result<Vec<u8>> {
        Ok(plain)
    }

    /// The block as it is.
    #[allow(clippy::unused_self, clippy::unnecessary_wraps, reason = "with encryption it is otherwise")]
    pub(super) fn open(&self, _number: usize, sealed: Vec<u8>) -> io::Result<Vec<u8>> {
        Ok(sealed)
    }
}

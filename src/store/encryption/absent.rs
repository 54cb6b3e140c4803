//! What stands for encryption in a program that was built without it.
//! Takes what `encryption` takes; says that it cannot be done here, and what to do. Leaves every file as it is.
//!
//! An encrypted store opened: "this program was built without encryption and can neither open nor make an encrypted store"

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

use crate::store::{Encrypted, Passphrase, StoreError};

/// Whether this program can encrypt.
pub const BUILT_IN: bool = false;

/// The keys of an encrypted store: there are none here.
#[derive(Debug)]
pub(in crate::store) enum Keys {}

impl Keys {
    pub(in crate::store) fn open(_home: &Path, _passphrase: &Passphrase) -> Result<Self, StoreError> {
        Err(StoreError::BuiltWithoutEncryption)
    }

    pub(in crate::store) fn of_database(&self) -> String {
        match *self {}
    }

    pub(in crate::store) fn name(&self, _sha256: &str) -> String {
        match *self {}
    }
}

/// A sealed recording that is read: there are none here.
pub(in crate::store) enum Opened {}

impl Opened {
    pub(in crate::store) fn new(_file: File, keys: &Keys, _name: &str) -> io::Result<Self> {
        match *keys {}
    }
}

impl Read for Opened {
    fn read(&mut self, _into: &mut [u8]) -> io::Result<usize> {
        match *self {}
    }
}

/// Blocks of a recording that is being made: there are none here.
#[derive(Clone)]
pub(in crate::store) enum Blocks {}

impl Blocks {
    pub(in crate::store) const HEAD: &'static [u8] = b"";
    pub(in crate::store) const FRONT: usize = 0;
    pub(in crate::store) const BACK: usize = 0;

    pub(in crate::store) fn new(keys: &Keys, _name: &str) -> Self {
        match *keys {}
    }

    pub(in crate::store) fn anew(&self) -> Self {
        match *self {}
    }

    pub(in crate::store) fn seal(&self, _sound: &[u8]) -> io::Result<Vec<u8>> {
        match *self {}
    }

    pub(in crate::store) fn open(&mut self, _block: &[u8]) -> Option<Vec<u8>> {
        match *self {}
    }

    pub(in crate::store) fn written(&mut self, _block: &[u8]) {
        match *self {}
    }
}

pub(in crate::store) fn seal(
    _from: &mut dyn Read,
    _to: &mut dyn Write,
    keys: &Keys,
    _name: &str,
) -> Result<u64, (bool, io::Error)> {
    match *keys {}
}

pub(in crate::store) fn encrypt(_folder: &Path, _passphrase: &Passphrase) -> Result<Encrypted, StoreError> {
    Err(StoreError::BuiltWithoutEncryption)
}

pub(in crate::store) fn change_passphrase(
    _folder: &Path,
    _old: &Passphrase,
    _new: &Passphrase,
) -> Result<(), StoreError> {
    Err(StoreError::BuiltWithoutEncryption)
}

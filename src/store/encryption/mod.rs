//! The store encrypted at rest.
//! Takes a folder and a passphrase; gives the keys to what lies there, makes a store encrypted, and changes its passphrase.
//! The passphrase opens a small file with the one key of the store; the database, each recording and the recordings' names
//! have keys made of it. The only place that knows ciphers. Leaves alone what is kept.
//! Files, in reading order: `keys` `sealed` `blocks` `convert`. Built without the feature `encrypted`, `absent` stands for all of it.
//!
//! `spoken-exam store encrypt` on a folder with `store.sqlite` leaves `encrypted/` there, and no `store.sqlite`

mod blocks;
mod convert;
mod keys;
mod sealed;

pub(super) use blocks::Blocks;
pub(super) use convert::{change_passphrase, encrypt};
pub(super) use keys::Keys;
pub(super) use sealed::{Opened, seal};

/// Whether this program can encrypt.
pub const BUILT_IN: bool = true;

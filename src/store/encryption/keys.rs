//! Keys, and the file that a passphrase opens.
//! Takes a passphrase and a folder; makes keys by chance and writes them into `key`, encrypted by the passphrase (argon2id,
//! XChaCha20-Poly1305); gives them back to whoever knows the passphrase. Leaves alone what they are used for.
//! Another passphrase is another file `key` around the same keys, put in place all at once: nothing else need be written.
//!
//! "spoken-exam key 1", the salt, the nonce and the key encrypted, each in a line of hexadecimal digits

use std::fmt;
use std::fs;
use std::io::{self, Write};
use std::path::Path;

use argon2::{Algorithm, Argon2, Params, Version};
use chacha20poly1305::aead::rand_core::RngCore;
use chacha20poly1305::aead::{Aead, OsRng, Payload};
use chacha20poly1305::{Key, KeyInit, XChaCha20Poly1305, XNonce};
use hmac::digest::generic_array::GenericArray;
use hmac::{Hmac, Mac};
use sha2::Sha256;
use tempfile::NamedTempFile;
use zeroize::{Zeroize, Zeroizing};

use crate::store::{Passphrase, StoreError, folder};

/// The file.
pub(super) const KEY: &str = "key";
/// Its first line. Another way of making a key of a passphrase is another version.
const HEAD: &str = "spoken-exam key 1";
/// What is asked of whoever tries passphrases, as RFC 9106 has it for where memory is short: 64 MiB, three times, four lanes.
const COST: (u32, u32, u32) = (64 * 1024, 3, 4);

/// The key of a store, 32 bytes of chance.
pub(in crate::store) struct Keys(Zeroizing<[u8; 32]>);

// Not to be printed by an accident.
impl fmt::Debug for Keys {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Keys(..)")
    }
}

impl Keys {
    /// New ones.
    pub(super) fn new() -> Self {
        let mut key = Zeroizing::new([0; 32]);
        OsRng.fill_bytes(&mut *key);
        Self(key)
    }

    /// The keys of the store whose files lie in `home`.
    pub(in crate::store) fn open(home: &Path, passphrase: &Passphrase) -> Result<Self, StoreError> {
        let path = home.join(KEY);
        let text = fs::read_to_string(&path).map_err(|error| StoreError::io("read", &path, error))?;
        let lines: Vec<&str> = text.lines().collect();
        let damaged = || StoreError::KeyDamaged(path.clone());
        let [HEAD, salt, nonce, sealed] = lines[..] else { return Err(damaged()) };
        let (salt, nonce, sealed) = (unhex(salt), unhex(nonce), unhex(sealed));
        let (Some(salt), Some(nonce), Some(sealed)) = (salt, nonce, sealed) else { return Err(damaged()) };
        if (salt.len(), nonce.len(), sealed.len()) != (16, 24, 48) {
            return Err(damaged());
        }
        let payload = Payload { msg: &sealed, aad: HEAD.as_bytes() };
        let cipher = cipher(passphrase, &salt).map_err(|error| StoreError::io("open", &path, error))?;
        let opened = cipher.decrypt(XNonce::from_slice(&nonce), payload);
        let mut opened = opened.map_err(|_| StoreError::WrongPassphrase(home.to_owned()))?;
        let mut key = Zeroizing::new([0; 32]);
        key.copy_from_slice(&opened);
        opened.zeroize();
        Ok(Self(key))
    }

    /// Writes them where only this passphrase opens them, in the place of what was there; killed, it leaves one or the other.
    pub(super) fn write(&self, home: &Path, passphrase: &Passphrase) -> Result<(), StoreError> {
        let path = home.join(KEY);
        let wrong = |error| StoreError::io("write", &path, error);
        let (mut salt, mut nonce) = ([0; 16], [0; 24]);
        OsRng.fill_bytes(&mut salt);
        OsRng.fill_bytes(&mut nonce);
        let payload = Payload { msg: &self.0[..], aad: HEAD.as_bytes() };
        let sealed = cipher(passphrase, &salt).map_err(wrong)?.encrypt(XNonce::from_slice(&nonce), payload);
        let sealed = sealed.map_err(|_| wrong(io::Error::other("it cannot be encrypted")))?;
        let text = format!("{HEAD}\n{}\n{}\n{}\n", hex(&salt), hex(&nonce), hex(&sealed));
        let mut part = NamedTempFile::with_prefix_in(folder::PART, home).map_err(wrong)?;
        part.write_all(text.as_bytes()).and_then(|()| part.as_file().sync_all()).map_err(wrong)?;
        part.persist(&path).map_err(|error| wrong(error.error))?;
        folder::synchronise(home);
        Ok(())
    }

    /// SQLCipher's key, as it is given to it.
    pub(in crate::store) fn of_database(&self) -> Zeroizing<String> {
        let (key, mut text) = (self.of("database"), Zeroizing::new(String::with_capacity(67)));
        text.push_str("x'");
        push_hex(&mut text, &key[..]);
        text.push('\'');
        text
    }

    /// The key of recordings.
    pub(super) fn of_sound(&self) -> XChaCha20Poly1305 {
        XChaCha20Poly1305::new(Key::from_slice(&self.of("sound")[..]))
    }

    /// The key of recordings that are being made.
    pub(super) fn of_takings(&self) -> XChaCha20Poly1305 {
        XChaCha20Poly1305::new(Key::from_slice(&self.of("takings")[..]))
    }

    /// The name of a recording's file. Its SHA-256 itself would tell whoever has the recording that it is here.
    pub(in crate::store) fn name(&self, sha256: &str) -> String {
        hex(&made_of(&self.of("names"), sha256)[..])
    }

    fn of(&self, what: &str) -> Zeroizing<[u8; 32]> {
        made_of(&self.0, what)
    }
}

fn made_of(key: &[u8; 32], what: &str) -> Zeroizing<[u8; 32]> {
    // A key that is shorter than a block is filled with zeros anyway; of a whole block nothing can fail.
    let mut block = Zeroizing::new([0; 64]);
    block[..32].copy_from_slice(key);
    let mut made = <Hmac<Sha256> as Mac>::new(GenericArray::from_slice(&block[..]));
    made.update(what.as_bytes());
    Zeroizing::new(made.finalize().into_bytes().into())
}

fn cipher(passphrase: &Passphrase, salt: &[u8]) -> io::Result<XChaCha20Poly1305> {
    let mut key = Zeroizing::new([0; 32]);
    let (memory, times, lanes) = COST;
    let made = Params::new(memory, times, lanes, Some(key.len())).and_then(|cost| {
        Argon2::new(Algorithm::Argon2id, Version::V0x13, cost).hash_password_into(
            passphrase.bytes(),
            salt,
            &mut key[..],
        )
    });
    made.map_err(|error| io::Error::other(format!("no key can be made of the passphrase: {error}")))?;
    Ok(XChaCha20Poly1305::new(Key::from_slice(&key[..])))
}

fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    push_hex(&mut text, bytes);
    text
}

fn push_hex(text: &mut String, bytes: &[u8]) {
    let digit = |number: u8| char::from_digit(number.into(), 16).unwrap_or_default();
    bytes.iter().for_each(|byte| text.extend([digit(byte >> 4), digit(byte & 15)]));
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let pairs = text.as_bytes().chunks(2);
    pairs.map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passphrase(text: &str) -> Passphrase {
        Passphrase::new(text.to_owned())
    }

    #[test]
    fn keys_are_given_back_to_whoever_knows_the_passphrase_and_nobody_else() {
        let folder = tempfile::tempdir().unwrap();
        let keys = Keys::new();
        keys.write(folder.path(), &passphrase("seven grey geese fly")).unwrap();
        let opened = Keys::open(folder.path(), &passphrase("seven grey geese fly")).unwrap();
        assert_eq!(*opened.0, *keys.0);
        let refused = Keys::open(folder.path(), &passphrase("Seven grey geese fly"));
        assert!(matches!(refused, Err(StoreError::WrongPassphrase(_))), "{refused:?}");
        keys.write(folder.path(), &passphrase("eight white swans")).unwrap();
        assert!(Keys::open(folder.path(), &passphrase("seven grey geese fly")).is_err());
        assert_eq!(*Keys::open(folder.path(), &passphrase("eight white swans")).unwrap().0, *keys.0);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
    }

    #[test]
    fn the_file_does_not_hold_the_key_and_a_damaged_one_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let (keys, known) = (Keys::new(), passphrase("seven grey geese fly"));
        keys.write(folder.path(), &known).unwrap();
        let path = folder.path().join(KEY);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("spoken-exam key 1\n") && !text.contains(&hex(&keys.0[..])), "{text}");
        for damaged in ["", "spoken-exam key 2\n00\n00\n00\n", &text[..60], &text.replace('\n', "\n0")] {
            fs::write(&path, damaged).unwrap();
            let told = Keys::open(folder.path(), &known);
            assert!(matches!(told, Err(StoreError::KeyDamaged(_))), "{damaged}: {told:?}");
        }
    }

    #[test]
    fn each_use_has_a_key_of_its_own() {
        let keys = Keys::new();
        let all = [*keys.of("database"), *keys.of("sound"), *keys.of("takings"), *keys.of("names"), *keys.0];
        assert_eq!(all.iter().collect::<std::collections::BTreeSet<_>>().len(), 5);
        assert_eq!(keys.of_database().len(), 67);
        assert_eq!(keys.name("abc"), keys.name("abc"));
        assert_ne!(keys.name("abc"), Keys::new().name("abc"));
        assert_eq!(format!("{keys:?}"), "Keys(..)");
    }

    // RFC 4231, test case 2, whose key is filled up to 32 bytes as any shorter key is.
    #[test]
    fn keys_are_made_by_hmac_as_others_make_it() {
        let mut key = [0; 32];
        key[..4].copy_from_slice(b"Jefe");
        let made = made_of(&key, "what do ya want for nothing?");
        assert_eq!(hex(&made[..]), "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
        assert_eq!((unhex("00ff10"), unhex("0g"), unhex("é")), (Some(vec![0, 255, 16]), None, None));
    }
}

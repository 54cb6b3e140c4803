//! Passphrases.
//! Takes a line, or a file whose first line it is; gives a passphrase that is wiped from memory when it is let go of. Leaves
//! alone how it is asked for (`cli`) and what it opens (`encryption`).
//!
//! A file with "seven grey geese fly" and a line break holds the passphrase "seven grey geese fly"

use std::fmt;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use zeroize::Zeroizing;

use crate::store::StoreError;

/// Characters that a new passphrase has at least.
pub const SHORTEST: usize = 12;
/// Bytes of a file that are looked at: what is longer is no passphrase.
const LONGEST: u64 = 4096;

/// A passphrase, byte for byte.
pub struct Passphrase(Zeroizing<String>);

impl Passphrase {
    /// The passphrase of a line, without its line break.
    #[must_use]
    pub fn new(line: String) -> Self {
        let line = Zeroizing::new(line);
        Self(Zeroizing::new(line.trim_end_matches(['\r', '\n']).to_owned()))
    }

    /// The first line of a file.
    ///
    /// # Errors
    /// If it cannot be read, is no text, or its first line is empty or longer than any passphrase.
    pub fn from_file(path: &Path) -> Result<Self, StoreError> {
        let wrong = |error| StoreError::io("read", path, error);
        let mut text = Zeroizing::new(String::new());
        File::open(path).and_then(|file| file.take(LONGEST).read_to_string(&mut text)).map_err(wrong)?;
        let line = text.lines().next().unwrap_or_default();
        if line.is_empty() || line.len() as u64 == LONGEST {
            let what = "its first line is no passphrase: it is empty or too long";
            return Err(wrong(io::Error::new(io::ErrorKind::InvalidData, what)));
        }
        Ok(Self::new(line.to_owned()))
    }

    /// Whether it is long enough for a new one.
    #[must_use]
    pub fn is_long_enough(&self) -> bool {
        self.0.chars().count() >= SHORTEST
    }

    #[cfg_attr(not(feature = "encrypted"), allow(dead_code, reason = "only what encrypts looks into it"))]
    pub(super) fn bytes(&self) -> &[u8] {
        self.0.as_bytes()
    }
}

impl PartialEq for Passphrase {
    fn eq(&self, other: &Self) -> bool {
        self.0 == other.0
    }
}

// Not to be printed by an accident.
impl fmt::Debug for Passphrase {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("Passphrase(..)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passphrase_is_the_first_line_of_a_file_as_it_stands() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("passphrase");
        let check = |text: &str, passphrase: Option<&str>| {
            std::fs::write(&file, text).unwrap();
            let read = Passphrase::from_file(&file).ok();
            assert_eq!(read.as_ref().map(Passphrase::bytes), passphrase.map(str::as_bytes), "{text:?}");
        };
        check("seven grey geese fly\n", Some("seven grey geese fly"));
        check(" spaces stand \r\nthe rest does not", Some(" spaces stand "));
        check("Gänse", Some("Gänse"));
        check("", None);
        check("\nsecond", None);
        check(&"x".repeat(5000), None);
        let error = Passphrase::from_file(&file).unwrap_err().to_string();
        assert!(error.ends_with("its first line is no passphrase: it is empty or too long"), "{error}");
    }

    #[test]
    fn a_passphrase_is_not_shown() {
        let passphrase = Passphrase::new("seven grey geese fly".into());
        assert_eq!(format!("{passphrase:?}"), "Passphrase(..)");
        assert!(passphrase.is_long_enough() && !Passphrase::new("seven geese".into()).is_long_enough());
    }
}

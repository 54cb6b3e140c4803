//! Names of files ⇄ names of what is made of them.
//! Takes the bytes of a name, which may be anything; gives text for the manifest, and a name below the target that any file system
//! and bucket takes. Leaves alone what the files hold.
//!
//! "bay 2/größe\n.wav" is told as "bay 2/größe%0A.wav", and its draft is "drafts/bay 2/größe%0A.wav.json"

use std::fmt::Write;
use std::path::{Component, Path};

use sha2::{Digest, Sha256};

/// A part of a name that is longer is cut, in bytes: file systems take 255, and an ending and a mark of what is being written
/// are put behind it.
const LONGEST: usize = 200;
/// So much of it is left then.
const KEPT: usize = 150;

/// The name of a file below the folder it was found in, as text with slashes. What no text has (control characters, bytes that are
/// no letters) and the percent sign itself stand as `%` and two digits, so that two names never become one.
#[must_use]
pub(super) fn told(below: &Path) -> String {
    let part = |part: Component<'_>| encoded(part.as_os_str().as_encoded_bytes());
    below.components().map(part).collect::<Vec<_>>().join("/")
}

fn encoded(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        for letter in chunk.valid().chars() {
            if letter.is_control() || matches!(letter, '%' | '\\') {
                let mut buffer = [0; 4];
                escape(letter.encode_utf8(&mut buffer).as_bytes(), &mut text);
            } else {
                text.push(letter);
            }
        }
        escape(chunk.invalid(), &mut text);
    }
    text
}

fn escape(bytes: &[u8], text: &mut String) {
    for byte in bytes {
        // Writing into a string does not fail.
        let _ = write!(text, "%{byte:02X}");
    }
}

/// The name of a file's draft below the target.
#[must_use]
pub(super) fn draft_of(told: &str) -> String {
    let mut parts: Vec<String> = told.split('/').map(shortened).collect();
    if let Some(last) = parts.last_mut() {
        last.push_str(".json");
    }
    format!("drafts/{}", parts.join("/"))
}

/// A part of a name, or its beginning with a mark of the whole.
fn shortened(part: &str) -> String {
    if part.len() <= LONGEST {
        return part.to_owned();
    }
    let mark = format!("{:x}", Sha256::digest(part.as_bytes()));
    let beginning = part.floor_char_boundary(KEPT);
    format!("{}~{}", part.get(..beginning).unwrap_or_default(), mark.get(..16).unwrap_or_default())
}

/// Where it is noted which recordings are being worked on.
pub(super) const TRYING: &str = "trying";

/// The name of the note about a recording.
#[must_use]
pub(super) fn trying(sha256: &str) -> String {
    format!("{TRYING}/{sha256}")
}

/// The name of what recognisers said of a recording.
#[must_use]
pub(super) fn words_of(sha256: &str, heard_by: &str) -> String {
    let folder = sha256.get(..2).unwrap_or("00");
    format!("words/{folder}/{sha256}-{heard_by}.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_text_and_never_the_same() {
        for (name, expected) in [
            ("a.wav", "a.wav"),
            ("bay 2/größe\n.wav", "bay 2/größe%0A.wav"),
            ("新生児.wav", "新生児.wav"),
            ("100%.txt", "100%25.txt"),
            ("%0A", "%250A"),
            ("a\\b", "a%5Cb"),
            ("\u{85}", "%C2%85"),
        ] {
            assert_eq!(told(Path::new(name)), expected);
        }
        assert_eq!(draft_of("bay 2/a.wav"), "drafts/bay 2/a.wav.json");
    }

    #[cfg(unix)]
    #[test]
    fn a_name_that_is_no_text_is_told_too() {
        use std::os::unix::ffi::OsStrExt;
        let name = std::ffi::OsStr::from_bytes(b"caf\xe9\xff.wav");
        assert_eq!(told(Path::new(name)), "caf%E9%FF.wav");
    }

    #[test]
    fn long_names_are_cut_and_stay_apart() {
        let long = |last: char| format!("{}{last}", "ü".repeat(120));
        let (one, other) = (draft_of(&long('a')), draft_of(&long('b')));
        assert_ne!(one, other);
        assert!(one.len() < 200 && one.ends_with(".json"), "{one}");
        let at_most = "x".repeat(LONGEST);
        assert_eq!(draft_of(&at_most), format!("drafts/{at_most}.json"));
    }
}

//! A name → text or sound.
//! Takes what was named on the command line; gives its text, or the path of a recording. What ends in `.txt` is text;
//! anything else is text if it reads as UTF-8. Leaves alone what a recording holds (`audio`).
//!
//! `-` gives the text on standard input

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::flow;

/// What a note is.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Note {
    /// A text with the name it goes by.
    Text {
        /// What it says.
        text: String,
        /// Name without its folder.
        file_name: String,
    },
    /// A recording, not opened yet.
    Sound(PathBuf),
}

/// Bytes of a file that decide whether it is text. Every sound format has bytes in its head that no text has.
const HEAD: u64 = 64 * 1024;

/// Finds out what was named, and reads it if it is text.
pub(super) fn note(named: &Path) -> Result<Note> {
    if named == Path::new("-") {
        let mut bytes = Vec::new();
        io::stdin().lock().read_to_end(&mut bytes).context("cannot read standard input")?;
        let text = text_of(bytes, "standard input")?;
        return Ok(Note::Text { text, file_name: "standard input".to_owned() });
    }
    let shown = named.display().to_string();
    let cannot = || format!("cannot read {shown}");
    if named.is_dir() {
        bail!("cannot read {shown}: it is a folder; name one recording or text");
    }
    let ends_in_txt = named.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("txt"));
    if !ends_in_txt {
        let mut head = Vec::new();
        File::open(named).with_context(cannot)?.take(HEAD).read_to_end(&mut head).with_context(cannot)?;
        if !reads_as_text(&head) {
            return Ok(Note::Sound(named.to_owned()));
        }
    }
    let text = text_of(std::fs::read(named).with_context(cannot)?, &shown)?;
    let file_name = named.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(Note::Text { text, file_name })
}

fn text_of(bytes: Vec<u8>, shown: &str) -> Result<String> {
    flow::text_in(bytes).map_err(|fault| anyhow::anyhow!("cannot read {shown}: {fault}"))
}

// A letter may be cut in two where the head ends.
fn reads_as_text(head: &[u8]) -> bool {
    let valid = match std::str::from_utf8(head) {
        Ok(_) => true,
        Err(error) => error.error_len().is_none(),
    };
    valid && !head.is_empty() && !head.contains(&0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_decides_where_the_name_does_not() {
        assert!(reads_as_text("Tonus größer".as_bytes()));
        assert!(reads_as_text(&"größer".as_bytes()[..3]), "a letter cut in two");
        assert!(!reads_as_text(b"RIFF\x24\x00\x00\x00WAVE"));
        assert!(!reads_as_text(b"\xff\xf1\x50\x80"));
        assert!(!reads_as_text(b""));
    }

    #[test]
    fn a_text_that_is_none_is_named_with_the_byte() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("note.txt");
        std::fs::write(&file, b"caf\xe9").unwrap();
        let error = note(&file).unwrap_err().to_string();
        assert!(error.ends_with("note.txt: byte 4 is not UTF-8 text; save it as UTF-8"), "{error}");
        let unnamed = folder.path().join("note");
        std::fs::write(&unnamed, "left").unwrap();
        assert_eq!(note(&unnamed).unwrap(), Note::Text { text: "left".into(), file_name: "note".into() });
    }
}

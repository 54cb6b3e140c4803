//! A file's first bytes → whether it is a recording, a transcript or something else.
//! Takes the beginning of its content, and its name only where the content says nothing; gives what it is. Leaves alone whether
//! it can be decoded.
//!
//! A photograph called "visit.wav" is something else that is called a recording: it is told, and the rest goes on

use std::path::Path;

/// What a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Content {
    /// Sound, as its first bytes say.
    Recording,
    /// Text that somebody may have spoken or written.
    Transcript,
    /// Neither, though its name says so: the reason.
    Misnamed(&'static str),
    /// Neither, and it is not called so: what it is.
    Other(&'static str),
}

/// Bytes that decide.
pub(super) const HEAD: usize = 64 * 1024;

/// What a file with this beginning is. `whole` says that this is all of it.
#[must_use]
pub(super) fn content(head: &[u8], whole: bool, name: &Path) -> Content {
    let called = called(name);
    let other = |what: &'static str| if called.is_some() { Content::Misnamed(what) } else { Content::Other(what) };
    if head.is_empty() {
        return other("it is empty (0 bytes)");
    }
    if is_sound(head) {
        return Content::Recording;
    }
    if let Some(text) = text(head, whole) {
        return match structure(text) {
            Some(what) if called != Some(Called::Text) => other(what),
            _ => Content::Transcript,
        };
    }
    match called {
        // An mp3 may begin with anything; whoever decodes it says what is wrong.
        Some(Called::Sound) if !is_known_otherwise(head) => Content::Recording,
        _ => other(BINARY),
    }
}

const BINARY: &str = "it is neither sound nor text";
const TABLE: &str = "it is a table";
const DATA: &str = "it is a document or data for programs";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Called {
    Sound,
    Text,
}

fn called(name: &Path) -> Option<Called> {
    let ending = name.extension()?.to_string_lossy().to_lowercase();
    match ending.as_str() {
        "wav" | "wave" | "flac" | "mp3" | "m4a" | "mp4" | "aac" | "ogg" | "oga" | "opus" | "webm" | "mka" | "aif"
        | "aiff" | "caf" | "3gp" | "amr" => Some(Called::Sound),
        "txt" | "text" => Some(Called::Text),
        _ => None,
    }
}

/// First bytes of files that hold sound, by the formats' own documents; ISO media have theirs behind a length.
fn is_sound(head: &[u8]) -> bool {
    let at = |from: usize, bytes: &[u8]| head.get(from..from + bytes.len()) == Some(bytes);
    let container = at(0, b"RIFF") && at(8, b"WAVE")
        || at(0, b"RF64") && at(8, b"WAVE")
        || at(0, b"fLaC")
        || at(0, b"OggS")
        || at(0, b"ID3")
        || at(0, b"FORM") && (at(8, b"AIFF") || at(8, b"AIFC"))
        || at(0, b"caff")
        || at(0, b"\x1a\x45\xdf\xa3")
        || at(4, b"ftyp");
    // Frames of MPEG audio and ADTS begin with eleven bits that are set; text never has such a byte.
    let frames = head.first() == Some(&0xff)
        && head.get(1).is_some_and(|byte| byte & 0xe0 == 0xe0 && *byte != 0xff && byte & 0x18 != 0x08)
        && !at(0, b"\xff\xfe");
    container || frames
}

/// Pictures, documents and archives: nothing that a recorder makes begins so.
fn is_known_otherwise(head: &[u8]) -> bool {
    const OTHERS: [&[u8]; 8] =
        [b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"%PDF", b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"\x7fELF"];
    OTHERS.iter().any(|other| head.starts_with(other))
}

/// The head as text. A letter may be cut in two where it ends.
fn text(head: &[u8], whole: bool) -> Option<&str> {
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(fault) if !whole && fault.error_len().is_none() => {
            std::str::from_utf8(head.get(..fault.valid_up_to())?).ok()?
        }
        Err(_) => return None,
    };
    let strange = |letter: char| letter.is_control() && !matches!(letter, '\n' | '\r' | '\t' | '\u{c}');
    (!text.contains(strange)).then_some(text)
}

/// What text is that nobody speaks.
fn structure(text: &str) -> Option<&'static str> {
    let text = text.trim_start_matches('\u{feff}');
    let begins = text.trim_start();
    if begins.starts_with("<?xml")
        || begins.starts_with("<!")
        || begins.starts_with("<html")
        || begins.starts_with("<svg")
    {
        return Some(DATA);
    }
    // No transcript begins with the heading of a document, or the comment of a script.
    if begins.starts_with('#') || begins.starts_with("{\"") || begins.starts_with("{\n") || begins.starts_with("[{") {
        return Some(DATA);
    }
    let lines = || text.lines().filter(|line| !line.trim().is_empty());
    let cells = lines().next().map_or(0, |line| line.matches('\t').count());
    (cells > 0 && lines().count() > 1 && lines().take(20).all(|line| line.matches('\t').count() == cells))
        .then_some(TABLE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use Content::{Misnamed, Other, Recording, Transcript};

    #[test]
    fn content_decides_before_the_name() {
        for (head, name, expected) in [
            (&b"RIFF\x24\0\0\0WAVEfmt "[..], "visit.txt", Recording),
            (b"RIFF\x24\0\0\0WAVEfmt ", "visit", Recording),
            (b"\0\0\0\x20ftypM4A ", "x.doc", Recording),
            (b"\xff\xfb\x90\x64", "note", Recording),
            (b"\xff\xf1\x50\x80", "note", Recording),
            (b"No clonus on the left.\n", "visit.wav", Transcript),
            (b"No clonus on the left.\n", "visit.json", Transcript),
            ("[cries] Größe 50 cm\r\n\tand so on\n".as_bytes(), "notes", Transcript),
            (b"<he cries> no clonus\n", "notes", Transcript),
            (b"item\tside\tvalue\nmoro\tleft\tabsent\n", "a.tsv", Other(TABLE)),
            (b"item\tside\tvalue\nmoro\tleft\tabsent\n", "a.txt", Transcript),
            (b"{\"findings\": []}", "a.json", Other(DATA)),
            (b"<?xml version=\"1.0\"?>", "a", Other(DATA)),
            (b"#!/bin/sh\n", "run", Other(DATA)),
            (b"# Samples\n\nText.", "README.md", Other(DATA)),
            (b"", "a.wav", Misnamed("it is empty (0 bytes)")),
            (b"", "a", Other("it is empty (0 bytes)")),
            (b"\x89PNG\r\n\x1a\n", "a.wav", Misnamed(BINARY)),
            (b"\x89PNG\r\n\x1a\n", "a.png", Other(BINARY)),
            (b"\xff\xfeN\0o\0", "a.txt", Misnamed(BINARY)),
            (b"caf\xe9 au lait", "a.txt", Misnamed(BINARY)),
            (b"\x01\x02\x03garbage", "a.mp3", Recording),
            (b"\x01\x02\x03garbage", "a.bin", Other(BINARY)),
        ] {
            assert_eq!(content(head, true, Path::new(name)), expected, "{:?} {name}", String::from_utf8_lossy(head));
        }
    }

    #[test]
    fn a_letter_may_be_cut_where_the_head_ends() {
        let cut = &"größer".as_bytes()[..3];
        assert_eq!(content(cut, false, Path::new("a")), Transcript);
        assert_eq!(content(cut, true, Path::new("a")), Other(BINARY));
    }
}

//! A vocabulary file → the bytes of each token.
//! Takes the text of `vocabulary.txt` (a token a line) or `vocabulary.json` (a list); gives the word tokens in order
//! of their number. Leaves alone: the marks after them (languages, times), which whisper.cpp names by itself.
//! In the file each byte is written as one printable character: "Ġreflex" gives the bytes of " reflex".

use super::error::BadModel;

/// The mark that ends a text; the word tokens stand before it.
const END: &str = "<|endoftext|>";
/// From this size on a vocabulary is the one for many languages (whisper.cpp decides by the same number).
const MANY_LANGUAGES: usize = 51_865;

/// The word tokens of a vocabulary.
///
/// The English vocabulary keeps the end mark as its last word, as the published English files do.
///
/// # Errors
/// When the text is not UTF-8 or not a list, has no end mark, or uses a character that stands for no byte.
pub(super) fn read(text: &[u8]) -> Result<Vec<Vec<u8>>, BadModel> {
    let all = tokens(text)?;
    let end = all.iter().position(|token| token == END).ok_or_else(|| fault(format!("it has no {END}")))?;
    let mut words = all.iter().take(end).map(|token| bytes(token)).collect::<Result<Vec<_>, _>>()?;
    if all.len() < MANY_LANGUAGES {
        words.push(END.as_bytes().to_vec());
    }
    Ok(words)
}

fn tokens(text: &[u8]) -> Result<Vec<String>, BadModel> {
    let text = std::str::from_utf8(text).map_err(|error| fault(error.to_string()))?;
    // No token of a vocabulary.txt is a whole "[" line first: "!" is token 0 in both vocabularies.
    if text.starts_with('[') {
        return serde_json::from_str(text).map_err(|error| fault(error.to_string()));
    }
    Ok(text.strip_suffix('\n').unwrap_or(text).split('\n').map(str::to_owned).collect())
}

fn bytes(token: &str) -> Result<Vec<u8>, BadModel> {
    token.chars().map(|c| byte(c).ok_or_else(|| fault(format!("`{c}` in `{token}` stands for no byte")))).collect()
}

/// GPT-2's way of writing bytes: printable ones stand for themselves, the others are counted from U+0100 on.
fn byte(written: char) -> Option<u8> {
    match u32::from(written) {
        own @ (0x21..=0x7e | 0xa1..=0xac | 0xae..=0xff) => u8::try_from(own).ok(),
        // 0x00 to 0x20, then 0x7f to 0xa0, then 0xad.
        moved @ 0x100..=0x120 => u8::try_from(moved - 0x100).ok(),
        moved @ 0x121..=0x142 => u8::try_from(moved - 0x121 + 0x7f).ok(),
        0x143 => Some(0xad),
        _ => None,
    }
}

fn fault(what: String) -> BadModel {
    BadModel::Vocabulary { what }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_byte_is_written_by_exactly_one_character() {
        let mut met: Vec<u8> = ('\0'..='\u{200}').filter_map(byte).collect();
        met.sort_unstable();
        assert_eq!(met, (0..=255).collect::<Vec<u8>>());
    }

    #[test]
    fn both_kinds_of_file_give_the_same_words() {
        let wanted = [&b"!"[..], b" reflex", b"\n\xad", b"", b"<|endoftext|>"];
        assert_eq!(read("!\nĠreflex\nĊŃ\n\n<|endoftext|>\n<|en|>\n".as_bytes()).unwrap(), wanted);
        assert_eq!(read(r#"["!", "Ġreflex", "ĊŃ", "", "<|endoftext|>", "<|en|>"]"#.as_bytes()).unwrap(), wanted);
    }

    #[test]
    fn only_the_english_vocabulary_keeps_the_end_mark() {
        let many: String = (0..MANY_LANGUAGES).map(|n| if n == 2 { "<|endoftext|>\n" } else { "a\n" }).collect();
        assert_eq!(read(many.as_bytes()).unwrap(), [b"a", b"a"]);
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        let check = |text: &[u8], fault: &str| assert_eq!(read(text).unwrap_err().to_string(), fault);
        check(b"!\n", "the vocabulary cannot be read: it has no <|endoftext|>");
        check("語\n<|endoftext|>".as_bytes(), "the vocabulary cannot be read: `語` in `語` stands for no byte");
        assert!(read(b"[1]").is_err() && read(b"\xff").is_err());
    }

    proptest! {
        #[test]
        fn any_text_gives_an_answer(text in ".{0,80}", start in prop::bool::ANY) {
            let _ = read(if start { format!("[{text}") } else { text }.as_bytes());
        }
    }
}

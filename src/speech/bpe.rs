//! Text → a recogniser's tokens, as its training cut them.
//! Takes the vocabulary, in which a token's number is its rank among the merges; gives the tokens of a text by byte pair
//! encoding. Leaves alone special tokens. whisper.cpp's own cutting takes the longest token that fits: the recogniser has never
//! seen its training texts cut so, and gives such a cut little chance.
//!
//! " clonus" gives " cl" "on" "us", with these merges, and not " clo" "nus"

use std::collections::HashMap;
use std::ops::Range;

/// The merges of a vocabulary.
#[derive(Debug)]
pub struct Bpe {
    ranks: HashMap<Box<[u8]>, i32>,
}

impl Bpe {
    /// The merges of a vocabulary in the order of its tokens.
    #[must_use]
    pub fn new(vocabulary: &[Vec<u8>]) -> Self {
        let mut ranks = HashMap::with_capacity(vocabulary.len());
        for (rank, token) in (0..).zip(vocabulary) {
            ranks.entry(token.as_slice().into()).or_insert(rank);
        }
        Self { ranks }
    }

    /// The tokens of a text; nothing where the vocabulary lacks one of its bytes.
    #[must_use]
    pub fn tokens_of(&self, text: &str) -> Option<Vec<i32>> {
        let mut tokens = Vec::new();
        for piece in pieces(text) {
            self.merge(piece.as_bytes(), &mut tokens)?;
        }
        Some(tokens)
    }

    // The two neighbours whose merge was learnt first become one, until no two neighbours make a token.
    fn merge(&self, piece: &[u8], tokens: &mut Vec<i32>) -> Option<()> {
        let rank = |range: Range<usize>| piece.get(range).and_then(|bytes| self.ranks.get(bytes)).copied();
        let mut cuts: Vec<usize> = (0..=piece.len()).collect();
        loop {
            let merges = cuts.windows(3).enumerate().filter_map(|(at, ends)| match ends {
                [start, _, end] => Some((rank(*start..*end)?, at)),
                _ => None,
            });
            let Some((_, at)) = merges.min() else { break };
            cuts.remove(at + 1);
        }
        for ends in cuts.windows(2) {
            let [start, end] = ends else { break };
            tokens.push(rank(*start..*end)?);
        }
        Some(())
    }
}

/// Endings behind an apostrophe that are pieces by themselves.
const CONTRACTIONS: [&str; 7] = ["'s", "'t", "'re", "'ve", "'m", "'ll", "'d"];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Letter,
    Number,
    Space,
    Other,
}

fn kind(c: char) -> Kind {
    match c {
        _ if c.is_alphabetic() => Kind::Letter,
        _ if c.is_numeric() => Kind::Number,
        _ if c.is_whitespace() => Kind::Space,
        _ => Kind::Other,
    }
}

/// The pieces of a text over whose ends no token reaches: words, numbers and marks, each with the space before it.
fn pieces(text: &str) -> Vec<&str> {
    let (mut found, mut rest) = (Vec::new(), text);
    while !rest.is_empty() {
        let (piece, behind) = rest.split_at(piece_length(rest));
        found.push(piece);
        rest = behind;
    }
    found
}

fn piece_length(rest: &str) -> usize {
    if let Some(contraction) = CONTRACTIONS.iter().find(|ending| rest.starts_with(**ending)) {
        return contraction.len();
    }
    let run = |text: &str, wanted: Kind| -> usize {
        text.chars().take_while(|c| kind(*c) == wanted).map(char::len_utf8).sum()
    };
    let word = rest.strip_prefix(' ').unwrap_or(rest);
    match word.chars().next().map(kind) {
        Some(kind) if kind != Kind::Space => rest.len() - word.len() + run(word, kind),
        _ => {
            // Of several spaces the last belongs to the word behind them.
            let spaces = run(rest, Kind::Space);
            let last = rest.get(..spaces).and_then(|spaces| spaces.chars().next_back()).map_or(0, char::len_utf8);
            if spaces == rest.len() || spaces == last { spaces } else { spaces - last }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_falls_into_words_numbers_and_marks() {
        for (text, expected) in [
            (" Biceps, two plus.", &[" Biceps", ",", " two", " plus", "."][..]),
            ("It's 34.6, they'll", &["It", "'s", " 34", ".", "6", ",", " they", "'ll"]),
            ("a   b ", &["a", "  ", " b", " "]),
            ("dragged\nslow \u{e9}t\u{e9}", &["dragged", "\n", "slow", " \u{e9}t\u{e9}"]),
            (" 'tis...\"", &[" '", "tis", "...\""]),
            ("", &[]),
        ] {
            assert_eq!(pieces(text), expected, "{text:?}");
        }
    }

    fn bpe(merged: &[&str]) -> Bpe {
        let bytes = (0..=255u8).map(|byte| vec![byte]);
        Bpe::new(&bytes.chain(merged.iter().map(|token| token.as_bytes().to_vec())).collect::<Vec<_>>())
    }

    #[track_caller]
    fn check(merged: &[&str], text: &str, expected: &[&str]) {
        let bpe = bpe(merged);
        let number = |token: &&str| bpe.ranks.get(token.as_bytes()).copied().unwrap();
        assert_eq!(bpe.tokens_of(text).unwrap(), expected.iter().map(number).collect::<Vec<_>>(), "{text}");
    }

    #[test]
    fn what_was_learnt_first_is_merged_first_and_not_what_is_longest() {
        check(&["on", "us", " c", "lo", " cl", "nus"], " clonus", &[" cl", "on", "us"]);
        // Without the merge of "on" the same letters fall otherwise.
        check(&["us", " c", "lo", "nus", " clo"], " clonus", &[" clo", "nus"]);
        // A token that no merges lead to is never written.
        check(&["lonus"], "lonus", &["l", "o", "n", "u", "s"]);
        check(&["aa"], "aaaaa", &["aa", "aa", "a"]);
        check(&["\u{e9}"], "\u{e9}", &["\u{e9}"]);
        check(&[" a", "a."], " a.", &[" a", "."]);
    }

    #[test]
    fn a_byte_that_the_vocabulary_lacks_gives_nothing() {
        assert_eq!(Bpe::new(&[b"a".to_vec()]).tokens_of("ab"), None);
        assert_eq!(Bpe::new(&[]).tokens_of(""), Some(Vec::new()));
    }
}

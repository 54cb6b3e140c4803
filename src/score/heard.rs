//! Words heard against words said.
//! Takes the utterances of a text and of its hearing; gives the word error rate, how many names of items came through,
//! and how many were heard that nobody said. Leaves alone values and findings (`tally`).
//!
//! "Moro is full" heard as "Moral is full" has one wrong word of three, and a name of one may still be recognised

use strsim::generic_levenshtein;

use crate::lexicon::{ItemIx, Lexicon, Meaning, Mention, mentions_of_all};
use crate::speech::Utterance;

/// Counts of one narration, or of many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct HeardWords {
    /// Words said.
    pub words: usize,
    /// Words put in, left out or put in the place of others.
    pub errors: usize,
    /// Names of items said, in the words that the lexicon lists as most usual.
    pub names: usize,
    /// Those of them recognised in what was heard, in their order.
    pub names_heard: usize,
    /// Names recognised that were not said there.
    pub names_put_in: usize,
}

impl HeardWords {
    /// Share of wrong words, 0 or more; 0 where none was said.
    #[must_use]
    pub fn error_rate(&self) -> f64 {
        share(self.errors, self.words)
    }

    /// Share of the names said that were recognised, 0 to 1.
    #[must_use]
    pub fn names_recall(&self) -> f64 {
        if self.names == 0 { 1.0 } else { share(self.names_heard, self.names) }
    }

    /// Names put in for every 1,000 words said.
    #[must_use]
    pub fn put_in_per_1000(&self) -> f64 {
        1000.0 * share(self.names_put_in, self.words)
    }

    /// Adds the counts of another narration.
    pub fn add(&mut self, other: &Self) {
        self.words += other.words;
        self.errors += other.errors;
        self.names += other.names;
        self.names_heard += other.names_heard;
        self.names_put_in += other.names_put_in;
    }
}

fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 { 0.0 } else { part as f64 / whole as f64 }
}

/// Compares what was heard with what was said.
#[must_use]
pub fn compare_words(lexicon: &Lexicon, said: &[Utterance], heard: &[Utterance]) -> HeardWords {
    let (said_words, heard_words) = (plain(said), plain(heard));
    let (said_names, heard_names) = (names(lexicon, said), names(lexicon, heard));
    let common = longest_common(&said_names, &heard_names);
    HeardWords {
        words: said_words.len(),
        errors: generic_levenshtein(&said_words, &heard_words),
        names: said_names.len(),
        names_heard: common,
        names_put_in: heard_names.len() - common,
    }
}

/// Numbers under thirteen and tens: a recogniser writes either digits or words.
const NUMBERS: [(&str, &str); 21] = [
    ("zero", "0"),
    ("one", "1"),
    ("two", "2"),
    ("three", "3"),
    ("four", "4"),
    ("five", "5"),
    ("six", "6"),
    ("seven", "7"),
    ("eight", "8"),
    ("nine", "9"),
    ("ten", "10"),
    ("eleven", "11"),
    ("twelve", "12"),
    ("twenty", "20"),
    ("thirty", "30"),
    ("forty", "40"),
    ("fifty", "50"),
    ("sixty", "60"),
    ("seventy", "70"),
    ("eighty", "80"),
    ("ninety", "90"),
];

fn plain(utterances: &[Utterance]) -> Vec<&str> {
    let words = utterances.iter().flat_map(|said| &said.words).map(|word| word.plain.as_str());
    words.map(|word| NUMBERS.iter().find(|(name, _)| *name == word).map_or(word, |(_, digits)| digits)).collect()
}

/// The items named, in order; of names that overlap the longest counts.
fn names(lexicon: &Lexicon, utterances: &[Utterance]) -> Vec<ItemIx> {
    let mut names = Vec::new();
    for mentions in mentions_of_all(lexicon, utterances).0 {
        let mut past = 0;
        for mention in &mentions {
            if let Some(item) = name(lexicon, mention).filter(|_| mention.first >= past) {
                names.push(item);
                past = mention.past;
            }
        }
    }
    names
}

fn name(lexicon: &Lexicon, mention: &Mention) -> Option<ItemIx> {
    let phrase = mention.phrase(lexicon).filter(|phrase| phrase.by_sound)?;
    phrase.meanings.iter().find_map(|meaning| match meaning {
        Meaning::Name(item) => Some(*item),
        _ => None,
    })
}

/// How long the longest list is that both hold in order.
fn longest_common(one: &[ItemIx], other: &[ItemIx]) -> usize {
    let mut row = vec![0; other.len() + 1];
    for item in one {
        let mut diagonal = 0;
        for (at, same) in other.iter().enumerate() {
            let above = row[at + 1];
            row[at + 1] = if item == same { diagonal + 1 } else { above.max(row[at]) };
            diagonal = above;
        }
    }
    row.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_names_are_counted() {
        let lexicon = Lexicon::load(None).unwrap();
        let check = |said: &str, heard: &str, (errors, names_heard, names_put_in)| {
            let utterances = |text: &str| text.lines().map(Utterance::from_text).collect::<Vec<_>>();
            let counts = compare_words(&lexicon, &utterances(said), &utterances(heard));
            assert_eq!(
                (counts.errors, counts.names_heard, counts.names_put_in),
                (errors, names_heard, names_put_in),
                "{heard}"
            );
        };
        let said = "Scarf sign to the midline.\nPopliteal angle ninety both sides. Gag reflex present.";
        check(said, said, (0, 3, 0));
        check(said, "Scarf sign to the midline. Popliteal angle 90, both sides. Gag reflex present", (0, 3, 0));
        check(said, "Scarf sign to the midline. Moro reflex ninety both sides. Gag reflex present", (2, 2, 1));
        check(said, "", (13, 0, 0));
    }

    #[test]
    fn figures_add_up() {
        let mut all = HeardWords { words: 100, errors: 10, names: 4, names_heard: 3, names_put_in: 0 };
        all.add(&HeardWords { words: 100, errors: 20, names: 4, names_heard: 4, names_put_in: 1 });
        assert!((all.error_rate() - 0.15).abs() < 1e-9);
        assert!((all.names_recall() - 0.875).abs() < 1e-9);
        assert!((all.put_in_per_1000() - 5.0).abs() < 1e-9);
        assert!((HeardWords::default().names_recall() - 1.0).abs() < 1e-9);
    }
}

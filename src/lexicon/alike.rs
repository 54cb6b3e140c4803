//! What was understood → what else of its kind sounds alike.
//! Takes the words that said a value or a side; gives phrases that say another value of the same item, or the other side.
//! Leaves alone what else the words may have been (`rivals`) and which was said.
//!
//! "sustained" of ankle-clonus gives "unsustained"; "left" gives "right"

use crate::lexicon::closed_sets::Row;
use crate::lexicon::phonemes::{LONGEST, distance, sound_out, weight_of};
use crate::lexicon::{ItemIx, LanguageWord, Lexicon, Meaning, ValueIx};
use crate::speech::Word;

/// The least closeness of two values of an item for one to be taken for the other, 0 to 1.
const LEAST: f32 = 0.4;

impl Lexicon {
    /// Phrases that say another value of the item and sound like the words, likest first, one for each value.
    #[must_use]
    pub fn other_values(&self, item: ItemIx, value: ValueIx, words: &[Word]) -> Vec<&str> {
        let mut sounds = Vec::new();
        words.iter().for_each(|word| sound_out(&word.plain, &mut sounds));
        let weight = weight_of(&sounds);
        if sounds.is_empty() || sounds.len() > LONGEST {
            return Vec::new();
        }
        let says = |row: &Row| {
            let same = row.says.contains(&(item, Some(value)));
            let other = row.says.iter().filter(|_| !same).find(|(of, value)| *of == item && value.is_some());
            other.and_then(|(_, value)| *value)
        };
        let mut near: Vec<(u32, ValueIx, &Row)> = Vec::new();
        for row in self.sound.rows() {
            let Some(other) = says(row) else { continue };
            let heavier = weight.max(row.weight).max(1);
            let most = ((1.0 - LEAST) * heavier as f32) as u32;
            let apart = distance((&sounds, weight), (&row.sounds, row.weight), most);
            // What sounds the very same cannot be told by its sound.
            near.extend(apart.filter(|apart| *apart > 0).map(|apart| (1000 * apart / heavier, other, row)));
        }
        near.sort_by_key(|(apart, _, row)| (*apart, row.phrase));
        let mut alike: Vec<(ValueIx, &Row)> = Vec::new();
        for (_, value, row) in near {
            if alike.iter().all(|(known, _)| *known != value) {
                alike.push((value, row));
            }
        }
        alike.iter().filter_map(|(_, row)| self.phrases.get(row.phrase)).map(|phrase| phrase.text.as_str()).collect()
    }

    /// How the other side is said; `None` where the words say no side by themselves.
    #[must_use]
    pub fn other_side(&self, words: &[Word]) -> Option<&str> {
        let [word] = words else { return None };
        let meanings = &self.phrase_by(&[&word.plain])?.meanings;
        let other = match meanings.iter().find_map(|meaning| side(*meaning))? {
            LanguageWord::SideLeft => LanguageWord::SideRight,
            _ => LanguageWord::SideLeft,
        };
        let of_other = |meanings: &[Meaning]| meanings.iter().any(|meaning| side(*meaning) == Some(other));
        let mut phrases = self.phrases.iter().filter(|phrase| phrase.text.len() > 1 && of_other(&phrase.meanings));
        phrases.find(|phrase| !phrase.text.contains(' ')).map(|phrase| phrase.text.as_str())
    }

    /// Whether the words deny by themselves.
    #[must_use]
    pub fn denies(&self, words: &[Word]) -> bool {
        let plain: Vec<&str> = words.iter().map(|word| word.plain.as_str()).collect();
        let denies = |meaning: &Meaning| matches!(meaning, Meaning::Word(LanguageWord::Negation));
        self.phrase_by(&plain).is_some_and(|phrase| phrase.meanings.iter().any(denies))
    }
}

fn side(meaning: Meaning) -> Option<LanguageWord> {
    match meaning {
        Meaning::Word(word @ (LanguageWord::SideLeft | LanguageWord::SideRight)) => Some(word),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::Utterance;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    fn of_item(id: &str) -> ItemIx {
        lexicon().items.iter().position(|item| item.id == id).unwrap()
    }

    #[test]
    fn values_of_the_same_item_that_sound_alike_are_told() {
        for (item, value, words, other) in [
            ("ankle-clonus", "sustained", "sustained", "unsustained"),
            ("ankle-clonus", "unsustained", "unsustained", "sustained"),
            ("arm-traction", "no-flexion", "no flexion", "weak flexion"),
        ] {
            let item = of_item(item);
            let value = lexicon().items[item].value(value).unwrap();
            let others = lexicon().other_values(item, value, &Utterance::from_text(words).words);
            assert!(others.contains(&other), "{words}: {others:?}");
            assert!(!others.contains(&words), "{words}: {others:?}");
        }
    }

    #[test]
    fn sides_and_denials_are_known() {
        let words = |said: &str| Utterance::from_text(said).words;
        for (said, other) in [("left", Some("right")), ("Right.", Some("left")), ("both", None), ("clonus", None)] {
            assert_eq!(lexicon().other_side(&words(said)), other, "{said}");
        }
        assert_eq!(lexicon().other_side(&words("left, right")), None);
        assert!(lexicon().denies(&words("no")) && lexicon().denies(&words("not")) && !lexicon().denies(&words("left")));
    }
}

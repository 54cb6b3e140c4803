//! Words that sound like a name of the trade, though they are written otherwise.
//! Takes the words that no exact phrase covers; gives mentions of item names whose sounds lie near, with their closeness.
//! Leaves alone small words (sides, negation, numbers): one slip there reverses the meaning.
//!
//! "font on L" gives "fontanelle"

use crate::lexicon::compile::{Lexicon, Meaning, Phrase};
use crate::lexicon::mentions::{How, Mention, Said};
use crate::speech::{Stop, Word};

/// Names shorter than this many sounds are matched exactly or not at all.
const LEAST_SOUNDS: usize = 5;
/// Names of more sounds than this are long enough to be told by their parts.
const LONGEST: usize = 32;
/// Windows of up to this many words are compared.
const WIDEST: usize = 3;
/// Closeness needed, 0 to 1.
const NEAR_ENOUGH: f32 = 0.74;
/// By how much the best item must lead over another item.
const LEAD: f32 = 0.06;

/// Names by their sounds.
#[derive(Debug)]
pub struct SoundIndex {
    names: Vec<Name>,
    /// First consonant and number of sounds → names: a recogniser seldom mistakes the onset of a word.
    by_onset: Vec<Vec<u32>>,
}

/// A name by its sounds.
#[derive(Debug)]
struct Name {
    sounds: Vec<u8>,
    /// Its different pairs of neighbouring consonants.
    pairs: Vec<(u8, u8)>,
    /// Its place in the lexicon's phrases.
    phrase: usize,
}

impl SoundIndex {
    /// An index over the names among the phrases.
    #[must_use]
    pub fn new(phrases: &[Phrase]) -> Self {
        let mut index = Self { names: Vec::new(), by_onset: vec![Vec::new(); shelf(256, 0)] };
        for (ix, phrase) in phrases.iter().enumerate().filter(|(_, phrase)| !phrase.misheard) {
            if phrase.meanings.iter().any(|m| matches!(m, Meaning::Name(_))) {
                index.add(ix, &phrase.text);
            }
        }
        index
    }

    fn add(&mut self, phrase: usize, text: &str) {
        let sounds = sounds_of(text);
        if !(LEAST_SOUNDS..=LONGEST).contains(&sounds.len()) {
            return;
        }
        let pairs = pairs_of(&sounds);
        let Some(onset) = pairs.first().map(|(_, onset)| usize::from(*onset)) else { return };
        self.by_onset[shelf(onset, sounds.len())].push(self.names.len() as u32);
        self.names.push(Name { sounds, pairs, phrase });
    }

    /// Names that stretches of the words sound like, where at least one word is unknown and no name stands already.
    #[must_use]
    pub fn near(&self, lexicon: &Lexicon, words: &[Word], exact: &[Mention]) -> Vec<Mention> {
        let unknown: Vec<bool> = words.iter().map(|word| !is_known(lexicon, word)).collect();
        if !unknown.contains(&true) {
            return Vec::new();
        }
        let mut covered = vec![false; words.len()];
        for mention in exact {
            let is_number = matches!(mention.said, Said::Quantity(_));
            if is_number || mention.meanings(lexicon).iter().any(|m| matches!(m, Meaning::Name(_) | Meaning::Shared(_)))
            {
                covered[mention.first..mention.past].fill(true);
            }
        }
        let mut found: Vec<(f32, Mention)> = Vec::new();
        for first in 0..words.len() {
            for past in first + 1..=words.len().min(first + WIDEST) {
                let crosses = words[first..past - 1].iter().any(|word| word.stop >= Stop::Pause);
                if covered[past - 1] || crosses {
                    break;
                }
                // A window begins or ends with the odd word: its neighbours belong to it only together.
                if (unknown[first] || unknown[past - 1])
                    && let Some((closeness, ix)) = self.best(lexicon, &words[first..past])
                {
                    let how = How::Sound(closeness);
                    found.push((closeness, Mention { first, past, said: Said::Phrase(ix), how }));
                }
            }
        }
        keep_best(found)
    }

    /// Pairs of names of different items, by their places in the phrases, that sound at least as alike as a window must
    /// sound like a name, with their closeness.
    pub(super) fn near_pairs(&self, lexicon: &Lexicon) -> Vec<(usize, usize, f32)> {
        let mut pairs = Vec::new();
        for name in &self.names {
            for other in candidates(self, &name.sounds) {
                if other.phrase <= name.phrase || same_item(lexicon, name.phrase, other.phrase) {
                    continue;
                }
                let longest = name.sounds.len().max(other.sounds.len()) as f32;
                if let Some(distance) = distance(&name.sounds, &other.sounds, (1.0 - NEAR_ENOUGH) * longest) {
                    pairs.push((name.phrase, other.phrase, 1.0 - distance / longest));
                }
            }
        }
        pairs
    }

    fn best(&self, lexicon: &Lexicon, words: &[Word]) -> Option<(f32, usize)> {
        let mut sounds = Vec::with_capacity(24);
        words.iter().for_each(|word| sound_out(&word.plain, &mut sounds));
        if sounds.len() < LEAST_SOUNDS - 1 || sounds.len() > LONGEST {
            return None;
        }
        let mut best: Option<(f32, usize)> = None;
        let mut second = 0.0_f32;
        for name in candidates(self, &sounds) {
            let longest = sounds.len().max(name.sounds.len()) as f32;
            // Only closeness that could still be enough, or could contest the best, is worth working out.
            let most = (1.0 - (NEAR_ENOUGH - LEAD)) * longest;
            let Some(distance) = distance(&sounds, &name.sounds, most) else { continue };
            let closeness = 1.0 - distance / longest;
            match best {
                Some((known, at)) if closeness > known => {
                    if !same_item(lexicon, at, name.phrase) {
                        second = known;
                    }
                    best = Some((closeness, name.phrase));
                }
                Some((_, at)) if closeness > second && !same_item(lexicon, at, name.phrase) => second = closeness,
                None => best = Some((closeness, name.phrase)),
                Some(_) => {}
            }
        }
        best.filter(|(closeness, _)| *closeness >= NEAR_ENOUGH && closeness - second >= LEAD)
    }
}

fn is_known(lexicon: &Lexicon, word: &Word) -> bool {
    word.plain.len() < 2
        || word.plain.starts_with(|c: char| c.is_ascii_digit())
        || lexicon.near_spelling.knows(&word.plain)
}

/// Names of like length and onset that share at least two thirds of their pairs of consonants, in order.
fn candidates<'a>(index: &'a SoundIndex, sounds: &[u8]) -> impl Iterator<Item = &'a Name> {
    let pairs = pairs_of(sounds);
    let onset = pairs.first().map_or(0, |(_, onset)| usize::from(*onset));
    let (length, reach) = (sounds.len(), sounds.len() / 4 + 1);
    let lengths = length.saturating_sub(reach)..=(length + reach).min(LONGEST);
    let near = lengths.flat_map(move |length| &index.by_onset[shelf(onset, length)]);
    near.map(|at| &index.names[*at as usize]).filter(move |name| {
        3 * name.pairs.iter().filter(|pair| pairs.contains(pair)).count() >= 2 * name.pairs.len().max(pairs.len())
    })
}

fn shelf(onset: usize, length: usize) -> usize {
    onset * (LONGEST + 1) + length
}

/// Pairs of neighbouring consonants, alike ones taken as one, each once.
fn pairs_of(sounds: &[u8]) -> Vec<(u8, u8)> {
    let mut pairs = Vec::with_capacity(sounds.len());
    let mut before = b'^';
    for sound in sounds.iter().copied().filter(|sound| !is_vowel(*sound) && *sound != b'h').chain([b'$']) {
        let sound = ALIKE.iter().find(|group| group.contains(&sound)).map_or(sound, |group| group[0]);
        if !pairs.contains(&(before, sound)) {
            pairs.push((before, sound));
        }
        before = sound;
    }
    pairs
}

fn same_item(lexicon: &Lexicon, a: usize, b: usize) -> bool {
    let items = |ix: usize| lexicon.phrases[ix].meanings.iter().filter(|m| matches!(m, Meaning::Name(_)));
    items(a).any(|item| items(b).any(|other| item == other))
}

// Of overlapping windows the closest one stands; the earlier one where two are equal.
fn keep_best(mut found: Vec<(f32, Mention)>) -> Vec<Mention> {
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.first.cmp(&b.1.first)));
    let mut kept: Vec<Mention> = Vec::new();
    for (_, mention) in found {
        if kept.iter().all(|other| mention.past <= other.first || other.past <= mention.first) {
            kept.push(mention);
        }
    }
    kept
}

/// How far apart two rows of sounds are; nothing where it is more than `most`.
fn distance(a: &[u8], b: &[u8], most: f32) -> Option<f32> {
    let mut row = [0.0_f32; LONGEST + 1];
    let row = row.get_mut(..=b.len())?;
    for (j, y) in b.iter().enumerate() {
        row[j + 1] = row[j] + gap_cost(*y);
    }
    for x in a {
        let mut diagonal = row[0];
        row[0] += gap_cost(*x);
        let mut least = row[0];
        for (j, y) in b.iter().enumerate() {
            let change = diagonal + change_cost(*x, *y);
            diagonal = row[j + 1];
            row[j + 1] = change.min(diagonal + gap_cost(*x)).min(row[j] + gap_cost(*y));
            least = least.min(row[j + 1]);
        }
        if least > most {
            return None;
        }
    }
    row.last().copied().filter(|distance| *distance <= most)
}

fn gap_cost(sound: u8) -> f32 {
    if is_vowel(sound) || sound == b'h' || sound == b'r' { 0.6 } else { 1.0 }
}

fn is_vowel(sound: u8) -> bool {
    matches!(sound, b'a' | b'e' | b'i' | b'o' | b'u')
}

/// Sounds that recognisers take for one another.
const ALIKE: [&[u8]; 8] = [b"pb", b"td", b"kg", b"fv", b"szSZ", b"mn", b"lr", b"SCJ"];

fn change_cost(a: u8, b: u8) -> f32 {
    if a == b {
        0.0
    } else if is_vowel(a) && is_vowel(b) {
        0.35
    } else if ALIKE.iter().any(|group| group.contains(&a) && group.contains(&b)) {
        0.45
    } else {
        1.0
    }
}

/// Letters that make one sound, longest first; from general knowledge of English spelling, no source.
const SOUNDS: [(&str, &str); 46] = [
    ("tion", "Sn"),
    ("sion", "Sn"),
    ("ough", "o"),
    ("augh", "o"),
    ("eigh", "e"),
    ("tch", "C"),
    ("sch", "sk"),
    ("igh", "i"),
    ("ph", "f"),
    ("sh", "S"),
    ("ch", "C"),
    ("th", "T"),
    ("ck", "k"),
    ("wh", "w"),
    ("kn", "n"),
    ("gn", "n"),
    ("wr", "r"),
    ("ps", "s"),
    ("qu", "kw"),
    ("gh", ""),
    ("ce", "se"),
    ("ci", "si"),
    ("cy", "si"),
    ("ge", "Je"),
    ("gi", "Ji"),
    ("gy", "Ji"),
    ("dg", "J"),
    ("ee", "i"),
    ("ea", "i"),
    ("oo", "u"),
    ("ou", "u"),
    ("ow", "o"),
    ("ai", "e"),
    ("ay", "e"),
    ("ei", "e"),
    ("ie", "i"),
    ("oa", "o"),
    ("au", "o"),
    ("aw", "o"),
    ("ew", "u"),
    ("ae", "e"),
    ("oe", "e"),
    ("x", "ks"),
    ("c", "k"),
    ("q", "k"),
    ("j", "J"),
];

/// The sounds of words, spaces left out, doubled sounds once.
fn sounds_of(text: &str) -> Vec<u8> {
    let mut sounds: Vec<u8> = Vec::with_capacity(text.len());
    text.split(' ').for_each(|word| sound_out(word, &mut sounds));
    sounds
}

fn sound_out(word: &str, sounds: &mut Vec<u8>) {
    let mut rest = word;
    while let Some(c) = rest.chars().next() {
        if let Some((letters, sound)) = SOUNDS.iter().find(|(letters, _)| rest.starts_with(letters)) {
            sound.bytes().for_each(|sound| push(sounds, sound));
            rest = &rest[letters.len()..];
            continue;
        }
        rest = &rest[c.len_utf8()..];
        match c {
            'y' => push(sounds, b'i'),
            // A closing "e" is silent.
            'e' if rest.is_empty() && word.len() > 3 => {}
            'a'..='z' => push(sounds, c as u8),
            _ => {}
        }
    }
}

fn push(sounds: &mut Vec<u8>, sound: u8) {
    if sounds.last() != Some(&sound) {
        sounds.push(sound);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alike(a: &str, b: &str) -> f32 {
        let (a, b) = (sounds_of(a), sounds_of(b));
        let longest = a.len().max(b.len()) as f32;
        distance(&a, &b, longest).map_or(0.0, |distance| 1.0 - distance / longest)
    }

    #[test]
    fn what_sounds_alike_is_close() {
        for (heard, said) in [
            ("pop light lingual", "popliteal"),
            ("font on elle", "fontanelle"),
            ("palmer grass", "palmar grasp"),
            ("heads are conference", "head circumference"),
            ("bisects", "biceps"),
        ] {
            assert!(alike(heard, said) > 0.6, "{heard} / {said}: {}", alike(heard, said));
        }
        for (heard, other) in [("the weather today", "scarf sign"), ("suture", "scarf sign"), ("galant", "clonus")] {
            assert!(alike(heard, other) < NEAR_ENOUGH - LEAD, "{heard} / {other}: {}", alike(heard, other));
        }
    }
}

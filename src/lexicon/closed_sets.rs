//! Phrases told by little sound, where few could have been said.
//! Takes an utterance by its sounds; gives, beside an item named without a result, the value of that item, and beside a result
//! without an item, the name of an item that can have it, that the words not yet understood sound like. As few phrases can
//! stand there, less closeness is asked than of all phrases. Leaves alone words that say something already.
//!
//! "palmar grasp pubsent" gives "absent", one of the values of palmar-grasp

use crate::lexicon::compile::{Item, ItemIx, Lexicon, Meaning, Phrase, ValueIx};
use crate::lexicon::item_set::ItemSet;
use crate::lexicon::mentions::Mention;
use crate::lexicon::phonemes::{LONGEST, distance, weight_of};
use crate::lexicon::sounded::Line;

/// Phrases of fewer sounds are matched exactly or not at all.
const LEAST_SOUNDS: usize = 3;
/// Windows of up to this many words are compared.
const WIDEST: usize = 4;
/// A phrase that weighs no more than three consonants is short.
const SHORT: u32 = 300;
/// By how many hundredths of a consonant the best must lead over what says something else.
const LEAD: u32 = 30;
/// Closeness needed, chosen by a sweep over transcripts of synthetic voices by two speech models.
const OF_NAMES: Needed = Needed { short: 0.7, long: 0.62, everyday: 0.75 };
const OF_VALUES: Needed = Needed { short: 0.7, long: 0.62, everyday: 0.72 };

/// The closeness that is needed, 0 to 1.
#[derive(Debug, Clone, Copy)]
struct Needed {
    short: f32,
    long: f32,
    /// Where all words are everyday words.
    everyday: f32,
}

/// Names and values of each item by their sounds.
#[derive(Debug)]
pub(super) struct ClosedSets {
    rows: Vec<Row>,
    names: Shelves,
    values: Shelves,
}

/// For each item its rows, in order of weight.
type Shelves = Vec<Vec<(u32, usize)>>;

/// A phrase by its sounds.
#[derive(Debug)]
pub(super) struct Row {
    pub sounds: Box<[u8]>,
    pub weight: u32,
    /// Its place in the lexicon's phrases.
    pub phrase: usize,
    /// What it says of which items; nothing but the item where it is a name.
    pub says: Vec<(ItemIx, Option<ValueIx>)>,
}

/// Where something is missing.
struct Gap<'a> {
    first: usize,
    past: usize,
    items: ItemSet,
    shelves: &'a Shelves,
    needed: Needed,
}

impl ClosedSets {
    pub(super) fn new(items: usize) -> Self {
        Self { rows: Vec::new(), names: vec![Vec::new(); items], values: vec![Vec::new(); items] }
    }

    /// Takes in a phrase that is told by its sounds.
    pub(super) fn add(&mut self, items: &[Item], place: usize, phrase: &Phrase, sounds: &[u8]) {
        if !phrase.by_sound || !(LEAST_SOUNDS..=LONGEST).contains(&sounds.len()) {
            return;
        }
        let mut says = Vec::new();
        for meaning in &phrase.meanings {
            match meaning {
                Meaning::Name(item) | Meaning::Shared(item) => {
                    says.extend(items[*item].members.iter().chain([item]).map(|item| (*item, None)));
                }
                Meaning::Value(item, value, _) => says.push((*item, Some(*value))),
                Meaning::General(general) => {
                    let of = |(ix, item): (usize, &Item)| Some((ix, Some(item.by_general[*general as usize]?)));
                    says.extend(items.iter().enumerate().filter_map(of));
                }
                Meaning::DoneBy(_) | Meaning::Body(_) => {}
                // A side or a denial is never told by little sound: one slip there reverses the meaning.
                Meaning::Word(_) | Meaning::Never => return,
            }
        }
        says.sort_unstable();
        says.dedup();
        let (row, weight) = (self.rows.len(), weight_of(sounds));
        // "Recoil absent" may stand for the arm's and the leg's; what names an item is no result of another.
        let is_name = says.iter().any(|(_, value)| value.is_none());
        says.retain(|(_, value)| value.is_none() == is_name);
        for (item, _) in &says {
            let shelves = if is_name { &mut self.names } else { &mut self.values };
            shelves[*item].push((weight, row));
        }
        self.rows.push(Row { sounds: sounds.into(), weight, phrase: place, says });
    }

    /// Every phrase that is told by its sounds.
    pub(super) fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Puts all rows in order.
    pub(super) fn settle(&mut self) {
        for shelf in self.names.iter_mut().chain(&mut self.values) {
            shelf.sort_unstable();
            shelf.dedup();
        }
    }

    /// What is missing in the line, besides what was `found` by sound already.
    pub(super) fn near(&self, lexicon: &Lexicon, line: &Line, found: &[Mention]) -> Vec<Mention> {
        let mut near: Vec<Mention> = Vec::new();
        for (first, past, items) in line.wanting(lexicon) {
            let gap = Gap { first, past, items, shelves: &self.values, needed: OF_VALUES };
            let gives = |other: &Mention| other.gist(lexicon).is_some_and(|gist| gist.values.shares(&gap.items));
            if !found.iter().any(gives) {
                near.extend(self.fill(lexicon, line, &gap, found));
            }
        }
        for (first, past, items) in line.nameless() {
            let gap = Gap { first, past, items, shelves: &self.names, needed: OF_NAMES };
            let beside = |other: &&Mention| other.first < past && first < other.past;
            let is_name = |other: &Mention| other.gist(lexicon).is_some_and(|gist| gist.names);
            if !found.iter().chain(&near).filter(beside).any(is_name) {
                near.extend(self.fill(lexicon, line, &gap, found));
            }
        }
        near
    }

    // The stretch that explains most of the sounds in the gap.
    fn fill(&self, lexicon: &Lexicon, line: &Line, gap: &Gap, found: &[Mention]) -> Option<Mention> {
        let is_taken = |at: usize| found.iter().any(|mention| mention.first <= at && at < mention.past);
        let mut best: Option<(f32, Mention)> = None;
        for first in gap.first..gap.past {
            for past in first + 1..=gap.past.min(first + WIDEST) {
                if !line.is_free(past - 1) || is_taken(past - 1) {
                    break;
                }
                let is_strange = (first..past).any(|at| line.is_strange(lexicon, at));
                let Some((closeness, row)) = self.best(line.sounds(first, past), gap, is_strange) else { continue };
                let explained = (closeness - 0.5) * row.weight as f32;
                if best.as_ref().is_none_or(|(known, _)| explained > *known) {
                    best = Some((explained, Mention::sounding(first, past, row.phrase, closeness)));
                }
            }
        }
        best.map(|(_, mention)| mention)
    }

    // The row that the sounds are nearest to, with its closeness, if nothing that says otherwise is nearly as near.
    fn best(&self, sounds: &[u8], gap: &Gap, is_strange: bool) -> Option<(f32, &Row)> {
        if !(LEAST_SOUNDS..=LONGEST).contains(&sounds.len()) {
            return None;
        }
        let (weight, least) = (weight_of(sounds), gap.needed.long);
        let (lightest, heaviest) = ((weight as f32 * least) as u32, (weight as f32 / least) as u32);
        let mut close: Vec<(u32, &Row)> = Vec::new();
        for item in gap.items.iter() {
            let rows = &gap.shelves[item];
            let from = rows.partition_point(|(weight, _)| *weight < lightest);
            for (_, row) in rows[from..].iter().take_while(|(weight, _)| *weight <= heaviest) {
                let row = &self.rows[*row];
                let most = ((1.0 - least) * weight.max(row.weight) as f32) as u32 + LEAD;
                let apart = distance((sounds, weight), (&row.sounds, row.weight), most);
                close.extend(apart.map(|apart| (apart, row)));
            }
        }
        let (apart, row) = *close.iter().min_by_key(|(apart, row)| (*apart, row.phrase))?;
        let heavier = weight.max(row.weight);
        let closeness = 1.0 - apart as f32 / heavier as f32;
        let needed = if heavier <= SHORT { gap.needed.short } else { gap.needed.long };
        let agrees = |other: &Row| row.says.iter().any(|said| gap.items.contains(said.0) && other.says.contains(said));
        let contested = close.iter().any(|(other, of)| *other < apart + LEAD && !agrees(of));
        (closeness >= needed && (is_strange || closeness >= gap.needed.everyday) && !contested)
            .then_some((closeness, row))
    }
}

#[cfg(test)]
mod tests {
    use crate::lexicon::{Hearing, Lexicon, mentions_heard};
    use crate::speech::Utterance;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// Whether the words are taken for the phrase where the narration was heard so.
    fn is_told(said: &str, words: &str, phrase: &str, hearing: Hearing) -> bool {
        let utterance = Utterance::from_text(said);
        let mentions = mentions_heard(lexicon(), &utterance, hearing);
        mentions.iter().any(|mention| {
            let plain: Vec<&str> =
                utterance.words[mention.first..mention.past].iter().map(|w| w.plain.as_str()).collect();
            plain.join(" ") == words && mention.phrase(lexicon()).is_some_and(|known| known.text == phrase)
        })
    }

    #[test]
    fn what_is_missing_is_told_by_little_sound_where_hearing_was_poor() {
        for (said, words, phrase) in [
            ("Plantar grasp pubsent.", "pubsent", "absent"),
            ("Arm recoil solo on the right.", "solo", "slow"),
            ("Tendon reflexes risk throughout.", "risk", "brisk"),
            ("Orcusefalix present", "orcusefalix", "oculocephalic"),
        ] {
            let told = [Hearing::Poorly, Hearing::Well].map(|hearing| is_told(said, words, phrase, hearing));
            assert_eq!(told, [true, false], "{said}");
        }
    }

    #[test]
    fn what_is_said_already_and_what_sounds_otherwise_stay() {
        for (said, words, phrase) in [
            ("Plantar grasp present, pubsent.", "pubsent", "absent"),
            ("Plantar grasp bicycle.", "bicycle", "absent"),
            ("Suck weak, thank you.", "thank you", "suck"),
        ] {
            assert!(!is_told(said, words, phrase, Hearing::Poorly), "{said}");
        }
    }
}

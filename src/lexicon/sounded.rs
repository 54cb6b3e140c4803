//! An utterance by its sounds.
//! Takes its words with what is known of them and its exact mentions; gives the stretches of words that may have been
//! misheard, and what stands beside them. Leaves alone what they sound like.
//!
//! "planter grasp, left absent" gives "planter", "planter grasp", and not "grasp left"

use std::ops::RangeInclusive;

use crate::lexicon::compile::Lexicon;
use crate::lexicon::english::is_english;
use crate::lexicon::item_set::ItemSet;
use crate::lexicon::mentions::{Mention, Said};
use crate::lexicon::phonemes::{LONGEST, sound_out};
use crate::lexicon::quantities::{Measure, Quantity, Reading};
use crate::lexicon::skeletons::Skeleton;
use crate::lexicon::sound::{SoundIndex, Traits};
use crate::lexicon::vocabulary::Heard;
use crate::speech::{Stop, Word};

/// Windows of up to this many words are compared.
pub(super) const WIDEST: usize = 4;
/// In windows of so many words, all of them English, no consonant may be amiss.
const LOOSE_WIDTH: usize = 3;
/// Windows of fewer sounds are left alone.
const FEWEST: usize = 4;

/// What a word already says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Taken {
    Free,
    /// It names something: it can only be the head of a longer name.
    Named,
    /// It is a side, a negation or a number, which no sound may change.
    Closed,
}

/// An utterance by its sounds.
#[derive(Debug)]
pub(super) struct Line<'a> {
    words: &'a [Word],
    heard: &'a [Heard],
    sounds: Vec<u8>,
    /// Where the sounds of each word begin, and where those of the last one end.
    starts: Vec<usize>,
    taken: Vec<Taken>,
    /// Odd words that are none of English.
    no_word: Vec<bool>,
    /// Words that say a value of an item that is named.
    valued: Vec<bool>,
    /// Whether there is a side, a number or the result of something.
    pub has_result: bool,
    /// Items of which a value is said exactly.
    pub own_values: ItemSet,
    /// Items that it names, by its words or by their sounds.
    pub named: ItemSet,
    /// Whether there is any such item.
    pub names_any: bool,
    /// Whether a phrase of the lexicon holds the word.
    explained: Vec<bool>,
    /// What stands between two commas, in order.
    told: Vec<Told>,
    /// Whether it says exactly a name, a result, or something of an item.
    is_about_something: bool,
}

/// What stands between two commas, by its words or by the sounds of its names.
#[derive(Debug, Default)]
struct Told {
    first: usize,
    past: usize,
    named: ItemSet,
    /// Items of which a value, or a number, is given.
    given: ItemSet,
    /// Whether a word that can be the result of any item, or a number, stands in it.
    has_general: bool,
    /// Whether a sentence ends with it.
    ends: bool,
}

/// A stretch of words that may have been misheard.
#[derive(Debug)]
pub(super) struct Window<'a> {
    pub first: usize,
    pub past: usize,
    /// All its sounds.
    pub sounds: &'a [u8],
    /// Its sounds without those of its head.
    pub own: &'a [u8],
    pub skeleton: Skeleton,
    /// Whether a consonant may be amiss.
    pub loosely: bool,
    /// Words at one end that name something already: "grasp" of "planter grasp".
    head: &'a [Word],
    head_is_last: bool,
}

impl<'a> Line<'a> {
    pub(super) fn new(index: &SoundIndex, words: &'a [Word], heard: &'a [Heard], exact: &[Mention]) -> Self {
        let (mut sounds, mut starts) = (Vec::with_capacity(6 * words.len()), Vec::with_capacity(words.len() + 1));
        let mut no_word = Vec::with_capacity(words.len());
        for (word, heard) in words.iter().zip(heard) {
            starts.push(sounds.len());
            match heard.symbol.map(|symbol| index.sounds_of(symbol)) {
                // Words that do not count are in no phrase.
                None => {}
                Some(Some(known)) => sounds.extend(known),
                Some(None) => sound_out(&word.plain, &mut sounds),
            }
            no_word.push(heard.odd && !is_english(&word.plain));
        }
        starts.push(sounds.len());
        let mut line = Self {
            words,
            heard,
            sounds,
            starts,
            taken: Vec::with_capacity(words.len()),
            no_word,
            valued: vec![false; words.len()],
            has_result: false,
            own_values: ItemSet::default(),
            named: ItemSet::default(),
            names_any: false,
            explained: Vec::new(),
            told: Vec::new(),
            is_about_something: false,
        };
        line.take(index, exact);
        line
    }

    /// Gathers what stands between commas: only what was heard poorly is asked for it.
    pub(super) fn tell(&mut self, lexicon: &Lexicon, index: &SoundIndex, exact: &[Mention]) {
        let mut first = 0;
        for (at, word) in self.words.iter().enumerate() {
            if word.stop > Stop::None || at + 1 == self.words.len() {
                self.told.push(Told { first, past: at + 1, ends: word.stop > Stop::Comma, ..Told::default() });
                first = at + 1;
            }
        }
        self.explained = vec![false; self.words.len()];
        for mention in exact {
            self.explained[mention.first..mention.past].fill(true);
            let Some(told) = self.told_at(mention.first) else { continue };
            match (traits_of(index, mention), &mention.said) {
                (Some(traits), _) => {
                    told.named.extend(&traits.names);
                    told.given.extend(&traits.given);
                    told.has_general |= traits.is_general;
                }
                (None, Said::Quantity(quantity)) => {
                    told.has_general = true;
                    told.given.extend(&measured_by(lexicon, quantity));
                }
                (None, Said::Phrase(_)) => {}
            }
        }
    }

    fn told_at(&mut self, word: usize) -> Option<&mut Told> {
        let at = self.told.partition_point(|told| told.past <= word);
        self.told.get_mut(at)
    }

    fn take(&mut self, index: &SoundIndex, exact: &[Mention]) {
        self.taken.extend(self.heard.iter().map(|word| if word.small { Taken::Closed } else { Taken::Free }));
        self.has_result = self.heard.iter().any(|word| word.small);
        for mention in exact {
            let words = &mut self.taken[mention.first..mention.past];
            let Some(traits) = traits_of(index, mention) else {
                words.fill(Taken::Closed);
                self.has_result = true;
                continue;
            };
            if !traits.names.is_empty() {
                words.iter_mut().for_each(|taken| *taken = (*taken).max(Taken::Named));
                self.named.extend(&traits.names);
            }
            self.own_values.extend(&traits.values);
            self.has_result |= traits.is_result;
        }
        for mention in exact {
            let of_named = traits_of(index, mention)
                .is_some_and(|traits| traits.names.is_empty() && traits.given.shares(&self.named));
            self.valued[mention.first..mention.past].iter_mut().for_each(|valued| *valued |= of_named);
        }
        self.is_about_something = self.has_result || !self.named.is_empty() || !self.own_values.is_empty();
    }

    pub(super) fn len(&self) -> usize {
        self.words.len()
    }

    /// Whether one of so many words is odd.
    pub(super) fn is_odd_within(&self, first: usize, width: usize) -> bool {
        self.heard[first..].iter().take(width).any(|word| word.odd)
    }

    /// Stretches where a result is given of an item that is not named, each with the items that it can be of: beside the
    /// result, or before the comma in front of it.
    pub(super) fn nameless(&self) -> Vec<(usize, usize, ItemSet)> {
        let mut nameless = Vec::new();
        for (at, told) in self.told.iter().enumerate().filter(|(_, told)| !told.given.is_empty()) {
            let before = at.checked_sub(1).map(|at| &self.told[at]).filter(|before| !before.ends);
            if told.named.is_empty() && before.is_none_or(|before| before.named.is_empty()) {
                let before = before.filter(|before| before.given.is_empty() && !before.has_general);
                nameless.push((before.unwrap_or(told).first, told.past, told.given.clone()));
            }
        }
        nameless
    }

    /// Whether a window may run up to `past`.
    pub(super) fn goes_on(&self, first: usize, past: usize) -> bool {
        self.taken[past - 1] < Taken::Closed && (past == first + 1 || self.words[past - 2].stop < Stop::Pause)
    }

    /// The window, where it may have been misheard: it begins or ends with an odd word, since the neighbours of one belong
    /// to it only together, what it names already stands at one end, and one of the widest holds what is no word at all.
    pub(super) fn window(&self, first: usize, past: usize) -> Option<Window<'_>> {
        if !(self.heard[first].odd || self.heard[past - 1].odd) {
            return None;
        }
        // Words that all are English need something that speaks for another reading.
        let misheard = self.no_word[first..past].contains(&true);
        if !misheard && (past - first == WIDEST || !self.is_about_something) {
            return None;
        }
        let sounds = self.sounds.get(self.starts[first]..self.starts[past])?;
        let named = self.taken[first..past].iter().filter(|taken| **taken == Taken::Named).count();
        let head_is_last = self.taken[past - 1] == Taken::Named;
        let (from, to) = if head_is_last { (past - named, past) } else { (first, first + named) };
        let counts = self.heard[first].symbol.is_some() && self.heard[past - 1].symbol.is_some();
        let at_one_end = self.taken[from..to].iter().all(|taken| *taken == Taken::Named);
        if !(FEWEST..=LONGEST).contains(&sounds.len()) || !counts || !at_one_end || to - from == past - first {
            return None;
        }
        let (own_from, own_to) = if head_is_last { (first, from) } else { (to, past) };
        let own = self.sounds.get(self.starts[own_from]..self.starts[own_to])?;
        let head = self.words.get(from..to)?;
        Some(Window {
            first,
            past,
            sounds,
            own,
            skeleton: Skeleton::of(sounds),
            loosely: misheard || past - first < LOOSE_WIDTH,
            head,
            head_is_last,
        })
    }

    /// Whether a word of the window already says a value of what the line names: "weak fleaks" behind "arm traction".
    pub(super) fn has_value(&self, window: &Window) -> bool {
        self.valued[window.first..window.past].contains(&true)
    }

    /// Whether a word of the window is none of English.
    pub(super) fn has_no_word(&self, window: &Window) -> bool {
        self.no_word[window.first..window.past].contains(&true)
    }

    /// Takes in what was found by sound: its items are named, its words left out of every further window.
    pub(super) fn close(&mut self, index: &SoundIndex, mentions: &[Mention]) {
        for mention in mentions {
            self.taken[mention.first..mention.past].fill(Taken::Closed);
            if let Some(traits) = traits_of(index, mention) {
                self.named.extend(&traits.names);
                if let Some(told) = self.told_at(mention.first) {
                    told.named.extend(&traits.names);
                }
            }
        }
        self.names_any = !self.named.is_empty();
    }

    /// Stretches where an item is named without a result, each with those items: beside the name, or behind the next comma.
    pub(super) fn wanting(&self, lexicon: &Lexicon) -> Vec<(usize, usize, ItemSet)> {
        let mut wanting = Vec::new();
        for (at, told) in self.told.iter().enumerate().filter(|(_, told)| !told.named.is_empty() && !told.has_general) {
            let mut wanted = ItemSet::default();
            for item in told.named.iter() {
                let members = &lexicon.items[item].members;
                let open = members.iter().chain([&item]).filter(|item| !self.own_values.contains(**item));
                open.for_each(|item| wanted.add(*item));
            }
            let next = self.told.get(at + 1).filter(|next| !told.ends && next.named.is_empty() && !next.has_general);
            if !wanted.is_empty() {
                wanting.push((told.first, next.map_or(told.past, |next| next.past), wanted));
            }
        }
        wanting
    }

    /// Whether the word counts and says nothing that no sound may change.
    pub(super) fn is_free(&self, at: usize) -> bool {
        self.taken[at] == Taken::Free && self.heard[at].symbol.is_some()
    }

    /// Whether neither the lexicon nor everyday talk explains the word.
    pub(super) fn is_strange(&self, lexicon: &Lexicon, at: usize) -> bool {
        !self.explained[at] && !lexicon.is_plain(&self.words[at].plain)
    }

    /// The sounds of a stretch.
    pub(super) fn sounds(&self, first: usize, past: usize) -> &[u8] {
        self.sounds.get(self.starts[first]..self.starts[past]).unwrap_or(&[])
    }
}

// Items that a number can be of.
fn measured_by(lexicon: &Lexicon, quantity: &Quantity) -> ItemSet {
    let reads = |measure: &Measure| matches!(quantity.read_as(measure), Reading::Is(amount) if !amount.outside);
    let mut items = ItemSet::default();
    let measured = lexicon.measured.iter().filter(|item| lexicon.items[**item].measure.as_ref().is_some_and(reads));
    measured.for_each(|item| items.add(*item));
    items
}

fn traits_of<'a>(index: &'a SoundIndex, mention: &Mention) -> Option<&'a Traits> {
    match mention.said {
        Said::Phrase(phrase) => index.traits(phrase),
        Said::Quantity(_) => None,
    }
}

impl Window<'_> {
    pub(super) fn has_head(&self) -> bool {
        !self.head.is_empty()
    }

    /// What a phrase may weigh to be so close at least, where the window's own sounds weigh `weight`.
    pub(super) fn weights(&self, weight: u32, closeness: f32) -> RangeInclusive<u16> {
        match self.has_head() {
            true => 0..=u16::MAX,
            false => (weight as f32 * closeness) as u16..=(weight as f32 / closeness) as u16 + 1,
        }
    }

    /// Whether a phrase ends, or begins, with the words of the head.
    pub(super) fn shares_head(&self, phrase: &str) -> bool {
        let head = self.head.iter().map(|word| word.plain.as_str());
        if self.head_is_last {
            head.rev().zip(phrase.rsplit(' ')).all(|(word, other)| word == other)
        } else {
            head.zip(phrase.split(' ')).all(|(word, other)| word == other)
        }
    }

    /// The sounds of a phrase without those that the head takes up.
    pub(super) fn without_head<'b>(&self, sounds: &'b [u8]) -> &'b [u8] {
        let head = self.sounds.len() - self.own.len();
        let rest = sounds.len().saturating_sub(head);
        if self.head_is_last { &sounds[..rest] } else { &sounds[sounds.len() - rest..] }
    }
}

//! Words that sound like a phrase of the trade, though they are written otherwise.
//! Takes the words of an utterance with its exact mentions; gives mentions of names whose sounds lie near, and of values
//! beside the name of their item, each with its closeness. Leaves alone small words (sides, negation, numbers): one slip
//! there reverses the meaning.
//!
//! "font on L" gives "fontanelle"; "planter grasp" gives "plantar grasp"

use crate::lexicon::closed_sets::{ClosedSets, Row};
use crate::lexicon::compile::{Item, Lexicon, Meaning, Phrase, Strength};
use crate::lexicon::hearing::Hearing;
use crate::lexicon::item_set::ItemSet;
use crate::lexicon::mentions::{How, Mention, Said};
use crate::lexicon::phonemes::{LONGEST, distance, sound_out, weight_of};
use crate::lexicon::skeletons::{Skeleton, Skeletons};
use crate::lexicon::sounded::{Line, WIDEST, Window};
use crate::lexicon::vocabulary::{Heard, Symbol, Vocabulary};
use crate::speech::Word;

/// Names of fewer sounds need a value of their item in the utterance.
const SHORT: usize = 5;
/// Names of fewer sounds are matched exactly or not at all.
const LEAST_SOUNDS: usize = 4;
/// Values of fewer sounds are matched exactly or not at all.
const LEAST_OF_VALUES: usize = 6;
/// Names and values of fewer consonants must have all of them heard.
const FEWEST_OF_NAMES: u32 = 3;
const FEWEST_OF_VALUES: u32 = 5;
/// Closeness needed, 0 to 1; these figures did best on transcripts of synthetic voices by two speech models.
const ALONE: f32 = 0.84;
/// Closeness needed beside a side, a number or a result.
const BESIDE_RESULT: f32 = 0.78;
/// Closeness needed of what is said beside the word that both share: "planter" in "planter grasp".
const BESIDE_HEAD: f32 = 0.72;
/// Closeness needed beside a value of the same item.
const BESIDE_OWN_VALUE: f32 = 0.66;
/// Closeness needed of a value.
const OF_VALUE: f32 = 0.85;
/// How much less is needed where a word is none of English: it was surely misheard.
const NO_WORD: f32 = 0.08;
/// By how many hundredths of a consonant the best item must lead over another item.
const LEAD: u32 = 40;
/// From this closeness on two names are taken for one another.
const ALIKE: f32 = 0.5;

/// Names by their sounds.
#[derive(Debug)]
pub struct SoundIndex {
    names: Shelf,
    values: Shelf,
    closed_sets: ClosedSets,
    /// Sounds of the lexicon's own words, by their symbols.
    words: Vec<Box<[u8]>>,
    /// What the phrases say, by their place in the lexicon.
    said: Vec<Traits>,
}

/// What a phrase says, as far as sounds are concerned.
#[derive(Debug, Default)]
pub(super) struct Traits {
    /// Items that it names.
    pub names: ItemSet,
    /// Items of which it gives a value.
    pub values: ItemSet,
    /// Items of which it gives a value, by general words too.
    pub given: ItemSet,
    /// Whether it can be the result of something, or a side.
    pub is_result: bool,
    /// Whether it can be the result of any item.
    pub is_general: bool,
}

/// Phrases of a kind by their sounds.
#[derive(Debug)]
struct Shelf {
    phrases: Vec<Sounded>,
    skeletons: Skeletons,
}

/// A phrase by its sounds.
#[derive(Debug)]
struct Sounded {
    sounds: Box<[u8]>,
    weight: u32,
    /// Its place in the lexicon's phrases.
    phrase: usize,
    /// Items that it names or gives a value of.
    items: ItemSet,
}

/// The best that a window sounds like.
#[derive(Clone, Copy)]
struct Best<'a> {
    distance: u32,
    closeness: f32,
    sounded: &'a Sounded,
}

impl SoundIndex {
    /// An index over the names and the longer values among the phrases.
    #[must_use]
    pub(super) fn new(items: &[Item], phrases: &[Phrase], vocabulary: &Vocabulary) -> Self {
        let mut words: Vec<Box<[u8]>> = Vec::new();
        let mut closed_sets = ClosedSets::new(items.len());
        let (mut names, mut values, mut said) = (Vec::new(), Vec::new(), Vec::new());
        for (ix, phrase) in phrases.iter().enumerate() {
            said.push(Traits::of(items, phrase));
            let mut sounds = Vec::new();
            for word in phrase.text.split(' ') {
                let symbol = vocabulary.symbol_of(word).map_or(0, usize::from);
                words.resize(words.len().max(symbol + 1), Box::default());
                if words[symbol].is_empty() {
                    let mut alone = Vec::new();
                    sound_out(word, &mut alone);
                    words[symbol] = alone.into();
                }
                sounds.extend(&words[symbol]);
            }
            closed_sets.add(items, ix, phrase, &sounds);
            let (shelf, least) = match kind_of(phrase) {
                Some(Kind::Name) => (&mut names, LEAST_SOUNDS),
                Some(Kind::Value) => (&mut values, LEAST_OF_VALUES),
                None => continue,
            };
            if (least..=LONGEST).contains(&sounds.len()) {
                let items = said.last().map(|traits: &Traits| traits.names.union(&traits.values)).unwrap_or_default();
                shelf.push(Sounded { weight: weight_of(&sounds), sounds: sounds.into(), phrase: ix, items });
            }
        }
        closed_sets.settle();
        let (names, values) = (Shelf::new(names, FEWEST_OF_NAMES), Shelf::new(values, FEWEST_OF_VALUES));
        Self { names, values, closed_sets, words, said }
    }

    /// The sounds of one of the lexicon's own words.
    pub(super) fn sounds_of(&self, symbol: Symbol) -> Option<&[u8]> {
        self.words.get(usize::from(symbol)).map(|sounds| &**sounds).filter(|sounds| !sounds.is_empty())
    }

    /// Every phrase that is told by its sounds.
    pub(super) fn rows(&self) -> &[Row] {
        self.closed_sets.rows()
    }

    /// What a phrase says, by its place in the lexicon.
    pub(super) fn traits(&self, phrase: usize) -> Option<&Traits> {
        self.said.get(phrase)
    }

    /// Phrases that stretches of the words sound like, where at least one word is odd.
    #[must_use]
    pub(super) fn near(
        &self,
        lexicon: &Lexicon,
        (words, hearing): (&[Word], Hearing),
        heard: &[Heard],
        exact: &[Mention],
    ) -> Vec<Mention> {
        let mut line = Line::new(self, words, heard, exact);
        if hearing == Hearing::Poorly {
            line.tell(lexicon, self, exact);
        }
        let mut kept = windows(&line, |window, near| self.name(lexicon, &line, window, near));
        line.close(self, &kept);
        if line.names_any {
            kept.extend(windows(&line, |window, near| self.value(lexicon, &line, window, near)));
        }
        if hearing == Hearing::Poorly {
            kept.extend(self.closed_sets.near(lexicon, &line, &kept));
        }
        kept
    }

    fn name(&self, lexicon: &Lexicon, line: &Line, window: &Window, near: &mut Vec<u32>) -> Option<Best<'_>> {
        if !window.has_head() && line.has_value(window) {
            return None;
        }
        let relief = if line.has_no_word(window) { NO_WORD } else { 0.0 };
        let (needed, asked) = match (window.has_head(), line.own_values.is_empty(), line.has_result) {
            (true, ..) => (BESIDE_HEAD, BESIDE_HEAD),
            (_, false, _) => (BESIDE_OWN_VALUE, BESIDE_OWN_VALUE),
            (.., true) => (BESIDE_OWN_VALUE, BESIDE_RESULT),
            _ => (BESIDE_OWN_VALUE, ALONE),
        };
        self.names.best(lexicon, window, (needed - relief, asked - relief), near, |name| {
            if window.has_head() {
                return Some(BESIDE_HEAD - relief);
            }
            match line.has_result {
                _ if line.own_values.shares(&name.items) => Some(BESIDE_OWN_VALUE - relief),
                _ if name.sounds.len() < SHORT => None,
                true => Some(BESIDE_RESULT - relief),
                false => Some(ALONE - relief),
            }
        })
    }

    fn value(&self, lexicon: &Lexicon, line: &Line, window: &Window, near: &mut Vec<u32>) -> Option<Best<'_>> {
        if window.has_head() {
            return None;
        }
        let needed = if line.has_no_word(window) { OF_VALUE - NO_WORD } else { OF_VALUE };
        let fits = |value: &Sounded| line.named.shares(&value.items).then_some(needed);
        self.values.best(lexicon, window, (needed, needed), near, fits)
    }

    /// Pairs of names of different items, by their places in the phrases, of which one can be heard for the other, with
    /// their closeness.
    pub(super) fn near_pairs(&self, lexicon: &Lexicon) -> Vec<(usize, usize, f32)> {
        let mut pairs = Vec::new();
        let mut near = Vec::new();
        let names =
            |name: &Sounded| lexicon.phrases[name.phrase].meanings.iter().any(|m| matches!(m, Meaning::Name(_)));
        for name in self.names.phrases.iter().filter(|name| names(name)) {
            self.names.skeletons.near(Skeleton::of(&name.sounds), 0..=u16::MAX, true, &mut near);
            let others = near.iter().filter_map(|number| self.names.phrases.get(*number as usize));
            for other in others.filter(|other| other.phrase > name.phrase && names(other) && !share_item(name, other)) {
                if let Some(closeness) = closeness_apart(lexicon, name, other) {
                    pairs.push((name.phrase, other.phrase, closeness));
                }
            }
        }
        pairs
    }
}

impl Shelf {
    fn new(phrases: Vec<Sounded>, fewest: u32) -> Self {
        let rows = phrases.iter().map(|phrase| (Skeleton::of(&phrase.sounds), phrase.weight));
        let skeletons = Skeletons::new(rows, fewest);
        Self { phrases, skeletons }
    }

    // The phrase that a window sounds most like, ahead of every other item's, where it is as close as it must be; `floor` is
    // the least that is asked of any phrase here, `known` how close another must be for the best to be compared with it.
    fn best(
        &self,
        lexicon: &Lexicon,
        window: &Window,
        (known, floor): (f32, f32),
        near: &mut Vec<u32>,
        least: impl Fn(&Sounded) -> Option<f32>,
    ) -> Option<Best<'_>> {
        let weight = weight_of(window.own);
        self.skeletons.near(window.skeleton, window.weights(weight, floor), window.loosely, near);
        let mut best: Option<Best> = None;
        for sounded in near.iter().filter_map(|number| self.phrases.get(*number as usize)) {
            let own = window.without_head(&sounded.sounds);
            let its_weight = if window.has_head() { weight_of(own) } else { sounded.weight };
            let longest = weight.max(its_weight);
            let most = |least: f32| ((1.0 - least) * longest as f32) as u32;
            // Rows whose weights differ by more are further apart than that, whatever their sounds are.
            if weight.abs_diff(its_weight) > most(floor) {
                continue;
            }
            let Some(most) = least(sounded).map(most) else {
                continue;
            };
            let most = best.map_or(most, |best| most.min(best.distance.saturating_sub(1)));
            if its_weight > 0
                && (!window.has_head() || window.shares_head(&lexicon.phrases[sounded.phrase].text))
                && let Some(distance) = distance((window.own, weight), (own, its_weight), most)
            {
                best = Some(Best { distance, closeness: 1.0 - distance as f32 / longest as f32, sounded });
            }
        }
        let best = best?;
        if known < floor {
            self.skeletons.near(window.skeleton, window.weights(weight, known), window.loosely, near);
        }
        (!self.is_contested(lexicon, window, near, &best)).then_some(best)
    }

    // Whether a phrase of another item is nearly as close.
    fn is_contested(&self, lexicon: &Lexicon, window: &Window, near: &[u32], best: &Best) -> bool {
        let weight = weight_of(window.own);
        let others = near.iter().filter_map(|number| self.phrases.get(*number as usize));
        others.filter(|other| !share_item(other, best.sounded)).any(|other| {
            let own = window.without_head(&other.sounds);
            (!window.has_head() || window.shares_head(&lexicon.phrases[other.phrase].text))
                && distance((window.own, weight), (own, weight_of(own)), best.distance + LEAD - 1).is_some()
        })
    }
}

enum Kind {
    Name,
    Value,
}

fn kind_of(phrase: &Phrase) -> Option<Kind> {
    let any = |wanted: fn(&Meaning) -> bool| phrase.by_sound && phrase.meanings.iter().any(wanted);
    if any(|m| matches!(m, Meaning::Name(_) | Meaning::Shared(_))) {
        return Some(Kind::Name);
    }
    let is_value = any(|m| matches!(m, Meaning::Value(_, _, Strength::Say | Strength::Alone)))
        && !any(|m| matches!(m, Meaning::Word(_) | Meaning::General(_) | Meaning::Never));
    is_value.then_some(Kind::Value)
}

// What the best of the windows sound like; windows that hold more of the sounds go first.
fn windows<'a>(line: &Line, mut best: impl FnMut(&Window, &mut Vec<u32>) -> Option<Best<'a>>) -> Vec<Mention> {
    let (mut found, mut near): (Vec<(f32, Mention)>, Vec<u32>) = (Vec::new(), Vec::new());
    for first in (0..line.len()).filter(|first| line.is_odd_within(*first, WIDEST)) {
        for past in first + 1..=line.len().min(first + WIDEST) {
            if !line.goes_on(first, past) {
                break;
            }
            if let Some(window) = line.window(first, past)
                && let Some(best) = best(&window, &mut near)
            {
                let explained = (best.closeness - 0.5) * weight_of(window.sounds) as f32;
                found.push((explained, Mention::sounding(first, past, best.sounded.phrase, best.closeness)));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.first.cmp(&b.1.first)));
    let mut kept: Vec<Mention> = Vec::new();
    for (_, mention) in found {
        if kept.iter().all(|other| mention.past <= other.first || other.past <= mention.first) {
            kept.push(mention);
        }
    }
    kept
}

fn share_item(a: &Sounded, b: &Sounded) -> bool {
    a.items.shares(&b.items)
}

impl Traits {
    fn of(items: &[Item], phrase: &Phrase) -> Self {
        let mut traits = Self::default();
        for meaning in &phrase.meanings {
            match meaning {
                Meaning::Name(item) | Meaning::Shared(item) => traits.names.add(*item),
                Meaning::Value(item, _, strength) => {
                    traits.values.add(*item);
                    if *strength != Strength::Loose {
                        traits.given.add(*item);
                        traits.is_result = true;
                    }
                }
                Meaning::General(general) => {
                    (traits.is_result, traits.is_general) = (true, true);
                    let declare = |(_, item): &(usize, &Item)| item.general.contains_key(general);
                    items.iter().enumerate().filter(declare).for_each(|(ix, _)| traits.given.add(ix));
                }
                _ => {}
            }
        }
        traits
    }
}

// How alike two names are apart from the words that both have; nothing where one is the other's inflection or they are
// not alike enough.
fn closeness_apart(lexicon: &Lexicon, one: &Sounded, other: &Sounded) -> Option<f32> {
    let longest = one.weight.max(other.weight);
    let most = ((1.0 - ALIKE) * longest as f32) as u32;
    let distance = distance((&one.sounds, one.weight), (&other.sounds, other.weight), most)?;
    let (a, b) = (&lexicon.phrases[one.phrase].text, &lexicon.phrases[other.phrase].text);
    let differ = a.split(' ').zip(b.split(' ')).filter(|(a, b)| a != b);
    let inflected = a.split(' ').count() == b.split(' ').count()
        && differ.clone().all(|(a, b)| a.starts_with(b) || b.starts_with(a));
    let own: usize = differ.map(|(a, b)| a.len().max(b.len())).sum();
    let share = own as f32 / a.len().max(b.len()) as f32;
    let closeness = 1.0 - distance as f32 / (longest as f32 * share.clamp(0.1, 1.0));
    (!inflected && closeness >= ALIKE).then_some(closeness)
}

impl Mention {
    pub(super) fn sounding(first: usize, past: usize, phrase: usize, closeness: f32) -> Self {
        Self { first, past, said: Said::Phrase(phrase), how: How::Sound(closeness) }
    }
}

impl Lexicon {
    /// Phrases worth favouring when speech is heard: names of items, those that are told by their sounds, and the
    /// attention word.
    #[must_use]
    pub fn phrases_to_favour(&self) -> Vec<String> {
        let wanted = |phrase: &&Phrase| {
            phrase.by_sound
                && phrase.meanings.iter().any(|m| matches!(m, Meaning::Name(_) | Meaning::Shared(_)))
                && phrase.text.len() > 3
        };
        let names = self.phrases.iter().filter(wanted).map(|phrase| phrase.text.clone());
        names.chain([self.attention().to_owned()]).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::lexicon::mentions_in;
    use crate::speech::Utterance;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// Phrases found by sound, in order of place.
    fn sounding(said: &str) -> Vec<&'static str> {
        let mentions = mentions_in(lexicon(), &Utterance::from_text(said));
        let by_sound = mentions.iter().filter(|mention| matches!(mention.how, How::Sound(_)));
        by_sound.filter_map(|mention| mention.phrase(lexicon())).map(|phrase| phrase.text.as_str()).collect()
    }

    #[track_caller]
    fn check(said: &str, phrases: &[&str]) {
        assert_eq!(sounding(said), phrases, "said: {said}");
    }

    #[test]
    fn what_was_misheard_is_told_by_its_sounds() {
        check("Soutcher is ridged", &["sutures"]);
        check("Flowness on the left, three beats", &["clonus"]);
        check("Moral, left arm out and back, full", &["moro"]);
        check("Truncle incurvation present, both", &["truncal incurvation"]);
    }

    #[test]
    fn the_word_beside_a_shared_name_is_told_apart_from_it() {
        check("Clanter grasp absent on the right", &["plantar grasp"]);
        check("Pelder grasp strong", &["palmar grasp"]);
        // What says a value of what is named is no part of another name.
        check("Arm traction, right arm, weak fleaks and left", &[]);
    }

    #[test]
    fn everyday_words_stay_what_they_are() {
        for said in [
            "It was a moral question",
            "a gallon of milk",
            "I am routing the call",
            "She lies on the palm of my hand",
            "the weather today is lovely",
            "my mother promised a picture",
        ] {
            check(said, &[]);
        }
    }

    #[test]
    fn sides_negation_and_numbers_are_no_part_of_a_sound() {
        for said in ["no plowness left", "none plowness", "two plowness right three"] {
            for mention in mentions_in(lexicon(), &Utterance::from_text(said)) {
                assert!(!matches!(mention.how, How::Sound(_)) || mention.len() == 1, "{said}: {mention:?}");
            }
        }
    }

    proptest! {
        #[test]
        fn any_text_is_heard(text in "\\PC{0,80}") {
            let utterance = Utterance::from_text(&text);
            for mention in mentions_in(lexicon(), &utterance) {
                prop_assert!(mention.first < mention.past && mention.past <= utterance.words.len());
            }
        }

        #[test]
        fn any_words_are_heard(words in proptest::collection::vec("[a-zA-Zß']{1,9}", 0..12)) {
            let utterance = Utterance::from_text(&words.join(" "));
            let mentions = mentions_in(lexicon(), &utterance);
            prop_assert_eq!(&mentions, &mentions_in(lexicon(), &utterance));
        }
    }
}

//! Entries → a lexicon ready for use: items with their values, and one automaton over all phrases.
//! Takes what the files declare; gives every phrase with all that it can mean. Leaves alone which meaning holds where.
//!
//! "recoil" gives a shared name of arm-recoil and of leg-recoil

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use aho_corasick::MatchKind;
use aho_corasick::nfa::contiguous::NFA;

use crate::lexicon::beside::Beside;
use crate::lexicon::commands::Commands;
use crate::lexicon::gist::Gist;
use crate::lexicon::load::{self, Entries, Fault, ItemEntry, LexiconError, Place, SidesEntry, Source};
use crate::lexicon::phrases::{GENERALS, phrases_of, plain_words};
use crate::lexicon::quantities::{Decimal, Measure};
use crate::lexicon::sets::{ExamSet, sets_of};
use crate::lexicon::sound::SoundIndex;
use crate::lexicon::spelling::SpellingIndex;
use crate::lexicon::vocabulary::{MOST_WORDS, Vocabulary, Words};

/// Place of an item in [`Lexicon::items`].
pub type ItemIx = usize;
/// Place of a value in [`Item::values`].
pub type ValueIx = usize;

/// Values that are open to every item.
pub const OPEN_VALUES: [&str; 4] = ["normal", "abnormal", "not-tested", "not-elicited"];

/// An item, or a group of items, of the examination.
#[derive(Debug, Clone)]
pub struct Item {
    /// Id; the contract between lexicon, records and corpus.
    pub id: String,
    /// How the record shows it.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// Whether left and right are found apart.
    pub paired: bool,
    /// How its numbers are read, where it is a measurement.
    pub measure: Option<Measure>,
    /// Units that say the item by themselves.
    pub unit_alone: Vec<String>,
    /// Units that say the item as long as nothing of another region is in progress.
    pub unit_at_start: Vec<String>,
    /// Values by id, the four open ones last.
    pub values: Vec<ValueOf>,
    /// Values that general words are declared to stand for.
    pub general: BTreeMap<General, ValueIx>,
    /// Values that general words stand for, declared or not, by the words' places among [`General`].
    pub by_general: [Option<ValueIx>; GENERALS.len()],
    /// Items that a statement about this group is written for; empty for an item.
    pub members: Vec<ItemIx>,
    /// Whether it is told as history ("born at thirty-six weeks") and counts all the same.
    pub told_as_history: bool,
    /// Whether several values may stand, each with its time.
    pub keeps_all: bool,
}

impl Item {
    /// The place of a value by its id.
    #[must_use]
    pub fn value(&self, id: &str) -> Option<ValueIx> {
        self.values.iter().position(|value| value.id == id)
    }

    /// Whether a value is one of the four that say little.
    #[must_use]
    pub fn is_open(&self, value: ValueIx) -> bool {
        self.values.get(value).is_some_and(|value| OPEN_VALUES.contains(&value.id.as_str()))
    }
}

/// A value of an item.
#[derive(Debug, Clone)]
pub struct ValueOf {
    /// Its id.
    pub id: String,
    /// What its denial means.
    pub denied: Option<ValueIx>,
}

/// Words for a result whose meaning the item declares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the names are the families of lexicon/language/results.toml")]
pub enum General {
    Good,
    Normal,
    Abnormal,
    There,
    Nothing,
    Weak,
    NotTested,
    NotElicited,
}

/// Families of words of the language.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the names are the families of lexicon/language/*.toml")]
pub enum Word {
    SideLeft,
    SideRight,
    SideBoth,
    SideNeither,
    SideOther,
    SideThat,
    Has,
    Negation,
    AffirmedByDenial,
    Plan,
    Turn,
    Expectation,
    Fulfilled,
    Failed,
    Teaching,
    History,
    Now,
    Reported,
    Question,
    Condition,
    Address,
    Ends,
    Replace,
    Swap,
    Withdraw,
    Repeat,
    Same,
    Except,
    Hedge,
    Approx,
}

/// How much company a value's phrase needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Strength {
    /// Only right beside the item, or as its bare result.
    Loose,
    /// The item named or in progress.
    Say,
    /// None: it says item and value.
    Alone,
}

/// One thing that a phrase can mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Meaning {
    /// Says the item.
    Name(ItemIx),
    /// Says this item or a neighbour.
    Shared(ItemIx),
    /// The manoeuvre, told by what is done.
    DoneBy(ItemIx),
    /// A part of the body that the item looks at.
    Body(ItemIx),
    /// A value of an item.
    Value(ItemIx, ValueIx, Strength),
    /// A general word for a result.
    General(General),
    /// A word of the language.
    Word(Word),
    /// Nothing at all, whatever shorter phrases inside it mean.
    Never,
}

/// A phrase with everything it can mean.
#[derive(Debug, Clone)]
pub struct Phrase {
    /// Its words in plain spelling, single spaces between.
    pub text: String,
    /// Meanings in order.
    pub meanings: Vec<Meaning>,
    /// Whether its last word is a plural ("knee jerks").
    pub plural: bool,
    /// Whether it may run over a comma: only where it was written with one, or holds nothing but words of the language.
    pub over_commas: bool,
    /// Set where it stands for what a recogniser writes instead of the phrase said.
    pub misheard: bool,
    /// Whether it is told by its sounds too.
    pub by_sound: bool,
}

/// The trade's knowledge, ready for use.
pub struct Lexicon {
    /// Items in order of the record.
    pub items: Vec<Item>,
    /// Items that are measured, in order.
    pub measured: Vec<ItemIx>,
    /// All phrases.
    pub phrases: Vec<Phrase>,
    /// Everyday words that change nothing about a finding.
    pub(super) plain: Words,
    /// SHA-256 of the files it was read from, hex.
    pub identity: String,
    /// Over the phrases of several words, by the words' symbols.
    pub(super) automaton: NFA,
    /// Which phrases those are.
    pub(super) several: Vec<usize>,
    /// What each phrase says in short, by the phrase's place.
    pub(super) gists: Vec<Gist>,
    pub(super) vocabulary: Vocabulary,
    pub(super) near_spelling: SpellingIndex,
    pub(super) sound: SoundIndex,
    pub(super) commands: Commands,
    pub(super) sets: Vec<ExamSet>,
    pub(crate) beside: Beside,
}

impl std::fmt::Debug for Lexicon {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Lexicon({} items, {} phrases)", self.items.len(), self.phrases.len())
    }
}

impl Lexicon {
    /// The lexicon that the program carries, with a folder laid over it if one is given.
    ///
    /// # Errors
    /// Every fault of every file, with file, line and reason.
    pub fn load(over: Option<&Path>) -> Result<Self, LexiconError> {
        let mut sources = load::built_in();
        if let Some(folder) = over {
            sources.extend(load::from_folder(folder)?);
        }
        Self::from_sources(&sources)
    }

    /// A lexicon from the texts of its files.
    ///
    /// # Errors
    /// Every fault of every file, with file, line and reason.
    pub fn from_sources(sources: &[Source]) -> Result<Self, LexiconError> {
        let entries = load::read(sources)?;
        let mut faults = Vec::new();
        let items = items_of(&entries, &mut faults);
        let phrases = phrases_of(&entries, &items, sources, &mut faults);
        let (commands, sets) = (Commands::new(&entries, &mut faults), sets_of(&entries, &items, &mut faults));
        let beside = Beside::new(&entries, &items, &mut faults);
        if !faults.is_empty() {
            faults.sort();
            return Err(LexiconError::Faults(faults));
        }
        let fault = |what: String| LexiconError::Faults(vec![whole_fault(what)]);
        let vocabulary = Vocabulary::new(&phrases, &entries.spelling).map_err(|words| {
            fault(format!("the phrases have {words} different words, of which {MOST_WORDS} can be told apart"))
        })?;
        let several: Vec<usize> = (0..phrases.len()).filter(|ix| phrases[*ix].text.contains(' ')).collect();
        let automaton = NFA::builder()
            .match_kind(MatchKind::Standard)
            .build(several.iter().map(|ix| vocabulary.symbols_of(&phrases[*ix].text)))
            .map_err(|error| fault(error.to_string()))?;
        let sound = SoundIndex::new(&items, &phrases, &vocabulary);
        let (near_spelling, identity) = (SpellingIndex::new(&phrases), load::identity_of(sources));
        let plain = plain_words(&entries);
        let measured = (0..items.len()).filter(|ix| items[*ix].measure.is_some()).collect();
        let gists = phrases.iter().map(|phrase| Gist::of(&items, phrase)).collect();
        let lexicon = Self {
            items,
            measured,
            phrases,
            plain,
            identity,
            automaton,
            several,
            gists,
            vocabulary,
            near_spelling,
            sound,
            commands,
            sets,
            beside,
        };
        lexicon.with_sound_attention(&entries)
    }
}

fn whole_fault(what: String) -> Fault {
    Fault { file: "lexicon".to_owned(), line: 0, what }
}

fn items_of(entries: &Entries, faults: &mut Vec<Fault>) -> Vec<Item> {
    let index: HashMap<&str, ItemIx> =
        entries.items.iter().enumerate().map(|(ix, (_, id, _))| (id.as_str(), ix)).collect();
    let mut items = Vec::new();
    for (place, id, entry) in &entries.items {
        items.push(item_of(place, id, entry, &index, faults));
    }
    for ix in 0..items.len() {
        inherit(&mut items, ix);
    }
    for item in &mut items {
        for (_, general) in GENERALS {
            item.by_general[general as usize] = value_by(item, general);
        }
    }
    items
}

fn item_of(place: &Place, id: &str, entry: &ItemEntry, index: &HashMap<&str, ItemIx>, faults: &mut Vec<Fault>) -> Item {
    let mut ids: Vec<String> = entry.values.keys().filter(|id| !OPEN_VALUES.contains(&id.as_str())).cloned().collect();
    ids.extend(OPEN_VALUES.map(str::to_owned));
    let value_at = |wanted: &str, faults: &mut Vec<Fault>| {
        let found = ids.iter().position(|known| known == wanted);
        if found.is_none() {
            faults.push(place.fault(format!("`{wanted}` is not a value of {id}; it has {}", ids.join(", "))));
        }
        found
    };
    let general = general_of(place, entry, &value_at, faults);
    let mut denied = |value: &String| {
        entry.values.get(value).and_then(|value| value.denied.as_deref()).and_then(|denied| value_at(denied, faults))
    };
    let values = ids.iter().map(|value| ValueOf { id: value.clone(), denied: denied(value) }).collect();
    let members = entry.members.iter().filter_map(|member| {
        let found = index.get(member.as_str()).copied();
        if found.is_none() {
            faults.push(place.fault(format!("`{member}` is not an item; see the ids in the other files")));
        }
        found
    });
    Item {
        id: id.to_owned(),
        name: entry.name.clone(),
        region: entry.region.clone(),
        paired: entry.sides == SidesEntry::Paired,
        members: members.collect(),
        measure: measure_of(place, entry, faults),
        unit_alone: entry.unit_alone.clone(),
        unit_at_start: entry.unit_at_start.clone(),
        values,
        general,
        by_general: [None; GENERALS.len()],
        told_as_history: entry.told_as_history,
        keeps_all: entry.keeps_all,
    }
}

fn general_of(
    place: &Place,
    entry: &ItemEntry,
    value_at: &dyn Fn(&str, &mut Vec<Fault>) -> Option<ValueIx>,
    faults: &mut Vec<Fault>,
) -> BTreeMap<General, ValueIx> {
    let mut general = BTreeMap::new();
    for (word, value) in &entry.general {
        match (GENERALS.iter().find(|(name, _)| name == word), value_at(value, faults)) {
            (Some((_, word)), Some(value)) => drop(general.insert(*word, value)),
            (None, _) => {
                faults.push(place.fault(format!("`{word}` is no general word; there are good, there, nothing, weak")));
            }
            (_, None) => {}
        }
    }
    general
}

// What a general word stands for with an item.
fn value_by(item: &Item, general: General) -> Option<ValueIx> {
    let undeclared = || match general {
        General::Good | General::Normal => item.value("normal"),
        General::Abnormal => item.value("abnormal"),
        General::NotTested => item.value("not-tested"),
        General::NotElicited => item.value("not-elicited"),
        General::Weak => item.value("weak"),
        General::There | General::Nothing => None,
    };
    item.general.get(&general).copied().or_else(undeclared)
}

fn measure_of(place: &Place, entry: &ItemEntry, faults: &mut Vec<Fault>) -> Option<Measure> {
    if entry.units.is_empty() {
        return None;
    }
    let limit = |limit: f64| Decimal::parse(&limit.to_string());
    let plausible = entry.plausible.and_then(|[least, most]| Some((limit(least)?, limit(most)?)));
    let measure = Measure::parse(&entry.units.join("|"), plausible);
    if measure.is_none() {
        let units = entry.units.join(", ");
        faults.push(
            place.fault(format!("units `{units}` are not known; there are deg, cm, g, kg, wk, d, h, beats, grade")),
        );
    }
    measure
}

// A group takes the values, general words and measure of its first member, so that its results are typed alike.
fn inherit(items: &mut [Item], ix: ItemIx) {
    let Some(first) = items[ix].members.first().and_then(|member| items.get(*member)).cloned() else { return };
    let group = &mut items[ix];
    group.values = first.values;
    group.general = first.general;
    group.measure = first.measure;
}

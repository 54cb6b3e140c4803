//! Which items say age, sex, size and state: `computed.toml`.
//! Takes that file; gives it checked. Leaves alone what is reckoned from the items.
//!
//! `[ages]` with `gestation = "gestational-age"` lets that item say the gestation at birth

use std::collections::BTreeMap;

use serde::Deserialize;

use super::{Rules, item_with};
use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source, parse};

/// Which items say what is reckoned with.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reckoning {
    /// Version of the rules, which records name.
    pub version: u32,
    /// The item that says the gestation at birth, in weeks.
    pub gestation: String,
    /// The item that says the age since birth.
    pub since_birth: String,
    /// Where the definitions of ages are from.
    pub ages_source: String,
    /// The item that says the sex.
    pub sex: String,
    /// Its values for a boy and a girl.
    pub boy_and_girl: [String; 2],
    /// Items that are sizes.
    pub sizes: Vec<SizeRule>,
    /// What must be known beside sizes.
    pub size_notes: Vec<SizeNote>,
    /// The item that says the state, and which findings depend on it.
    pub state: StateRule,
}

/// An item that is a size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SizeRule {
    /// Its id.
    pub item: String,
    /// What it measures: head, weight or length.
    pub measure: String,
    /// Whether it was measured at birth, whenever it is told.
    pub at_birth: bool,
}

/// What must be known beside a size.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct SizeNote {
    /// What is measured.
    pub measure: String,
    /// Before this age in days.
    pub before_days: u32,
    /// The note.
    pub words: String,
    /// Where it is from.
    pub source: String,
}

/// The infant's state, and what depends on it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct StateRule {
    /// The item that says it.
    pub item: String,
    /// Its values in which findings are read well.
    pub settled: Vec<String>,
    /// Regions whose findings depend on it.
    #[serde(default)]
    pub regions: Vec<String>,
    /// Further items that do.
    #[serde(default)]
    pub items: Vec<String>,
    /// Where that is from.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct File {
    version: u32,
    ages: AgesEntry,
    sizes: BTreeMap<String, SizeEntry>,
    #[serde(default)]
    size_notes: Vec<SizeNote>,
    state: StateRule,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct AgesEntry {
    gestation: String,
    since_birth: String,
    sex: String,
    boy: String,
    girl: String,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct SizeEntry {
    measure: String,
    #[serde(default)]
    at_birth: bool,
}

impl Rules {
    /// Takes in a file, in place of an earlier one.
    pub(super) fn read_reckoning(&mut self, source: &Source, items: &[Item]) -> Result<(), Vec<Fault>> {
        let file: File = parse(source).map_err(|fault| vec![fault])?;
        let faults = file.faults(items);
        if !faults.is_empty() {
            let fault = |what| Fault { file: source.file.clone(), line: 0, what };
            return Err(faults.into_iter().map(fault).collect());
        }
        let File { version, ages, sizes, size_notes, state } = file;
        let size =
            |(item, entry): (String, SizeEntry)| SizeRule { item, measure: entry.measure, at_birth: entry.at_birth };
        self.reckoning = Reckoning {
            version,
            gestation: ages.gestation,
            since_birth: ages.since_birth,
            ages_source: ages.source,
            sex: ages.sex,
            boy_and_girl: [ages.boy, ages.girl],
            sizes: sizes.into_iter().map(size).collect(),
            size_notes,
            state,
        };
        Ok(())
    }
}

impl File {
    fn faults(&self, items: &[Item]) -> Vec<String> {
        let ages = [&self.ages.gestation, &self.ages.since_birth, &self.ages.sex, &self.state.item];
        let named = ages.into_iter().chain(self.sizes.keys()).chain(&self.state.items);
        let mut faults: Vec<String> = named.filter_map(|id| item_with(items, id).err()).collect();
        for (item, values) in [
            (&self.ages.sex, vec![&self.ages.boy, &self.ages.girl]),
            (&self.state.item, self.state.settled.iter().collect()),
        ] {
            let Ok(item) = item_with(items, item) else { continue };
            let unknown = values.into_iter().filter(|value| item.value(value).is_none());
            faults.extend(unknown.map(|value| format!("`{value}` is not a value of {}", item.id)));
        }
        let unknown = self.state.regions.iter().filter(|region| items.iter().all(|item| item.region != **region));
        faults.extend(unknown.map(|region| format!("`{region}` is no region; see `region` in the other files")));
        let measures =
            self.sizes.values().map(|size| &size.measure).chain(self.size_notes.iter().map(|note| &note.measure));
        let unknown = measures.filter(|measure| !["head", "weight", "length"].contains(&measure.as_str()));
        faults.extend(unknown.map(|measure| format!("`{measure}` is none of head, weight and length")));
        faults
    }
}

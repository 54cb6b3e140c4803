//! Sets of items: what an examination counts as done.
//! Takes what `sets.toml` files declare; gives sets with their items, and every fault; and the regions that items stand under, and
//! items by their ids. Leaves alone what of a set was found.
//!
//! `[screening]` with `items = ["moro", "suck"]` gives a set of two items

use crate::lexicon::compile::{Item, ItemIx, Lexicon};
use crate::lexicon::load::{Entries, Fault, Place};

/// A set of items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExamSet {
    /// By which it is asked for.
    pub name: String,
    /// How it is shown.
    pub title: String,
    /// Its items, in order of the record.
    pub items: Vec<ItemIx>,
}

impl Lexicon {
    /// The place of an item by its id.
    #[must_use]
    pub fn item(&self, id: &str) -> Option<ItemIx> {
        self.items.iter().position(|item| item.id == id)
    }

    /// An item by its id.
    #[must_use]
    pub fn item_named(&self, id: &str) -> Option<&Item> {
        self.items.iter().find(|item| item.id == id)
    }

    /// The parts of the record, in its order.
    #[must_use]
    pub fn regions(&self) -> Vec<String> {
        let mut regions: Vec<String> = Vec::new();
        for item in self.items.iter().filter(|item| item.members.is_empty()) {
            if !regions.contains(&item.region) {
                regions.push(item.region.clone());
            }
        }
        regions
    }
}

/// What all files together declare.
#[derive(Debug, Default)]
pub(super) struct SetEntries(Vec<Declared>);

/// A set as a file declares it: its items, or the regions that it leaves out, each with its place.
#[derive(Debug)]
pub(super) struct Declared {
    pub(super) place: Place,
    pub(super) name: String,
    pub(super) title: String,
    pub(super) items: Vec<(Place, String)>,
    pub(super) all_but: Option<Vec<(Place, String)>>,
}

impl SetEntries {
    /// Takes in a set; it takes the place of one of the same name in an earlier file.
    pub(super) fn add(&mut self, declared: Declared) {
        match self.0.iter_mut().find(|other| other.name == declared.name) {
            Some(other) => *other = declared,
            None => self.0.push(declared),
        }
    }
}

/// The sets, in order of the files; faults are added to `faults`.
pub(super) fn sets_of(entries: &Entries, items: &[Item], faults: &mut Vec<Fault>) -> Vec<ExamSet> {
    let mut sets = Vec::new();
    for declared in &entries.sets.0 {
        let mut of_set = named(declared, items, faults);
        of_set.extend(all_but(declared, items, faults));
        of_set.sort_unstable();
        of_set.dedup();
        if declared.items.is_empty() && of_set.is_empty() {
            faults.push(declared.place.fault(format!("the set `{}` has no items", declared.name)));
        }
        sets.push(ExamSet { name: declared.name.clone(), title: declared.title.clone(), items: of_set });
    }
    sets
}

// A group stands for its members.
fn named(declared: &Declared, items: &[Item], faults: &mut Vec<Fault>) -> Vec<ItemIx> {
    let mut of_set: Vec<ItemIx> = Vec::new();
    for (place, id) in &declared.items {
        let Some(at) = items.iter().position(|item| item.id == *id) else {
            faults.push(place.fault(format!("`{id}` is not an item; see the ids in the other files")));
            continue;
        };
        let members = if items[at].members.is_empty() { vec![at] } else { items[at].members.clone() };
        match members.iter().find(|member| of_set.contains(member)) {
            Some(twice) => {
                let what = format!("`{}` stands in the set `{}` twice", items[*twice].id, declared.name);
                faults.push(place.fault(what));
            }
            None => of_set.extend(members),
        }
    }
    of_set
}

fn all_but(declared: &Declared, items: &[Item], faults: &mut Vec<Fault>) -> Vec<ItemIx> {
    let Some(regions) = &declared.all_but else { return Vec::new() };
    for (place, region) in regions {
        if items.iter().all(|item| item.region != *region) {
            faults.push(place.fault(format!("`{region}` is no region; see `region` in the other files")));
        }
    }
    let stays = |item: &Item| item.members.is_empty() && !regions.iter().any(|(_, region)| *region == item.region);
    (0..items.len()).filter(|at| stays(&items[*at])).collect()
}

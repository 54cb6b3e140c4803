//! What a phrase says, in short.
//! Takes a phrase with its meanings; gives what decides whether a mention of it counts, so that its meanings are gone
//! through only where it does. Leaves alone what it then means.
//!
//! "recoil" names nothing for certain, brings arm-recoil and leg-recoil into play, and is no value

use crate::lexicon::compile::{Item, Meaning, Phrase, Strength, Word};
use crate::lexicon::item_set::ItemSet;

/// What a phrase says, in short.
#[derive(Debug, Clone, Default)]
pub struct Gist {
    /// Items that it brings into play by itself; with a group, its members.
    pub brings: ItemSet,
    /// Items of which it gives a value that needs them in play.
    pub values: ItemSet,
    /// Whether it gives a value that needs no item.
    pub alone: bool,
    /// Whether it names an item.
    pub names: bool,
    /// Whether it tells a manoeuvre or a side.
    pub places: bool,
    /// Whether it means anything besides values.
    pub more: bool,
    /// Whether it means nothing, whatever shorter phrases inside it mean.
    pub never: bool,
}

impl Word {
    /// Whether it says a side.
    #[must_use]
    pub fn is_side(self) -> bool {
        matches!(self, Self::SideLeft | Self::SideRight | Self::SideBoth | Self::SideOther | Self::SideThat)
    }
}

impl Gist {
    pub(super) fn of(items: &[Item], phrase: &Phrase) -> Self {
        let mut gist = Self::default();
        for meaning in &phrase.meanings {
            gist.names |= matches!(meaning, Meaning::Name(_));
            gist.places |=
                matches!(meaning, Meaning::DoneBy(_)) || matches!(meaning, Meaning::Word(word) if word.is_side());
            gist.never |= *meaning == Meaning::Never;
            gist.more |= !matches!(meaning, Meaning::Value(..));
            match meaning {
                Meaning::Name(item) | Meaning::Shared(item) | Meaning::DoneBy(item) | Meaning::Body(item) => {
                    gist.brings.add(*item);
                    gist.brings.add_all(&items[*item].members);
                }
                Meaning::Value(item, _, Strength::Alone) => {
                    gist.brings.add(*item);
                    gist.alone = true;
                }
                Meaning::Value(item, ..) => gist.values.add(*item),
                _ => {}
            }
        }
        gist
    }

    /// Whether it gives a value with these items in play.
    #[must_use]
    pub fn is_value(&self, in_play: &ItemSet) -> bool {
        self.alone || self.values.shares(in_play)
    }
}

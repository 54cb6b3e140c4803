//! What is being examined at the moment.
//! Takes what each sentence names and does; gives the items, side and part of the body that a bare result belongs to.
//! Leaves alone results. It grows stale: after a few sentences that touch nothing of it, nothing binds to it any more.
//!
//! "Now the scarf on the left" sets scarf-sign and left; "to the midline" then needs neither

use crate::lexicon::ItemIx;
use crate::reading::sides::Said;

/// Sentences after which an item that nothing touched is no longer in progress.
pub const STALE: u32 = 7;

/// The manoeuvre in progress.
#[derive(Debug, Clone, Default)]
pub struct Progress {
    /// Items named last; several where they were named together.
    pub items: Vec<ItemIx>,
    /// The side it was announced with.
    pub side: Option<Said>,
    /// Whether it was named as a plural ("knee jerks").
    pub plural: bool,
    /// Whether no result has been said since.
    pub pending: bool,
    /// Whether it was asked for ("is there any clonus?").
    pub asked: bool,
    /// Sentences since it was last touched.
    pub age: u32,
    /// Whether anything but the infant has been spoken of.
    pub begun: bool,
    /// Whether something else was asked since it was last touched: what is good then is that.
    pub digressed: bool,
    /// Strange words since it was last touched.
    pub strange: u32,
    /// Whether the items were told by name or manoeuvre, not only guessed from a part of the body.
    pub sure: bool,
    /// Items that look at the part of the body named last, and how long ago.
    pub body: Vec<ItemIx>,
    /// Items that look at a part of the body that was a sentence by itself ("Knees."), until something is named.
    pub heading: Vec<ItemIx>,
    /// Sentences since a part of the body was named.
    pub body_age: u32,
}

impl Progress {
    /// A sentence begins.
    pub fn grow_older(&mut self) {
        self.age = self.age.saturating_add(1);
        self.body_age = self.body_age.saturating_add(1);
        if self.age > STALE {
            self.items.clear();
            self.side = None;
            self.pending = false;
            self.asked = false;
        }
        if self.body_age > STALE {
            self.body.clear();
            self.heading.clear();
        }
    }

    /// Items are named or done.
    pub fn start(&mut self, items: &[ItemIx], plural: bool, sure: bool) {
        if self.items != items {
            items.clone_into(&mut self.items);
            self.side = None;
            self.pending = true;
            self.asked = false;
            self.plural = plural;
        } else if plural {
            self.plural = true;
        }
        self.heading.clear();
        self.sure = sure;
        self.age = 0;
        self.strange = 0;
        self.digressed = false;
    }

    /// A result was said for it.
    pub fn answered(&mut self) {
        self.pending = false;
        self.asked = false;
        self.age = 0;
        self.strange = 0;
        self.digressed = false;
    }
}

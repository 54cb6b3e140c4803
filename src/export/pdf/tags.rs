//! The order in which a PDF is read.
//! Takes the parts of the whole, and for each what is drawn of it as the pages are painted; gives the tree of tags, and the list of
//! sections by which a reader gets about. Leaves alone how things look.
//!
//! Title, how it stands, whose it is, section after section, drawings in words, the foot once

use std::num::NonZeroU16;

use krilla::destination::XyzDestination;
use krilla::geom::Point;
use krilla::outline::{Outline, OutlineNode};
use krilla::tagging::{Identifier, Tag, TagGroup, TagTree};

use super::blocks::Role;
use crate::export::drawing::Place;
use crate::export::words::shortened;

/// What is drawn of each part.
pub(super) struct Tags<'a> {
    parts: &'a [Role],
    drawn: Vec<Vec<Identifier>>,
    /// Where each begins: the page, and the place on it.
    begins: Vec<Option<(usize, Place)>>,
}

/// The longest title of a section in the list of them.
const LONGEST: usize = 100;

impl<'a> Tags<'a> {
    pub(super) fn new(parts: &'a [Role]) -> Self {
        Self { parts, drawn: parts.iter().map(|_| Vec::new()).collect(), begins: vec![None; parts.len()] }
    }

    /// Something of a part was drawn.
    pub(super) fn add(&mut self, part: usize, id: Identifier, at: (usize, Place)) {
        self.drawn[part].push(id);
        self.begins[part].get_or_insert(at);
    }

    /// The parts in order.
    pub(super) fn tree(self, language: &str) -> TagTree {
        let mut tree = TagTree::new().with_lang(Some(language.to_owned()));
        let level = |level: u16| NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN);
        for (part, drawn) in self.parts.iter().zip(self.drawn) {
            let mut group = match part {
                Role::Title(words) => TagGroup::new(Tag::Hn(level(1), Some(shortened(words, LONGEST)))),
                Role::Section(words) => TagGroup::new(Tag::Hn(level(2), Some(shortened(words, LONGEST)))),
                Role::Text => TagGroup::new(Tag::P),
                Role::Figure(words) => TagGroup::new(Tag::Figure(Some(words.clone()))),
            };
            for id in drawn {
                group.push(id);
            }
            tree.push(group);
        }
        tree
    }
}

/// The title with the sections under it.
pub(super) fn outline(parts: &[Role], tags: &Tags, title: &str) -> Outline {
    let node = |words: &str, at: Option<(usize, Place)>| {
        let (page, (_, y)) = at.unwrap_or((0, (0.0, 0.0)));
        OutlineNode::new(shortened(words, LONGEST), XyzDestination::new(page, Point::from_xy(0.0, (y - 14.0).max(0.0))))
    };
    let mut top = node(title, None);
    for (part, begins) in parts.iter().zip(&tags.begins) {
        if let Role::Section(words) = part {
            top.push_child(node(words, *begins));
        }
    }
    let mut outline = Outline::new();
    outline.push_child(top);
    outline
}

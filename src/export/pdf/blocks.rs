//! A note in blocks of lines.
//! Takes a note and a size of type; gives its blocks for a width, in the order in which they are read: a title of a section stays with
//! what follows it, a finding keeps its lines together. Leaves alone which column a block is in (`columns`).
//!
//! "Positive and abnormal" is a block with a rule under it, "popliteal angle left 150°" one with its lead in bold

use super::font::{Face, Fonts};
use super::lines::{Piece, Style, lines};
use crate::export::drawing::Tone;
use crate::export::note::Section;

/// What a part of the page is, for whoever has it read aloud.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Role {
    /// The title of the whole: its words.
    Title(String),
    /// The title of a section: its words.
    Section(String),
    /// A paragraph.
    Text,
    /// A drawing: what it says.
    Figure(String),
}

/// Lines that belong together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Block {
    pub(super) role: Role,
    pub(super) lines: Vec<Vec<Piece>>,
    /// From line to line.
    pub(super) leading: f32,
    /// Left free above it, unless it stands at the top.
    pub(super) before: f32,
    /// Whether it must not be the last of a column, and has a rule under it.
    pub(super) heads: bool,
}

impl Block {
    /// How high so many of its lines are.
    pub(super) fn height(&self, many: usize) -> f32 {
        self.leading * f32::from(u16::try_from(many).unwrap_or(u16::MAX)) + if self.heads { RULED } else { 0.0 }
    }
}

/// What a rule under a title takes.
pub(super) const RULED: f32 = 2.5;
/// Of the size of type: from line to line; small type; how far later lines are moved in.
const LEADING: f32 = 1.24;
const SMALL: f32 = 0.82;
const HANG: f32 = 1.0;

/// Type in which blocks are set.
pub(super) struct Setting<'a> {
    pub(super) fonts: &'a Fonts,
    /// The size of what is read first.
    pub(super) size: f32,
    /// How wide lines may be.
    pub(super) width: f32,
}

impl Setting<'_> {
    fn style(&self, face: Face, share: f32, tone: Tone) -> Style {
        Style { face, size: self.size * share, tone }
    }

    /// The blocks of a section.
    pub(super) fn section(&self, section: &Section) -> Vec<Block> {
        let title = lines(self.fonts, &[(self.style(Face::Bold, 1.06, Tone::Ink), &section.title)], self.width, 0.0);
        let mut blocks = vec![Block {
            role: Role::Section(section.title.clone()),
            lines: title,
            leading: self.size * LEADING * 1.06,
            before: self.size * 0.85,
            heads: true,
        }];
        for line in &section.lines {
            blocks.push(self.text(&[(Face::Bold, &line.lead), (Face::Regular, &line.words)], &line.small));
        }
        blocks.retain(|block| !block.lines.is_empty());
        blocks
    }

    /// A paragraph, with what stands small at its end.
    pub(super) fn text(&self, runs: &[(Face, &str)], small: &str) -> Block {
        let mut runs: Vec<(Style, &str)> =
            runs.iter().map(|(face, words)| (self.style(*face, 1.0, Tone::Ink), *words)).collect();
        runs.push((self.style(Face::Regular, SMALL, Tone::Soft), small));
        let lines = lines(self.fonts, &runs, self.width, self.size * HANG);
        let (leading, before) = (self.size * LEADING, self.size * 0.16);
        Block { role: Role::Text, lines, leading, before, heads: false }
    }
}

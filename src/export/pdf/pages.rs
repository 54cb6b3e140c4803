//! The whole on pages.
//! Takes a note, drawings and the size of a page; gives for every page what is drawn where, and the parts of the whole in the order in
//! which they are read. Type is as large as it can be with everything on one page, or else with all text on one page; longer notes go
//! on in readable type. What is too long for head or foot of the page is moved into the text. Leaves alone how it is drawn (`paint`).
//!
//! Fifty findings and one chart: the findings in two columns on the first page, the chart on it or on the second

use super::blocks::{Block, RULED, Role, Setting};
use super::columns::{Cursor, two_columns};
use super::font::{Face, Fonts};
use super::lines::{Style, lines};
use crate::export::drawing::{Drawing, Place, Tone};
use crate::export::note::Note;
use crate::export::words::shortened;

/// What belongs to which part of the whole, or to the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Belongs {
    /// A part, by its number.
    Part(usize),
    /// What every page has on top, and below.
    Header,
    Footer,
    /// What only looks well.
    Ornament,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub(super) enum Ink<'a> {
    Words { at: Place, style: Style, words: String },
    Rule { from: Place, to: Place, width: f32 },
    Drawn { at: Place, scale: f32, drawing: &'a Drawing },
}

/// Something drawn on a page.
#[derive(Debug, Clone)]
pub(super) struct Leaf<'a> {
    pub(super) belongs: Belongs,
    pub(super) ink: Ink<'a>,
}

/// All pages.
pub(super) struct Pages<'a> {
    /// Width and height of each.
    pub(super) size: (f32, f32),
    pub(super) pages: Vec<Vec<Leaf<'a>>>,
    /// In the order in which they are read.
    pub(super) parts: Vec<Role>,
}

const SIDE: f32 = 38.0;
const TOP: f32 = 34.0;
const BOTTOM: f32 = 26.0;
/// Where the text begins, on every page but the first.
const TEXT_TOP: f32 = TOP + 18.0;
const GAP: f32 = 20.0;
/// Sizes of type: the first with which everything is on one page; the last of them from which on that is worth smaller type.
const SIZES: [f32; 6] = [9.6, 9.2, 8.8, 8.5, 8.2, 8.0];
const SMALLEST_FOR_DRAWINGS: f32 = 8.5;
/// For a note that is longer than a page anyway.
const SIZE_OF_LONG_NOTES: f32 = 8.8;
const TITLE: f32 = 15.0;
const STATUS: f32 = 9.6;
const HEADING: f32 = 8.4;
const FOOT: f32 = 6.5;
/// What head and foot of the page may hold; what is longer, or more, stands in the text.
const LONGEST_TITLE: usize = 160;
const LONGEST_STATUS: usize = 300;
const LONGEST_PAIR: usize = 160;
const MOST_PAIRS: usize = 12;
const MOST_FOOT_LINES: usize = 7;

/// Everything on pages.
pub(super) fn arranged<'a>(fonts: &Fonts, note: &Note, drawings: &[&'a Drawing], size: (f32, f32)) -> Pages<'a> {
    let with = |type_size: f32| Arranging::new(fonts, note, size, type_size).arrange(drawings);
    let mut one_page_of_text = None;
    for type_size in SIZES {
        let (pages, pages_of_text) = with(type_size);
        if pages.pages.len() == 1 && type_size >= SMALLEST_FOR_DRAWINGS {
            return pages;
        }
        if pages_of_text == 1 && one_page_of_text.is_none() {
            one_page_of_text = Some(pages);
        }
    }
    one_page_of_text.unwrap_or_else(|| with(SIZE_OF_LONG_NOTES).0)
}

struct Arranging<'a, 'n> {
    fonts: &'n Fonts,
    note: &'n Note,
    size: (f32, f32),
    type_size: f32,
    pages: Vec<Vec<Leaf<'a>>>,
    parts: Vec<Role>,
    /// The lines of the foot, if they have room there.
    foot: Vec<Block>,
}

impl<'a, 'n> Arranging<'a, 'n> {
    fn new(fonts: &'n Fonts, note: &'n Note, size: (f32, f32), type_size: f32) -> Self {
        let setting = Setting { fonts, size: FOOT, width: size.0 - 2.0 * SIDE };
        let foot: Vec<Block> = note.foot.iter().map(|line| setting.text(&[(Face::Regular, line)], "")).collect();
        let many: usize = foot.iter().map(|block| block.lines.len()).sum();
        let foot = if many > MOST_FOOT_LINES { Vec::new() } else { foot };
        Self { fonts, note, size, type_size, pages: Vec::new(), parts: Vec::new(), foot }
    }

    /// Also how many pages have text.
    fn arrange(mut self, drawings: &[&'a Drawing]) -> (Pages<'a>, usize) {
        self.pages.push(Vec::new());
        let mut top = self.heading();
        let blocks = self.blocks();
        let first_part = self.parts.len();
        self.parts.extend(blocks.iter().map(|block| block.role.clone()));
        let mut at = Cursor::default();
        loop {
            let (columns, height, next) = two_columns(&blocks, at, self.bottom() - top);
            for (column, x) in columns.iter().zip([SIDE, SIDE + self.column() + GAP]) {
                for placed in column {
                    let block = &blocks[placed.block];
                    self.block(Belongs::Part(first_part + placed.block), block, placed.lines, (x, top + placed.top));
                }
            }
            at = next;
            top += height;
            if at.block >= blocks.len() {
                break;
            }
            top = self.next_page();
        }
        let pages_of_text = self.pages.len();
        self.drawings(drawings, top);
        self.feet();
        (Pages { size: self.size, pages: self.pages, parts: self.parts }, pages_of_text)
    }

    fn column(&self) -> f32 {
        (self.size.0 - 2.0 * SIDE - GAP) / 2.0
    }

    // Where the text of a page ends.
    fn bottom(&self) -> f32 {
        let foot: f32 = self.foot.iter().map(|block| block.before + block.height(block.lines.len())).sum();
        self.size.1 - BOTTOM - foot - 18.0
    }

    fn put(&mut self, belongs: Belongs, ink: Ink<'a>) {
        if let Some(page) = self.pages.last_mut() {
            page.push(Leaf { belongs, ink });
        }
    }

    fn rule(&mut self, y: f32, width: f32) {
        let (from, to) = ((SIDE, y), (self.size.0 - SIDE, y));
        self.put(Belongs::Ornament, Ink::Rule { from, to, width });
    }

    // Some lines of a block, its rule under them.
    fn block(&mut self, belongs: Belongs, block: &Block, (from, to): (usize, usize), (x, top): Place) {
        let mut y = top;
        for line in &block.lines[from..to] {
            for piece in line {
                // Small type stands on the base line of the line's leading.
                let at = (x + piece.x, y + block.leading * 0.78);
                self.put(belongs, Ink::Words { at, style: piece.style, words: piece.words.clone() });
            }
            y += block.leading;
        }
        if block.heads && to == block.lines.len() {
            let (from, to) = ((x, y + RULED * 0.3), (x + self.column(), y + RULED * 0.3));
            self.put(Belongs::Ornament, Ink::Rule { from, to, width: 0.5 });
        }
    }

    // Title, how it stands, whose it is; gives where the text begins.
    fn heading(&mut self) -> f32 {
        let width = self.size.0 - 2.0 * SIDE;
        let note = self.note;
        let mut y = TOP;
        let title = shortened(&note.title, LONGEST_TITLE);
        y = self.paragraph(Role::Title(title.clone()), &[(bold(TITLE), &title)], (SIDE, y, width));
        let status = shortened(&note.status, LONGEST_STATUS);
        if note.draft && !status.trim().is_empty() {
            let end = self.paragraph(Role::Text, &[(bold(STATUS), &status)], (SIDE + 6.0, y + 8.0, width - 12.0));
            self.frame((SIDE, y + 4.0), (SIDE + width, end + 3.5));
            y = end + 9.0;
        } else {
            y = self.paragraph(Role::Text, &[(bold(STATUS), &status)], (SIDE, y + 3.0, width)) + 4.0;
        }
        let cell = (width - 2.0 * GAP) / 3.0;
        let pairs: Vec<(String, String)> =
            note.heading.iter().filter(|pair| !is_long(pair)).take(MOST_PAIRS).cloned().collect();
        for row in pairs.chunks(3) {
            let mut end = y;
            let mut x = SIDE;
            for (name, words) in row {
                let runs = [(soft(HEADING), name.as_str()), (regular(HEADING), words.as_str())];
                end = end.max(self.paragraph(Role::Text, &runs, (x, y, cell)));
                x += cell + GAP;
            }
            y = end + 1.5;
        }
        self.rule(y + 3.0, 1.0);
        y + 9.0
    }

    // Straight onto the page; gives its lower end.
    fn paragraph(&mut self, role: Role, runs: &[(Style, &str)], (x, top, width): (f32, f32, f32)) -> f32 {
        let size = runs.first().map_or(0.0, |(style, _)| style.size);
        let (before, heads, leading) = (0.0, false, size * 1.24);
        let block = Block { role, lines: lines(self.fonts, runs, width, 0.0), leading, before, heads };
        let end = top + block.height(block.lines.len());
        if block.lines.is_empty() {
            return end;
        }
        self.parts.push(block.role.clone());
        self.block(Belongs::Part(self.parts.len() - 1), &block, (0, block.lines.len()), (x, top));
        end
    }

    fn frame(&mut self, (left, top): Place, (right, bottom): Place) {
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        for pair in corners.windows(2) {
            self.put(Belongs::Ornament, Ink::Rule { from: pair[0], to: pair[1], width: 1.2 });
        }
    }

    // All that stands in the columns: first what was too long for the heading, last what was too long for the foot.
    fn blocks(&self) -> Vec<Block> {
        let setting = Setting { fonts: self.fonts, size: self.type_size, width: self.column() };
        let note = self.note;
        let mut blocks = Vec::new();
        for (words, longest) in [(&note.title, LONGEST_TITLE), (&note.status, LONGEST_STATUS)] {
            if words.chars().count() > longest {
                blocks.push(setting.text(&[(Face::Bold, words)], ""));
            }
        }
        let (long, short): (Vec<_>, Vec<_>) = note.heading.iter().partition(|pair| is_long(pair));
        for (name, words) in long.into_iter().chain(short.into_iter().skip(MOST_PAIRS)) {
            blocks.push(setting.text(&[(Face::Bold, name), (Face::Regular, words)], ""));
        }
        blocks.extend(note.sections.iter().flat_map(|section| setting.section(section)));
        if self.foot.is_empty() {
            blocks.extend(note.foot.iter().map(|line| setting.text(&[], line)));
        }
        blocks.retain(|block| !block.lines.is_empty());
        blocks
    }

    // A page with the record's title and whose it is on top; gives where its text begins.
    fn next_page(&mut self) -> f32 {
        self.pages.push(Vec::new());
        let whose: Vec<String> = self.note.heading.iter().map(|(name, words)| format!("{name} {words}")).collect();
        let width = self.size.0 - 2.0 * SIDE;
        let title = self.fitting(&self.note.title, bold(HEADING), width * 0.45);
        let left = self.fonts.width(Face::Bold, HEADING, &title) + 10.0;
        let whose = self.fitting(&whose.join(" · "), regular(HEADING), width - left);
        self.put(Belongs::Header, Ink::Words { at: (SIDE, TOP + 4.0), style: bold(HEADING), words: title });
        self.put(Belongs::Header, Ink::Words { at: (SIDE + left, TOP + 4.0), style: regular(HEADING), words: whose });
        self.rule(TOP + 10.0, 0.7);
        TEXT_TOP
    }

    // In one line; what is cut from its end is shown by dots. It stands in full elsewhere.
    fn fitting(&self, words: &str, style: Style, width: f32) -> String {
        let words = self.fonts.writable(words);
        let wide = |text: &str| self.fonts.width(style.face, style.size, text);
        if wide(&words) <= width {
            return words;
        }
        let mut room = width - wide("...");
        let fits = |(_, sign): &(char, f32)| {
            room -= sign;
            room >= 0.0
        };
        let signs = words.chars().zip(self.fonts.widths(style.face, style.size, &words));
        let kept: String = signs.take_while(fits).map(|(sign, _)| sign).collect();
        format!("{}...", kept.trim_end())
    }

    // Two side by side, under the text if they have room there.
    fn drawings(&mut self, drawings: &[&'a Drawing], text_end: f32) {
        let mut y = text_end + 14.0;
        for pair in drawings.chunks(2) {
            let highest = self.bottom() - TEXT_TOP;
            let scale = |drawing: &Drawing| (self.column() / drawing.width).min(highest / drawing.height).min(1.0);
            let height = pair.iter().map(|drawing| drawing.height * scale(drawing)).fold(0.0, f32::max);
            let scales: Vec<f32> = pair.iter().map(|drawing| scale(drawing)).collect();
            if y + height > self.bottom() {
                y = self.next_page();
            }
            for ((drawing, scale), x) in pair.iter().zip(scales).zip([SIDE, SIDE + self.column() + GAP]) {
                self.parts.push(Role::Figure(drawing.words.clone()));
                let belongs = Belongs::Part(self.parts.len() - 1);
                self.put(belongs, Ink::Drawn { at: (x, y), scale, drawing });
            }
            y += height + 14.0;
        }
    }

    // On every page: the note's last lines, how it stands, and which page it is.
    fn feet(&mut self) {
        let many = self.pages.len();
        let bottom = self.bottom();
        let pages = std::mem::take(&mut self.pages);
        for (at, page) in pages.into_iter().enumerate() {
            self.pages.push(page);
            self.rule(bottom + 6.0, 0.5);
            let mut y = bottom + 8.0;
            for block in self.foot.clone() {
                // Read aloud once.
                let belongs = if at == 0 {
                    self.parts.push(Role::Text);
                    Belongs::Part(self.parts.len() - 1)
                } else {
                    Belongs::Footer
                };
                self.block(belongs, &block, (0, block.lines.len()), (SIDE, y + block.before));
                y += block.before + block.height(block.lines.len());
            }
            let number = format!("page {} of {many}", at + 1);
            let wide = self.fonts.width(Face::Bold, FOOT + 0.6, &number);
            let right = self.size.0 - SIDE - wide;
            let line = self.size.1 - BOTTOM;
            let status = self.fitting(&self.note.status, bold(FOOT + 0.6), right - SIDE - 12.0);
            for (x, words) in [(SIDE, status), (right, number)] {
                self.put(Belongs::Footer, Ink::Words { at: (x, line), style: bold(FOOT + 0.6), words });
            }
        }
    }
}

fn is_long((name, words): &(String, String)) -> bool {
    name.chars().count() + words.chars().count() > LONGEST_PAIR
}

fn bold(size: f32) -> Style {
    Style { face: Face::Bold, size, tone: Tone::Ink }
}

fn regular(size: f32) -> Style {
    Style { face: Face::Regular, size, tone: Tone::Ink }
}

fn soft(size: f32) -> Style {
    Style { tone: Tone::Soft, ..regular(size) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::export::note::{NoteLine, Section};

    // Upper left and lower right, about.
    fn corners(fonts: &Fonts, ink: &Ink) -> (Place, Place) {
        match ink {
            Ink::Words { at, style, words } => {
                (*at, (at.0 + fonts.width(style.face, style.size, words.trim_end()), at.1))
            }
            Ink::Rule { from, to, .. } => (*from, *to),
            Ink::Drawn { at, scale, drawing } => (*at, (at.0 + drawing.width * scale, at.1 + drawing.height * scale)),
        }
    }

    #[track_caller]
    fn check_edges(fonts: &Fonts, pages: &Pages) {
        let (width, height) = pages.size;
        let within = |(x, y): Place| {
            (SIDE - 0.1..=width - SIDE + 0.1).contains(&x) && (TOP - 0.1..=height - BOTTOM + 0.1).contains(&y)
        };
        for leaves in &pages.pages {
            // The last rule from side to side is the one above the foot.
            let is_wide =
                |ink: &Ink| matches!(ink, Ink::Rule { from, to, .. } if to.0 - from.0 > width - 2.0 * SIDE - 0.1);
            let foot = leaves.iter().rposition(|leaf| is_wide(&leaf.ink)).expect("every page has a foot");
            let foot_at = corners(fonts, &leaves[foot].ink).0.1;
            for (at, leaf) in leaves.iter().enumerate() {
                let (first, last) = corners(fonts, &leaf.ink);
                assert!(within(first) && within(last), "beyond the edge: {leaf:?}");
                assert!(at >= foot || last.1 <= foot_at, "in the foot: {leaf:?}");
            }
        }
    }

    fn drawing(height: f32) -> Drawing {
        Drawing { width: 256.0, height, title: String::new(), words: String::new(), shapes: Vec::new() }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn nothing_is_beyond_the_edges_and_columns_end_above_the_foot(
            title in prop_oneof!["[A-Za-z ]{0,160}", "W{0,200}", ".{0,400}"],
            status in prop_oneof!["[A-Za-z ]{0,300}", "W{0,320}"],
            pairs in prop::collection::vec(("[a-z]{0,10}", prop_oneof!["W{0,170}", "[a-z ]{0,170}"]), 0..20),
            lines in prop::collection::vec((".{0,40}", prop_oneof![".{0,900}", "W{0,2000}"], "[a-z ]{0,200}"), 0..40),
            foot in prop::collection::vec("[A-Za-z ]{0,300}", 0..9),
            heights in prop::collection::vec(50f32..2000.0, 0..4),
            draft in any::<bool>(),
        ) {
            let fonts = Fonts::load().unwrap();
            let lines = lines.into_iter().map(|(lead, words, small)| NoteLine { lead, words, small }).collect();
            let sections = vec![Section { title: title.clone(), lines }];
            let note = Note { title, draft, status, heading: pairs, sections, foot };
            let drawings: Vec<Drawing> = heights.into_iter().map(drawing).collect();
            let drawings: Vec<&Drawing> = drawings.iter().collect();
            for size in [(595.28, 841.89), (612.0, 792.0)] {
                check_edges(&fonts, &arranged(&fonts, &note, &drawings, size));
            }
        }
    }
}

//! Text → lines that fit a width.
//! Takes runs of text, each in its style; gives lines by the fonts' own widths, broken at blanks. A word that is wider than a line is
//! broken where the line ends; nothing is cut off. Leaves alone where lines are put.
//!
//! "left 150°" in bold and "usual 70 to 110" in small type may share a line

use super::font::{Face, Fonts};
use crate::export::drawing::Tone;

/// How text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub(super) face: Face,
    pub(super) size: f32,
    pub(super) tone: Tone,
}

/// A stretch of a line in one style.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Piece {
    /// From the line's beginning.
    pub(super) x: f32,
    pub(super) style: Style,
    /// With the blank behind it, where one stood there.
    pub(super) words: String,
}

/// Lines in the making.
struct Setter<'a> {
    fonts: &'a Fonts,
    width: f32,
    /// How far every line but the first is moved in.
    hang: f32,
    lines: Vec<Vec<Piece>>,
    x: f32,
}

/// Lines of at most a width; every one but the first begins a little further in. No line for no words.
pub(super) fn lines(fonts: &Fonts, runs: &[(Style, &str)], width: f32, hang: f32) -> Vec<Vec<Piece>> {
    let mut setter = Setter { fonts, width, hang, lines: Vec::new(), x: 0.0 };
    for (style, text) in runs {
        let text = fonts.writable(text);
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            setter.word(*style, word);
        }
    }
    setter.lines
}

impl Setter<'_> {
    fn word(&mut self, style: Style, word: &str) {
        let width = self.fonts.width(style.face, style.size, word);
        let begins = self.lines.last().is_none_or(Vec::is_empty);
        let gap = self.blank();
        if self.lines.is_empty() || (!begins && self.x + gap + width > self.width) {
            self.next_line();
        }
        if self.x + width <= self.width {
            self.put(style, word, width);
            return;
        }
        let mut piece = String::new();
        let mut wide = 0.0;
        for (sign, advance) in word.chars().zip(self.fonts.widths(style.face, style.size, word)) {
            if self.x + wide + advance > self.width && !piece.is_empty() {
                self.put(style, &piece, wide);
                (piece, wide) = (String::new(), 0.0);
                self.next_line_within_a_word();
            }
            piece.push(sign);
            wide += advance;
        }
        self.put(style, &piece, wide);
    }

    // The blank behind the line's last word, in that word's style; none at its beginning.
    fn blank(&self) -> f32 {
        let last = self.lines.last().and_then(|line| line.last());
        last.map_or(0.0, |last| self.fonts.width(last.style.face, last.style.size, " "))
    }

    // The blank between two words belongs to the first, also at a line's end: copied text keeps its words apart.
    fn next_line(&mut self) {
        if let Some(piece) = self.lines.last_mut().and_then(|line| line.last_mut()) {
            piece.words.push(' ');
        }
        self.next_line_within_a_word();
    }

    fn next_line_within_a_word(&mut self) {
        self.x = if self.lines.is_empty() { 0.0 } else { self.hang };
        self.lines.push(Vec::new());
    }

    fn put(&mut self, style: Style, words: &str, width: f32) {
        let blank = self.blank();
        let Some(line) = self.lines.last_mut() else { return };
        if let Some(last) = line.last_mut() {
            self.x += blank;
            last.words.push(' ');
            if last.style == style {
                last.words.push_str(words);
                self.x += width;
                return;
            }
        }
        line.push(Piece { x: self.x, style, words: words.to_owned() });
        self.x += width;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn style(face: Face) -> Style {
        Style { face, size: 8.0, tone: Tone::Ink }
    }

    fn text(lines: &[Vec<Piece>]) -> Vec<String> {
        lines.iter().map(|line| line.iter().map(|piece| piece.words.as_str()).collect()).collect()
    }

    #[test]
    fn words_go_on_in_the_next_line_and_keep_their_blank() {
        let fonts = Fonts::load().unwrap();
        let runs = [(style(Face::Bold), "popliteal angle left"), (style(Face::Regular), "150° and  more")];
        assert_eq!(text(&lines(&fonts, &runs, 500.0, 6.0)), ["popliteal angle left 150° and more"]);
        assert_eq!(text(&lines(&fonts, &runs, 90.0, 6.0)), ["popliteal angle left ", "150° and more"]);
        assert!(lines(&fonts, &[(style(Face::Bold), " \n")], 90.0, 6.0).is_empty());
    }

    #[test]
    fn a_long_word_is_broken_and_nothing_of_it_is_lost() {
        let fonts = Fonts::load().unwrap();
        let word = "mW.".repeat(500);
        let lines = lines(&fonts, &[(style(Face::Regular), &format!("one {word} two"))], 120.0, 6.0);
        assert_eq!(text(&lines).concat(), format!("one {word} two"));
        for piece in lines.iter().flatten() {
            let end = piece.x + fonts.width(piece.style.face, piece.style.size, piece.words.trim_end());
            assert!(end <= 120.01, "{end}: {}", piece.words);
        }
    }
}

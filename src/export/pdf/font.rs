//! The fonts of a page: widths, and what they can write.
//! Takes text; gives it as the fonts can write it, how wide it is, and its glyphs. A character that the fonts lack becomes the
//! replacement character: it is seen that something stood there. Leaves alone where text is put.
//!
//! "tone ↑ 90°" is written as it is, a smiling face as "\u{fffd}"

use std::collections::HashMap;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::PdfError;

static REGULAR: &[u8] = include_bytes!("font/DejaVuSansCondensed.ttf");
static BOLD: &[u8] = include_bytes!("font/DejaVuSansCondensed-Bold.ttf");

/// What stands for a character that cannot be written.
const REPLACEMENT: char = '\u{fffd}';

/// Which of the two fonts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Face {
    Regular,
    Bold,
}

/// Both fonts.
pub(super) struct Fonts {
    regular: Loaded,
    bold: Loaded,
}

struct Loaded {
    /// For the page.
    font: Font,
    /// What it can write: the glyph, and how wide it is in shares of the size. Nothing goes through them in order.
    glyphs: HashMap<char, (GlyphId, f32)>,
}

impl Loaded {
    fn new(bytes: &'static [u8]) -> Result<Self, PdfError> {
        let parsed = FontRef::new(bytes).map_err(|fault| PdfError::Font(fault.to_string()))?;
        let font = Font::new(bytes.into(), 0).ok_or_else(|| PdfError::Font("it has no outlines".to_owned()))?;
        let measures = parsed.glyph_metrics(Size::unscaled(), LocationRef::default());
        let glyph = |(code, glyph): (u32, skrifa::GlyphId)| {
            let wide = measures.advance_width(glyph)? / font.units_per_em();
            Some((char::from_u32(code)?, (GlyphId::new(glyph.to_u32()), wide)))
        };
        let glyphs = parsed.charmap().mappings().filter_map(glyph).collect();
        Ok(Self { font, glyphs })
    }
}

impl Fonts {
    /// The fonts that the program brings.
    pub(super) fn load() -> Result<Self, PdfError> {
        Ok(Self { regular: Loaded::new(REGULAR)?, bold: Loaded::new(BOLD)? })
    }

    fn of(&self, face: Face) -> &Loaded {
        match face {
            Face::Regular => &self.regular,
            Face::Bold => &self.bold,
        }
    }

    /// The font of a face, for the page.
    pub(super) fn font(&self, face: Face) -> Font {
        self.of(face).font.clone()
    }

    /// Text as the fonts can write it: in a line, breaks and tabs as blanks.
    pub(super) fn writable(&self, text: &str) -> String {
        let known = |sign: char| self.regular.glyphs.contains_key(&sign) && self.bold.glyphs.contains_key(&sign);
        text.chars()
            // A soft hyphen is seen only where a line breaks at it, and none does.
            .filter(|sign| *sign != '\u{ad}')
            .map(|sign| match sign {
                ' ' | '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' => ' ',
                sign if known(sign) => sign,
                _ => REPLACEMENT,
            })
            .collect()
    }

    /// How wide a text is.
    pub(super) fn width(&self, face: Face, size: f32, text: &str) -> f32 {
        self.widths(face, size, text).sum()
    }

    /// The widths of a text's characters.
    pub(super) fn widths(&self, face: Face, size: f32, text: &str) -> impl Iterator<Item = f32> {
        let glyphs = &self.of(face).glyphs;
        text.chars().map(move |sign| glyphs.get(&sign).map_or(0.0, |(_, wide)| wide * size))
    }

    /// The glyphs of a text.
    pub(super) fn glyphs(&self, face: Face, text: &str) -> Vec<KrillaGlyph> {
        let known = &self.of(face).glyphs;
        text.char_indices()
            .map(|(at, sign)| {
                let (glyph_id, x_advance) = known.get(&sign).copied().unwrap_or((GlyphId::new(0), 0.0));
                let text_range = at..at + sign.len_utf8();
                let (x_offset, y_offset, y_advance, location) = (0.0, 0.0, 0.0, None);
                KrillaGlyph { glyph_id, text_range, x_advance, x_offset, y_offset, y_advance, location }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_record_needs_can_be_written_and_the_rest_is_seen_to_be_missing() {
        let fonts = Fonts::load().unwrap();
        let needed = "Az09 °±≥≤<–—“”‘’×←→↑↓·…½²µ≈ éüßøąčžÅ Ωαβ Ж";
        assert_eq!(fonts.writable(needed), needed);
        assert_eq!(
            fonts.writable("a\tb\nc\u{0}d\u{1f600}e\u{5d0}\u{202e}f\u{ad}g"),
            "a b c\u{fffd}d\u{fffd}e\u{fffd}\u{fffd}fg"
        );
        for face in [Face::Regular, Face::Bold] {
            assert!(fonts.glyphs(face, "a\u{fffd}°").iter().all(|glyph| glyph.glyph_id.to_u32() > 0));
            let (one, two) = (fonts.width(face, 10.0, "i"), fonts.width(face, 10.0, "iW"));
            assert!(one > 1.0 && two > 2.0 * one, "{one} {two}");
        }
    }
}

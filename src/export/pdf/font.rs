//! The fonts of a page: widths, and what they can write.
//! Takes text; gives it as the fonts can write it, how wide it is, and its glyphs. A character that the fonts lack becomes the
//! replacement character: it is seen that something stood there. Leaves alone where text is put.
//!
//! "tone ↑ 90°" is written as it is, a smiling face as "\u{fffd}"

use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
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
    /// For widths.
    parsed: FontRef<'static>,
    units: f32,
}

impl Fonts {
    /// The fonts that the program brings.
    pub(super) fn load() -> Result<Self, PdfError> {
        let load = |bytes: &'static [u8]| -> Result<Loaded, PdfError> {
            let parsed = FontRef::new(bytes).map_err(|fault| PdfError::Font(fault.to_string()))?;
            let font = Font::new(bytes.into(), 0).ok_or_else(|| PdfError::Font("it has no outlines".to_owned()))?;
            let units = font.units_per_em();
            Ok(Loaded { font, parsed, units })
        };
        Ok(Self { regular: load(REGULAR)?, bold: load(BOLD)? })
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
        let (regular, bold) = (self.regular.parsed.charmap(), self.bold.parsed.charmap());
        let known = |sign: char| regular.map(sign).is_some() && bold.map(sign).is_some();
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
        let measures = self.measures(face);
        text.chars().map(|sign| self.advance(face, &measures, sign)).sum::<f32>() * size
    }

    /// The widths of a text's characters.
    pub(super) fn widths(&self, face: Face, size: f32, text: &str) -> Vec<f32> {
        let measures = self.measures(face);
        text.chars().map(|sign| self.advance(face, &measures, sign) * size).collect()
    }

    /// The glyphs of a text.
    pub(super) fn glyphs(&self, face: Face, text: &str) -> Vec<KrillaGlyph> {
        let measures = self.measures(face);
        let charmap = self.of(face).parsed.charmap();
        text.char_indices()
            .map(|(at, sign)| KrillaGlyph {
                glyph_id: GlyphId::new(charmap.map(sign).map_or(0, |glyph| glyph.to_u32())),
                text_range: at..at + sign.len_utf8(),
                x_advance: self.advance(face, &measures, sign),
                x_offset: 0.0,
                y_offset: 0.0,
                y_advance: 0.0,
                location: None,
            })
            .collect()
    }

    fn measures(&self, face: Face) -> GlyphMetrics<'static> {
        self.of(face).parsed.glyph_metrics(Size::unscaled(), LocationRef::default())
    }

    // In shares of the size.
    fn advance(&self, face: Face, measures: &GlyphMetrics<'static>, sign: char) -> f32 {
        let loaded = self.of(face);
        let glyph = loaded.parsed.charmap().map(sign).unwrap_or_default();
        measures.advance_width(glyph).unwrap_or(0.0) / loaded.units
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

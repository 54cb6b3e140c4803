//! Pages → the bytes of a PDF.
//! Takes pages with what is drawn where; gives the file, with its title, language, date and the order in which it is read. Behind what
//! nobody has signed DRAFT stands across every page. Leaves alone where things are (`pages`).
//!
//! A page of a draft begins with large grey words from its lower left to its upper right

use krilla::color::luma;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::geom::{PathBuilder, Point, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};
use krilla::{Document, SerializeSettings};

use super::font::{Face, Fonts};
use super::lines::Style;
use super::pages::{Belongs, Ink, Leaf, Pages};
use super::tags::{Tags, outline};
use super::{PdfError, Sheet};
use crate::export::drawing::{Anchor, Drawing, Place, Shape, Step, Tone};
use crate::export::words::shortened;
use crate::record::person::Moment;

/// What stands across every page of what nobody has signed.
const WATERMARK: &str = "DRAFT - not confirmed";
/// How much ink that takes: seen at once, and read through.
const WATERMARK_INK: f32 = 0.1;
/// The longest title that the file's own data hold.
const LONGEST_TITLE: usize = 200;

/// The file.
pub(super) fn painted(fonts: &Fonts, sheet: &Sheet, pages: &Pages) -> Result<Vec<u8>, PdfError> {
    let fault = |fault: &dyn std::fmt::Debug| PdfError::File(format!("{fault:?}"));
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|found| fault(&found))?;
    let mut document = Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let (width, height) = pages.size;
    let settings = PageSettings::from_wh(width, height).ok_or_else(|| PdfError::File("no such paper".to_owned()))?;
    let mut tags = Tags::new(&pages.parts);
    for (at, leaves) in pages.pages.iter().enumerate() {
        let mut page = document.start_page_with(settings.clone());
        let mut painter = Painter { fonts, surface: page.surface() };
        if sheet.note.draft {
            painter.watermark(pages.size);
        }
        for leaf in leaves {
            painter.leaf(leaf, &mut tags, at);
        }
    }
    document.set_metadata(metadata(fonts, sheet));
    document.set_outline(outline(&pages.parts, &tags, &title(fonts, sheet)));
    document.set_tag_tree(tags.tree(sheet.language));
    document.finish().map_err(|found| fault(&found))
}

fn title(fonts: &Fonts, sheet: &Sheet) -> String {
    let title = shortened(&fonts.writable(&sheet.note.title), LONGEST_TITLE);
    // A file for everybody must have one.
    if title.is_empty() { "Record".to_owned() } else { title }
}

fn metadata(fonts: &Fonts, sheet: &Sheet) -> Metadata {
    let data = Metadata::new()
        .title(title(fonts, sheet))
        .description(shortened(&fonts.writable(&sheet.note.status), LONGEST_TITLE))
        .language(sheet.language.to_owned())
        .creator(format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION")));
    data.creation_date(date(sheet.made))
}

// In UTC; a moment beyond all calendars is the beginning of time.
fn date(moment: Moment) -> DateTime {
    let time = jiff::Timestamp::from_millisecond(moment.0).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    let time = jiff::tz::Offset::UTC.to_datetime(time);
    let small = |number: i8| u8::try_from(number).unwrap_or(0);
    DateTime::new(u16::try_from(time.year()).unwrap_or(1970))
        .month(small(time.month()))
        .day(small(time.day()))
        .hour(small(time.hour()))
        .minute(small(time.minute()))
        .second(small(time.second()))
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}

struct Painter<'a, 's> {
    fonts: &'a Fonts,
    surface: Surface<'s>,
}

impl Painter<'_, '_> {
    fn leaf(&mut self, leaf: &Leaf, tags: &mut Tags, page: usize) {
        let place = match &leaf.ink {
            Ink::Words { at, .. } | Ink::Drawn { at, .. } => *at,
            Ink::Rule { from, .. } => *from,
        };
        let tag = match (leaf.belongs, &leaf.ink) {
            (Belongs::Part(_), Ink::Words { .. }) => ContentTag::Span(SpanTag::empty()),
            (Belongs::Part(_), _) => ContentTag::Other,
            (Belongs::Header, _) => artifact(ArtifactType::Header),
            (Belongs::Footer, _) => artifact(ArtifactType::Footer),
            (Belongs::Ornament, _) => artifact(ArtifactType::Layout),
        };
        let id = self.surface.start_tagged(tag);
        match &leaf.ink {
            Ink::Words { at, style, words } => self.words(*at, *style, words),
            Ink::Rule { from, to, width } => self.rule(*from, *to, *width),
            Ink::Drawn { at, scale, drawing } => self.drawing(*at, *scale, drawing),
        }
        self.surface.end_tagged();
        if let Belongs::Part(part) = leaf.belongs {
            tags.add(part, id, (page, place));
        }
    }

    // From the lower left to the upper right, as large as the page allows.
    fn watermark(&mut self, (width, height): (f32, f32)) {
        let angle = height.atan2(width);
        let size = width.hypot(height) * 0.72 / self.fonts.width(Face::Bold, 1.0, WATERMARK);
        let long = self.fonts.width(Face::Bold, size, WATERMARK);
        let centre = Transform::from_translate(width / 2.0, height / 2.0);
        self.surface.push_transform(&centre);
        self.surface.push_transform(&Transform::from_rotate(-angle.to_degrees()));
        let _ = self.surface.start_tagged(artifact(ArtifactType::Watermark));
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(fill(WATERMARK_INK)));
        self.glyphs((-long / 2.0, size * 0.36), Face::Bold, size, WATERMARK);
        self.surface.end_tagged();
        self.surface.pop();
        self.surface.pop();
    }

    fn words(&mut self, at: Place, style: Style, words: &str) {
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(fill(style.tone.ink())));
        self.glyphs(at, style.face, style.size, words);
    }

    fn glyphs(&mut self, (x, y): Place, face: Face, size: f32, words: &str) {
        let glyphs = self.fonts.glyphs(face, words);
        self.surface.draw_glyphs(Point::from_xy(x, y), &glyphs, self.fonts.font(face), words, size, false);
    }

    fn rule(&mut self, from: Place, to: Place, width: f32) {
        self.path(&[Step::Move(from), Step::Line(to)], Some((width, Tone::Ink, &[])), None);
    }

    fn path(&mut self, steps: &[Step], line: Option<(f32, Tone, &[f32])>, filled: Option<Tone>) {
        let mut path = PathBuilder::new();
        for step in steps {
            match *step {
                Step::Move((x, y)) => path.move_to(x, y),
                Step::Line((x, y)) => path.line_to(x, y),
                Step::Curve((a, b), (c, d), (x, y)) => path.cubic_to(a, b, c, d, x, y),
                Step::Close => path.close(),
            }
        }
        let Some(path) = path.finish() else { return };
        self.surface.set_fill(filled.map(|tone| fill(tone.ink())));
        self.surface.set_stroke(line.map(|(width, tone, dash)| Stroke {
            paint: grey(tone.ink()).into(),
            width,
            line_cap: LineCap::Butt,
            line_join: LineJoin::Round,
            dash: (!dash.is_empty()).then(|| StrokeDash { array: dash.to_vec(), offset: 0.0 }),
            ..Stroke::default()
        }));
        self.surface.draw_path(&path);
    }

    fn drawing(&mut self, (x, y): Place, scale: f32, drawing: &Drawing) {
        self.surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, x, y));
        for shape in &drawing.shapes {
            match shape {
                Shape::Path { steps, line, fill } => {
                    self.path(steps, line.map(|line| (line.width, line.tone, line.dash.pattern())), *fill);
                }
                Shape::Dot { at, radius } => {
                    self.path(&crate::export::chart::circle(*at, *radius), None, Some(Tone::Ink));
                }
                Shape::Words { at, anchor, size, bold, tone, words } => {
                    let face = if *bold { Face::Bold } else { Face::Regular };
                    let words = self.fonts.writable(words);
                    let wide = self.fonts.width(face, *size, &words);
                    let left = match anchor {
                        Anchor::Start => at.0,
                        Anchor::Middle => at.0 - wide / 2.0,
                        Anchor::End => at.0 - wide,
                    };
                    self.words((left, at.1), Style { face, size: *size, tone: *tone }, &words);
                }
            }
        }
        self.surface.pop();
    }
}

fn artifact(kind: ArtifactType) -> ContentTag<'static> {
    ContentTag::Artifact(Artifact::with_kind(kind))
}

fn fill(ink: f32) -> Fill {
    Fill { paint: grey(ink).into(), opacity: NormalizedF32::ONE, ..Fill::default() }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of 255 is a byte")]
fn grey(ink: f32) -> luma::Color {
    luma::Color::new(((1.0 - ink.clamp(0.0, 1.0)) * 255.0).round() as u8)
}

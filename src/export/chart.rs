//! Measurements on the lines of a growth standard.
//! Takes a standard, measure, sex and one infant's measurements; gives a drawing of them: axes with marks, the lines of five centiles
//! named at their ends, the measurements joined in order of age, and under it the standard's full name, for whom it is, and which age
//! it counts. No line goes past the end of its standard. Leaves alone which standard is used (`computed::growth`) and how a drawing
//! looks on a page (`svg`, `pdf`).
//! Files, in reading order: `window` what is shown, `labels` where words have room, `told` the drawing in words.
//!
//! 36 cm on day 3, a boy, WHO: a dot between the lines of the 50th and the 90th centile, "this examination 36 cm" beside it

mod labels;
mod told;
mod window;

use crate::computed::growth::{Curves, Measure, Sex, Standard, Tables, curves, ordinal};
use crate::export::drawing::{Anchor, Dash, Drawing, Line, Place, Shape, Step, Tone, line_through};
pub(super) use labels::wrapped;
use labels::{Label, Room};
use window::{Window, counts_days, window};

/// A measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartPoint {
    /// At which age in days, as the standard counts: since birth, of gestation, or post-menstrual.
    pub at_days: u32,
    /// In the unit of the measure.
    pub value: f64,
    /// Which it is: "29 Nov", "this examination".
    pub label: String,
    /// Whether it is the one that the record is about.
    pub current: bool,
}

/// A growth chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// What is drawn, and the same in words.
    pub drawing: Drawing,
    /// What must stand beside every figure of it: the standard's full name, for whom it is, which age it counts.
    pub caption: String,
    /// The measurements that are not drawn, and why; none where all are.
    pub left_out: Vec<String>,
}

/// How large a chart is; in the unit of a page, so that two fit side by side.
const SIZE: (f32, f32) = (256.0, 206.0);
/// The field of the lines: left, top, right, bottom.
const FIELD: (f32, f32, f32, f32) = (25.0, 25.0, 228.0, 166.0);
const TITLE: f32 = 9.0;
const SMALL: f32 = 6.8;
const CAPTION: f32 = 6.3;

/// A chart of one infant's measurements; none where the standard is not there, or has no age of a measurement. `title` is what was
/// measured, for people.
#[must_use]
pub fn chart(
    tables: &Tables,
    standard: Standard,
    (measure, title): (Measure, &str),
    sex: Sex,
    points: &[ChartPoint],
) -> Option<Chart> {
    let curves = curves(tables, standard, measure, sex)?;
    let (first, last) = curves.ages()?;
    let is_size = |point: &&ChartPoint| point.value.is_finite() && point.value > 0.0;
    let (mut drawn, outside): (Vec<&ChartPoint>, Vec<&ChartPoint>) =
        points.iter().filter(is_size).partition(|point| (first..=last).contains(&point.at_days));
    drawn.sort_by_key(|point| (point.at_days, point.current));
    let window = window(&curves, &drawn)?;
    let caption = told::caption(&curves);
    let left_out = told::left_out(&curves, &outside);
    let mut sketch = Sketch { window: &window, shapes: Vec::new() };
    sketch.frame(standard, (title, measure.unit()));
    sketch.lines(&curves);
    let crowded_out = sketch.points(&drawn, measure);
    let height = sketch.foot(&caption, &crowded_out, &left_out);
    let shapes = sketch.shapes;
    let words = told::words(tables, &curves, (title, &caption), &drawn, &left_out);
    let drawing = Drawing { width: SIZE.0, height, title: told::title(title, &curves), words, shapes };
    Some(Chart { drawing, caption, left_out })
}

/// A chart in the making.
struct Sketch<'a> {
    window: &'a Window,
    shapes: Vec<Shape>,
}

impl Sketch<'_> {
    fn x(&self, day: u32) -> f32 {
        let (first, last) = self.window.days;
        let share = f64::from(day.saturating_sub(first)) / f64::from((last - first).max(1));
        FIELD.0 + (FIELD.2 - FIELD.0) * single(share)
    }

    fn y(&self, value: f64) -> f32 {
        let (low, high) = self.window.values;
        FIELD.3 - (FIELD.3 - FIELD.1) * single((value - low) / (high - low))
    }

    fn line(&mut self, places: &[Place], width: f32, tone: Tone, dash: Dash) {
        let line = Some(Line { width, tone, dash });
        self.shapes.push(Shape::Path { steps: line_through(places), line, fill: None });
    }

    fn words(&mut self, at: Place, anchor: Anchor, (size, tone): (f32, Tone), words: &str) {
        let bold = false;
        self.shapes.push(Shape::Words { at, anchor, size, bold, tone, words: words.to_owned() });
    }

    // Title, axes and their marks, with faint lines through the field.
    fn frame(&mut self, standard: Standard, (title, unit): (&str, &str)) {
        let (left, top, right, bottom) = FIELD;
        let words = title.to_owned();
        let (size, tone) = (TITLE, Tone::Ink);
        self.shapes.push(Shape::Words { at: (0.0, 9.0), anchor: Anchor::Start, size, bold: true, tone, words });
        for (day, name) in self.window.day_marks.clone() {
            let x = self.x(day);
            self.line(&[(x, top), (x, bottom)], 0.5, Tone::Faint, Dash::Solid);
            self.line(&[(x, bottom), (x, bottom + 2.5)], 0.6, Tone::Ink, Dash::Solid);
            self.words((x, bottom + 9.5), Anchor::Middle, (SMALL, Tone::Ink), &name);
        }
        for (value, name) in self.window.value_marks.clone() {
            let y = self.y(value);
            self.line(&[(left, y), (right, y)], 0.5, Tone::Faint, Dash::Solid);
            self.line(&[(left - 2.5, y), (left, y)], 0.6, Tone::Ink, Dash::Solid);
            self.words((left - 4.0, y + 2.4), Anchor::End, (SMALL, Tone::Ink), &name);
        }
        self.line(&[(left, top), (left, bottom), (right, bottom)], 0.7, Tone::Ink, Dash::Solid);
        self.words((left - 4.0, top - 5.5), Anchor::End, (SMALL, Tone::Soft), unit);
        let counted = told::counted(standard, counts_days(standard, self.window.days.1));
        self.words(((left + right) / 2.0, bottom + 18.5), Anchor::Middle, (SMALL, Tone::Soft), &counted);
    }

    fn lines(&mut self, curves: &Curves) {
        let mut ends = Vec::new();
        for line in &curves.lines {
            let (width, dash) = match line.centile {
                50 => (1.1, Dash::Solid),
                10 | 90 => (0.8, Dash::Dashed),
                _ => (0.9, Dash::Dotted),
            };
            let mut end = None;
            for piece in &line.pieces {
                let (first, last) = self.window.days;
                let shown = piece.iter().filter(|(day, _)| (first..=last).contains(day));
                let places: Vec<Place> = shown.map(|(day, value)| (self.x(*day), self.y(*value))).collect();
                end = places.last().copied().or(end);
                if places.len() > 1 {
                    self.line(&places, width, Tone::Soft, dash);
                }
            }
            ends.extend(end.map(|end| (end, line.centile)));
        }
        // From the highest down, each with room for its own line of words.
        let mut lowest = f32::MIN;
        for ((x, y), centile) in ends.into_iter().rev() {
            let y = y.max(lowest + SMALL);
            lowest = y;
            self.words((x + 3.0, y + 2.4), Anchor::Start, (SMALL, Tone::Soft), &ordinal(centile));
        }
    }

    // Joined in order of age; what lies beyond the field is a triangle at its edge, and breaks the line. Gives the words that have no
    // room beside their point.
    fn points(&mut self, points: &[&ChartPoint], measure: Measure) -> Vec<String> {
        let (low, high) = self.window.values;
        let within = |point: &&&ChartPoint| (low..=high).contains(&point.value);
        for run in points.split(|point| !within(&point)) {
            let places: Vec<Place> = run.iter().map(|point| (self.x(point.at_days), self.y(point.value))).collect();
            if places.len() > 1 {
                self.line(&places, 0.7, Tone::Ink, Dash::Solid);
            }
        }
        let places: Vec<Place> =
            points.iter().map(|point| (self.x(point.at_days), self.y(point.value.clamp(low, high)))).collect();
        for (point, place) in points.iter().zip(&places) {
            if within(&point) {
                self.dot(*place, point.current);
            } else {
                self.triangle(*place, point.value > high);
            }
        }
        let labels: Vec<Label> = points
            .iter()
            .zip(&places)
            .map(|(point, at)| {
                let value = told::amount(point.value, measure);
                let label = told::shortened(&point.label);
                let words = if label.is_empty() { value } else { format!("{label}: {value}") };
                Label { at: *at, words, size: SMALL, must: point.current }
            })
            .collect();
        self.labels(&labels, Room::new(FIELD, &places, &self.shapes))
    }

    fn labels(&mut self, labels: &[Label], mut room: Room) -> Vec<String> {
        let mut crowded_out = Vec::new();
        for (label, found) in labels.iter().zip(room.places_for(labels)) {
            let Some((at, anchor)) = found else {
                crowded_out.push(label.words.clone());
                continue;
            };
            if let Some((from, to)) = labels::join(label, at) {
                self.line(&[from, to], 0.4, Tone::Ink, Dash::Solid);
            }
            let (size, bold, tone) = (SMALL, label.must, Tone::Ink);
            self.shapes.push(Shape::Words { at, anchor, size, bold, tone, words: label.words.clone() });
        }
        crowded_out
    }

    fn dot(&mut self, at: Place, current: bool) {
        self.shapes.push(Shape::Dot { at, radius: if current { 2.3 } else { 1.6 } });
        if current {
            let line = Some(Line { width: 0.8, tone: Tone::Ink, dash: Dash::Solid });
            self.shapes.push(Shape::Path { steps: circle(at, 4.0), line, fill: None });
        }
    }

    fn triangle(&mut self, (x, y): Place, upwards: bool) {
        let tip = if upwards { -5.0 } else { 5.0 };
        let steps = vec![Step::Move((x - 3.0, y)), Step::Line((x + 3.0, y)), Step::Line((x, y + tip)), Step::Close];
        self.shapes.push(Shape::Path { steps, line: None, fill: Some(Tone::Ink) });
    }

    // The caption, what has no words beside it, and what is not drawn; gives the height of the whole.
    fn foot(&mut self, caption: &str, crowded_out: &[String], left_out: &[String]) -> f32 {
        let mut at = FIELD.3 + 29.0;
        let crowded_out = told::crowded_out(crowded_out);
        let sentences = [caption, &crowded_out].into_iter().chain(left_out.iter().map(String::as_str));
        for line in sentences.flat_map(|sentence| wrapped(sentence, CAPTION, SIZE.0)) {
            self.words((0.0, at), Anchor::Start, (CAPTION, Tone::Soft), &line);
            at += CAPTION * 1.3;
        }
        (at - CAPTION * 0.8).max(SIZE.1)
    }
}

/// A circle as four curves.
pub(super) fn circle((x, y): Place, r: f32) -> Vec<Step> {
    let k = r * 0.5523;
    vec![
        Step::Move((x + r, y)),
        Step::Curve((x + r, y + k), (x + k, y + r), (x, y + r)),
        Step::Curve((x - k, y + r), (x - r, y + k), (x - r, y)),
        Step::Curve((x - r, y - k), (x - k, y - r), (x, y - r)),
        Step::Curve((x + k, y - r), (x + r, y - k), (x + r, y)),
        Step::Close,
    ]
}

#[expect(clippy::cast_possible_truncation, reason = "a place on a page needs no more than single precision")]
fn single(value: f64) -> f32 {
    value as f32
}

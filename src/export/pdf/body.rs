//! The body with marks where findings are.
//! Takes marks; gives the same outline of an infant that the page has (`page/assets/body.svg`), with filled regions for positive or
//! abnormal findings, thick outlines where left and right differ, and beside it what that means and what could not be drawn. A finding
//! without a side marks neither side. Leaves alone which findings are positive.
//!
//! A mark of the left leg fills the leg on the viewer's right: the infant is seen from the front

use super::{BodyMark, MarkKind};
use crate::export::chart::wrapped;
use crate::export::drawing::{Anchor, Dash, Drawing, Line, Place, Shape, Step, Tone};
use crate::reading::Side;

static OUTLINE: &str = include_str!("../../page/assets/body.svg");

/// The size of the whole, the share of the outline's own size, and where it is.
const SIZE: (f32, f32) = (256.0, 178.0);
const SHARE: f32 = 0.62;
const AT: Place = (0.0, 20.0);
const LEGEND: f32 = 146.0;
const SMALL: f32 = 6.8;

/// A region of the drawing.
struct Region {
    name: String,
    side: Option<Side>,
    steps: Vec<Step>,
}

/// None if the outline cannot be read.
pub(super) fn drawing(marks: &[BodyMark]) -> Option<Drawing> {
    let (regions, lines) = read(OUTLINE)?;
    let mut shapes: Vec<Shape> = regions.iter().map(|region| drawn(region, marks)).collect();
    let thin = Some(Line { width: 0.8, tone: Tone::Ink, dash: Dash::Solid });
    shapes.extend(lines.into_iter().map(|steps| Shape::Path { steps, line: thin, fill: None }));
    let title = "Where positive findings are".to_owned();
    shapes.push(words((0.0, 9.0), Anchor::Start, 9.0, true, &title));
    // As in the outline: seen from the front, so that its right is on the left.
    for (x, anchor, side) in [(0.0, Anchor::Start, "RIGHT"), (220.0, Anchor::End, "LEFT")] {
        shapes.push(words(on_page((x, 156.0)), anchor, SMALL, false, "infant’s"));
        shapes.push(words(on_page((x, 168.0)), anchor, SMALL, true, side));
    }
    let told = told(&regions, marks);
    legend(&mut shapes, &told);
    Some(Drawing { width: SIZE.0, height: SIZE.1, words: sentences(&regions, marks, &told), title, shapes })
}

fn drawn(region: &Region, marks: &[BodyMark]) -> Shape {
    let has = |kind: MarkKind| marks.iter().any(|mark| mark.kind == kind && marks_region(mark, region));
    let width = if has(MarkKind::Differs) { 2.6 } else { 0.9 };
    let fill = Some(if has(MarkKind::Positive) { Tone::Mark } else { Tone::Page });
    let line = Some(Line { width, tone: Tone::Ink, dash: Dash::Solid });
    Shape::Path { steps: region.steps.clone(), line, fill }
}

fn marks_region(mark: &BodyMark, region: &Region) -> bool {
    let on_side = match (region.side, mark.side) {
        (None, _) | (_, Side::Both | Side::None) => true,
        (Some(_), Side::Unstated) => false,
        (Some(side), said) => side == said,
    };
    mark.place == region.name && on_side
}

// What no part of the drawing shows.
fn told(regions: &[Region], marks: &[BodyMark]) -> Vec<String> {
    let list = |wanted: &dyn Fn(&BodyMark) -> bool| {
        let mut names: Vec<&str> = Vec::new();
        for mark in marks.iter().filter(|mark| wanted(mark)) {
            if !names.contains(&mark.place.as_str()) {
                names.push(&mark.place);
            }
        }
        names.join(", ")
    };
    let known = |mark: &BodyMark| regions.iter().any(|region| region.name == mark.place);
    let sideless = |mark: &BodyMark| known(mark) && !regions.iter().any(|region| marks_region(mark, region));
    [("Side not said: ", list(&sideless)), ("Not in the drawing: ", list(&|mark| !known(mark)))]
        .into_iter()
        .filter(|(_, names)| !names.is_empty())
        .map(|(lead, names)| format!("{lead}{names}."))
        .collect()
}

const KEYS: [(&str, MarkKind); 2] =
    [("positive or abnormal finding", MarkKind::Positive), ("left and right differ", MarkKind::Differs)];

fn legend(shapes: &mut Vec<Shape>, told: &[String]) {
    let mut at = AT.1 + 22.0;
    for (meaning, kind) in KEYS {
        let (width, fill) = match kind {
            MarkKind::Positive => (0.9, Tone::Mark),
            MarkKind::Differs => (2.4, Tone::Page),
        };
        let (left, top) = (LEGEND, at - 7.0);
        let corners = [(left, top), (left + 9.0, top), (left + 9.0, top + 9.0), (left, top + 9.0)];
        let mut steps = crate::export::drawing::line_through(&corners);
        steps.push(Step::Close);
        let line = Some(Line { width, tone: Tone::Ink, dash: Dash::Solid });
        shapes.push(Shape::Path { steps, line, fill: Some(fill) });
        shapes.push(words((LEGEND + 14.0, at), Anchor::Start, SMALL, false, meaning));
        at += 15.0;
    }
    let sentences = std::iter::once(NO_MARK).chain(told.iter().map(String::as_str));
    for sentence in sentences {
        at += 3.0;
        for line in wrapped(sentence, SMALL, SIZE.0 - LEGEND) {
            shapes.push(words((LEGEND, at), Anchor::Start, SMALL, false, &line));
            at += SMALL * 1.3;
        }
    }
}

const NO_MARK: &str = "No mark does not mean normal: nothing was said there, or nothing of this kind.";

fn sentences(regions: &[Region], marks: &[BodyMark], told: &[String]) -> String {
    let mut sentences = vec!["Outline of an infant, seen from the front.".to_owned()];
    for (meaning, kind) in KEYS {
        let of_kind = |region: &&Region| marks.iter().any(|mark| mark.kind == kind && marks_region(mark, region));
        let names: Vec<String> = regions.iter().filter(of_kind).map(name).collect();
        if !names.is_empty() {
            sentences.push(format!("Marked as {meaning}: {}.", names.join(", ")));
        }
    }
    sentences.push(NO_MARK.to_owned());
    sentences.extend(told.iter().cloned());
    sentences.join(" ")
}

fn name(region: &Region) -> String {
    region.side.map_or_else(|| region.name.clone(), |side| format!("{} {}", region.name, side.name()))
}

fn words(at: Place, anchor: Anchor, size: f32, bold: bool, words: &str) -> Shape {
    Shape::Words { at, anchor, size, bold, tone: Tone::Ink, words: words.to_owned() }
}

fn on_page((x, y): Place) -> Place {
    (AT.0 + x * SHARE, AT.1 + y * SHARE)
}

// The outline is a file of the program and has one element a line.
fn read(svg: &str) -> Option<(Vec<Region>, Vec<Vec<Step>>)> {
    let (mut regions, mut lines) = (Vec::new(), Vec::new());
    for element in svg.split('<').filter(|element| element.starts_with("path ")) {
        let steps = steps(attribute(element, "d")?)?;
        match attribute(element, "data-region") {
            Some(name) => {
                let side = match attribute(element, "data-side") {
                    Some("left") => Some(Side::Left),
                    Some("right") => Some(Side::Right),
                    _ => None,
                };
                regions.push(Region { name: name.to_owned(), side, steps });
            }
            None => lines.push(steps),
        }
    }
    (!regions.is_empty()).then_some((regions, lines))
}

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = element.split_once(&format!(" {name}=\""))?;
    rest.split_once('"').map(|(value, _)| value)
}

// Moves, lines, cubic curves by their places, and quadratic curves by their distances: what the outline is drawn with.
fn steps(path: &str) -> Option<Vec<Step>> {
    let mut steps = Vec::new();
    let mut here = (0.0, 0.0);
    let mut rest = path.trim();
    while let Some(letter) = rest.chars().next() {
        let (numbers, next) = match rest[1..].find(|sign: char| sign.is_ascii_alphabetic()) {
            Some(at) => (&rest[1..=at], &rest[at + 1..]),
            None => (&rest[1..], ""),
        };
        let numbers: Vec<f32> = numbers
            .split([' ', ','])
            .filter(|number| !number.is_empty())
            .map(str::parse)
            .collect::<Result<_, _>>()
            .ok()?;
        match (letter, numbers.as_slice()) {
            ('M', [x, y]) => steps.push(Step::Move(on_page((*x, *y)))),
            ('L', [x, y]) => steps.push(Step::Line(on_page((*x, *y)))),
            ('C', [a, b, c, d, x, y]) => {
                steps.push(Step::Curve(on_page((*a, *b)), on_page((*c, *d)), on_page((*x, *y))));
            }
            ('q', [a, b, x, y]) => steps.push(quadratic(here, (*a, *b), (*x, *y))),
            ('Z', []) => steps.push(Step::Close),
            _ => return None,
        }
        here = match (letter, numbers.as_slice()) {
            ('q', [.., x, y]) => (here.0 + x, here.1 + y),
            (_, [.., x, y]) => (*x, *y),
            _ => here,
        };
        rest = next;
    }
    Some(steps)
}

fn quadratic((x, y): Place, (a, b): Place, (dx, dy): Place) -> Step {
    let third = 2.0 / 3.0;
    let one = (x + third * a, y + third * b);
    let two = (x + dx + third * (a - dx), y + dy + third * (b - dy));
    Step::Curve(on_page(one), on_page(two), on_page((x + dx, y + dy)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(place: &str, side: Side, kind: MarkKind) -> BodyMark {
        BodyMark { place: place.into(), side, kind }
    }

    fn filled(drawing: &Drawing) -> usize {
        // The legend has one filled square.
        let is_filled = |shape: &&Shape| matches!(shape, Shape::Path { fill: Some(Tone::Mark), .. });
        drawing.shapes.iter().filter(is_filled).count() - 1
    }

    #[test]
    fn the_outline_is_read_whole() {
        let (regions, lines) = read(OUTLINE).unwrap();
        assert_eq!((regions.len(), lines.len()), (7, OUTLINE.matches("<path").count() - 7));
        assert_eq!(steps("M1 2 q3 0 6 0 Z").unwrap().len(), 3);
        assert!(steps("M1 2 A3").is_none());
    }

    #[test]
    fn sides_are_marked_as_they_were_said() {
        let one = drawing(&[mark("legs", Side::Left, MarkKind::Positive)]).unwrap();
        assert_eq!(filled(&one), 1);
        assert!(one.words.contains("Marked as positive or abnormal finding: legs left."), "{}", one.words);
        assert_eq!(filled(&drawing(&[mark("legs", Side::Both, MarkKind::Positive)]).unwrap()), 2);
        let none = drawing(&[mark("arms", Side::Unstated, MarkKind::Positive)]).unwrap();
        assert_eq!(filled(&none), 0);
        assert!(none.words.contains("Side not said: arms."), "{}", none.words);
        let elsewhere = drawing(&[mark("behaviour", Side::None, MarkKind::Positive)]).unwrap();
        assert!(elsewhere.words.contains("Not in the drawing: behaviour."), "{}", elsewhere.words);
    }
}

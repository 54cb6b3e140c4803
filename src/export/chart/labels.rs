//! Where words have room on a chart.
//! Takes labels and what is drawn already; gives each label a place where it covers no other label and no point, and as little of the
//! lines as can be. A label that must be seen is placed in any case; others are left out where there is no room. Leaves alone fonts:
//! widths are guessed on the wide side, since a browser takes what font it has.
//!
//! Two measurements a day apart: one label above its dot, the other below

use crate::export::drawing::{Anchor, Place, Shape, Step, Tone};

/// Words beside a point.
pub(super) struct Label {
    /// The point.
    pub(super) at: Place,
    /// The words.
    pub(super) words: String,
    /// How large.
    pub(super) size: f32,
    /// Whether it must be seen.
    pub(super) must: bool,
}

/// Words that begin further above or below their point are joined to it.
const FAR: f32 = 13.0;

/// Left, top, right, bottom.
type Field = (f32, f32, f32, f32);

/// What is taken already.
pub(super) struct Room {
    field: Field,
    taken: Vec<Field>,
    /// Places on lines, near enough to each other that none slips between two of them.
    on_lines: Vec<Place>,
}

impl Room {
    /// The room that points and lines leave within a field.
    pub(super) fn new(field: Field, points: &[Place], shapes: &[Shape]) -> Self {
        let taken = points.iter().map(|(x, y)| (x - 3.0, y - 3.0, x + 3.0, y + 3.0)).collect();
        Self { field, taken, on_lines: shapes.iter().flat_map(along).collect() }
    }

    /// For each label where its words begin, have their middle or end; none where it has no room.
    pub(super) fn places_for(&mut self, labels: &[Label]) -> Vec<Option<(Place, Anchor)>> {
        let mut found = vec![None; labels.len()];
        let mut order: Vec<usize> = (0..labels.len()).collect();
        // What must be seen chooses first, then the newest.
        order.sort_by_key(|at| (!labels[*at].must, std::cmp::Reverse(*at)));
        for at in order {
            let label = &labels[at];
            let best = (0..)
                .zip(around(label))
                .filter_map(|(turn, (place, anchor))| {
                    let area = area(label, place, anchor);
                    let crowded = self.crowded(area) + self.covered_words(label, place);
                    let free = crowded == 0;
                    (free || label.must).then_some((crowded, self.hidden(area) + turn * 2, place, anchor, area))
                })
                .min_by_key(|(crowded, hidden, ..)| (*crowded, *hidden));
            if let Some((_, _, place, anchor, area)) = best {
                self.taken.push(area);
                self.taken.extend(join(label, place).into_iter().flat_map(|join| on_join(join).skip(2)).map(spot));
                found[at] = Some((place, anchor));
            }
        }
        found
    }

    fn crowded(&self, (left, top, right, bottom): Field) -> usize {
        let (first, highest, last, lowest) = self.field;
        let outside = left < first + 1.0 || right > last || top < highest - 4.0 || bottom > lowest - 1.0;
        let covered =
            self.taken.iter().filter(|taken| left < taken.2 && taken.0 < right && top < taken.3 && taken.1 < bottom);
        covered.count() + if outside { 100 } else { 0 }
    }

    // How often the line that joins words to their point runs through other words.
    fn covered_words(&self, label: &Label, place: Place) -> usize {
        let own = |taken: &&Field| covers(taken, label.at);
        let others: Vec<&Field> = self.taken.iter().filter(|taken| !own(taken)).collect();
        let on = join(label, place).into_iter().flat_map(on_join);
        on.filter(|at| others.iter().any(|taken| covers(taken, *at))).count()
    }

    fn hidden(&self, area: Field) -> usize {
        self.on_lines.iter().filter(|at| covers(&area, **at)).count()
    }
}

/// The line that joins words to their point, where they are so far from it that it is not seen whose they are.
pub(super) fn join(label: &Label, (x, y): Place) -> Option<(Place, Place)> {
    let nearest = if y > label.at.1 { y - label.size * 0.8 } else { y + 1.5 };
    ((y - label.at.1).abs() > FAR).then_some((label.at, (x, nearest)))
}

fn on_join((from, to): (Place, Place)) -> impl Iterator<Item = Place> {
    let shares = [0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875];
    shares.into_iter().map(move |share| (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share))
}

fn spot((x, y): Place) -> Field {
    (x - 0.5, y - 0.5, x + 0.5, y + 0.5)
}

fn covers((left, top, right, bottom): &Field, (x, y): Place) -> bool {
    (*left..=*right).contains(&x) && (*top..=*bottom).contains(&y)
}

// The places that are tried, the likeliest first, near and then further away.
fn around(label: &Label) -> Vec<(Place, Anchor)> {
    let (x, y) = label.at;
    let size = label.size;
    let mut places = Vec::new();
    for far in [0.0, 8.0, 16.0] {
        places.extend([
            ((x + 6.0, y - 4.0 - far), Anchor::Start),
            ((x + 6.0, y + 3.5 + size * 0.7 + far), Anchor::Start),
            ((x - 6.0, y - 4.0 - far), Anchor::End),
            ((x - 6.0, y + 3.5 + size * 0.7 + far), Anchor::End),
            ((x, y - 6.5 - far), Anchor::Middle),
            ((x, y + 6.5 + size * 0.7 + far), Anchor::Middle),
            ((x + 7.0 + far, y + size * 0.35), Anchor::Start),
            ((x - 7.0 - far, y + size * 0.35), Anchor::End),
        ]);
    }
    places
}

fn area(label: &Label, (x, y): Place, anchor: Anchor) -> Field {
    let width = width(&label.words, label.size);
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2.0,
        Anchor::End => x - width,
    };
    (left - 0.5, y - label.size * 0.8, left + width + 0.5, y + label.size * 0.25)
}

// Lines that are hardly seen do not count.
fn along(shape: &Shape) -> Vec<Place> {
    let Shape::Path { steps, line: Some(line), .. } = shape else { return Vec::new() };
    if line.tone == Tone::Faint {
        return Vec::new();
    }
    let places: Vec<Place> = steps
        .iter()
        .filter_map(|step| match step {
            Step::Move(to) | Step::Line(to) => Some(*to),
            Step::Curve(..) | Step::Close => None,
        })
        .collect();
    let between = |pair: &[Place]| {
        let ((x, y), (x2, y2)) = (pair[0], pair[1]);
        let many = ((x2 - x).hypot(y2 - y) / 3.0).ceil().clamp(1.0, 200.0);
        let mut part = 0.0;
        let mut on = Vec::new();
        while part < many {
            on.push((x + (x2 - x) * part / many, y + (y2 - y) * part / many));
            part += 1.0;
        }
        on
    };
    places.windows(2).flat_map(between).collect()
}

/// About how wide words are, rather too much than too little.
pub(super) fn width(words: &str, size: f32) -> f32 {
    let share = |sign: char| match sign {
        ' ' | 'i' | 'l' | '.' | ',' | ';' => 0.34,
        sign if sign.is_uppercase() => 0.7,
        _ => 0.6,
    };
    words.chars().map(share).sum::<f32>() * size
}

/// In lines of at most a width.
pub(in crate::export) fn wrapped(words: &str, size: f32, widest: f32) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size) <= widest => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

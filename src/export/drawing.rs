//! A drawing, whatever it is drawn with.
//! Takes nothing; gives the shapes that a chart and the drawing of the body are made of, as points from the upper left corner. Leaves
//! alone how they look on a page (`svg`, `pdf`).
//!
//! A chart of 256 by 208 points is one list of paths and words, drawn the same on screen and on paper

/// A place, right and down from the upper left corner.
pub type Place = (f32, f32);

/// What is drawn, and what it says to somebody who cannot see it.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// How wide.
    pub width: f32,
    /// How high.
    pub height: f32,
    /// What it is, in a line.
    pub title: String,
    /// All that can be seen in it, in whole sentences.
    pub words: String,
    /// Its shapes, the hindmost first.
    pub shapes: Vec<Shape>,
}

/// A shape of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line, or what it encloses.
    Path {
        /// How it runs.
        steps: Vec<Step>,
        /// Its line, if it has one.
        line: Option<Line>,
        /// What fills it, if something does.
        fill: Option<Tone>,
    },
    /// A full circle.
    Dot {
        /// Its middle.
        at: Place,
        /// From the middle to the edge.
        radius: f32,
    },
    /// Words.
    Words {
        /// Where their base line begins, has its middle, or ends.
        at: Place,
        /// Which of these.
        anchor: Anchor,
        /// How large.
        size: f32,
        /// Whether they stand out.
        bold: bool,
        /// How dark.
        tone: Tone,
        /// They.
        words: String,
    },
}

/// A step of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// To a place, without a line.
    Move(Place),
    /// Straight to a place.
    Line(Place),
    /// By two control points to a place.
    Curve(Place, Place, Place),
    /// Back to where the last move went.
    Close,
}

/// How a line looks. Lines differ by more than colour, so that they can be told apart in black and white.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// How thick.
    pub width: f32,
    /// How dark.
    pub tone: Tone,
    /// How it is broken.
    pub dash: Dash,
}

/// How a line is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Not at all.
    Solid,
    /// Into dashes.
    Dashed,
    /// Into dots.
    Dotted,
}

impl Dash {
    /// Drawn and left out, in points; nothing for a line that is not broken.
    #[must_use]
    pub fn pattern(self) -> &'static [f32] {
        match self {
            Self::Solid => &[],
            Self::Dashed => &[4.0, 2.0],
            Self::Dotted => &[0.9, 1.7],
        }
    }
}

/// How dark something is, between the page and its ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// As dark as text.
    Ink,
    /// What is read second.
    Soft,
    /// What fills a place that is marked.
    Mark,
    /// What is hardly more than the page.
    Faint,
    /// None: it covers what is behind it.
    Page,
}

impl Tone {
    /// The share of ink.
    #[must_use]
    pub fn ink(self) -> f32 {
        match self {
            Self::Ink => 1.0,
            Self::Soft => 0.68,
            Self::Mark => 0.4,
            Self::Faint => 0.17,
            Self::Page => 0.0,
        }
    }
}

/// Which place of words is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Their beginning.
    Start,
    /// Their middle.
    Middle,
    /// Their end.
    End,
}

/// A straight line through places.
#[must_use]
pub fn line_through(places: &[Place]) -> Vec<Step> {
    places.iter().enumerate().map(|(at, place)| if at == 0 { Step::Move(*place) } else { Step::Line(*place) }).collect()
}

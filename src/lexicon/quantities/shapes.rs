//! A number as it was spoken, before its unit is known.
//! Holds the parts of the number, its bound, "about" and the unit, if one was said; decides nothing.
//! Leaves alone what it comes to in a unit (`readings`).
//!
//! "at least thirty-eight plus four" has the parts 38 and plus 4, and the bound at-least

use super::decimal::Decimal;
use super::units::Unit;

/// A stretch of words that says a number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity {
    /// Index of the first word, with the words of a bound and of "about".
    pub first: usize,
    /// Index behind the last word, with the words of a unit and of a bound that follows.
    pub past: usize,
    /// What was said.
    pub spoken: SpokenNumber,
    /// Only a comma, or nothing, stands between it and the quantity before: "ninety, a hundred" may be a range.
    pub follows_neighbour: bool,
    /// One of at least three consecutive whole numbers: somebody is counting aloud.
    pub counting: bool,
    /// A bare number that runs into a word which is not known to follow a measurement: "two masks", "three good sucks"
    /// count something; "two symmetrical" does not. Whoever knows the word decides.
    pub counts_next_word: bool,
}

/// A number as spoken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpokenNumber {
    /// The number, or the first of a pair.
    pub said: Said,
    /// The other of a pair, with what stood between.
    pub then: Option<(Link, Said)>,
    /// "less than", "at least"…
    pub bound: Bound,
    /// The bound is "up to", which for a weight says only where it has got to.
    pub up_to: bool,
    /// "about", "-ish", "just under".
    pub about: bool,
    /// "exactly", "and no days".
    pub exact: bool,
    /// How many times "plus" was said behind it without a number: a grade, or a bound.
    pub pluses: u8,
    /// "two out of four", "2/4".
    pub out_of: Option<Decimal>,
    /// Where the number comes from.
    pub origin: Origin,
}

impl SpokenNumber {
    /// The unit that was said.
    #[must_use]
    pub fn unit(&self) -> Option<Unit> {
        self.then.as_ref().and_then(|(_, second)| second.unit()).or_else(|| self.said.unit())
    }
}

/// The parts of one number, in order; never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// "thirty-four six" has two, "thirty-four point six" one.
    pub parts: Vec<Part>,
}

impl Said {
    /// The last unit that was said.
    #[must_use]
    pub fn unit(&self) -> Option<Unit> {
        self.parts.iter().rev().find_map(|part| part.unit)
    }

    /// The number, if it was said as one.
    #[must_use]
    pub fn single(&self) -> Option<&Part> {
        match self.parts.as_slice() {
            [part] => Some(part),
            _ => None,
        }
    }
}

/// One part of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// How it hangs on the part before; `Start` for the first.
    pub join: Join,
    /// Its value.
    pub number: Decimal,
    /// How many digits its whole part was said with.
    pub width: u8,
    /// "and a half", "and a quarter": no digits were said for it.
    pub fraction: bool,
    /// The unit said behind it.
    pub unit: Option<Unit>,
}

/// What stands between two parts of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Join {
    /// It is the first part.
    Start,
    /// Nothing: "thirty-four six".
    RunOn,
    /// A comma: "34, 6".
    Comma,
    /// "thirty-nine and three".
    And,
    /// "thirty-eight plus four".
    Plus,
    /// "three days short of thirty-nine": to be taken away.
    ShortOf,
    /// "and four sevenths", "4/7".
    Sevenths,
}

/// What stands between the two numbers of a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// "eighty to ninety", "between eighty and ninety".
    To,
    /// "three or four", "two, maybe three".
    Or,
    /// "80-90", "38-4".
    Hyphen,
    /// "two by three".
    By,
}

/// How a number limits what was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Bound {
    /// The number itself.
    Is,
    /// Less than the number.
    Under,
    /// The number or less.
    AtMost,
    /// More than the number.
    Over,
    /// The number or more.
    AtLeast,
}

impl Bound {
    /// The sign that a value is written with.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Is => "",
            Self::Under => "<",
            Self::AtMost => "<=",
            Self::Over => ">",
            Self::AtLeast => ">=",
        }
    }
}

/// Where a number comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// It was said.
    Number,
    /// "day two", "grade two": the unit stood in front.
    UnitFirst,
    /// "term plus four": counted from forty weeks.
    Term,
    /// "a week over": counted from forty weeks, which nobody said.
    Overdue,
    /// "plus plus": the pluses were counted.
    Pluses,
    /// "a right angle".
    RightAngle,
    /// "too plus": a word that sounds like a number, and can be nothing else there.
    Homophone,
    /// "for plus": likewise, but "for" could be itself.
    UnsureHomophone,
    /// A clock time, a change, a place, another item's reading: no measurement of this exam.
    Elsewhere,
}

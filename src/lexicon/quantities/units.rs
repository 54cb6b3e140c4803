//! The units in which an exam speaks, and the words for them.
//! Takes the plain words behind a number; gives the unit they name and how many words that took.
//! Leaves alone conversion (`readings`). A unit that no exam item has ("minutes", "limbs") is told apart as `Foreign`,
//! because "five minutes" must not become five of something else.
//!
//! "finger breadths" is the unit finger, two words long

use std::sync::LazyLock;

use crate::speech::words::Word;

/// What a number counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// cm
    Centimetre,
    /// mm
    Millimetre,
    /// 2.54 cm
    Inch,
    /// A finger's breadth, which has no fixed size.
    Finger,
    /// deg
    Degree,
    /// g
    Gram,
    /// kg
    Kilogram,
    /// 453.592 g
    Pound,
    /// 28.3495 g
    Ounce,
    /// wk
    Week,
    /// d
    Day,
    /// h
    Hour,
    /// A calendar month, which has no fixed number of days.
    Month,
    /// 2 wk
    Fortnight,
    /// Beats of clonus.
    Beat,
    /// A grade out of four.
    Grade,
    /// Something that no exam item is measured in.
    Foreign,
}

impl Unit {
    /// How values are written in it; `None` for a unit that is always converted.
    #[must_use]
    pub const fn written(self) -> Option<&'static str> {
        Some(match self {
            Self::Centimetre => "cm",
            Self::Degree => "deg",
            Self::Gram => "g",
            Self::Kilogram => "kg",
            Self::Week => "wk",
            Self::Day => "d",
            Self::Hour => "h",
            Self::Beat => "beats",
            Self::Grade => "grade",
            _ => return None,
        })
    }

    /// The unit that values are written in as `written`.
    #[must_use]
    pub fn from_written(written: &str) -> Option<Self> {
        const WRITTEN: [Unit; 9] = [
            Unit::Centimetre,
            Unit::Degree,
            Unit::Gram,
            Unit::Kilogram,
            Unit::Week,
            Unit::Day,
            Unit::Hour,
            Unit::Beat,
            Unit::Grade,
        ];
        WRITTEN.into_iter().find(|unit| unit.written() == Some(written))
    }
}

// "beets" is how recognisers spell beats. What is foreign is counted at a bedside and no item's unit.
// Common practice, no source.
const UNIT_WORDS: &[(Unit, &str)] = &[
    (Unit::Degree, "degree degrees deg degs"),
    (Unit::Centimetre, "centimetre centimetres centimeter centimeters cm cms centi centis"),
    (Unit::Millimetre, "millimetre millimetres millimeter millimeters mm mms mil mils mill mills"),
    (Unit::Inch, "inch inches"),
    (Unit::Gram, "gram grams gramme grammes g gm gms"),
    (Unit::Kilogram, "kilo kilos kilogram kilograms kilogramme kilogrammes kg kgs"),
    (Unit::Pound, "pound pounds lb lbs"),
    (Unit::Ounce, "ounce ounces oz"),
    (Unit::Week, "week weeks weeker weekers wk wks"),
    (Unit::Day, "day days d"),
    (Unit::Hour, "hour hours h hr hrs"),
    (Unit::Month, "month months"),
    (Unit::Fortnight, "fortnight fortnights"),
    (Unit::Beat, "beat beats beets beet jerks"),
    (Unit::Finger, "fingerbreadth fingerbreadths finger fingers fingertip fingertips"),
    (Unit::Foreign, "second seconds sec secs minute minutes min mins year years percent percentile centile centiles"),
    (
        Unit::Foreign,
        "millilitre millilitres milliliter milliliters ml mls litre litres mikes micrograms milligrams times tries",
    ),
    (
        Unit::Foreign,
        "goes attempts limbs legs arms hands feet eyes ears sides toes thumbs reflexes people persons students",
    ),
    (
        Unit::Foreign,
        "babies infants twins brothers sisters children kids nurses doctors phases things steps sucks items",
    ),
    (
        Unit::Foreign,
        "examiners colleagues others o'clock am pm metres kilometres miles feeds doses vessels teeth bays cots",
    ),
    (Unit::Foreign, "words ways bits parts halves more masks drops pictures questions names thirds quarters"),
];

/// Every unit word with its unit, in order of the alphabet.
static BY_WORD: LazyLock<Vec<(&'static str, Unit)>> = LazyLock::new(|| {
    let mut words: Vec<(&str, Unit)> =
        UNIT_WORDS.iter().flat_map(|(unit, row)| row.split(' ').map(move |word| (word, *unit))).collect();
    words.sort_by(|one, other| one.0.cmp(other.0));
    words
});

/// The unit named by the words from `at`, and the index behind it.
#[must_use]
pub(super) fn unit_at(words: &[Word], at: usize) -> Option<(Unit, usize)> {
    // "thirty-nine completed weeks": the word between belongs to the unit.
    let named = match words.get(at)?.plain.as_str() {
        "completed" | "whole" | "full" => at + 1,
        "per" if words.get(at + 1).is_some_and(|word| word.plain == "cent") => return Some((Unit::Foreign, at + 2)),
        _ => at,
    };
    let unit = unit_of(&words.get(named)?.plain)?;
    let breadth = unit == Unit::Finger
        && words
            .get(named + 1)
            .is_some_and(|word| matches!(word.plain.as_str(), "breadth" | "breadths" | "tip" | "tips"));
    Some((unit, named + 1 + usize::from(breadth)))
}

/// The unit that one plain word names.
pub(super) fn unit_of(plain: &str) -> Option<Unit> {
    let found = BY_WORD.binary_search_by(|(word, _)| (*word).cmp(plain)).ok()?;
    BY_WORD.get(found).map(|(_, unit)| *unit)
}

/// A unit in the singular, as it stands behind "a".
pub(super) fn single_unit_of(plain: &str) -> Option<Unit> {
    let unit = unit_of(plain)?;
    let spelled_out = plain.len() > 2 && !plain.ends_with('s') && plain != "beet" && plain != "weeker";
    spelled_out.then_some(unit)
}

/// The unit of a number that follows its name: "grade two", "day three", "hour ten".
pub(super) fn leading_unit(plain: &str) -> Option<Unit> {
    Some(match plain {
        "grade" | "graded" | "grading" => Unit::Grade,
        "day" | "dol" => Unit::Day,
        "hour" => Unit::Hour,
        "week" => Unit::Week,
        _ => return None,
    })
}

/// Words behind which a number is a name or a reading of something else: "cot four", "Apgars nine and ten".
/// Common practice, no source.
const NAMES: &str = "apgar apgars attempt bay bed bedspace bilirubin bleep box camera chapter cot crp extension floor \
    glucose gravida haemoglobin lactate lesson number page para ph phone rate refill room sats saturation saturations step \
    sugar sugars temp temperature theatre trial trolley twin version ward";

static BY_NAME: LazyLock<Vec<&'static str>> = LazyLock::new(|| NAMES.split_ascii_whitespace().collect());

/// Whether a number behind this word is no measurement of this exam.
pub(super) fn names_something_else(plain: &str) -> bool {
    BY_NAME.binary_search(&plain).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::words::words_of;

    #[test]
    fn units_take_as_many_words_as_they_have() {
        let at = |text: &str| unit_at(&words_of(text), 0);
        assert_eq!(at("finger breadths across"), Some((Unit::Finger, 2)));
        assert_eq!(at("completed weeks"), Some((Unit::Week, 2)));
        assert_eq!(at("per cent"), Some((Unit::Foreign, 2)));
        assert_eq!(at("full of milk"), None);
        assert_eq!(at(""), None);
    }

    #[test]
    fn names_stand_in_order() {
        assert!(BY_NAME.is_sorted());
        assert!(names_something_else("cot") && !names_something_else("knee"));
    }

    #[test]
    fn no_word_names_two_units() {
        for (unit, row) in UNIT_WORDS {
            for word in row.split(' ') {
                assert_eq!(unit_of(word), Some(*unit), "word: {word}");
            }
        }
    }
}

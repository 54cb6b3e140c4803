//! Values in words for people.
//! Takes a value as records write it; gives it as a person would. Leaves alone layout.
//!
//! `>=10beats` gives "at least 10 beats", `past-midline` gives "past midline"

use crate::reading::Side;
use crate::record::draft::Figures;

/// A value for people: its number with the unit, or its id without hyphens.
#[must_use]
pub fn plain_value(value: &str, figures: Option<&Figures>) -> String {
    figures.map_or_else(|| value.replace('-', " "), figures_words)
}

/// A number for people.
#[must_use]
pub fn figures_words(figures: &Figures) -> String {
    let bound = match figures.bound {
        "under" => "under ",
        "at-most" => "at most ",
        "over" => "over ",
        "at-least" => "at least ",
        _ => "",
    };
    let number = figures.to.as_ref().map_or_else(|| figures.from.clone(), |to| format!("{} to {to}", figures.from));
    let one = figures.to.is_none() && figures.from == "1";
    match (figures.unit.as_str(), one) {
        ("deg", _) => format!("{bound}{number}°"),
        ("grade", _) => format!("{bound}grade {number}"),
        ("wk", true) => format!("{bound}{number} week"),
        ("wk", false) => format!("{bound}{number} weeks"),
        ("d", true) => format!("{bound}{number} day"),
        ("d", false) => format!("{bound}{number} days"),
        ("h", true) => format!("{bound}{number} hour"),
        ("h", false) => format!("{bound}{number} hours"),
        ("beats", true) => format!("{bound}{number} beat"),
        (unit, _) => format!("{bound}{number} {unit}"),
    }
}

/// A side for people; nothing for an item without sides.
#[must_use]
pub fn side_words(side: Side) -> &'static str {
    match side {
        Side::None => "",
        Side::Unstated => "side?",
        other => other.name(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        let words = |from: &str, to: Option<&str>, bound, unit: &str| {
            figures_words(&Figures { from: from.into(), to: to.map(str::to_owned), bound, unit: unit.into() })
        };
        assert_eq!(words("80", Some("90"), "is", "deg"), "80 to 90°");
        assert_eq!(words("10", None, "at-least", "beats"), "at least 10 beats");
        assert_eq!(words("1", None, "is", "d"), "1 day");
        assert_eq!(words("38+4", None, "is", "wk"), "38+4 weeks");
        assert_eq!(words("2", None, "is", "grade"), "grade 2");
        assert_eq!(words("34.6", None, "under", "cm"), "under 34.6 cm");
        assert_eq!(plain_value("past-midline", None), "past midline");
    }
}

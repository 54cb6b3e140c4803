//! A value that a person gives for an item.
//! Takes an item's id, a side and a value as records write it; gives them checked by the lexicon, or what is wrong and what
//! would do. Leaves alone who gave it, and whether it is plausible: what is beyond the limits is kept and shown.
//!
//! `34.6` is no head circumference, `34.6cm` is

use thiserror::Error;

use crate::lexicon::{Item, Lexicon};
use crate::reading::Side;
use crate::record::draft::Figures;

/// What somebody states of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stated {
    /// Id of the item.
    pub item: String,
    /// left or right for a paired item, none for another. What a draft left unstated stays so until it is changed.
    pub side: Side,
    /// A value's id, or a number in the item's unit.
    pub value: String,
    /// The number in it, where it is one.
    pub figures: Option<Figures>,
    /// "about".
    pub approx: bool,
}

/// Why something cannot be stated.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NotStated {
    /// The lexicon has no such item.
    #[error("`{0}` is not an item of the lexicon")]
    UnknownItem(String),
    /// A group has no value of its own.
    #[error("`{item}` is a group; state its members: {members}")]
    Group {
        /// The group.
        item: String,
        /// Its members.
        members: String,
    },
    /// A paired item without left or right.
    #[error("{item} is found on the left and on the right; say left or right, and both as two")]
    NoSide {
        /// The item.
        item: String,
    },
    /// A side for an item without sides.
    #[error("{item} has no sides; leave `{side}` out")]
    NoSides {
        /// The item.
        item: String,
        /// The side that was given.
        side: &'static str,
    },
    /// A choice that the item does not have.
    #[error("`{value}` is not a value of {item}; it has {allowed}")]
    UnknownValue {
        /// The item.
        item: String,
        /// What was given.
        value: String,
        /// Its values, or the form of its numbers.
        allowed: String,
    },
}

impl Stated {
    /// Checks what is stated of an item.
    ///
    /// # Errors
    /// If the item, the side or the value is none of the lexicon's; the error says what would do.
    pub fn new(lexicon: &Lexicon, item: &str, side: Side, value: &str, approx: bool) -> Result<Self, NotStated> {
        let known = known_item(lexicon, item)?;
        check_side(known, side)?;
        let value = checked_value(known, value)?;
        Ok(Self::recorded(item, side, &value, approx))
    }

    /// What was checked when it was stated, and is only read back.
    #[must_use]
    pub fn recorded(item: &str, side: Side, value: &str, approx: bool) -> Self {
        let figures = Figures::parse(value);
        Self { item: item.to_owned(), side, value: value.to_owned(), figures, approx }
    }
}

/// The item with this id; a group is none.
pub(super) fn known_item<'a>(lexicon: &'a Lexicon, id: &str) -> Result<&'a Item, NotStated> {
    let item = lexicon.item_named(id).ok_or_else(|| NotStated::UnknownItem(id.to_owned()))?;
    if item.members.is_empty() {
        return Ok(item);
    }
    let members: Vec<&str> = item.members.iter().filter_map(|ix| Some(lexicon.items.get(*ix)?.id.as_str())).collect();
    Err(NotStated::Group { item: id.to_owned(), members: members.join(", ") })
}

/// Whether the side fits the item: left or right where it is paired, none where it is not.
pub(super) fn check_side(item: &Item, side: Side) -> Result<(), NotStated> {
    match side {
        Side::Left | Side::Right if item.paired => Ok(()),
        Side::None if !item.paired => Ok(()),
        _ if item.paired => Err(NotStated::NoSide { item: item.id.clone() }),
        side => Err(NotStated::NoSides { item: item.id.clone(), side: side.name() }),
    }
}

/// The value as records write it, if the item can have it.
pub(super) fn checked_value(item: &Item, value: &str) -> Result<String, NotStated> {
    let value = value.trim();
    if let Some(amount) = item.measure.as_ref().and_then(|measure| measure.amount(value)) {
        return Ok(amount.to_string());
    }
    if item.value(value).is_some() {
        return Ok(value.to_owned());
    }
    Err(NotStated::UnknownValue { item: item.id.clone(), value: value.to_owned(), allowed: allowed(item) })
}

/// Whether a number is beyond what the lexicon calls plausible. It is kept all the same.
#[must_use]
pub fn is_outside(lexicon: &Lexicon, stated: &Stated) -> bool {
    let amount = lexicon.item_named(&stated.item).and_then(|item| item.measure.as_ref()?.amount(&stated.value));
    amount.is_some_and(|amount| amount.outside)
}

fn allowed(item: &Item) -> String {
    let units: Vec<&str> =
        item.measure.iter().flat_map(|measure| &measure.units).filter_map(|unit| unit.written()).collect();
    let number = (!units.is_empty()).then(|| format!("a number with its unit ({})", units.join(", ")));
    let choices = item.values.iter().map(|value| value.id.clone());
    number.into_iter().chain(choices).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(item: &str, side: Side, value: &str, outcome: &str) {
        let lexicon = Lexicon::load(None).unwrap();
        let given = match Stated::new(&lexicon, item, side, value, false) {
            Ok(stated) => {
                format!("{} {}{}", stated.side.name(), stated.value, stated.figures.map_or("", |_| " (number)"))
            }
            Err(error) => error.to_string(),
        };
        assert_eq!(given, outcome, "{item} {value}");
    }

    #[test]
    fn a_value_is_one_of_the_items() {
        check("scarf-sign", Side::Left, "to-midline", "left to-midline");
        check("scarf-sign", Side::Left, "not-tested", "left not-tested");
        check("head-circumference", Side::None, " 34.60cm ", "none 34.6cm (number)");
        check("gestational-age", Side::None, "38+4wk", "none 38+4wk (number)");
        check("sex", Side::None, "female", "none female");
        check(
            "sex",
            Side::None,
            "girl",
            "`girl` is not a value of sex; it has female, male, normal, abnormal, not-tested, not-elicited",
        );
        check("horn", Side::None, "present", "`horn` is not an item of the lexicon");
        let lexicon = Lexicon::load(None).unwrap();
        let wrong = Stated::new(&lexicon, "head-circumference", Side::None, "34.6", false).unwrap_err().to_string();
        assert!(
            wrong.starts_with("`34.6` is not a value of head-circumference; it has a number with its unit (cm), "),
            "{wrong}"
        );
        let wrong = Stated::new(&lexicon, "head-circumference", Side::None, "34.6deg", false);
        assert!(matches!(wrong, Err(NotStated::UnknownValue { .. })), "{wrong:?}");
    }

    #[test]
    fn a_side_is_given_where_there_are_sides() {
        let no_side = "scarf-sign is found on the left and on the right; say left or right, and both as two";
        for side in [Side::None, Side::Both, Side::Unstated] {
            check("scarf-sign", side, "to-midline", no_side);
        }
        check("sex", Side::Left, "female", "sex has no sides; leave `left` out");
    }

    #[test]
    fn a_group_is_stated_by_its_members() {
        let lexicon = Lexicon::load(None).unwrap();
        let group = lexicon.items.iter().find(|item| !item.members.is_empty()).unwrap();
        let error = Stated::new(&lexicon, &group.id, Side::Left, "normal", false).unwrap_err();
        assert!(error.to_string().contains("is a group; state its members: "), "{error}");
    }

    #[test]
    fn what_is_implausible_is_kept_and_told() {
        let lexicon = Lexicon::load(None).unwrap();
        let head = |value: &str| Stated::new(&lexicon, "head-circumference", Side::None, value, false).unwrap();
        assert!(is_outside(&lexicon, &head("60cm")) && !is_outside(&lexicon, &head("34cm")));
        assert_eq!(head("60cm").value, "60cm");
    }
}

//! Conditions of rules, as files write them.
//! Takes `sustained|>10beats|sides-differ` and its item; gives conditions that a finding can meet, or what is wrong. Leaves alone
//! whether a finding meets them (`computed`).
//!
//! `sides-differ>=20deg` is a difference of twenty degrees or more between left and right

use crate::lexicon::compile::Item;
use crate::lexicon::quantities::{Amount, Bound, Decimal, Figure, Point};

/// Something that what was found of an item can be.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// This value.
    Value(String),
    /// Anything else that the item can have, but for the values that are open to every item.
    Not(String),
    /// This value, and no other with it.
    Only(String),
    /// A number over this one, in this unit.
    Over(f64, String),
    /// A number under this one.
    Under(f64, String),
    /// A number from here to there.
    Within(f64, f64, String),
    /// Left and right differ, by this much at least where they are numbers.
    SidesDiffer(f64),
    /// A z-score under this one.
    ZUnder(f64),
    /// A z-score over this one.
    ZOver(f64),
    /// A z-score from here to there.
    ZWithin(f64, f64),
}

/// Conditions about one item, of which one is enough.
#[derive(Debug, Clone, PartialEq)]
pub struct OfItem {
    /// Id of the item.
    pub item: String,
    /// They.
    pub any: Vec<Condition>,
}

impl OfItem {
    /// Reads "item: condition|condition".
    pub(super) fn parse(written: &str, items: &[Item]) -> Result<Self, String> {
        let (id, any) = written.split_once(':').ok_or_else(|| format!("`{written}` is no `item: condition`"))?;
        let item = super::item_with(items, id.trim())?;
        let any = Condition::all(any, item)?;
        if any.is_empty() {
            Err(format!("`{written}` has no condition"))
        } else {
            Ok(Self { item: item.id.clone(), any })
        }
    }
}

impl Condition {
    /// Reads conditions with `|` between them; none where nothing is written.
    pub(super) fn all(written: &str, item: &Item) -> Result<Vec<Self>, String> {
        let each = written.split('|').map(str::trim).filter(|one| !one.is_empty());
        each.map(|one| Self::parse(one, item)).collect()
    }

    fn parse(written: &str, item: &Item) -> Result<Self, String> {
        let value = |id: &str| match item.value(id) {
            Some(_) => Ok(id.to_owned()),
            None => Err(format!("`{id}` is not a value of {}", item.id)),
        };
        if let Some(id) = written.strip_prefix("not ") {
            return value(id).map(Self::Not);
        }
        if let Some(id) = written.strip_prefix("only ") {
            return value(id).map(Self::Only);
        }
        if let Some(z) = written.strip_prefix('z') {
            return of_z(z)
                .ok_or_else(|| format!("`{written}` is no bound of a z-score; write z<-2, z>2 or z -2 to 2"));
        }
        if let Some(by) = written.strip_prefix("sides-differ") {
            if !item.paired {
                return Err(format!("{} has no sides that could differ", item.id));
            }
            let by = by.strip_prefix(">=").map(|by| number(by, item)).transpose()?;
            return Ok(Self::SidesDiffer(by.map_or(0.0, |(_, from, _)| from)));
        }
        if item.value(written).is_some() {
            return Ok(Self::Value(written.to_owned()));
        }
        let (bound, from, to) = number(written, item)?;
        let unit = written.trim_start_matches(|sign: char| !sign.is_ascii_alphabetic()).to_owned();
        match bound {
            Bound::Over => Ok(Self::Over(from, unit)),
            Bound::Under => Ok(Self::Under(from, unit)),
            Bound::Is => Ok(Self::Within(from, to, unit)),
            Bound::AtLeast | Bound::AtMost => Err(format!("`{written}` has a bound that no rule has; write < or >")),
        }
    }
}

// A number in one of the item's units, or what would do.
fn number(written: &str, item: &Item) -> Result<(Bound, f64, f64), String> {
    let amount = item.measure.as_ref().and_then(|measure| measure.amount(written));
    let Some(amount) = amount else {
        return Err(format!("`{written}` is neither a value of {} nor a number in its unit", item.id));
    };
    let Amount { figure, bound, .. } = amount;
    let (from, to) = match figure {
        Figure::One(point) => (point, point),
        Figure::Range(from, to) => (from, to),
    };
    match (plain(from), plain(to)) {
        (Some(from), Some(to)) => Ok((bound, from, to)),
        _ => Err(format!("`{written}` is in weeks and days, which no rule has")),
    }
}

fn plain(point: Point) -> Option<f64> {
    match point {
        Point::Plain(value) => value.to_string().parse().ok(),
        Point::Weeks { .. } => None,
    }
}

// What stands behind the z: "<-2", ">2", " -2 to 2".
fn of_z(written: &str) -> Option<Condition> {
    let number = |text: &str| Decimal::parse(text.trim()).and_then(|number| number.to_string().parse().ok());
    if let Some(under) = written.strip_prefix('<') {
        return number(under).map(Condition::ZUnder);
    }
    if let Some(over) = written.strip_prefix('>') {
        return number(over).map(Condition::ZOver);
    }
    let (from, to) = written.split_once(" to ")?;
    Some(Condition::ZWithin(number(from)?, number(to)?))
}

//! The value of a finding as FHIR has it.
//! Takes a value as records write it, with its figures; gives `valueQuantity`, `valueRange`, `valueInteger`,
//! `valueCodeableConcept`, or why there is none. No digit is lost: what has no such form is sent as words. Leaves alone
//! which item it is of.
//!
//! `38+4wk` is 270 days, `>=10beats` a quantity with the comparator `>=`, `not-tested` no value but a reason

use serde_json::{Number, Value, json};

use super::codes::{coding, not_performed};
use super::names::{UCUM, VALUE};
use crate::export::words::plain_value;
use crate::lexicon::codes::Codes;
use crate::record::Figures;

/// A value with the name of its element.
pub(super) struct Element {
    pub(super) name: &'static str,
    pub(super) value: Value,
}

impl Element {
    /// Whether it fits a vital sign: a single quantity, or nothing because it was not measured.
    pub(super) fn fits_a_vital_sign(&self) -> bool {
        matches!(self.name, "valueQuantity" | "dataAbsentReason")
    }
}

/// The element for a value.
pub(super) fn element(codes: &Codes, value: &str, figures: Option<&Figures>, approx: bool) -> Element {
    let about = if approx { "about " } else { "" };
    let words = format!("{about}{}", plain_value(value, figures));
    let Some(figures) = figures else { return choice(value, &words) };
    let number = numbers(codes, figures);
    number.unwrap_or_else(|| Element { name: "valueString", value: json!(words) })
}

// "not elicited" is a value: it was tried.
fn choice(value: &str, words: &str) -> Element {
    if value == "not-tested" {
        return Element { name: "dataAbsentReason", value: not_performed() };
    }
    let code = coding(VALUE, value, &value.replace('-', " "));
    Element { name: "valueCodeableConcept", value: json!({ "coding": [code], "text": words }) }
}

fn numbers(codes: &Codes, figures: &Figures) -> Option<Element> {
    let in_days = figures.from.contains('+') || figures.to.as_ref().is_some_and(|to| to.contains('+'));
    let unit = if in_days { "d" } else { figures.unit.as_str() };
    let count = |text: &str| if in_days { days(text) } else { number(text) };
    let from = count(&figures.from)?;
    let comparator = comparator(figures.bound);
    let Some(to) = &figures.to else {
        if codes.is_plain_number(unit) && comparator.is_none() && from.is_i64() {
            return Some(Element { name: "valueInteger", value: json!(from) });
        }
        return Some(Element { name: "valueQuantity", value: quantity(codes, &from, comparator, unit) });
    };
    // A bound on a range ("under eighty to ninety") has no form.
    if comparator.is_some() {
        return None;
    }
    let to = count(to)?;
    let (low, high) = if from.as_f64() <= to.as_f64() { (from, to) } else { (to, from) };
    let end = |number: &Number| quantity(codes, number, None, unit);
    Some(Element { name: "valueRange", value: json!({ "low": end(&low), "high": end(&high) }) })
}

fn quantity(codes: &Codes, number: &Number, comparator: Option<&str>, unit: &str) -> Value {
    let ucum = codes.ucum(unit);
    json!({
        "value": number,
        "comparator": comparator,
        "unit": unit,
        "system": ucum.map(|_| UCUM),
        "code": ucum,
    })
}

fn comparator(bound: &str) -> Option<&'static str> {
    match bound {
        "under" => Some("<"),
        "at-most" => Some("<="),
        "over" => Some(">"),
        "at-least" => Some(">="),
        _ => None,
    }
}

// As JSON writes numbers, so that 34.0 stays 34.0.
fn number(text: &str) -> Option<Number> {
    let whole = text.parse::<i64>().ok().map(Number::from);
    whole.or_else(|| serde_json::from_str(text).ok()).or_else(|| text.parse().ok().and_then(Number::from_f64))
}

// Weeks and days are sent as days: 38.4 weeks would be another time.
fn days(text: &str) -> Option<Number> {
    let (weeks, days) = text.split_once('+').unwrap_or((text, "0"));
    let (weeks, days): (u32, u32) = (weeks.parse().ok()?, days.parse().ok()?);
    weeks.checked_mul(7)?.checked_add(days).map(Number::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lexicon::Lexicon;

    #[track_caller]
    fn check(value: &str, name: &str, expected: Value) {
        let lexicon = Lexicon::load(None).unwrap();
        let element = element(&lexicon.beside.codes, value, Figures::parse(value).as_ref(), false);
        assert_eq!((element.name, super::super::text::filled(element.value)), (name, expected), "{value}");
    }

    #[test]
    fn numbers_keep_their_digits_and_bounds() {
        let of = |value: Value, unit: &str, code: &str| json!({ "value": value, "unit": unit, "system": UCUM, "code": code });
        check("34.6cm", "valueQuantity", of(json!(34.6), "cm", "cm"));
        check("38+4wk", "valueQuantity", of(json!(270), "d", "d"));
        check("38wk", "valueQuantity", of(json!(38), "wk", "wk"));
        check("2grade", "valueInteger", json!(2));
        check("2.5grade", "valueQuantity", json!({ "value": 2.5, "unit": "grade" }));
        check(
            ">=10beats",
            "valueQuantity",
            json!({ "value": 10, "comparator": ">=", "unit": "beats", "system": UCUM, "code": "{beats}" }),
        );
        check(
            "80-90deg",
            "valueRange",
            json!({ "low": of(json!(80), "deg", "deg"), "high": of(json!(90), "deg", "deg") }),
        );
        check("38-39+2wk", "valueRange", json!({ "low": of(json!(266), "d", "d"), "high": of(json!(275), "d", "d") }));
        check(
            "2-3grade",
            "valueRange",
            json!({ "low": { "value": 2, "unit": "grade" }, "high": { "value": 3, "unit": "grade" } }),
        );
    }

    #[test]
    fn what_was_not_tried_has_no_value_and_what_was_tried_has_one() {
        let lexicon = Lexicon::load(None).unwrap();
        let name = |value: &str| element(&lexicon.beside.codes, value, None, false).name;
        assert_eq!((name("not-tested"), name("not-elicited")), ("dataAbsentReason", "valueCodeableConcept"));
        let past = element(&lexicon.beside.codes, "past-midline", None, true);
        assert_eq!(
            past.value,
            json!({ "coding": [{ "system": VALUE, "code": "past-midline", "display": "past midline" }],
                    "text": "about past midline" })
        );
    }
}

//! Texts that nothing in FHIR stumbles over.
//! Takes words that people wrote or said, and whole JSON values; gives XHTML, and values without control characters,
//! without odd blanks, and without anything null or empty, which FHIR forbids. Leaves alone what the words say.
//!
//! `<script>` in a name is shown as `&lt;script&gt;`

use serde_json::{Map, Value, json};

use crate::export::xml::escaped;

/// A narrative of these pieces of XHTML.
pub(super) fn narrative(pieces: &[String]) -> Value {
    let inner = pieces.concat();
    json!({ "status": "generated", "div": format!("<div xmlns=\"http://www.w3.org/1999/xhtml\">{inner}</div>") })
}

pub(super) fn paragraph(words: &str) -> String {
    format!("<p>{}</p>", escaped(&clean(words)))
}

/// A list; nothing where it has no lines with words.
pub(super) fn list(lines: &[String]) -> String {
    let lines = lines.iter().filter(|line| !clean(line).is_empty());
    let lines: Vec<String> = lines.map(|line| format!("<li>{}</li>", escaped(&clean(line)))).collect();
    if lines.is_empty() { String::new() } else { format!("<ul>{}</ul>", lines.concat()) }
}

/// The value with clean texts, and without what is null or empty.
pub(super) fn filled(value: Value) -> Value {
    kept(value).unwrap_or_else(|| Value::Object(Map::new()))
}

fn kept(value: Value) -> Option<Value> {
    match value {
        Value::Null => None,
        Value::String(text) => Some(clean(&text)).filter(|text| !text.is_empty()).map(Value::String),
        Value::Array(all) => {
            let all: Vec<Value> = all.into_iter().filter_map(kept).collect();
            (!all.is_empty()).then_some(Value::Array(all))
        }
        Value::Object(all) => {
            let all: Map<String, Value> =
                all.into_iter().filter_map(|(key, value)| Some((key, kept(value)?))).collect();
            (!all.is_empty()).then_some(Value::Object(all))
        }
        other => Some(other),
    }
}

/// Words with single blanks between; without control characters, what XML forbids, and what turns the direction of the
/// text behind it, figures included. FHIR's texts know no other blanks.
pub(super) fn clean(text: &str) -> String {
    let is_blank = |sign: char| sign.is_whitespace() || sign == '\u{feff}';
    let turns = |sign: char| matches!(sign, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let is_none = |sign: char| u32::from(sign) & 0xfffe == 0xfffe;
    let forbidden = |sign: char| (sign.is_control() && !is_blank(sign)) || is_none(sign) || turns(sign);
    let kept: String = text.chars().filter(|sign| !forbidden(*sign)).collect();
    kept.split(is_blank).filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_null_or_empty_is_left() {
        let value = json!({ "a": null, "b": "", "c": [], "d": {}, "e": [{ "f": " \u{0} " }], "g": [1, "x", false] });
        assert_eq!(filled(value), json!({ "g": [1, "x", false] }));
        assert_eq!(filled(json!(null)), json!({}));
    }

    #[test]
    fn texts_are_clean() {
        assert_eq!(clean(" a\u{a0}b\u{feff}\u{1}c\n\u{ffff}d\u{85}e \u{7f}\u{fffe}"), "a b c d e");
        assert_eq!(clean("größer 頭囲 👶"), "größer 頭囲 👶");
        assert_eq!(clean("cot \u{202e}7.4\u{202c}"), "cot 7.4");
        assert_eq!(paragraph("<b>&\"'"), "<p>&lt;b&gt;&amp;&quot;&#39;</p>");
        assert_eq!(list(&["\u{0}".into()]), "");
        assert_eq!(list(&["a".into(), "<".into()]), "<ul><li>a</li><li>&lt;</li></ul>");
    }
}

//! Text in XML.
//! Takes words; gives them so that they stay text in an element or an attribute. Leaves alone what the words say.
//!
//! `a < b` is written `a &lt; b`

/// For XML 1.0: what it cannot hold becomes the replacement character.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            sign if sign.is_control() || matches!(sign, '\u{fffe}' | '\u{ffff}') => safe.push('\u{fffd}'),
            sign => safe.push(sign),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_element() {
        assert_eq!(escaped("a<b>&\"c'\u{0}\n"), "a&lt;b&gt;&amp;&quot;c&#39;\u{fffd} ");
    }
}

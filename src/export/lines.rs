//! Lines of text for people.
//! Takes words; gives lines of at most 96 columns, broken between words. Leaves alone what the words say.
//!
//! a list of forty names is broken into lines that begin below its first name

/// Columns that no line exceeds.
pub(super) const WIDTH: usize = 96;

/// Adds a line, without blanks at its end.
pub(super) fn line_of(text: &mut String, line: &str) {
    text.push_str(line.trim_end());
    text.push('\n');
}

/// Adds words behind `first`, in as many lines as they need; those behind the first begin with `then`. A single word that is longer
/// than a line stays whole.
pub(super) fn wrapped(text: &mut String, first: &str, words: &str, then: &str) {
    let mut line = first.to_owned();
    let mut empty = true;
    for word in words.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            line_of(text, &line);
            line = then.to_owned();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    line_of(text, &line);
}

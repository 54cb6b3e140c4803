//! Any text → a draft that points at its words, and whose JSON is the draft.
//! Takes text, a line an utterance; what is no UTF-8 is replaced. Leaves alone whether the findings are right.
//!
//! a text of quotation marks, ligatures and half a number is read, and read back

use spoken_exam::export::{to_json, to_table, to_tsv};
use spoken_exam::flow;
use spoken_exam::store::draft;

use super::checks::{LEXICON, check_text};

pub(super) fn target(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    check_text(&text);
    let drafted = flow::of_text(&LEXICON, &text, "note.txt").draft;
    let json = to_json(&drafted).expect("a draft is written");
    let read = draft::read(&json).unwrap_or_else(|fault| panic!("its own JSON is refused: {fault}"));
    assert_eq!(to_json(&read).expect("a draft is written"), json, "read back and written anew");
    let table = to_tsv(&drafted);
    assert!(table.lines().count() <= 1 + drafted.all_findings().count(), "a row for a finding or two: {table}");
    assert!(table.lines().all(|row| row.matches('\t').count() == 6), "{table}");
    assert!(!to_table(&drafted).is_empty());
}

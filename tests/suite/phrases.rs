//! Utterances where a plain matcher goes wrong: "right" that is "okay", "left" that is a verb, denials that deny nothing.
//! Takes the tables of tests/phrases (written from knowledge of how the examination is spoken, no source): one for each
//! kind of speech, with `/` between utterances, and treacherous.tsv, where an utterance stands behind its context. Prints
//! those read otherwise and fails if there are more of them, or more that look sure, than before. Leaves alone whole
//! narrations (`corpus`).

use std::collections::BTreeSet;

use spoken_exam::flow;
use spoken_exam::score::level::below;
use spoken_exam::score::{GoldRow, Predicted, predicted};

use crate::corpus::{LEXICON, level};

/// A finding as item, side and value.
type Row = (String, String, String);

fn found(text: &str) -> Vec<Predicted> {
    predicted(&flow::of_text(&LEXICON, text, "t.txt").draft)
}

fn row(of: &GoldRow) -> Row {
    (of.item.clone(), of.side.clone(), of.value.clone())
}

fn wanted(reading: &str) -> BTreeSet<Row> {
    let mut rows = BTreeSet::new();
    for part in reading.split(';').map(str::trim).filter(|part| *part != "nothing") {
        let [item, side, value] = part.split(' ').collect::<Vec<_>>()[..] else { panic!("no reading: {part}") };
        for side in if side == "both" { vec!["left", "right"] } else { vec![side] } {
            rows.insert((item.to_owned(), side.to_owned(), value.to_owned()));
        }
    }
    rows
}

#[test]
fn treacherous_utterances_are_read_as_well_as_before() {
    let text = std::fs::read_to_string("tests/phrases/treacherous.tsv").expect("it can be read");
    let (mut rows, mut failed, mut sure) = (0, 0, 0);
    for line in text.lines().skip(1) {
        let [number, context, said, reading, doubt, why] = line.split('\t').collect::<Vec<_>>()[..] else {
            panic!("six columns: {line}")
        };
        rows += 1;
        let before: BTreeSet<Row> = found(context).iter().map(|found| row(&found.row)).collect();
        let new: Vec<Predicted> = found(&format!("{context}\n{said}"))
            .into_iter()
            .filter(|found| !before.contains(&row(&found.row)))
            .collect();
        let given: BTreeSet<Row> = new.iter().map(|found| row(&found.row)).collect();
        let wanted = wanted(reading);
        let looks_sure = new.iter().any(|found| found.clear && !wanted.contains(&row(&found.row)));
        // Where a careful listener would not be sure either, a flagged finding, or none, is as good.
        let holds = given == wanted || doubt == "uncertain" && !looks_sure;
        failed += u32::from(!holds);
        sure += u32::from(!holds && looks_sure);
        if !holds {
            println!("{number} [{context}] \"{said}\" ({why})\n    wanted {wanted:?}\n    given  {given:?}");
        }
    }
    assert_eq!(rows, 130, "the table is whole");
    hold_to_level("treacherous", rows, failed, sure);
}

/// Fails if fewer rows of a table are read right, or more look sure and are wrong, than `score.toml` says.
#[track_caller]
fn hold_to_level(table: &str, rows: u32, failed: u32, sure: u32) {
    let share = 1.0 - f64::from(failed) / f64::from(rows);
    let sure = f64::from(sure) * 1000.0 / f64::from(rows);
    println!("{table}: {share:.3} of {rows} read right; {sure:.1} of 1,000 wrong and looking sure");
    let level = level(table);
    let least = level.examples.expect("score.toml says how many hold");
    assert_eq!(below(&format!("the share of {table} read right"), least, share), None);
    let most = level.silent_per_1000.expect("score.toml says how many may look sure");
    assert!(sure <= most, "{table}: {sure:.1} of 1,000 are wrong and look sure; at most {most:.1} before");
}

#[track_caller]
fn check_table(table: &str, rows_expected: u32) {
    let text = std::fs::read_to_string(format!("tests/phrases/{table}.tsv")).expect("it can be read");
    let (mut rows, mut failed, mut sure) = (0, 0, 0);
    for line in text.lines().skip(1) {
        let [said, reading, kind] = line.split('\t').collect::<Vec<_>>()[..] else { panic!("three columns: {line}") };
        rows += 1;
        let found = found(&said.replace(" / ", "\n"));
        let given: BTreeSet<Row> = found.iter().map(|found| row(&found.row)).collect();
        let wanted = wanted(reading);
        let looks_sure = found.iter().any(|found| found.clear && !wanted.contains(&row(&found.row)));
        if given != wanted {
            failed += 1;
            sure += u32::from(looks_sure);
            println!("{table} [{kind}] \"{said}\"\n    wanted {wanted:?}\n    given  {given:?}");
        }
    }
    assert_eq!(rows, rows_expected, "the table {table} is whole");
    hold_to_level(table, rows, failed, sure);
}

#[test]
fn kinds_of_speech_are_read_as_well_as_before() {
    for (table, rows) in [
        ("sides", 104),
        ("negation", 120),
        ("stance", 99),
        ("numbers", 100),
        ("corrections", 84),
        ("in-progress", 89),
        ("nothing", 102),
    ] {
        check_table(table, rows);
    }
}

//! Utterances where a plain matcher goes wrong: "right" that is "okay", "left" that is a verb, denials that deny nothing.
//! Takes tests/phrases/treacherous.tsv (written from knowledge of how the examination is spoken, no source); reads each
//! utterance behind its context; prints those read otherwise and fails if there are more of them, or more that look sure,
//! than before. Leaves alone whole narrations (`corpus`).

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
    let share = 1.0 - f64::from(failed) / f64::from(rows);
    println!("treacherous utterances read right: {share:.3} of {rows}; wrong and looking sure: {sure}");
    assert_eq!(rows, 130, "the table is whole");
    let level = level("treacherous");
    let least = level.examples.expect("score.toml says how many hold");
    assert_eq!(below("the share of treacherous utterances read right", least, share), None);
    let most = level.silent_per_1000.expect("score.toml says how many may look sure");
    let sure = f64::from(sure) * 1000.0 / f64::from(rows);
    assert!(sure <= most, "{sure:.1} of 1,000 are wrong and look sure; at most {most:.1} before");
}

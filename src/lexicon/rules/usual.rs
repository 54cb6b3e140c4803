//! What is usual at which age: `usual.csv`.
//! Takes rows with an item, an age, what is usual, what is worth a second look, and a source; gives them checked. Leaves alone
//! which row fits an infant.
//!
//! `e045,…,22,,full,limited|sides-differ,yes,…` holds from 22 weeks on, at every age that rows know

use csv::{ReaderBuilder, StringRecord, Trim};

use super::conditions::Condition;
use super::{Cited, Level, Rules, Status, item_with};
use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source};

/// For whom a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Born {
    /// Any infant.
    Any,
    /// Born at 37+0 or later.
    Term,
    /// Born before 37+0.
    Preterm,
}

/// What is usual of an item at an age, and what is worth a second look.
#[derive(Debug, Clone, PartialEq)]
pub struct UsualRule {
    /// Id of the item.
    pub item: String,
    /// For whom.
    pub born: Born,
    /// From this post-menstrual age, in whole weeks.
    pub from_weeks: u32,
    /// To before this one.
    pub to_weeks: u32,
    /// Whether it holds at every age that rows know.
    pub ageless: bool,
    /// What is usual; empty where the row says nothing of that.
    pub expected: Vec<Condition>,
    /// What is worth a second look.
    pub second_look: Vec<Condition>,
    /// Whether one such finding is enough; else there must be another of the same region.
    pub alone: bool,
    /// How pressing a second look is.
    pub level: Level,
    /// What must be known beside it; may be empty.
    pub note: String,
    /// Where it is from.
    pub cited: Cited,
}

/// Rows begin and end here where they name no age: from 22 weeks, to 48 weeks, behind which no row holds.
const FIRST_WEEK: u32 = 22;
const PAST_LAST_WEEK: u32 = 48;

const COLUMNS: [&str; 12] = [
    "id",
    "item",
    "born",
    "pma_from_wk",
    "pma_to_wk",
    "expected",
    "second_look",
    "alone",
    "level",
    "source",
    "status",
    "note",
];

impl Rules {
    /// Takes in the rows of a file; a row takes the place of one with the same id.
    pub(super) fn read_usual(&mut self, source: &Source, items: &[Item], faults: &mut Vec<Fault>) {
        let fault = |line: usize, what: String| Fault { file: source.file.clone(), line, what };
        let mut reader =
            ReaderBuilder::new().comment(Some(b'#')).trim(Trim::All).flexible(true).from_reader(source.text.as_bytes());
        let columns = reader.headers().map(|row| row.iter().map(str::to_owned).collect::<Vec<_>>());
        if columns.as_deref().unwrap_or_default() != COLUMNS {
            faults.push(fault(1, format!("the columns must be {}", COLUMNS.join(","))));
            return;
        }
        for row in reader.records() {
            let line = |row: &StringRecord| row.position().map_or(0, |at| usize::try_from(at.line()).unwrap_or(0));
            match row {
                Err(error) => faults.push(fault(0, error.to_string())),
                Ok(row) => match rule(&row, items) {
                    Ok(rule) => {
                        self.usual.retain(|known| known.cited.rule != rule.cited.rule);
                        self.usual.push(rule);
                    }
                    Err(what) => faults.push(fault(line(&row), what)),
                },
            }
        }
    }
}

fn rule(row: &StringRecord, items: &[Item]) -> Result<UsualRule, String> {
    let cells: Vec<&str> = row.iter().collect();
    let [id, item, born, from, to, expected, second_look, alone, level, source, status, note] = cells[..] else {
        return Err(format!("the row has {} cells, and there are {} columns", cells.len(), COLUMNS.len()));
    };
    let item = item_with(items, item)?;
    let born = match born {
        "any" => Born::Any,
        "term" => Born::Term,
        "preterm" => Born::Preterm,
        _ => return Err(format!("`{born}` is none of any, term and preterm")),
    };
    let weeks = |cell: &str, open: u32| match cell {
        "" => Ok(open),
        cell => cell.parse().map_err(|_| format!("`{cell}` is no number of weeks")),
    };
    let (from_weeks, to_weeks) = (weeks(from, FIRST_WEEK)?, weeks(to, PAST_LAST_WEEK)?);
    let second_look = Condition::all(second_look, item)?;
    let alone = match alone {
        "yes" => true,
        "no" => false,
        "" if second_look.is_empty() => false,
        _ => return Err("`alone` says neither yes nor no".to_owned()),
    };
    let level = match level {
        "" if second_look.is_empty() => Level::Recheck,
        level => Level::named(level).ok_or_else(|| format!("`{level}` is none of now, soon, pathway and recheck"))?,
    };
    if source.is_empty() {
        return Err("no source is named; write `common practice, no source` where there is none".to_owned());
    }
    let status = Status::named(status).ok_or_else(|| format!("`{status}` is no status of a source"))?;
    Ok(UsualRule {
        ageless: born == Born::Any && from_weeks == FIRST_WEEK && to_weeks == PAST_LAST_WEEK,
        expected: Condition::all(expected, item)?,
        second_look,
        item: item.id.clone(),
        born,
        from_weeks,
        to_weeks,
        alone,
        level,
        note: note.to_owned(),
        cited: Cited { rule: id.to_owned(), source: source.to_owned(), status },
    })
}

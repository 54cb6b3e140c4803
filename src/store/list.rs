//! The records of a store, found by words.
//! Takes words and a state; gives a page of records, newest first. Leaves alone what is in a record beyond a line of it.
//! Words are those of a recording's file name, an id's beginning, and the values said of the infant.
//!
//! `visit 39+2wk` finds the records of files named like visit-3.m4a whose infant was born at 39+2 weeks

use rusqlite::types::Value;
use rusqlite::{Row, params_from_iter};

use crate::record::draft::CONTEXT_REGION;
use crate::record::{Moment, Review};
use crate::store::{Rows, Store, StoreError, text};

/// What is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Query {
    /// Each must begin a word of the record, in any case.
    pub words: Vec<String>,
    /// Only records in this state.
    pub state: Option<State>,
    /// How many to leave out: those of the pages before.
    pub from: u32,
    /// How many to give at most.
    pub most: u32,
}

/// How far a record has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Nothing was decided.
    Draft,
    /// Something was decided, and it is not signed.
    InReview,
    /// It was signed once.
    Signed,
    /// It was signed again, with a reason.
    Amended,
}

impl State {
    /// All states, in order.
    pub const ALL: [Self; 4] = [Self::Draft, Self::InReview, Self::Signed, Self::Amended];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::InReview => "in-review",
            Self::Signed => "signed",
            Self::Amended => "amended",
        }
    }

    pub(super) fn of(entries: u64, version: u32) -> Self {
        match (entries, version) {
            (0, 0) => Self::Draft,
            (_, 0) => Self::InReview,
            (_, 1) => Self::Signed,
            _ => Self::Amended,
        }
    }

    fn sql(self) -> &'static str {
        match self {
            Self::Draft => {
                "NOT EXISTS (SELECT 1 FROM entries e WHERE e.record = r.id) \
                 AND NOT EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id)"
            }
            Self::InReview => {
                "EXISTS (SELECT 1 FROM entries e WHERE e.record = r.id) \
                 AND NOT EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id)"
            }
            Self::Signed => {
                "EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id) \
                 AND NOT EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id AND g.version = 2)"
            }
            Self::Amended => "EXISTS (SELECT 1 FROM signatures g WHERE g.record = r.id AND g.version = 2)",
        }
    }
}

/// Some of the records that were found.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// They, newest first.
    pub records: Vec<Listed>,
    /// How many there are in all.
    pub found: u64,
}

/// A record in a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Its id.
    pub id: String,
    /// When it was put in.
    pub at: Moment,
    /// The name of its recording or text.
    pub file_name: String,
    /// How far it has come.
    pub state: State,
    /// Its last signed version; 0 for none.
    pub version: u32,
    /// How many decisions were made since it was signed, or at all.
    pub decided_since: u64,
    /// What stands of the infant, in order of the draft; empty where the draft is damaged.
    pub infant: Vec<String>,
    /// Its draft with every decision; `None` where it is damaged.
    pub review: Option<Review>,
}

impl Store {
    /// A page of the records that a query finds.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn list(&self, query: &Query) -> Result<Page, StoreError> {
        let rows = self.rows();
        let (condition, mut given) = condition(query);
        let sql = format!("SELECT count(*) FROM records r WHERE {condition}");
        let found: i64 = rows.one(&sql, params_from_iter(&given), |row| row.get(0))?.unwrap_or_default();
        let sql = format!(
            "SELECT r.id, r.at_ms, r.file_name, \
             (SELECT coalesce(max(e.entry), 0) FROM entries e WHERE e.record = r.id), \
             (SELECT coalesce(max(g.version), 0) FROM signatures g WHERE g.record = r.id), \
             (SELECT coalesce(max(g.entries), 0) FROM signatures g WHERE g.record = r.id) \
             FROM records r WHERE {condition} ORDER BY r.number DESC LIMIT ? OFFSET ?"
        );
        given.extend([Value::Integer(query.most.into()), Value::Integer(query.from.into())]);
        let mut records = rows.all(&sql, params_from_iter(&given), listed)?;
        for record in &mut records {
            // A damaged draft is named by `verify`; here its record is still listed.
            record.review = rows.review(&record.id).ok();
            record.infant = record.review.as_ref().map(infant).unwrap_or_default();
        }
        Ok(Page { records, found: found.unsigned_abs() })
    }
}

impl Store {
    /// The ids of all signed records, in order of time.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn signed_records(&self) -> Result<Vec<String>, StoreError> {
        self.rows().all("SELECT DISTINCT record FROM signatures ORDER BY record", [], |row| row.get(0))
    }
}

fn condition(query: &Query) -> (String, Vec<Value>) {
    let mut condition = "1".to_owned();
    let mut given = Vec::new();
    if let Some(state) = query.state {
        condition = format!("{condition} AND {}", state.sql());
    }
    for word in query.words.iter().map(|word| word.to_lowercase()).filter(|word| !word.trim().is_empty()) {
        // What stands for anything in a pattern stands for itself here.
        let word = word.trim().replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
        condition.push_str(
            " AND (r.id LIKE ? ESCAPE '\\' OR EXISTS (SELECT 1 FROM search s WHERE s.record = r.id \
             AND s.words LIKE ? ESCAPE '\\'))",
        );
        given.extend([Value::Text(format!("{word}%")), Value::Text(format!("% {word}%"))]);
    }
    (condition, given)
}

fn listed(row: &Row<'_>) -> rusqlite::Result<Listed> {
    let (entries, version): (i64, u32) = (row.get(3)?, row.get(4)?);
    let (entries, signed) = (entries.unsigned_abs(), row.get::<_, i64>(5)?.unsigned_abs());
    Ok(Listed {
        id: row.get(0)?,
        at: Moment(row.get(1)?),
        file_name: row.get(2)?,
        state: State::of(entries, version),
        version,
        decided_since: entries.saturating_sub(signed),
        infant: Vec::new(),
        review: None,
    })
}

fn infant(review: &Review) -> Vec<String> {
    let context = |item: &str| review.draft().context.iter().any(|finding| finding.item == item);
    let silent = &review.draft().not_mentioned;
    let added = |item: &str| silent.iter().any(|silent| silent.item == item && silent.region == CONTEXT_REGION);
    let standing = review.standings().into_iter().filter_map(|standing| standing.stands);
    standing.filter(|stated| context(&stated.item) || added(&stated.item)).map(|stated| stated.value).collect()
}

/// Adds words by which a record is found.
pub(super) fn append_words(rows: &Rows<'_>, id: &str, file_name: &str, values: &[&str]) -> Result<(), StoreError> {
    let name = file_name.to_lowercase();
    let values: Vec<String> = values.iter().map(|value| value.to_lowercase()).collect();
    let words: Vec<&str> = tails(&name).chain(values.iter().map(String::as_str)).collect();
    rows.append("search", &[("record", text(id)), ("words", Value::Text(format!(" {} ", words.join(" "))))])
}

// "ward-3-visit.m4a" is found by "visit" and by "3-visit": each word of the name stands there with all that follows it.
fn tails(name: &str) -> impl Iterator<Item = &str> {
    let letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let starts = move |at: &usize| letter(name[*at..].chars().next()) && !letter(name[..*at].chars().next_back());
    let at_all = name.char_indices().map(|(at, _)| at).filter(starts).take(MOST_TAILS);
    at_all.map(|at| &name[at..])
}

/// Words of a file's name by which it is found; a name may be long, and rows should not be.
const MOST_TAILS: usize = 20;

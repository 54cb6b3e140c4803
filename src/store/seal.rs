//! Rows are added, and sealed.
//! Takes a table and what a new row holds; adds the row with a seal: the SHA-256 of its content and of the seal before it.
//! Gives the content of any row to reckon its seal again. The only place that writes rows. Leaves alone what rows mean.
//!
//! Whoever alters a row of `entries` by hand breaks its seal, and `verify` names it

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Row, params_from_iter};
use sha2::{Digest, Sha256};

/// Every table, in the order in which a row may refer to another.
pub(super) const TABLES: [&str; 9] =
    ["store", "recordings", "recording_events", "records", "drafts", "entries", "signatures", "search", "remarks"];

/// Lower-case hexadecimal SHA-256.
pub(super) fn sha256(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// Adds a row, and gives its number.
pub(super) fn append(into: &Connection, table: &str, row: &[(&str, Value)]) -> rusqlite::Result<i64> {
    let last = format!("SELECT seal FROM {table} ORDER BY number DESC LIMIT 1");
    let before: Option<String> = into.prepare_cached(&last)?.query_row([], |row| row.get(0)).optional()?;
    let seal = seal(table, before.as_deref(), row);
    let names: Vec<&str> = row.iter().map(|(name, _)| *name).chain(["seal"]).collect();
    let places = vec!["?"; names.len()].join(", ");
    let add = format!("INSERT INTO {table} ({}) VALUES ({places})", names.join(", "));
    let values = row.iter().map(|(_, value)| value.clone()).chain([Value::Text(seal)]);
    into.prepare_cached(&add)?.insert(params_from_iter(values))
}

/// The seal of a row behind the one with the seal `before`.
pub(super) fn seal<Name: AsRef<str>>(table: &str, before: Option<&str>, row: &[(Name, Value)]) -> String {
    let mut text = Canonical::new(&format!("{table} 1"));
    text.field("before", before.unwrap_or_default());
    // The JSON of a draft has a hash of its own in the row. Nothing is left out where nothing stands, so that a column that
    // a later step adds leaves the seals of older rows as they are.
    for (name, value) in row {
        let name = name.as_ref();
        match value {
            _ if matches!(name, "number" | "seal" | "json") => {}
            Value::Null => {}
            Value::Integer(number) => text.field(name, &number.to_string()),
            Value::Real(number) => text.field(name, &number.to_string()),
            Value::Text(value) => text.field(name, value),
            Value::Blob(bytes) => text.field(name, &sha256(bytes)),
        }
    }
    text.sha256()
}

/// What a row holds, in the order of its columns.
pub(super) fn content(row: &Row<'_>) -> rusqlite::Result<Vec<(String, Value)>> {
    let names: Vec<String> = row.as_ref().column_names().map(str::to_owned).collect();
    names.into_iter().enumerate().map(|(at, name)| Ok((name, row.get(at)?))).collect()
}

/// A text that says the same in one way only: each field with its name and its length.
pub(super) struct Canonical(String);

impl Canonical {
    /// A text of a kind; a change of what it covers is another kind.
    pub(super) fn new(kind: &str) -> Self {
        Self(format!("spoken-exam {kind}\n"))
    }

    /// Adds a field.
    pub(super) fn field(&mut self, name: &str, value: &str) {
        self.0.push_str(&format!("{name} {}:{value}\n", value.len()));
    }

    /// The SHA-256 of it.
    pub(super) fn sha256(&self) -> String {
        sha256(self.0.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seal_depends_on_everything_but_empty_columns() {
        let row = |name: &str, seen: i64| [("name", Value::Text(name.into())), ("seen", Value::Integer(seen))];
        let one = seal("entries", None, &row("A", 1));
        assert_eq!(one, seal("entries", None, &row("A", 1)));
        for other in [
            seal("entries", None, &row("B", 1)),
            seal("entries", None, &row("A", 2)),
            seal("entries", Some(&one), &row("A", 1)),
            seal("drafts", None, &row("A", 1)),
            // A line break in a name cannot pass for the next field.
            seal("entries", None, &[("name", Value::Text("A\nseen 1:1".into()))]),
        ] {
            assert_ne!(one, other);
        }
        let [name, seen] = row("A", 1);
        assert_eq!(one, seal("entries", None, &[name, seen, ("later", Value::Null)]));
        assert_eq!(sha256(b""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    }
}

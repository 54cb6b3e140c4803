//! The steps by which a store's tables came to be.
//! Takes an open database; brings it to the last step that this program knows. Leaves alone what is in the tables.
//! A step is a file; a released one is never edited. To add one: `schema/0003_….sql`, its line in `STEPS`, and a dump of the
//! version before in `tests/databases/`.
//!
//! A database of version 3 is refused by a program that knows two steps

use rusqlite::{Connection, TransactionBehavior};

use crate::store::StoreError;

const STEPS: [&str; 2] = [include_str!("schema/0001_records.sql"), include_str!("schema/0002_remarks.sql")];

/// "SPEX", by which a database says whose it is.
const APPLICATION: i64 = 0x5350_4558;

/// The version of a store that this program makes.
pub(super) const VERSION: i64 = STEPS.len() as i64;

/// What a database is.
pub(super) enum Age {
    /// Nothing is in it yet.
    Empty,
    /// It has all steps.
    Current,
}

/// Brings a database to the last step; gives what it was.
pub(super) fn bring_up(connection: &mut Connection, folder: &std::path::Path) -> Result<Age, StoreError> {
    let of = |error: rusqlite::Error| StoreError::of_sqlite(folder, &error);
    if check(connection, folder)? == VERSION {
        return Ok(Age::Current);
    }
    let step = connection.transaction_with_behavior(TransactionBehavior::Exclusive).map_err(of)?;
    let version = check(&step, folder)?;
    for sql in STEPS.iter().skip(usize::try_from(version).unwrap_or_default()) {
        step.execute_batch(sql).map_err(of)?;
    }
    step.pragma_update(None, "application_id", APPLICATION).map_err(of)?;
    step.pragma_update(None, "user_version", VERSION).map_err(of)?;
    step.commit().map_err(of)?;
    Ok(if version == 0 { Age::Empty } else { Age::Current })
}

/// The version of a database that is a store, or empty.
pub(super) fn check(connection: &Connection, folder: &std::path::Path) -> Result<i64, StoreError> {
    let number = |pragma: &str| {
        let read = connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
        read.map_err(|error| StoreError::of_sqlite(folder, &error))
    };
    let (application, version) = (number("application_id")?, number("user_version")?);
    let tables = connection.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get::<_, i64>(0));
    let tables = tables.map_err(|error| StoreError::of_sqlite(folder, &error))?;
    match (application, version) {
        (0, 0) if tables == 0 => Ok(0),
        (APPLICATION, 1..=VERSION) => Ok(version),
        (APPLICATION, found) if found > VERSION => {
            Err(StoreError::Newer { folder: folder.to_owned(), found, known: VERSION })
        }
        _ => Err(StoreError::NotAStore(folder.to_owned())),
    }
}

/// Every table, index and trigger of a store as the steps make it, by name with its SQL.
pub(super) fn as_made() -> rusqlite::Result<Vec<(String, String)>> {
    let fresh = Connection::open_in_memory()?;
    for sql in STEPS {
        fresh.execute_batch(sql)?;
    }
    objects(&fresh)
}

/// Every table, index and trigger of a database, by name with its SQL.
pub(super) fn objects(connection: &Connection) -> rusqlite::Result<Vec<(String, String)>> {
    let mut all = connection.prepare(
        "SELECT name, coalesce(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite\\_stat%' ESCAPE '\\' ORDER BY name",
    )?;
    all.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
}

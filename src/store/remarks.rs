//! What people say of a record that is no finding, kept.
//! Takes remarks about a record; adds them, and gives them back, and the records of one infant. Leaves alone what a remark may be
//! (`record::remarks`).
//!
//! A signed record that is of "cot 7" stays so: a remark that it is of "cot 8" is refused

use rusqlite::types::Value;

use crate::record::remarks::{About, NoRemark, Remark, Remarks};
use crate::record::{Moment, Person};
use crate::store::{Rows, Store, StoreError, list, text};

impl Store {
    /// Adds remarks about a record: all of them, or none. One that says what holds already adds nothing.
    ///
    /// # Errors
    /// If the record is not there, or was signed with another infant or time.
    pub fn remark(&mut self, id: &str, remarks: &[Remark]) -> Result<(), StoreError> {
        self.write(|rows| {
            rows.last_draft(id)?;
            let signed = !rows.signatures(id)?.is_empty();
            for remark in remarks {
                let before = rows.remarks(id)?;
                let holds = match remark.about {
                    About::Infant => before.infant(),
                    About::Examined => before.examined(),
                    About::Prompt => before.put_aside(&remark.prompt),
                };
                match holds {
                    Some(held) if held.words == remark.words => continue,
                    None if remark.words.is_empty() => continue,
                    Some(held) if signed && remark.about != About::Prompt => {
                        return Err(NoRemark::Signed(held.words.clone()).into());
                    }
                    _ => append(rows, id, remark)?,
                }
            }
            Ok(())
        })
    }

    /// The ids of all records of an infant, as the chart knows it, in the order in which they were put in.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of_infant(&self, infant: &str) -> Result<Vec<String>, StoreError> {
        let sql = "SELECT r.id FROM records r JOIN remarks m ON m.record = r.id \
                   WHERE m.about = 'infant' AND m.words = ?1 AND m.words <> '' AND m.number = \
                   (SELECT max(n.number) FROM remarks n WHERE n.record = r.id AND n.about = 'infant') ORDER BY r.number";
        self.rows().all(sql, [infant], |row| row.get(0))
    }
}

fn append(rows: &Rows<'_>, id: &str, remark: &Remark) -> Result<(), StoreError> {
    rows.append(
        "remarks",
        &[
            ("record", text(id)),
            ("about", text(remark.about.name())),
            ("prompt", text(&remark.prompt)),
            ("words", text(&remark.words)),
            ("name", text(remark.by.name())),
            ("role", text(remark.by.role())),
            ("at_ms", Value::Integer(remark.at.0)),
        ],
    )?;
    match remark.about {
        About::Infant | About::Examined if !remark.words.is_empty() => list::append_words(rows, id, &remark.words, &[]),
        _ => Ok(()),
    }
}

impl Rows<'_> {
    /// The remarks about a record, oldest first.
    pub(super) fn remarks(&self, id: &str) -> Result<Remarks, StoreError> {
        let sql = "SELECT about, prompt, words, name, role, at_ms FROM remarks WHERE record = ?1 ORDER BY number";
        let rows = self.all(sql, [id], |row| {
            let words: (String, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
            let who: (String, String) = (row.get(3)?, row.get(4)?);
            Ok((words, who, Moment(row.get(5)?)))
        })?;
        let remark =
            |((about, prompt, words), (name, role), at): ((String, String, String), (String, String), Moment)| {
                let nonsense = |what: &dyn std::fmt::Display| StoreError::nonsense(id, format!("a remark is {what}"));
                let about = About::ALL.into_iter().find(|known| known.name() == about);
                let about = about.ok_or_else(|| nonsense(&"about nothing that is known"))?;
                let by = Person::new(&name, &role).map_err(|error| nonsense(&format!("nobody's: {error}")))?;
                Ok(Remark { about, prompt, words, by, at })
            };
        Ok(Remarks(rows.into_iter().map(remark).collect::<Result<_, StoreError>>()?))
    }
}

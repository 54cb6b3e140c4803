//! Who did something, and when.
//! Takes a name and a role, or milliseconds; gives values that every decision and signature carries. Leaves alone the
//! clock: a time is passed in.
//!
//! `Person::new("A. Examiner", "")` is refused: it says no role

use std::fmt;

use thiserror::Error;

/// Somebody who decides or signs. There is none without a name and a role.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Person {
    name: String,
    role: String,
}

/// Why somebody cannot be named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoPerson {
    /// The name is empty.
    #[error("no name was given; a decision is somebody's")]
    Name,
    /// The role is empty.
    #[error("no role was given (registrar, consultant, ...); a signature says in which role it was given")]
    Role,
    /// A line break or another control character stands in one of them.
    #[error("a name and a role are one line each, without control characters")]
    Control,
}

impl Person {
    /// Somebody with a name and a role, without blanks around them.
    ///
    /// # Errors
    /// If one of them is empty or holds a control character.
    pub fn new(name: &str, role: &str) -> Result<Self, NoPerson> {
        let (name, role) = (name.trim(), role.trim());
        match () {
            () if name.is_empty() => Err(NoPerson::Name),
            () if role.is_empty() => Err(NoPerson::Role),
            () if name.contains(char::is_control) || role.contains(char::is_control) => Err(NoPerson::Control),
            () => Ok(Self { name: name.to_owned(), role: role.to_owned() }),
        }
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The role.
    #[must_use]
    pub fn role(&self) -> &str {
        &self.role
    }
}

impl fmt::Display for Person {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}, {}", self.name, self.role)
    }
}

/// A moment, in milliseconds since the beginning of 1970, UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(pub i64);

impl Moment {
    /// For the name of a file, to the second: `20231114T221320Z`.
    #[must_use]
    pub fn for_a_name(self) -> String {
        self.written("%Y%m%dT%H%M%SZ")
    }

    /// The day it lies on, UTC: `2023-11-14`.
    #[must_use]
    pub fn day(self) -> String {
        self.written("%Y-%m-%d")
    }

    /// For people, to the minute, UTC: `2023-11-14 22:13 UTC`.
    #[must_use]
    pub fn to_the_minute(self) -> String {
        self.written("%Y-%m-%d %H:%M UTC")
    }

    fn written(self, form: &str) -> String {
        match jiff::Timestamp::from_millisecond(self.0) {
            Ok(time) => time.strftime(form).to_string(),
            Err(_) => format!("{}ms", self.0),
        }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match jiff::Timestamp::from_millisecond(self.0) {
            Ok(time) => write!(out, "{time:.3}"),
            // Beyond the year 9999 there is no such writing.
            Err(_) => write!(out, "{} ms", self.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_without_a_name_and_a_role() {
        let examiner = Person::new(" A. Examiner ", "registrar").unwrap();
        assert_eq!(examiner.to_string(), "A. Examiner, registrar");
        assert_eq!(Person::new(" ", "registrar"), Err(NoPerson::Name));
        assert_eq!(Person::new("A. Examiner", "\t"), Err(NoPerson::Role));
        assert_eq!(Person::new("A.\nExaminer", "registrar"), Err(NoPerson::Control));
    }

    #[test]
    fn a_moment_is_written_to_the_millisecond_in_utc() {
        assert_eq!(Moment(0).to_string(), "1970-01-01T00:00:00.000Z");
        assert_eq!(Moment(1_700_000_000_120).to_string(), "2023-11-14T22:13:20.120Z");
        assert_eq!(Moment(i64::MAX).to_string(), format!("{} ms", i64::MAX));
    }
}

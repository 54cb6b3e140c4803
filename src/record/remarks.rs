//! What people add to a record that is no finding: whose it is, when the examination was, which prompts were put aside and why.
//! Takes words and who wrote them; gives what holds now, the newest of a kind. Leaves alone findings, and where remarks are
//! kept (`store`): there every one of them stays.
//!
//! "cot 7" by A. Examiner, then "cot 17" by the same: the record is of "cot 17", and both stay readable

use jiff::civil::{Date, DateTime};
use thiserror::Error;

use crate::record::person::{Moment, Person};

/// What a remark is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Which infant: the words by which the chart knows it.
    Infant,
    /// When the examination was: a date, or a date and a time, as the examiner's clock has it.
    Examined,
    /// Why a prompt was put aside.
    Prompt,
}

impl About {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Infant, Self::Examined, Self::Prompt];

    /// Its name in the store.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Infant => "infant",
            Self::Examined => "examined",
            Self::Prompt => "prompt",
        }
    }
}

/// What somebody added.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What about.
    pub about: About,
    /// Which prompt, where it is one; empty otherwise.
    pub prompt: String,
    /// What they wrote; empty takes the one before back.
    pub words: String,
    /// Who.
    pub by: Person,
    /// When.
    pub at: Moment,
}

/// Why a remark is refused.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NoRemark {
    /// It is not one line, or too long.
    #[error("a remark is one line of at most {MOST} characters, without control characters")]
    NotALine,
    /// It is no date.
    #[error("`{0}` is no date; write 2026-11-29, or 2026-11-29T14:05 with the time")]
    NoDate(String),
    /// A prompt is put aside for a reason.
    #[error("no reason was given; a prompt is put aside for one, which stays in the record")]
    NoReason,
    /// A signed record is of the infant, and of the time, that it was signed with.
    #[error(
        "the record is signed with `{0}`, which stays; if that is wrong, keep the record and examine and record anew"
    )]
    Signed(String),
}

/// Characters that a remark may have.
pub const MOST: usize = 200;

impl Remark {
    /// A remark, without blanks around it.
    ///
    /// # Errors
    /// If it is no line, no date where one belongs, or no reason is given.
    pub fn new(about: About, prompt: &str, words: &str, by: &Person, at: Moment) -> Result<Self, NoRemark> {
        let words = words.trim();
        if [words, prompt].iter().any(|text| text.contains(char::is_control)) || words.chars().count() > MOST {
            return Err(NoRemark::NotALine);
        }
        match about {
            About::Examined if !words.is_empty() && !is_date(words) => return Err(NoRemark::NoDate(words.to_owned())),
            About::Prompt if words.is_empty() => return Err(NoRemark::NoReason),
            _ => {}
        }
        Ok(Self { about, prompt: prompt.to_owned(), words: words.to_owned(), by: by.clone(), at })
    }
}

fn is_date(words: &str) -> bool {
    let has_time = words.contains('T');
    if has_time { words.parse::<DateTime>().is_ok() } else { words.parse::<Date>().is_ok() }
}

/// What people added to a record, oldest first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Remarks(pub Vec<Remark>);

impl Remarks {
    /// Which infant it is of.
    #[must_use]
    pub fn infant(&self) -> Option<&Remark> {
        self.last(About::Infant, "")
    }

    /// When the examination was.
    #[must_use]
    pub fn examined(&self) -> Option<&Remark> {
        self.last(About::Examined, "")
    }

    /// Why a prompt was put aside.
    #[must_use]
    pub fn put_aside(&self, prompt: &str) -> Option<&Remark> {
        self.last(About::Prompt, prompt)
    }

    fn last(&self, about: About, prompt: &str) -> Option<&Remark> {
        let mut newest = self.0.iter().rev();
        newest.find(|remark| remark.about == about && remark.prompt == prompt).filter(|remark| !remark.words.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn remark(about: About, words: &str) -> Result<Remark, NoRemark> {
        Remark::new(about, "", words, &Person::new("A. Examiner", "registrar").unwrap(), Moment(0))
    }

    #[test]
    fn the_newest_holds_and_an_empty_one_takes_it_back() {
        let mut remarks = Remarks::default();
        assert_eq!(remarks.infant(), None);
        for (words, now) in [("cot 7", Some("cot 7")), (" cot 17 ", Some("cot 17")), ("", None)] {
            remarks.0.push(remark(About::Infant, words).unwrap());
            assert_eq!(remarks.infant().map(|remark| remark.words.as_str()), now);
        }
        assert_eq!(remarks.examined(), None);
    }

    #[test]
    fn a_date_is_a_date_and_a_prompt_has_a_reason() {
        for right in ["2026-11-29", "2026-11-29T14:05", ""] {
            assert!(remark(About::Examined, right).is_ok(), "{right}");
        }
        for wrong in ["yesterday", "29.11.2026", "2026-13-01", "2026-11-29T25:00"] {
            assert_eq!(remark(About::Examined, wrong), Err(NoRemark::NoDate(wrong.to_owned())));
        }
        assert_eq!(remark(About::Prompt, " "), Err(NoRemark::NoReason));
        assert_eq!(remark(About::Infant, "cot\n7"), Err(NoRemark::NotALine));
        assert_eq!(remark(About::Infant, &"x".repeat(MOST + 1)), Err(NoRemark::NotALine));
    }
}

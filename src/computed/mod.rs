//! What a record shows beyond what was said: reckoned from its findings, never a finding itself.
//! Takes what stands in a review or a signed record, and the lexicon's rules; gives ages, sizes for age, left beside right, each
//! finding beside what is usual at that age, and prompts to look again. Every figure names its source, every prompt defers to
//! local guidance. Leaves alone findings (none is added or altered), diagnoses, and how anything looks (`export`, `page`).
//! Files, in reading order: `held` `ages` `growth` `sizes` `sides` `states` `amounts` `conditions` `usual` `prompts` `serial`.
//!
//! born at 38+4, two days old, head 34.6 cm, a boy: 38+6 weeks post-menstrual, z 0.0 by the WHO standard

mod ages;
mod amounts;
mod conditions;
pub mod growth;
pub mod held;
mod prompts;
pub mod serial;
mod sides;
mod sizes;
mod states;
mod usual;

use ages::Infant;
use conditions::Facts;
use growth::{Measure, Score, Sex, Tables};
use held::Held;
use prompts::Grounds;

use crate::lexicon::Lexicon;

pub use crate::lexicon::rules::{Cited, Level, Status};
use crate::reading::Side;
use crate::record::remarks::{Remark, Remarks};
use crate::record::{FindingId, Review};

/// Everything that is reckoned from a record.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Computed {
    /// Which rules were used: their version, and the hash of the lexicon that they stand in.
    pub rules: String,
    /// How old the infant is, as far as that was said.
    pub ages: Vec<Age>,
    /// Why an age is not there: "no gestational age was said", in whole sentences without a full stop.
    pub no_ages: Vec<String>,
    /// Measurements by growth standards.
    pub sizes: Vec<Size>,
    /// Paired items whose sides differ.
    pub differences: Vec<Difference>,
    /// Paired items of which one side alone has a result.
    pub one_sided: Vec<OneSided>,
    /// The infant's state when a finding was told that a state changes.
    pub states: Vec<StateAt>,
    /// Findings beside what is usual at the infant's age.
    pub usual: Vec<Usual>,
    /// What may be worth a second look, most pressing first.
    pub prompts: Vec<Prompt>,
}

/// Which age.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AgeKind {
    /// Since birth.
    Postnatal,
    /// Gestation at birth and the age since birth together.
    PostMenstrual,
    /// Since birth, less the time that birth came before 40+0; for an infant born before 37+0, once that time is over.
    Corrected,
}

impl AgeKind {
    /// Its name for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Postnatal => "postnatal age",
            Self::PostMenstrual => "post-menstrual age",
            Self::Corrected => "corrected age",
        }
    }
}

/// An age of the infant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Age {
    /// Which.
    pub kind: AgeKind,
    /// Whole days.
    pub days: u32,
    /// For people: "38+6 weeks", "2 days".
    pub words: String,
    /// What is not exact about it: "about" was said, days were not said, or it rests on what nobody has decided yet.
    pub notes: Vec<String>,
    /// From which findings.
    pub from: Vec<FindingId>,
    /// Where its definition is from.
    pub source: String,
}

/// A measurement by a growth standard.
#[derive(Debug, Clone, PartialEq)]
pub struct Size {
    /// The measurement.
    pub finding: FindingId,
    /// Its item's id.
    pub item: String,
    /// Its item's name for people.
    pub name: String,
    /// It for people: "34.6 cm".
    pub value: String,
    /// What is measured.
    pub measure: Measure,
    /// Whether it was measured at birth, whenever it is told: it does not grow.
    pub at_birth: bool,
    /// In the unit of its measure; `None` where it is no single number.
    pub amount: Option<f64>,
    /// The figure, or why there is none, for people.
    pub outcome: Result<Score, String>,
    /// The infant's sex, where it was said.
    pub sex: Option<Sex>,
    /// "boy" or "girl", and the age as the standard counts it: "boy, 2 days old"; empty without a figure.
    pub used: String,
    /// Why this standard: "born at 37+0 or later: days since birth"; empty without one.
    pub why: String,
    /// What is not exact about it.
    pub notes: Vec<String>,
    /// What must be known beside such a measurement.
    pub known: Vec<Known>,
}

impl Size {
    /// Everything that a reader must know beside it, in lines.
    #[must_use]
    pub fn all_notes(&self) -> Vec<String> {
        let known = self.known.iter().map(|known| format!("{} ({})", known.words, known.source));
        self.notes.iter().cloned().chain(known).collect()
    }
}

/// Something that is known of a kind of measurement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// What.
    pub words: String,
    /// Where that is from.
    pub source: String,
}

/// A paired item whose sides differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Its id.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// Left: the finding, and it for people.
    pub left: (FindingId, String),
    /// Right.
    pub right: (FindingId, String),
    /// By how much, where both are single numbers: "20°".
    pub by: Option<String>,
}

/// A paired item of which one side alone has a result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OneSided {
    /// Its id.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// The side that has one.
    pub side: Side,
    /// What is known of the other: "not mentioned", "not tested".
    pub other: String,
}

/// The infant's state at a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StateAt {
    /// The finding.
    pub finding: FindingId,
    /// The state last told before it, for people: "crying"; `None` where none was told before it.
    pub state: Option<String>,
    /// Whether that state makes such a finding hard to read.
    pub poorly: bool,
    /// Where that is from.
    pub source: String,
}

/// A finding beside what is usual at the infant's age.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Usual {
    /// The finding.
    pub finding: FindingId,
    /// What is usual, for people: "70 to 110°".
    pub expected: String,
    /// At which age: "38+6 weeks".
    pub at: String,
    /// Whether the finding is within it; `None` where that cannot be told ("normal" alone, not tested).
    pub fits: Option<bool>,
    /// What the data say beside it; may be empty.
    pub note: String,
    /// Where that is from.
    pub cited: Cited,
}

/// Something that may be worth a second look. A reminder from published ranges, which may be wrong for this infant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prompt {
    /// By which it is put aside: its rules and findings with their values, so that another value asks again.
    pub id: String,
    /// How pressing.
    pub level: Level,
    /// The findings that it rests on.
    pub findings: Vec<FindingId>,
    /// They for people: "popliteal angle left 150°".
    pub said: Vec<String>,
    /// The sentence: "You said ... . Commonly reviewed by a senior promptly; follow local guidance."
    pub words: String,
    /// What makes it one: "outside what is usual at 38+6 weeks: 70 to 110°".
    pub why: Vec<String>,
    /// What a reader must know beside it: said with doubt, "the state may explain it".
    pub notes: Vec<String>,
    /// Where it is from.
    pub cited: Vec<Cited>,
    /// Who put it aside, when and why, if somebody did.
    pub put_aside: Option<Remark>,
}

/// What is said where there are none.
pub const NO_PROMPTS: &str = "no prompts from these rules";

/// Everything that is reckoned from what stands in a review, by the standards that the program carries.
#[must_use]
pub fn computed(lexicon: &Lexicon, review: &Review, remarks: &Remarks) -> Computed {
    by_tables(lexicon, Tables::built_in(), &held::held(lexicon, review), remarks)
}

/// The same of what stands, by these standards.
#[must_use]
pub fn by_tables(lexicon: &Lexicon, tables: &Tables, held: &[Held], remarks: &Remarks) -> Computed {
    let rules = &lexicon.beside.rules;
    let reckoning = &rules.reckoning;
    let name = |id: &str| lexicon.item_named(id).map_or(id, |item| &item.name).to_owned();
    let infant = Infant::of(reckoning, held, name);
    let (ages, no_ages) = infant.ages(&reckoning.ages_source);
    let sizes = sizes::sizes(reckoning, tables, held, &infant);
    let states = states::states(&reckoning.state, held);
    let facts = Facts { held, sizes: &sizes };
    let usual = usual::usual(&rules.usual, &facts, &infant);
    let prompts = Grounds { rules, facts: &facts, infant: &infant, states: &states, remarks }.prompts();
    Computed {
        rules: format!("rules {}, lexicon {}", reckoning.version, lexicon.identity),
        ages,
        no_ages,
        differences: sides::differences(lexicon, held),
        one_sided: sides::one_sided(lexicon, held),
        sizes,
        states,
        usual,
        prompts,
    }
}

#[cfg(test)]
mod tests;

//! What a record shows beyond what was said: reckoned from its findings, never a finding itself.
//! Takes what stands in a review or a signed record, and the lexicon's rules; gives ages, sizes for age, left beside right, each
//! finding beside what is usual at that age, and prompts to look again. Every figure names its source, every prompt defers to
//! local guidance. Leaves alone findings (none is added or altered), diagnoses, and how anything looks (`export`, `page`).
//! Files, in reading order: `held` `ages` `growth` `sizes` `sides` `states` `amounts` `conditions` `usual` `prompts` `serial`.
//!
//! born at 38+4, two days old, head 34.6 cm, a boy: 38+6 weeks post-menstrual, z 0.0 by the WHO standard

pub mod growth;

use growth::{Measure, Score};

use crate::reading::Side;
use crate::record::FindingId;
use crate::record::remarks::Remark;

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
    /// In the unit of its measure; `None` where it is no single number.
    pub amount: Option<f64>,
    /// The figure, or why there is none, for people.
    pub outcome: Result<Score, String>,
    /// "boy" or "girl", and the age as the standard counts it: "boy, 2 days old"; empty without a figure.
    pub used: String,
    /// Why this standard: "born at 37+0 or later: days since birth"; empty without one.
    pub why: String,
    /// What a reader must know beside it.
    pub notes: Vec<String>,
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

/// How sure what is usual is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// The paper's abstract was read.
    VerifiedAbstract,
    /// Another publication that reports it was read.
    VerifiedSecondary,
    /// Reckoned from a published scale.
    Derived,
    /// Nobody looked it up.
    FromMemory,
    /// Common practice, no source.
    CommonPractice,
}

impl Status {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::VerifiedAbstract, Self::VerifiedSecondary, Self::Derived, Self::FromMemory, Self::CommonPractice];

    /// Its name in the data.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::VerifiedAbstract => "verified-abstract",
            Self::VerifiedSecondary => "verified-secondary",
            Self::Derived => "derived",
            Self::FromMemory => "from-memory",
            Self::CommonPractice => "common-practice",
        }
    }

    /// What must stand beside it; nothing where a publication says it.
    #[must_use]
    pub fn mark(self) -> Option<&'static str> {
        match self {
            Self::VerifiedAbstract | Self::VerifiedSecondary => None,
            Self::Derived => Some("inferred"),
            Self::FromMemory => Some("from memory"),
            Self::CommonPractice => Some("common practice, no source"),
        }
    }
}

/// Where something is from, and how sure that is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cited {
    /// The rule's id: `e034`.
    pub rule: String,
    /// Its source.
    pub source: String,
    /// How sure.
    pub status: Status,
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

/// How pressing a prompt is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Commonly reviewed by a senior at once.
    Now,
    /// Commonly reviewed by a senior promptly.
    Soon,
    /// The local pathway for hips.
    Pathway,
    /// Commonly looked at again.
    Recheck,
}

impl Level {
    /// Its name in data.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Now => "now",
            Self::Soon => "soon",
            Self::Pathway => "pathway",
            Self::Recheck => "recheck",
        }
    }
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

/// What every list of prompts says, with or without prompts in it.
pub const ABOUT_PROMPTS: [&str; 3] = [
    "Prompts are reminders from published ranges and common practice. They may be wrong for this infant; local guidance and the \
     examiner decide.",
    "The rules are not complete: a finding without a prompt is not thereby harmless.",
    "What cannot be heard (colour, breathing, temperature, glucose, feeding, jaundice) can matter more.",
];

/// What is said where there are none.
pub const NO_PROMPTS: &str = "no prompts from these rules";

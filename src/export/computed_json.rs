//! What is reckoned from a record → JSON.
//! Takes it; gives values that serialise, each figure with its source. The page, and drafts for programs, show the same. Leaves
//! alone how it is reckoned (`computed`).
//!
//! `{"measure": "head", "z": -0.05, "centile": 48.0, "standard": "WHO Child Growth Standards, 2006", "used": "boy, 2 days old", …}`

use serde::Serialize;

use crate::computed::serial::Serial;
use crate::computed::{Age, Cited, Computed, Difference, NO_PROMPTS, OneSided, Prompt, Size, StateAt, Usual};
use crate::lexicon::Lexicon;
use crate::record::FindingId;
use crate::record::remarks::Remark;

/// Everything that is reckoned from a record.
#[derive(Debug, Serialize)]
pub struct ComputedJson {
    what: &'static str,
    rules: String,
    ages: Vec<AgeJson>,
    no_ages: Vec<String>,
    sizes: Vec<SizeJson>,
    differences: Vec<DifferenceJson>,
    one_sided: Vec<OneSidedJson>,
    states: Vec<StateJson>,
    usual: Vec<UsualJson>,
    prompts: Vec<PromptJson>,
    no_prompts: Option<&'static str>,
    about_prompts: Vec<String>,
}

#[derive(Debug, Serialize)]
struct AgeJson {
    kind: &'static str,
    days: u32,
    words: String,
    notes: Vec<String>,
    from: Vec<String>,
    source: String,
}

#[derive(Debug, Serialize)]
struct SizeJson {
    finding: String,
    item: String,
    name: String,
    value: String,
    measure: &'static str,
    z: Option<f64>,
    centile: Option<f64>,
    centile_words: Option<String>,
    standard: Option<&'static str>,
    source: Option<&'static str>,
    used: String,
    why: String,
    none: Option<String>,
    notes: Vec<String>,
}

#[derive(Debug, Serialize)]
struct DifferenceJson {
    item: String,
    name: String,
    left: SideJson,
    right: SideJson,
    by: Option<String>,
}

#[derive(Debug, Serialize)]
struct SideJson {
    finding: String,
    words: String,
}

#[derive(Debug, Serialize)]
struct OneSidedJson {
    item: String,
    name: String,
    side: &'static str,
    other: String,
}

#[derive(Debug, Serialize)]
struct StateJson {
    finding: String,
    state: Option<String>,
    poorly: bool,
    source: String,
}

#[derive(Debug, Serialize)]
struct UsualJson {
    finding: String,
    expected: String,
    at: String,
    fits: Option<bool>,
    note: String,
    cited: CitedJson,
}

#[derive(Debug, Serialize)]
struct CitedJson {
    rule: String,
    source: String,
    status: &'static str,
    mark: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct PromptJson {
    id: String,
    level: &'static str,
    findings: Vec<String>,
    said: Vec<String>,
    words: String,
    why: Vec<String>,
    notes: Vec<String>,
    cited: Vec<CitedJson>,
    put_aside: Option<RemarkJson>,
}

/// What somebody said of a record.
#[derive(Debug, Serialize)]
pub struct RemarkJson {
    words: String,
    by: String,
    role: String,
    at: i64,
}

impl RemarkJson {
    /// Of a remark.
    #[must_use]
    pub fn of(remark: &Remark) -> Self {
        let (by, role) = (remark.by.name().to_owned(), remark.by.role().to_owned());
        Self { words: remark.words.clone(), by, role, at: remark.at.0 }
    }
}

impl ComputedJson {
    /// Of what was reckoned, with the sentences that stand above prompts.
    #[must_use]
    pub fn of(lexicon: &Lexicon, computed: &Computed) -> Self {
        Self {
            what: "computed from the findings; none of it is a finding",
            rules: computed.rules.clone(),
            ages: computed.ages.iter().map(AgeJson::of).collect(),
            no_ages: computed.no_ages.clone(),
            sizes: computed.sizes.iter().map(SizeJson::of).collect(),
            differences: computed.differences.iter().map(DifferenceJson::of).collect(),
            one_sided: computed.one_sided.iter().map(OneSidedJson::of).collect(),
            states: computed.states.iter().map(StateJson::of).collect(),
            usual: computed.usual.iter().map(UsualJson::of).collect(),
            no_prompts: computed.prompts.is_empty().then_some(NO_PROMPTS),
            prompts: computed.prompts.iter().map(PromptJson::of).collect(),
            about_prompts: lexicon.beside.rules.sentences.about.clone(),
        }
    }
}

fn codes(findings: &[FindingId]) -> Vec<String> {
    findings.iter().map(|finding| finding.written()).collect()
}

impl AgeJson {
    fn of(age: &Age) -> Self {
        Self {
            kind: age.kind.words(),
            days: age.days,
            words: age.words.clone(),
            notes: age.notes.clone(),
            from: codes(&age.from),
            source: age.source.clone(),
        }
    }
}

impl SizeJson {
    fn of(size: &Size) -> Self {
        let score = size.outcome.as_ref().ok();
        // A third digit of a z-score is below what a tape or a scale can tell.
        let rounded = |number: f64, places: f64| (number * places).round() / places;
        Self {
            finding: size.finding.written(),
            item: size.item.clone(),
            name: size.name.clone(),
            value: size.value.clone(),
            measure: size.measure.name(),
            z: score.map(|score| rounded(score.z, 100.0)),
            centile: score.map(|score| rounded(score.centile, 10.0)),
            centile_words: score.map(|score| score.centile_words()),
            standard: score.map(|score| score.standard.words()),
            source: score.map(|score| score.standard.source()),
            used: size.used.clone(),
            why: size.why.clone(),
            none: size.outcome.as_ref().err().cloned(),
            notes: size.all_notes(),
        }
    }
}

impl DifferenceJson {
    fn of(difference: &Difference) -> Self {
        let side =
            |(finding, words): &(FindingId, String)| SideJson { finding: finding.written(), words: words.clone() };
        Self {
            item: difference.item.clone(),
            name: difference.name.clone(),
            left: side(&difference.left),
            right: side(&difference.right),
            by: difference.by.clone(),
        }
    }
}

impl OneSidedJson {
    fn of(one: &OneSided) -> Self {
        Self { item: one.item.clone(), name: one.name.clone(), side: one.side.name(), other: one.other.clone() }
    }
}

impl StateJson {
    fn of(at: &StateAt) -> Self {
        Self { finding: at.finding.written(), state: at.state.clone(), poorly: at.poorly, source: at.source.clone() }
    }
}

impl CitedJson {
    fn of(cited: &Cited) -> Self {
        let (rule, source) = (cited.rule.clone(), cited.source.clone());
        Self { rule, source, status: cited.status.name(), mark: cited.status.mark() }
    }
}

impl UsualJson {
    fn of(usual: &Usual) -> Self {
        Self {
            finding: usual.finding.written(),
            expected: usual.expected.clone(),
            at: usual.at.clone(),
            fits: usual.fits,
            note: usual.note.clone(),
            cited: CitedJson::of(&usual.cited),
        }
    }
}

impl PromptJson {
    fn of(prompt: &Prompt) -> Self {
        Self {
            id: prompt.id.clone(),
            level: prompt.level.name(),
            findings: codes(&prompt.findings),
            said: prompt.said.clone(),
            words: prompt.words.clone(),
            why: prompt.why.clone(),
            notes: prompt.notes.clone(),
            cited: prompt.cited.iter().map(CitedJson::of).collect(),
            put_aside: prompt.put_aside.as_ref().map(RemarkJson::of),
        }
    }
}

/// Examinations of one infant, side by side.
#[derive(Debug, Serialize)]
pub struct SerialJson {
    examinations: Vec<ExaminationJson>,
    rows: Vec<SerialRowJson>,
    growth: Vec<GrowthJson>,
}

#[derive(Debug, Serialize)]
struct ExaminationJson {
    id: String,
    when: String,
    age: String,
}

#[derive(Debug, Serialize)]
struct SerialRowJson {
    item: String,
    name: String,
    region: String,
    side: String,
    values: Vec<Option<String>>,
    changed: bool,
}

#[derive(Debug, Serialize)]
struct GrowthJson {
    name: String,
    from: String,
    to: String,
    words: String,
    how: String,
}

impl SerialJson {
    /// Of examinations that were lined up.
    #[must_use]
    pub fn of(serial: Serial) -> Self {
        let examination = |(id, when, age): (String, String, String)| ExaminationJson { id, when, age };
        let row = |row: crate::computed::serial::SerialRow| SerialRowJson {
            item: row.item,
            name: row.name,
            region: row.region,
            side: row.side,
            values: row.values,
            changed: row.changed,
        };
        let growth = |growth: crate::computed::serial::Growth| GrowthJson {
            name: growth.name,
            from: growth.from,
            to: growth.to,
            words: growth.words,
            how: growth.how,
        };
        Self {
            examinations: serial.examinations.into_iter().map(examination).collect(),
            rows: serial.rows.into_iter().map(row).collect(),
            growth: serial.growth.into_iter().map(growth).collect(),
        }
    }
}

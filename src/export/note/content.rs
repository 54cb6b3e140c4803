//! What a note says, section by section.
//! Takes what stands in a record and what is reckoned from it; gives the note: first what is outside what is usual, abnormal or
//! differs between left and right, then measurements, then the rest by region, then what was not tested and not mentioned. Every
//! figure names its source. Nothing is called normal that was not. Leaves alone how it looks.
//!
//! "popliteal angle left: 150° (usual at 38+6 weeks: 70 to 110°)" stands in the first section, with its source

use std::collections::BTreeMap;

use super::rows::{Row, rows};
use super::{Note, NoteLine, Section, Subject};
use crate::computed::held::{Held, held};
use crate::computed::{Computed, Size, Usual};
use crate::record::draft::CONTEXT_REGION;
use crate::record::{DraftRecord, FindingId};

/// What holds of every note. From the project's cautions: common practice, no source.
const CAUTIONS: [&str; 2] = [
    "Software made the text from speech. What is not mentioned was not said, which does not make it normal. Figures called computed are \
     no findings.",
    "This is no full newborn check: colour, breathing, temperature, glucose, feeding and jaundice can matter more.",
];

/// The note of a record.
#[must_use]
pub fn note(subject: &Subject<'_>) -> Note {
    let held = held(subject.lexicon, subject.review);
    let told = Told { held: &held, computed: subject.computed };
    let mut sections = vec![told.unusual(), told.measurements()];
    sections.extend([
        told.others(),
        told.states(),
        told.without_result(),
        told.one_sided(),
        not_mentioned(subject, &held),
    ]);
    sections.retain(|section| !section.lines.is_empty());
    Note {
        title: "Newborn neurological examination".to_owned(),
        draft: subject.signed.is_none(),
        status: status(subject),
        heading: heading(subject, &told),
        sections,
        foot: foot(subject),
    }
}

fn status(subject: &Subject<'_>) -> String {
    let Some((signed, _)) = subject.signed else { return DraftRecord::STATUS.to_owned() };
    let amended = signed.reason().map(|reason| format!("; amended: {reason}")).unwrap_or_default();
    format!("Signed by {} on {}, version {}{amended}", signed.signer(), signed.at().to_the_minute(), signed.version())
}

fn heading(subject: &Subject<'_>, told: &Told<'_>) -> Vec<(String, String)> {
    let remark = |remark: Option<&crate::record::remarks::Remark>, none: &str| {
        remark.map_or_else(|| none.to_owned(), |remark| remark.words.replace('T', " "))
    };
    let mut heading = vec![
        ("infant".to_owned(), remark(subject.remarks.infant(), "not named in this record")),
        ("examined".to_owned(), remark(subject.remarks.examined(), "time not written down")),
    ];
    let context = rows(told.held.iter().filter(|held| held.region == CONTEXT_REGION));
    let measured = |row: &&Row<'_>| told.computed.sizes.iter().all(|size| size.finding != row.held.finding);
    let said: Vec<String> = context.iter().filter(measured).map(Row::words).collect();
    let said = if said.is_empty() { "nothing was said of the infant".to_owned() } else { said.join(", ") };
    heading.push(("said of the infant".to_owned(), said));
    let ages = told.computed.ages.iter().map(|age| {
        let notes = if age.notes.is_empty() { String::new() } else { format!(" ({})", age.notes.join("; ")) };
        format!("{} {}{notes}", age.kind.words(), age.words)
    });
    let ages: Vec<String> = ages.chain(told.computed.no_ages.iter().cloned()).collect();
    heading.push(("computed".to_owned(), ages.join(", ")));
    heading
}

/// What is told, with what was reckoned from it.
struct Told<'a> {
    held: &'a [Held],
    computed: &'a Computed,
}

impl Told<'_> {
    /// Everything but what tells whose record it is, and the sizes.
    fn found(&self) -> impl Iterator<Item = &Held> {
        let size = |held: &Held| self.computed.sizes.iter().any(|size| size.finding == held.finding);
        self.held.iter().filter(move |held| held.region != CONTEXT_REGION && !size(held))
    }

    fn usual(&self, finding: FindingId) -> Option<&Usual> {
        self.computed.usual.iter().find(|usual| usual.finding == finding)
    }

    fn stands_out(&self, held: &Held) -> bool {
        let outside = self.usual(held.finding).is_some_and(|usual| usual.fits == Some(false));
        let prompts = || self.computed.prompts.iter().any(|prompt| prompt.findings.contains(&held.finding));
        let differs = || self.computed.differences.iter().any(|pair| pair.item == held.item);
        held.is_result() && (held.value == "abnormal" || outside || prompts() || differs())
    }

    fn unusual(&self) -> Section {
        let standing_out = rows(self.found().filter(|held| self.stands_out(held)));
        let mut lines: Vec<NoteLine> = standing_out.iter().map(|row| self.unusual_line(row)).collect();
        if lines.is_empty() {
            let words = "nothing by these rules, which are not complete".to_owned();
            lines.push(NoteLine { lead: String::new(), words, small: String::new() });
        }
        let title = "Abnormal, outside what is usual at this age, or differing left from right".to_owned();
        Section { title, lines }
    }

    fn unusual_line(&self, row: &Row<'_>) -> NoteLine {
        let mut words = row.value();
        let mut small = Vec::new();
        if let Some(usual) = self.usual(row.held.finding).filter(|usual| usual.fits == Some(false)) {
            words = format!("{words} (usual at {}: {})", usual.at, usual.expected);
            small.push(cited(usual));
        }
        if let Some(by) = self.computed.differences.iter().find(|pair| pair.item == row.held.item) {
            let by = by.by.as_ref().map(|by| format!(" by {by}")).unwrap_or_default();
            words = format!("{words}, sides differ{by}");
        }
        NoteLine { lead: row.place(), words, small: small.join("; ") }
    }

    fn measurements(&self) -> Section {
        let lines = self.computed.sizes.iter().map(size_line).collect();
        Section { title: "Measurements, with computed z-scores".to_owned(), lines }
    }

    // By region, since that is how a colleague looks for something.
    fn others(&self) -> Section {
        let rest = rows(self.found().filter(|held| !self.stands_out(held) && held.is_result()));
        let lines = by_region(rest.iter().map(|row| (row.held.region.as_str(), row.words())));
        Section { title: "Other findings, as said".to_owned(), lines }
    }

    fn states(&self) -> Section {
        let mut poorly: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for row in rows(self.held) {
            let at = self.computed.states.iter().find(|at| at.poorly && row.findings.contains(&at.finding));
            if let Some(state) = at.and_then(|at| at.state.clone()) {
                poorly.entry(state).or_default().push(row.place());
            }
        }
        let source = self.computed.states.first().map(|at| at.source.clone()).unwrap_or_default();
        let lines = poorly.into_iter().map(|(state, places)| NoteLine {
            lead: format!("told while {state}"),
            words: places.join(", "),
            small: source.clone(),
        });
        Section {
            title: "Found in a state in which tone and reflexes are read poorly".to_owned(),
            lines: lines.collect(),
        }
    }

    fn without_result(&self) -> Section {
        let of = |value: &str, lead: &str| {
            let places: Vec<String> =
                rows(self.found().filter(|held| held.value == value)).iter().map(Row::place).collect();
            (!places.is_empty()).then(|| line(lead, places.join(", ")))
        };
        let lines = [of("not-tested", "not tested"), of("not-elicited", "tried, not obtained")].into_iter().flatten();
        Section { title: "Without a result".to_owned(), lines: lines.collect() }
    }

    fn one_sided(&self) -> Section {
        let one = self.computed.one_sided.iter().map(|one| {
            let other = if one.side.name() == "left" { "right" } else { "left" };
            format!("{} {} ({other} {})", one.name, one.side.name(), one.other)
        });
        let one: Vec<String> = one.collect();
        let lines = if one.is_empty() { Vec::new() } else { vec![line("", one.join(", "))] };
        Section { title: "With a result on one side only".to_owned(), lines }
    }
}

fn line(lead: &str, words: String) -> NoteLine {
    NoteLine { lead: lead.to_owned(), words, small: String::new() }
}

fn cited(usual: &Usual) -> String {
    let mark = usual.cited.status.mark().map(|mark| format!(" [{mark}]")).unwrap_or_default();
    // Where there is no source, the mark says so already.
    let source = if usual.cited.source.starts_with("common practice") { "" } else { usual.cited.source.as_str() };
    format!("{source}{mark}").trim().to_owned()
}

fn size_line(size: &Size) -> NoteLine {
    let (words, small) = match &size.outcome {
        Ok(score) => {
            let words = format!("{}, z {:.2}, {} centile", size.value, score.z, score.centile_words());
            (words, format!("{}; {}; {}", score.standard.words(), size.used, size.why))
        }
        Err(none) => (size.value.clone(), format!("no z-score: {none}")),
    };
    let notes = size.notes.iter().map(|note| format!("; {note}")).collect::<String>();
    NoteLine { lead: size.name.clone(), words, small: format!("{small}{notes}") }
}

// Regions in the order in which they come.
fn by_region<'a>(rows: impl Iterator<Item = (&'a str, String)>) -> Vec<NoteLine> {
    let mut lines: Vec<NoteLine> = Vec::new();
    for (region, words) in rows {
        match lines.iter_mut().find(|line| line.lead == region) {
            Some(line) => line.words = format!("{}; {words}", line.words),
            None => lines.push(line(region, words)),
        }
    }
    lines
}

fn not_mentioned(subject: &Subject<'_>, held: &[Held]) -> Section {
    let silent = subject.review.draft().not_mentioned.iter();
    let silent = silent.filter(|silent| held.iter().all(|held| held.item != silent.item));
    let mut lines = by_region(silent.map(|silent| (silent.region.as_str(), silent.name.clone())));
    for line in &mut lines {
        line.words = line.words.replace("; ", ", ");
    }
    Section { title: "Not mentioned, which is not the same as normal".to_owned(), lines }
}

fn foot(subject: &Subject<'_>) -> Vec<String> {
    let draft = subject.review.draft();
    let mut foot: Vec<String> = CAUTIONS.map(str::to_owned).into();
    if draft.lacks_sound() {
        foot.push("Some of the sound was lost, dropped or held no speech: what was said there is missing.".to_owned());
    }
    let model = draft.model.as_ref().map(|model| format!(", heard with {}", model.name)).unwrap_or_default();
    foot.push(format!("{}{model}, from {}; {}", draft.program, draft.source.file_name, subject.computed.rules));
    let signature = subject.signed.map(|(_, sha256)| format!(", SHA-256 of what was signed: {sha256}"));
    foot.push(format!("record {}{}", subject.id, signature.unwrap_or_default()));
    foot
}

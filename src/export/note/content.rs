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
use crate::reading::Side;
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
    let mut sources = Sources::default();
    let heading = heading(subject, &told, &mut sources);
    let mut sections = vec![told.unusual(&mut sources), told.measurements(&mut sources), told.others()];
    sections.extend([
        told.states(&mut sources),
        told.without_result(),
        told.one_sided(),
        not_mentioned(subject, &held),
    ]);
    sections.push(sources.section());
    sections.retain(|section| !section.lines.is_empty());
    Note {
        title: "Newborn neurological examination".to_owned(),
        draft: subject.signed.is_none(),
        status: status(subject),
        heading,
        sections,
        foot: foot(subject),
    }
}

/// Regions and sides of what stands out, and whether its sides differ; each once, in the record's order.
#[must_use]
pub fn standing_out(subject: &Subject<'_>) -> Vec<(String, Side, bool)> {
    let held = held(subject.lexicon, subject.review);
    let told = Told { held: &held, computed: subject.computed };
    let mut places = Vec::new();
    for one in told.found().filter(|one| told.stands_out(one)) {
        let differs = subject.computed.differences.iter().any(|pair| pair.item == one.item);
        let place = (one.region.clone(), one.side, differs);
        if !places.contains(&place) {
            places.push(place);
        }
    }
    places
}

fn status(subject: &Subject<'_>) -> String {
    let Some((signed, _)) = subject.signed else { return DraftRecord::STATUS.to_owned() };
    let amended = signed.reason().map(|reason| format!("; amended: {reason}")).unwrap_or_default();
    format!("Signed by {} on {}, version {}{amended}", signed.signer(), signed.at().to_the_minute(), signed.version())
}

fn heading(subject: &Subject<'_>, told: &Told<'_>, sources: &mut Sources) -> Vec<(String, String)> {
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
        format!("{} {}{notes} {}", age.kind.words(), age.words, sources.cite(&age.source))
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

    // Both sides of an item stand together: one is read beside the other.
    fn stands_out(&self, held: &Held) -> bool {
        let same = self.held.iter().filter(|other| other.item == held.item);
        held.is_result() && same.into_iter().any(|other| self.is_unusual(other))
    }

    fn is_unusual(&self, held: &Held) -> bool {
        let outside = self.usual(held.finding).is_some_and(|usual| usual.fits == Some(false));
        let prompts = || self.computed.prompts.iter().any(|prompt| prompt.findings.contains(&held.finding));
        // Numbers that differ by little are no difference: those that differ by much have a prompt.
        let differs = || self.computed.differences.iter().any(|pair| pair.item == held.item && pair.by.is_none());
        held.is_result() && (held.value == "abnormal" || outside || prompts() || differs())
    }

    fn unusual(&self, sources: &mut Sources) -> Section {
        let standing_out = rows(self.found().filter(|held| self.stands_out(held)));
        let mut lines = Vec::new();
        for row in &standing_out {
            let same: Vec<&Row<'_>> = standing_out.iter().filter(|other| other.held.item == row.held.item).collect();
            // The second side of an item stands in the line of the first.
            if same.first().is_some_and(|first| std::ptr::eq(*first, row)) {
                lines.push(self.unusual_line(&same, sources));
            }
        }
        if lines.is_empty() {
            lines.push(line("", "nothing by these rules, which are not complete".to_owned()));
        }
        let at =
            self.computed.usual.first().map_or_else(|| "at this age".to_owned(), |usual| format!("at {}", usual.at));
        Section { title: format!("Abnormal, outside what is usual {at}, or differing left from right"), lines }
    }

    fn unusual_line(&self, rows: &[&Row<'_>], sources: &mut Sources) -> NoteLine {
        let name = rows.first().map(|row| row.held.name.clone()).unwrap_or_default();
        let mut words = rows.iter().map(|row| row.side_and_value()).collect::<Vec<_>>().join(", ");
        let item = rows.first().map_or("", |row| &row.held.item);
        if let Some(pair) = self.computed.differences.iter().find(|pair| pair.item == item) {
            words.push_str(
                &pair.by.as_ref().map_or_else(|| "; sides differ".to_owned(), |by| format!("; sides differ by {by}")),
            );
        }
        let outside =
            rows.iter().filter_map(|row| self.usual(row.held.finding)).find(|usual| usual.fits == Some(false));
        if let Some(usual) = outside {
            words.push_str(&format!("; usual: {} {}", usual.expected, sources.cite(&cited(usual))));
        }
        line(&name, words)
    }

    fn measurements(&self, sources: &mut Sources) -> Section {
        let lines = self.computed.sizes.iter().map(|size| self.size_line(size, sources)).collect();
        Section { title: "Measurements, with computed z-scores".to_owned(), lines }
    }

    fn size_line(&self, size: &Size, sources: &mut Sources) -> NoteLine {
        let (words, small) = match &size.outcome {
            Ok(score) => {
                let cite = sources.cite(score.standard.source());
                let words = format!("{}, z {:.2}, {} centile {cite}", size.value, score.z, score.centile_words());
                (words, format!("{}; {}; {}", score.standard.words(), size.used, size.why))
            }
            Err(none) => (size.value.clone(), format!("no z-score: {none}")),
        };
        // What is not exact about an age stands with the ages.
        let told = |note: &&String| self.computed.ages.iter().any(|age| age.notes.contains(*note));
        let notes = size.notes.iter().filter(|note| !told(note)).map(|note| format!("; {note}"));
        let notes: String = notes.collect();
        let known = size.known.iter().map(|known| format!("; {} {}", known.words, sources.cite(&known.source)));
        let notes = notes + &known.collect::<String>();
        NoteLine { lead: size.name.clone(), words, small: format!("{small}{notes}") }
    }

    // By region, since that is how a colleague looks for something.
    fn others(&self) -> Section {
        let rest = rows(self.found().filter(|held| !self.stands_out(held) && held.is_result()));
        let lines = by_region(rest.iter().map(|row| (row.held.region.as_str(), row.words())));
        Section { title: "Other findings, as said".to_owned(), lines }
    }

    fn states(&self, sources: &mut Sources) -> Section {
        let mut poorly: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for row in rows(self.held) {
            let at = self.computed.states.iter().find(|at| at.poorly && row.findings.contains(&at.finding));
            if let Some(state) = at.and_then(|at| at.state.clone()) {
                poorly.entry(state).or_default().push(row.place());
            }
        }
        let source = self.computed.states.first().map(|at| at.source.as_str()).unwrap_or_default();
        let lines = poorly
            .into_iter()
            .map(|(state, places)| line(&state, format!("{} {}", places.join(", "), sources.cite(source))));
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
    // Where there is no source, the source says so already.
    let mark = usual.cited.status.mark().filter(|_| !usual.cited.source.starts_with("common practice"));
    mark.map_or_else(|| usual.cited.source.clone(), |mark| format!("{} ({mark})", usual.cited.source))
}

/// Sources, numbered as they are cited.
#[derive(Default)]
struct Sources(Vec<String>);

impl Sources {
    /// The number of a source in brackets; one that says it has none stands there itself.
    fn cite(&mut self, source: &str) -> String {
        if source.starts_with("common practice") {
            return format!("[{source}]");
        }
        let at = self.0.iter().position(|known| known == source).unwrap_or_else(|| {
            self.0.push(source.to_owned());
            self.0.len() - 1
        });
        format!("[{}]", at + 1)
    }

    fn section(self) -> Section {
        let lines = (1..).zip(self.0).map(|(number, source)| line(&format!("[{number}]"), source));
        Section { title: "Sources".to_owned(), lines: lines.collect() }
    }
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

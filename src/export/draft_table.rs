//! Draft record → a page of text for a person to look through.
//! Takes a draft; gives at most 96 columns: what it is, whose it is, what needs the eye with its reason, then the clear
//! findings by region, what was not mentioned, and what was noticed. Leaves alone the transcript; no colour is needed.
//!
//! `  scarf sign            both    to midline            "Each elbow stops at the midline"`

use std::fmt::Write as _;

use crate::export::draft_tsv::with_sides_joined;
use crate::export::lines::{WIDTH, line_of, wrapped};
use crate::export::words::{clock, place_words, plain_value, shortened, side_words, span_words, value_words};
use crate::record::{DraftFinding, DraftRecord, Unmentioned};

const NAME: usize = 26;
const SIDE: usize = 7;
const VALUE: usize = 22;

/// What a reader of any draft must know. From the project's cautions: common practice, no source.
const CAUTIONS: [&str; 4] = [
    "Software made this from speech. It is no record until a licensed clinician has confirmed it by",
    "name and time. What is listed as not mentioned was not said, which does not make it normal. A",
    "clear line can be wrong too. This is no full newborn check: colour, breathing, glucose, feeding",
    "and jaundice can matter more.",
];

/// The draft as text, with a line feed at the end.
#[must_use]
pub fn to_table(draft: &DraftRecord) -> String {
    let mut text = String::new();
    heading(&mut text, draft);
    notices(&mut text, draft);
    let all: Vec<&DraftFinding> = draft.all_findings().collect();
    let rows = with_sides_joined(&all);
    needs_the_eye(&mut text, draft, &rows);
    clear(&mut text, &rows);
    not_mentioned(&mut text, &draft.not_mentioned);
    text.push('\n');
    for line in CAUTIONS {
        line_of(&mut text, line);
    }
    text
}

fn heading(text: &mut String, draft: &DraftRecord) {
    line_of(text, DraftRecord::STATUS);
    let length = draft.source.length_ms.map_or_else(String::new, |ms| format!(", {} min", clock(ms)));
    line_of(text, &shortened(&format!("from {}{length}", draft.source.file_name), WIDTH));
    let infant: Vec<String> = with_sides_joined(&draft.context.iter().collect::<Vec<_>>())
        .iter()
        .map(|(finding, _)| {
            let doubt = if finding.is_clear() { "" } else { " (?)" };
            format!("{} {}{doubt}", finding.name, value_words(finding))
        })
        .collect();
    let infant =
        if infant.is_empty() { "nothing was said of whose record it is".to_owned() } else { infant.join(", ") };
    wrapped(text, "infant: ", &infant, "        ");
}

fn notices(text: &mut String, draft: &DraftRecord) {
    if draft.notices.is_empty() {
        return;
    }
    section(text, &format!("NOTICES ({})", draft.notices.len()));
    for notice in &draft.notices {
        let place = notice.sound.map_or_else(String::new, span_words);
        wrapped(text, "  ", &format!("{place} {}", notice.words), "    ");
    }
}

fn section(text: &mut String, title: &str) {
    text.push('\n');
    line_of(text, title);
}

fn needs_the_eye(text: &mut String, draft: &DraftRecord, rows: &[(&DraftFinding, &str)]) {
    let doubtful: Vec<_> = rows.iter().filter(|(finding, _)| !finding.is_clear()).collect();
    if doubtful.is_empty() {
        return;
    }
    section(text, &format!("NEEDS YOUR EYE ({})", doubtful.len()));
    for (finding, side) in doubtful {
        row(text, finding, side);
        let reasons: Vec<&str> = finding.reasons.iter().map(|reason| reason.words()).collect();
        let place = place_words(finding.proof.quote.span.utterance, finding.proof.quote.sound);
        wrapped(text, "      ", &format!("why: {} ({place})", reasons.join(", ")), "           ");
        let line = draft.transcript.get(finding.proof.quote.span.utterance);
        if let Some(at_first) = line.and_then(|line| line.at_first.as_deref()) {
            let at_first =
                if at_first.is_empty() { "nothing".to_owned() } else { format!("\"{}\"", shortened(at_first, WIDTH)) };
            wrapped(text, "      ", &format!("heard at first: {at_first}"), "           ");
        }
        history(text, finding);
    }
}

fn clear(text: &mut String, rows: &[(&DraftFinding, &str)]) {
    let clear: Vec<_> = rows.iter().filter(|(finding, _)| finding.is_clear()).collect();
    section(text, &format!("CLEAR ({})", clear.len()));
    if clear.is_empty() {
        line_of(text, "  nothing");
    }
    let mut region = "";
    for (finding, side) in clear {
        if finding.region != region {
            region = &finding.region;
            line_of(text, region);
        }
        row(text, finding, side);
        history(text, finding);
    }
}

fn row(text: &mut String, finding: &DraftFinding, side: &str) {
    let side = if side == "both" { side } else { side_words(finding.side) };
    let mut value = value_words(finding);
    if finding.by_group {
        value.push_str(" (group)");
    }
    // A long name or value pushes what follows to the right rather than being cut: these are the record.
    let mut line = format!("  {:NAME$}{side:SIDE$} {value:VALUE$}", finding.name);
    if line.trim_end().chars().count() == line.chars().count() {
        line.push(' ');
    }
    let room = WIDTH.saturating_sub(line.chars().count() + 2);
    let _ = write!(line, "\"{}\"", shortened(&finding.proof.quote.text, room));
    line_of(text, &line);
}

fn history(text: &mut String, finding: &DraftFinding) {
    for old in finding.history.iter().filter(|old| old.value != finding.value) {
        let said = shortened(&old.quote.text, WIDTH / 2);
        wrapped(
            text,
            "      ",
            &format!("before: {}, \"{said}\"", plain_value(&old.value, old.figures.as_ref())),
            "           ",
        );
    }
}

fn not_mentioned(text: &mut String, items: &[Unmentioned]) {
    section(text, &format!("NOT MENTIONED ({}), which is not the same as normal", items.len()));
    let mut at = 0;
    while let Some(first) = items.get(at) {
        let same = items.iter().skip(at).take_while(|item| item.region == first.region);
        let names: Vec<String> = same.map(unmentioned_words).collect();
        at += names.len();
        wrapped(text, &format!("  {}: ", first.region), &names.join(", "), "      ");
    }
}

fn unmentioned_words(item: &Unmentioned) -> String {
    let stances: Vec<&str> = item.spoken_of.iter().map(|stance| stance.name()).collect();
    if stances.is_empty() { item.name.clone() } else { format!("{} ({})", item.name, stances.join(", ")) }
}

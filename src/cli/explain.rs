//! The command `explain`.
//! Takes what is said; prints each finding with the words for item, value and side and how they were recognised, then
//! what was said without becoming a finding, with the reason. Leaves alone files and sound.
//!
//! `spoken-exam explain "the elbow should stop at the midline"` prints that an expectation is no finding

use std::fmt::Write as _;

use anyhow::{Context, Result};

use super::args::ExplainArgs;
use super::{Outcome, output, show};
use crate::export::draft_tsv::with_sides_joined;
use crate::flow::{self, Narration};
use crate::lexicon::{LanguageWord, Lexicon, Meaning, Mention, mentions_heard};
use crate::reading::values::Told;
use crate::reading::{Side, Stance};
use crate::record::draft::quote;
use crate::record::{DraftFinding, Quote};
use crate::span::Span;

/// Explains what is said.
pub(super) fn run(args: &ExplainArgs) -> Result<Outcome> {
    let lexicon = Lexicon::load(args.lexicon.laid_over.as_deref()).context("cannot load the lexicon")?;
    let narration = flow::of_text(&lexicon, &args.texts.join("\n"), "explain");
    output::print(&explained(&lexicon, &narration))?;
    Ok(Outcome::Done)
}

fn explained(lexicon: &Lexicon, narration: &Narration) -> String {
    let mut text = String::new();
    let findings: Vec<_> = narration.draft.all_findings().collect();
    for (finding, side) in with_sides_joined(&findings) {
        explain_finding(&mut text, lexicon, narration, finding, side);
    }
    let others = other_statements(lexicon, narration);
    if findings.is_empty() {
        text.push_str("no finding\n");
        if others.is_empty() {
            left_out(&mut text, lexicon, narration);
        }
    }
    text.push_str(&others);
    text
}

fn explain_finding(text: &mut String, lexicon: &Lexicon, narration: &Narration, finding: &DraftFinding, side: &str) {
    let reasons: Vec<&str> = finding.reasons.iter().map(|reason| reason.words()).collect();
    let judged = if reasons.is_empty() { "clear".to_owned() } else { format!("needs the eye: {}", reasons.join(", ")) };
    let mut value = finding.value.clone();
    for flag in finding.flags() {
        let _ = write!(value, " {flag}");
    }
    let _ = writeln!(text, "{:<22}  {side:<8}  {value:<22}  {judged}", finding.item);
    let _ = writeln!(text, "-- item {}", item_words(lexicon, narration, finding));
    let _ = writeln!(text, "-- value {}", said(lexicon, narration, &finding.proof.value));
    if let Some(side) = side_words(lexicon, narration, finding) {
        let _ = writeln!(text, "-- side {side}");
    }
    for old in finding.history.iter().filter(|old| old.value != finding.value) {
        let _ = writeln!(text, "-- replaces {} \"{}\"", old.value, old.quote.text);
    }
}

fn item_words(lexicon: &Lexicon, narration: &Narration, finding: &DraftFinding) -> String {
    let told = match finding.proof.told {
        Told::Named => "said by the value itself",
        Told::InProgress => "in progress",
        Told::Body => "by the part of the body",
    };
    match &finding.proof.item {
        Some(quote) if finding.proof.told == Told::Named => said(lexicon, narration, quote),
        Some(quote) => format!("{}, {told}", said(lexicon, narration, quote)),
        None => told.to_owned(),
    }
}

fn side_words(lexicon: &Lexicon, narration: &Narration, finding: &DraftFinding) -> Option<String> {
    let sides: Vec<String> = finding
        .proof
        .sides
        .iter()
        .map(|quote| corrected_side(lexicon, narration, quote).unwrap_or_else(|| said(lexicon, narration, quote)))
        .collect();
    match (finding.side, sides.is_empty()) {
        (Side::None, _) => None,
        (Side::Unstated, _) => Some("not said".to_owned()),
        (_, false) => Some(sides.join(", ")),
        (_, true) => Some("from what is in progress, or from a plural".to_owned()),
    }
}

// "left, sorry, right": the whole stretch is shown where a word of correction stands between two sides.
fn corrected_side(lexicon: &Lexicon, narration: &Narration, side: &Quote) -> Option<String> {
    let utterance = narration.utterances.get(side.span.utterance)?;
    let mentions = mentions_heard(lexicon, utterance, narration.reading.hearing);
    let means = |mention: &Mention, words: &[LanguageWord]| {
        mention.meanings(lexicon).iter().any(|meaning| matches!(meaning, Meaning::Word(word) if words.contains(word)))
    };
    let repair = mentions.iter().rfind(|m| m.past <= side.span.first && means(m, &[LanguageWord::Replace]))?;
    let sides = [LanguageWord::SideLeft, LanguageWord::SideRight, LanguageWord::SideBoth];
    let before = mentions.iter().rfind(|m| m.past <= repair.first && means(m, &sides))?;
    let stands_between = |m: &Mention| m.first >= before.past && m.past <= repair.first && !m.is_empty();
    if mentions.iter().any(|m| stands_between(m) && !means(m, &[LanguageWord::Replace])) {
        return None;
    }
    let whole = quote(&narration.utterances, Span { first: before.first, ..side.span }).text;
    Some(format!("\"{whole}\" (the later side stands; was: {})", show::words_of(utterance, before)))
}

// The words, where they are if there is more than one utterance, and how they were recognised.
fn said(lexicon: &Lexicon, narration: &Narration, quote: &Quote) -> String {
    let span = quote.span;
    let utterance = narration.utterances.get(span.utterance);
    let mentions: Vec<Mention> =
        utterance.map(|said| mentions_heard(lexicon, said, narration.reading.hearing)).unwrap_or_default();
    let same = mentions.iter().find(|mention| (mention.first, mention.past) == (span.first, span.past));
    let how = same.map(|mention| format!(" ({})", show::how_words(mention.how))).unwrap_or_default();
    let several = narration.utterances.len() > 1;
    let place = if several { format!(" in line {}", span.utterance + 1) } else { String::new() };
    format!("\"{}\"{how}{place}", quote.text)
}

fn other_statements(lexicon: &Lexicon, narration: &Narration) -> String {
    let mut text = String::new();
    for statement in narration.reading.statements.iter().filter(|said| said.stance != Stance::Observed) {
        let words = quote(&narration.utterances, statement.because.quote).text;
        let line = show::statement_words(lexicon, statement);
        let _ = writeln!(text, "no finding: {line} \"{words}\"");
        let _ = writeln!(text, "-- {}: {}", statement.stance.name(), why(statement.stance));
    }
    text
}

fn why(stance: Stance) -> &'static str {
    match stance {
        Stance::Observed => "seen or felt on this infant",
        Stance::Planned => "says what will be done",
        Stance::Expected => "says what ought to be seen",
        Stance::Taught => "is about other infants, or about the examination",
        Stance::Reported => "was seen by somebody else",
        Stance::History => "is from before this examination",
        Stance::Asked => "is a question",
        Stance::Conditional => "holds only under a condition",
        Stance::Addressed => "is said to somebody in the room",
        Stance::Withdrawn => "was taken back",
    }
}

fn left_out(text: &mut String, lexicon: &Lexicon, narration: &Narration) {
    let mut known = false;
    for (at, said) in narration.utterances.iter().enumerate() {
        for mention in mentions_heard(lexicon, said, narration.reading.hearing) {
            let line = if narration.utterances.len() > 1 { format!("line {}: ", at + 1) } else { String::new() };
            let meanings = show::meanings(lexicon, &mention);
            let _ = writeln!(text, "-- {line}\"{}\" is known: {meanings}", show::words_of(said, &mention));
            known = true;
        }
    }
    text.push_str(match known {
        true => "-- no item with a result was made of this; say both, or add a phrase to a lexicon (--lexicon DIR)\n",
        false => "-- no word of this is known; add a phrase to a lexicon of your own (--lexicon DIR)\n",
    });
}

//! The stages on the way to a draft, for whoever asks why.
//! Takes a narration; gives one stage of it as text, each line with the number of its utterance. Leaves alone judgement.
//!
//! `2 | "ankle clonus" exact: item ankle-clonus`

use std::fmt::Write as _;

use super::args::Stage;
use crate::export::draft_tsv::with_sides_joined;
use crate::export::words::clock;
use crate::flow::Narration;
use crate::lexicon::{How, Lexicon, Meaning, Mention, Said, Strength, mentions_heard};
use crate::reading::Statement;
use crate::record::draft::{quote, value_text};
use crate::span::Span;
use crate::speech::Utterance;

/// A stage as text.
pub(super) fn stage(lexicon: &Lexicon, narration: &Narration, stage: Stage) -> String {
    match stage {
        Stage::Utterances => numbered(&narration.utterances, |said| vec![utterance_line(said)]),
        Stage::Words => numbered(&narration.utterances, |said| vec![words_line(said)]),
        Stage::Mentions => numbered(&narration.utterances, |said| {
            let mentions = mentions_heard(lexicon, said, narration.reading.hearing);
            mentions.iter().map(|mention| mention_line(lexicon, said, mention)).collect()
        }),
        Stage::Statements => statements(lexicon, narration),
        Stage::Findings => findings(narration),
    }
}

fn numbered(utterances: &[Utterance], lines: impl Fn(&Utterance) -> Vec<String>) -> String {
    let mut text = String::new();
    for (at, said) in utterances.iter().enumerate() {
        for line in lines(said) {
            let _ = writeln!(text, "{} | {line}", at + 1);
        }
    }
    text
}

fn utterance_line(said: &Utterance) -> String {
    match said.sound {
        Some(sound) => format!("{}-{} | {}", clock(sound.start_ms), clock(sound.end_ms), said.text),
        None => said.text.clone(),
    }
}

fn words_line(said: &Utterance) -> String {
    let word = |word: &crate::speech::Word| match word.probability {
        Some(probability) => format!("{} {probability:.2}", word.plain),
        None => word.plain.clone(),
    };
    said.words.iter().map(word).collect::<Vec<_>>().join(" | ")
}

fn mention_line(lexicon: &Lexicon, said: &Utterance, mention: &Mention) -> String {
    let words = words_of(said, mention);
    format!("\"{words}\" {}: {}", how_words(mention.how), meanings(lexicon, mention))
}

/// The words of a mention as written.
pub(super) fn words_of(said: &Utterance, mention: &Mention) -> String {
    let span = Span { utterance: 0, first: mention.first, past: mention.past };
    quote(std::slice::from_ref(said), span).text
}

/// Meanings beyond which a phrase's list is cut: "good" means something for half of all items.
const MOST_MEANINGS: usize = 4;

/// Everything that a mention can mean, in words.
pub(super) fn meanings(lexicon: &Lexicon, mention: &Mention) -> String {
    if let Said::Quantity(_) = mention.said {
        return "number".to_owned();
    }
    let all = mention.meanings(lexicon);
    let mut words: Vec<String> =
        all.iter().take(MOST_MEANINGS).map(|meaning| meaning_words(lexicon, meaning)).collect();
    if all.len() > MOST_MEANINGS {
        words.push(format!("and {} more", all.len() - MOST_MEANINGS));
    }
    words.join(", ")
}

fn meaning_words(lexicon: &Lexicon, meaning: &Meaning) -> String {
    let id = |ix: &usize| lexicon.items.get(*ix).map_or("", |item| item.id.as_str());
    match meaning {
        Meaning::Name(item) => format!("item {}", id(item)),
        Meaning::Shared(item) => format!("perhaps item {}", id(item)),
        Meaning::DoneBy(item) => format!("manoeuvre of {}", id(item)),
        Meaning::Body(item) => format!("part of the body for {}", id(item)),
        Meaning::Value(item, value, strength) => {
            let values = lexicon.items.get(*item).map(|item| item.values.as_slice()).unwrap_or_default();
            let value = values.get(*value).map_or("", |value| value.id.as_str());
            let company = match strength {
                Strength::Alone => "",
                Strength::Say => " once the item is known",
                Strength::Loose => " right beside the item",
            };
            format!("value {} {value}{company}", id(item))
        }
        Meaning::General(general) => format!("result {general:?}"),
        Meaning::Word(word) => format!("cue {word:?}"),
        Meaning::Never => "nothing, on purpose".to_owned(),
    }
}

/// How words were recognised.
pub(super) fn how_words(how: How) -> String {
    match how {
        How::Exact => "exact".to_owned(),
        How::Spelling => "spelled a little otherwise".to_owned(),
        How::Misheard => "as often misheard".to_owned(),
        How::Sound(closeness) => format!("by sound, {closeness:.2}"),
    }
}

fn statements(lexicon: &Lexicon, narration: &Narration) -> String {
    let mut text = String::new();
    for statement in &narration.reading.statements {
        let because = &statement.because;
        let words = quote(&narration.utterances, because.quote).text;
        let line = statement_words(lexicon, statement);
        let _ = writeln!(text, "{} | {}: {line} \"{words}\"", because.quote.utterance + 1, statement.stance.name());
    }
    text
}

/// Item, side and value of a statement.
pub(super) fn statement_words(lexicon: &Lexicon, statement: &Statement) -> String {
    let item = lexicon.items.get(statement.item).map_or("", |item| item.id.as_str());
    format!("{item} {} {}", statement.side.name(), value_text(lexicon, statement))
}

fn findings(narration: &Narration) -> String {
    let mut text = String::new();
    let findings: Vec<_> = narration.draft.all_findings().collect();
    for (finding, side) in with_sides_joined(&findings) {
        let reasons: Vec<&str> = finding.reasons.iter().map(|reason| reason.words()).collect();
        let reasons = if reasons.is_empty() { "clear".to_owned() } else { reasons.join(", ") };
        let line = finding.proof.quote.span.utterance + 1;
        let (item, value) = (&finding.item, &finding.value);
        let _ = writeln!(text, "{line} | {item} {side} {value}: {reasons} \"{}\"", finding.proof.quote.text);
    }
    text
}

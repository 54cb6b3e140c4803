//! The JSON of a draft → the draft.
//! Takes what `export::draft_json` wrote; gives the draft record again, so that written anew it is the same, byte for byte.
//! Anything else is refused with what is wrong. Leaves alone what the JSON means; a newer format is never guessed at.
//!
//! `{"format": "spoken-exam draft record", "version": 9, ...}` is of a version that is not known

use serde::Deserialize;
use thiserror::Error;

use crate::export::draft_json::{FORMAT, VERSION, heard_by_name, how_name, loss_name, told_name};
use crate::lexicon::How;
use crate::reading::values::Told;
use crate::reading::{HeardBy, Reason, Side, Stance};
use crate::record::{self, DraftFinding, DraftRecord, Figures, Loss, Origin};
use crate::span::{SoundSpan, Span};
use crate::speech::ModelIdentity;

/// Why a text is not a draft.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NoDraft {
    /// It is no JSON, or lacks something.
    #[error("it is not the JSON of a draft: {0}")]
    Json(String),
    /// It is something else.
    #[error("its format is `{0}`, not `{FORMAT}`")]
    Format(String),
    /// It is of another version.
    #[error("its format has version {0}, and this program reads version {VERSION}")]
    Version(u32),
    /// A word stands where only certain words may.
    #[error("`{found}` is no {what}")]
    Word {
        /// What it should be.
        what: &'static str,
        /// What it is.
        found: String,
    },
    /// A stretch ends before it begins.
    #[error("a stretch of {0} ends before it begins")]
    Backwards(&'static str),
}

/// Reads a draft.
///
/// # Errors
/// If it is not what `export::to_json` writes.
pub fn read(json: &str) -> Result<DraftRecord, NoDraft> {
    let head: Head = parsed(json)?;
    if head.format != FORMAT {
        return Err(NoDraft::Format(head.format));
    }
    if head.version != VERSION {
        return Err(NoDraft::Version(head.version));
    }
    parsed::<Record>(json)?.draft()
}

fn parsed<'a, T: Deserialize<'a>>(json: &'a str) -> Result<T, NoDraft> {
    serde_json::from_str(json).map_err(|error| NoDraft::Json(error.to_string()))
}

#[derive(Deserialize)]
struct Head {
    format: String,
    version: u32,
}

#[derive(Deserialize)]
struct Record {
    program: String,
    source: Source,
    model: Option<Model>,
    other_models: Vec<Model>,
    lexicon: Identity,
    context: Vec<Finding>,
    findings: Vec<Finding>,
    not_mentioned: Vec<NotMentioned>,
    notices: Vec<Notice>,
    transcript: Vec<Line>,
}

#[derive(Deserialize)]
struct Source {
    file_name: String,
    sha256: String,
    length_ms: Option<u64>,
}

#[derive(Deserialize)]
struct Model {
    name: String,
    sha256: String,
    precision: Option<String>,
}

#[derive(Deserialize)]
struct Identity {
    sha256: String,
}

#[derive(Deserialize)]
struct Finding {
    item: String,
    name: String,
    region: String,
    side: String,
    value: String,
    number: Option<Number>,
    flags: Vec<String>,
    reasons: Vec<String>,
    evidence: Evidence,
    history: Vec<Earlier>,
}

#[derive(Deserialize)]
struct Number {
    bound: String,
    from: String,
    to: Option<String>,
    unit: String,
}

#[derive(Deserialize)]
struct Evidence {
    quote: Words,
    item: Option<Words>,
    item_told: String,
    value: Words,
    sides: Vec<Words>,
    recognised: String,
    closeness: Option<f32>,
    least_probability: Option<f32>,
    heard_by: String,
}

#[derive(Deserialize)]
struct Words {
    text: String,
    utterance: usize,
    first_word: usize,
    past_word: usize,
    sound: Option<Sound>,
}

#[derive(Deserialize)]
struct Sound {
    start_ms: u64,
    end_ms: u64,
}

#[derive(Deserialize)]
struct Earlier {
    value: String,
    quote: Words,
}

#[derive(Deserialize)]
struct NotMentioned {
    item: String,
    name: String,
    region: String,
    spoken_of: Vec<String>,
}

#[derive(Deserialize)]
struct Notice {
    words: String,
    loss: String,
    sound: Option<Sound>,
}

#[derive(Deserialize)]
struct Line {
    text: String,
    sound: Option<Sound>,
    at_first: Option<String>,
}

impl Record {
    fn draft(self) -> Result<DraftRecord, NoDraft> {
        let source = self.source;
        Ok(DraftRecord {
            program: self.program,
            source: Origin { file_name: source.file_name, sha256: source.sha256, length_ms: source.length_ms },
            model: self.model.map(Model::identity),
            other_models: self.other_models.into_iter().map(Model::identity).collect(),
            lexicon: self.lexicon.sha256,
            context: all(self.context, Finding::finding)?,
            findings: all(self.findings, Finding::finding)?,
            not_mentioned: all(self.not_mentioned, NotMentioned::item)?,
            notices: all(self.notices, Notice::notice)?,
            transcript: all(self.transcript, |line| {
                Ok(record::Line { text: line.text, sound: sound(line.sound)?, at_first: line.at_first })
            })?,
        })
    }
}

fn all<T, U>(these: Vec<T>, of: impl Fn(T) -> Result<U, NoDraft>) -> Result<Vec<U>, NoDraft> {
    these.into_iter().map(of).collect()
}

/// The one of `these` that goes by this name.
fn named<T: Copy>(
    what: &'static str,
    these: &[T],
    name: impl Fn(T) -> &'static str,
    found: &str,
) -> Result<T, NoDraft> {
    let known = these.iter().copied().find(|one| name(*one) == found);
    known.ok_or_else(|| NoDraft::Word { what, found: found.to_owned() })
}

impl Model {
    fn identity(self) -> ModelIdentity {
        ModelIdentity { name: self.name, sha256: self.sha256, precision: self.precision }
    }
}

impl Finding {
    fn finding(self) -> Result<DraftFinding, NoDraft> {
        const FLAGS: [&str; 3] = ["approx", "by-group", "hedged"];
        let flags = all(self.flags, |flag| named("flag", &FLAGS, |known| known, &flag))?;
        let evidence = self.evidence;
        Ok(DraftFinding {
            item: self.item,
            name: self.name,
            region: self.region,
            side: named("side", &Side::ALL, Side::name, &self.side)?,
            value: self.value,
            figures: self.number.map(Number::figures).transpose()?,
            approx: flags.contains(&FLAGS[0]),
            by_group: flags.contains(&FLAGS[1]),
            hedged: flags.contains(&FLAGS[2]),
            reasons: all(self.reasons, |reason| named("reason", &Reason::ALL, Reason::words, &reason))?,
            heard_by: named("hearing", &HeardBy::ALL, heard_by_name, &evidence.heard_by)?,
            proof: evidence.proof()?,
            history: all(self.history, |old| {
                Ok(record::Earlier { figures: Figures::parse(&old.value), value: old.value, quote: old.quote.quote()? })
            })?,
        })
    }
}

impl Number {
    fn figures(self) -> Result<Figures, NoDraft> {
        const BOUNDS: [&str; 5] = ["is", "under", "at-most", "over", "at-least"];
        let bound = named("bound", &BOUNDS, |known| known, &self.bound)?;
        Ok(Figures { from: self.from, to: self.to, bound, unit: self.unit })
    }
}

impl Evidence {
    fn proof(self) -> Result<record::Proof, NoDraft> {
        let ways = [How::Exact, How::Spelling, How::Misheard, How::Sound(self.closeness.unwrap_or_default())];
        Ok(record::Proof {
            quote: self.quote.quote()?,
            item: self.item.map(Words::quote).transpose()?,
            value: self.value.quote()?,
            sides: all(self.sides, Words::quote)?,
            how: named("way of recognising", &ways, how_name, &self.recognised)?,
            told: named("way of telling an item", &Told::ALL, told_name, &self.item_told)?,
            probability: self.least_probability,
        })
    }
}

impl Words {
    fn quote(self) -> Result<record::Quote, NoDraft> {
        if self.past_word < self.first_word {
            return Err(NoDraft::Backwards("words"));
        }
        let span = Span { utterance: self.utterance, first: self.first_word, past: self.past_word };
        Ok(record::Quote { text: self.text, span, sound: sound(self.sound)? })
    }
}

fn sound(sound: Option<Sound>) -> Result<Option<SoundSpan>, NoDraft> {
    match sound {
        Some(sound) if sound.end_ms < sound.start_ms => Err(NoDraft::Backwards("sound")),
        sound => Ok(sound.map(|sound| SoundSpan { start_ms: sound.start_ms, end_ms: sound.end_ms })),
    }
}

impl NotMentioned {
    fn item(self) -> Result<record::Unmentioned, NoDraft> {
        let spoken_of = all(self.spoken_of, |stance| named("stance", &Stance::ALL, Stance::name, &stance))?;
        Ok(record::Unmentioned { item: self.item, name: self.name, region: self.region, spoken_of })
    }
}

impl Notice {
    fn notice(self) -> Result<record::Notice, NoDraft> {
        const LOSSES: [Loss; 3] = [Loss::None, Loss::Sound, Loss::NoSpeech];
        let loss = named("loss", &LOSSES, loss_name, &self.loss)?;
        Ok(record::Notice { sound: sound(self.sound)?, words: self.words, loss })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::to_json;
    use crate::store::tests::draft_of;

    #[test]
    fn a_draft_written_and_read_is_the_same_draft() {
        let said =
            "A girl.\nScarf on the left to the midline, sorry, past the midline.\nLeft popliteal eighty to ninety.";
        let draft = draft_of(said, "a.txt");
        assert!(draft.findings.iter().any(|finding| !finding.history.is_empty()), "{draft:?}");
        assert_eq!(read(&to_json(&draft).unwrap()), Ok(draft));
    }

    #[test]
    fn what_is_no_draft_is_told() {
        let check = |json: &str, told: &str| assert_eq!(read(json).unwrap_err().to_string(), told);
        check(
            "[]",
            "it is not the JSON of a draft: invalid length 0, expected struct Head with 2 elements at line 1 column 2",
        );
        check(r#"{"format": "x", "version": 2}"#, "its format is `x`, not `spoken-exam draft record`");
        let head = r#"{"format": "spoken-exam draft record", "version": "#;
        check(&format!("{head}3}}"), "its format has version 3, and this program reads version 2");
        check(&format!("{head}2}}"), "it is not the JSON of a draft: missing field `program` at line 1 column 52");
    }
}

//! Draft record → JSON, a promise to other programs.
//! Takes a draft; gives JSON as `draft.schema.json` describes it, format version 2. Leaves alone everything that only
//! people read. A change that could break a reader gets a new version number.
//!
//! `{"format": "spoken-exam draft record", "version": 2, "status": "DRAFT - ...", ...}`

use serde::Serialize;

use crate::computed::computed;
use crate::export::computed_json::ComputedJson;
use crate::lexicon::{How, Lexicon};
use crate::reading::HeardBy;
use crate::reading::values::Told;
use crate::record::remarks::Remarks;
use crate::record::{DraftFinding, DraftRecord, Loss, Quote, Review};
use crate::span::SoundSpan;
use crate::speech::ModelIdentity;

/// What the format is called.
pub const FORMAT: &str = "spoken-exam draft record";
/// Version of the format.
pub const VERSION: u32 = 2;
/// The format as a JSON Schema, draft 2020-12.
pub const SCHEMA: &str = include_str!("draft.schema.json");

/// The draft as JSON, indented, with a line feed at the end.
///
/// # Errors
/// Only if the serialiser fails, which it has no cause to.
pub fn to_json(draft: &DraftRecord) -> Result<String, serde_json::Error> {
    written(&Record::of(draft))
}

/// The draft as JSON, with what is reckoned from it. The store keeps drafts without: it is reckoned anew from what stands.
///
/// # Errors
/// Only if the serialiser fails, which it has no cause to.
pub fn to_json_computed(lexicon: &Lexicon, draft: &DraftRecord) -> Result<String, serde_json::Error> {
    let reckoned = computed(lexicon, &Review::new(draft.clone()), &Remarks::default());
    written(&Record { computed: Some(ComputedJson::of(lexicon, &reckoned)), ..Record::of(draft) })
}

fn written(record: &Record<'_>) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(record)?;
    text.push('\n');
    Ok(text)
}

#[derive(Serialize)]
struct Record<'a> {
    format: &'static str,
    version: u32,
    status: &'static str,
    program: &'a str,
    source: Source<'a>,
    model: Option<Model<'a>>,
    other_models: Vec<Model<'a>>,
    lexicon: Identity<'a>,
    context: Vec<Finding<'a>>,
    findings: Vec<Finding<'a>>,
    not_mentioned: Vec<NotMentioned<'a>>,
    notices: Vec<Notice<'a>>,
    transcript: Vec<Line<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    computed: Option<ComputedJson>,
}

#[derive(Serialize)]
struct Source<'a> {
    file_name: &'a str,
    sha256: &'a str,
    length_ms: Option<u64>,
}

#[derive(Serialize)]
struct Model<'a> {
    name: &'a str,
    sha256: &'a str,
    precision: Option<&'a str>,
}

#[derive(Serialize)]
struct Identity<'a> {
    sha256: &'a str,
}

#[derive(Serialize)]
struct Finding<'a> {
    item: &'a str,
    name: &'a str,
    region: &'a str,
    side: &'static str,
    value: &'a str,
    number: Option<Number<'a>>,
    flags: Vec<&'static str>,
    clear: bool,
    reasons: Vec<&'static str>,
    evidence: Evidence<'a>,
    history: Vec<Earlier<'a>>,
}

#[derive(Serialize)]
struct Number<'a> {
    bound: &'static str,
    from: &'a str,
    to: Option<&'a str>,
    unit: &'a str,
}

#[derive(Serialize)]
struct Evidence<'a> {
    quote: Words<'a>,
    item: Option<Words<'a>>,
    item_told: &'static str,
    value: Words<'a>,
    sides: Vec<Words<'a>>,
    recognised: &'static str,
    closeness: Option<f64>,
    least_probability: Option<f64>,
    heard_by: &'static str,
}

#[derive(Serialize)]
struct Words<'a> {
    text: &'a str,
    utterance: usize,
    first_word: usize,
    past_word: usize,
    sound: Option<Sound>,
}

#[derive(Serialize)]
struct Sound {
    start_ms: u64,
    end_ms: u64,
}

#[derive(Serialize)]
struct Earlier<'a> {
    value: &'a str,
    quote: Words<'a>,
}

#[derive(Serialize)]
struct NotMentioned<'a> {
    item: &'a str,
    name: &'a str,
    region: &'a str,
    spoken_of: Vec<&'static str>,
}

#[derive(Serialize)]
struct Notice<'a> {
    words: &'a str,
    loss: &'static str,
    sound: Option<Sound>,
}

#[derive(Serialize)]
struct Line<'a> {
    text: &'a str,
    sound: Option<Sound>,
    at_first: Option<&'a str>,
}

impl<'a> Record<'a> {
    fn of(draft: &'a DraftRecord) -> Self {
        let source = &draft.source;
        Self {
            format: FORMAT,
            version: VERSION,
            status: DraftRecord::STATUS,
            program: &draft.program,
            source: Source { file_name: &source.file_name, sha256: &source.sha256, length_ms: source.length_ms },
            model: draft.model.as_ref().map(Model::of),
            other_models: draft.other_models.iter().map(Model::of).collect(),
            lexicon: Identity { sha256: &draft.lexicon },
            context: draft.context.iter().map(Finding::of).collect(),
            findings: draft.findings.iter().map(Finding::of).collect(),
            not_mentioned: not_mentioned(draft),
            notices: notices(draft),
            transcript: draft
                .transcript
                .iter()
                .map(|line| Line { text: &line.text, sound: sound(line.sound), at_first: line.at_first.as_deref() })
                .collect(),
            computed: None,
        }
    }
}

impl<'a> Model<'a> {
    fn of(model: &'a ModelIdentity) -> Self {
        Self { name: &model.name, sha256: &model.sha256, precision: model.precision.as_deref() }
    }
}

impl<'a> Finding<'a> {
    fn of(finding: &'a DraftFinding) -> Self {
        Self {
            item: &finding.item,
            name: &finding.name,
            region: &finding.region,
            side: finding.side.name(),
            value: &finding.value,
            number: finding.figures.as_ref().map(|figures| Number {
                bound: figures.bound,
                from: &figures.from,
                to: figures.to.as_deref(),
                unit: &figures.unit,
            }),
            flags: finding.flags(),
            clear: finding.is_clear(),
            reasons: finding.reasons.iter().map(|reason| reason.words()).collect(),
            evidence: Evidence::of(finding),
            history: finding
                .history
                .iter()
                .map(|old| Earlier { value: &old.value, quote: words(&old.quote) })
                .collect(),
        }
    }
}

impl<'a> Evidence<'a> {
    fn of(finding: &'a DraftFinding) -> Self {
        let proof = &finding.proof;
        let closeness = match proof.how {
            How::Sound(closeness) => Some(hundredths(closeness)),
            How::Exact | How::Spelling | How::Misheard => None,
        };
        Self {
            quote: words(&proof.quote),
            item: proof.item.as_ref().map(words),
            item_told: told_name(proof.told),
            value: words(&proof.value),
            sides: proof.sides.iter().map(words).collect(),
            recognised: how_name(proof.how),
            closeness,
            least_probability: proof.probability.map(hundredths),
            heard_by: heard_by_name(finding.heard_by),
        }
    }
}

/// How the words were recognised, by its name in the format.
pub(crate) fn how_name(how: How) -> &'static str {
    match how {
        How::Exact => "exact",
        How::Spelling => "spelling",
        How::Misheard => "misheard",
        How::Sound(_) => "sound",
    }
}

/// How the item was told, by its name in the format.
pub(crate) fn told_name(told: Told) -> &'static str {
    match told {
        Told::Named => "named",
        Told::InProgress => "in progress",
        Told::Body => "part of the body",
    }
}

/// Which hearings came to it, by its name in the format.
pub(crate) fn heard_by_name(heard_by: HeardBy) -> &'static str {
    match heard_by {
        HeardBy::One => "one",
        HeardBy::All => "all",
        HeardBy::Two => "two",
        HeardBy::SoundAlone => "two or more, by sound alone",
        HeardBy::Contested => "the sound fits other words as well",
        HeardBy::Otherwise => "otherwise by another",
        HeardBy::FirstAlone => "the first alone",
        HeardBy::OtherAlone => "another alone",
    }
}

/// What may be missing, by its name in the format.
pub(crate) fn loss_name(loss: Loss) -> &'static str {
    match loss {
        Loss::None => "none",
        Loss::Sound => "sound",
        Loss::NoSpeech => "no speech",
    }
}

fn not_mentioned(draft: &DraftRecord) -> Vec<NotMentioned<'_>> {
    let items = draft.not_mentioned.iter();
    let entries = items.map(|item| NotMentioned {
        item: &item.item,
        name: &item.name,
        region: &item.region,
        spoken_of: item.spoken_of.iter().map(|stance| stance.name()).collect(),
    });
    entries.collect()
}

fn notices(draft: &DraftRecord) -> Vec<Notice<'_>> {
    let notices = draft.notices.iter();
    notices
        .map(|notice| Notice { words: &notice.words, loss: loss_name(notice.loss), sound: sound(notice.sound) })
        .collect()
}

fn words(quote: &Quote) -> Words<'_> {
    Words {
        text: &quote.text,
        utterance: quote.span.utterance,
        first_word: quote.span.first,
        past_word: quote.span.past,
        sound: sound(quote.sound),
    }
}

fn sound(sound: Option<SoundSpan>) -> Option<Sound> {
    sound.map(|sound| Sound { start_ms: sound.start_ms, end_ms: sound.end_ms })
}

// A third digit of a recogniser's probability means nothing, and would differ between machines.
fn hundredths(share: f32) -> f64 {
    (f64::from(share) * 100.0).round() / 100.0
}

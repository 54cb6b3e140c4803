//! The value of the record stage: a draft.
//! Takes findings with their statements; gives them with the words they rest on written out, what was never mentioned,
//! and the identity of everything that made them. Leaves alone decisions and signatures.
//!
//! "Scarf to the midline on the left" gives one finding with this quote, and a long list of what was not mentioned

use crate::lexicon::quantities::{Amount, Bound, Figure};
use crate::lexicon::{Command, How, ItemIx, Lexicon};
use crate::reading::values::Told;
use crate::reading::{Evidence, Finding, HeardBy, Reading, Reason, Side, Stance, Statement, Value};
use crate::record::limits;
use crate::span::{SoundSpan, Span};
use crate::speech::{ModelIdentity, Utterance};

/// The region whose findings say whose record it is rather than what was found.
pub const CONTEXT_REGION: &str = "infant";

/// What somebody has to look through before it is a record.
#[derive(Debug, Clone, PartialEq)]
pub struct DraftRecord {
    /// Version of the program that made it.
    pub program: String,
    /// What the narration was.
    pub source: Origin,
    /// The speech model; `None` where none was asked: for text, and for silence.
    pub model: Option<ModelIdentity>,
    /// The models that heard the sound again, if any did.
    pub other_models: Vec<ModelIdentity>,
    /// SHA-256 of the lexicon's files, hex.
    pub lexicon: String,
    /// Whose record it is: age, weight and so on, in order of the lexicon.
    pub context: Vec<DraftFinding>,
    /// Everything else that was found, in order of the lexicon.
    pub findings: Vec<DraftFinding>,
    /// Items without a finding, in order of the lexicon. None of them is normal by that.
    pub not_mentioned: Vec<Unmentioned>,
    /// What fits no finding: sound lost, no speech found.
    pub notices: Vec<Notice>,
    /// The narration, an entry an utterance.
    pub transcript: Vec<Line>,
}

impl DraftRecord {
    /// What every form of a draft says first.
    pub const STATUS: &str = "DRAFT - made by software from speech, confirmed by nobody";

    /// Context and findings together, in order of the lexicon's regions as far as they stand in one list.
    pub fn all_findings(&self) -> impl Iterator<Item = &DraftFinding> {
        self.context.iter().chain(&self.findings)
    }

    /// Name and region of an item: the draft names every item of its lexicon, among its findings or among what was not mentioned.
    #[must_use]
    pub fn name_and_region(&self, item: &str) -> Option<(&str, &str)> {
        let found = self.all_findings().find(|finding| finding.item == item);
        let found = found.map(|finding| (finding.name.as_str(), finding.region.as_str()));
        let silent = || self.not_mentioned.iter().find(|silent| silent.item == item);
        found.or_else(|| silent().map(|silent| (silent.name.as_str(), silent.region.as_str())))
    }

    /// The same, from the lexicon where it has lost an item or gained one since; an item that nobody knows goes by its id.
    #[must_use]
    pub fn name_and_region_by<'a>(&'a self, lexicon: &'a Lexicon, item: &'a str) -> (&'a str, &'a str) {
        let known = || lexicon.item_named(item).map(|item| (item.name.as_str(), item.region.as_str()));
        self.name_and_region(item).or_else(known).unwrap_or((item, ""))
    }

    /// Whether sound was lost or dropped, or held no speech: the draft may then lack what was said.
    #[must_use]
    pub fn lacks_sound(&self) -> bool {
        self.notices.iter().any(|notice| notice.loss != Loss::None)
    }
}

/// What a narration was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// Name of the file, without its folder.
    pub file_name: String,
    /// SHA-256 of the file's bytes, lower-case hex.
    pub sha256: String,
    /// Length of the sound in milliseconds; `None` for text.
    pub length_ms: Option<u64>,
}

/// Where utterances came from, and what was noticed on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Sources {
    /// The recording or the text.
    pub origin: Origin,
    /// The speech model, where sound was heard.
    pub model: Option<ModelIdentity>,
    /// The models that heard the sound again, if any did.
    pub other_models: Vec<ModelIdentity>,
    /// What was noticed before anything was read.
    pub notices: Vec<Notice>,
}

/// Something that a reviewer must know and that fits no finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Where in the recording, where that can be told.
    pub sound: Option<SoundSpan>,
    /// A plain sentence, without a full stop.
    pub words: String,
    /// Whether something that was said may be missing.
    pub loss: Loss,
}

/// Whether something that was said may be missing from a draft.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loss {
    /// Nothing is missing.
    None,
    /// Sound was damaged, or what was heard was dropped.
    Sound,
    /// No speech was found at all.
    NoSpeech,
}

/// A finding that nobody has confirmed.
#[derive(Debug, Clone, PartialEq)]
pub struct DraftFinding {
    /// Id of the item.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// left, right, unstated or none; never both.
    pub side: Side,
    /// The value as the lexicon or a unit writes it: `past-midline`, `34.6cm`.
    pub value: String,
    /// The number in it, where it is one.
    pub figures: Option<Figures>,
    /// "about" was said.
    pub approx: bool,
    /// "I think" was said.
    pub hedged: bool,
    /// It was said of a group that the item belongs to.
    pub by_group: bool,
    /// Why it needs the reviewer's eye; empty where it is clear.
    pub reasons: Vec<Reason>,
    /// Which hearings came to it.
    pub heard_by: HeardBy,
    /// The words it rests on.
    pub proof: Proof,
    /// What it replaced, oldest first.
    pub history: Vec<Earlier>,
}

impl DraftFinding {
    /// Whether nothing speaks against it. A clear finding is still a draft.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.reasons.is_empty()
    }

    /// The names of its flags: approx, by-group, hedged, in this order.
    #[must_use]
    pub fn flags(&self) -> Vec<&'static str> {
        let all = [(self.approx, "approx"), (self.by_group, "by-group"), (self.hedged, "hedged")];
        all.into_iter().filter(|(set, _)| *set).map(|(_, name)| name).collect()
    }

    /// Whether the other is the same statement about the other side.
    #[must_use]
    pub fn is_other_side_of(&self, other: &Self) -> bool {
        let sides = [self.side, other.side];
        (sides == [Side::Left, Side::Right] || sides == [Side::Right, Side::Left])
            && self.item == other.item
            && self.value == other.value
            && self.flags() == other.flags()
            && self.reasons == other.reasons
            && self.proof == other.proof
    }
}

/// A number with its unit, as digits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figures {
    /// The number, or the lesser end of a range: `34.6`, `38+4`.
    pub from: String,
    /// The greater end of a range.
    pub to: Option<String>,
    /// `is`, `under`, `at-most`, `over` or `at-least`.
    pub bound: &'static str,
    /// The unit: cm, deg, g, kg, wk, d, h, beats, grade.
    pub unit: String,
}

impl Figures {
    /// The number in a value as records write it; `None` for a value that is no number.
    #[must_use]
    pub fn parse(value: &str) -> Option<Self> {
        Amount::parse(value).as_ref().map(Self::of)
    }

    fn of(amount: &Amount) -> Self {
        let (from, to) = match amount.figure {
            Figure::One(point) => (point.to_string(), None),
            Figure::Range(from, to) => (from.to_string(), Some(to.to_string())),
        };
        let bound = match amount.bound {
            Bound::Is => "is",
            Bound::Under => "under",
            Bound::AtMost => "at-most",
            Bound::Over => "over",
            Bound::AtLeast => "at-least",
        };
        Self { from, to, bound, unit: amount.unit.written().unwrap_or_default().to_owned() }
    }
}

/// The words that a finding rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// The whole stretch: item, value and side, as far as they stand together.
    pub quote: Quote,
    /// The words that told the item, where they stand in the same sentence.
    pub item: Option<Quote>,
    /// The words that say the value.
    pub value: Quote,
    /// The words that say the side.
    pub sides: Vec<Quote>,
    /// How the least sure of them was recognised.
    pub how: How,
    /// How the item was told.
    pub told: Told,
    /// The recogniser's least probability of these words, 0 to 1; `None` for text.
    pub probability: Option<f32>,
}

/// A stretch of the narration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quote {
    /// The words as written.
    pub text: String,
    /// Their place.
    pub span: Span,
    /// Their place in the recording, where there is one.
    pub sound: Option<SoundSpan>,
}

/// What a finding replaced.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Earlier {
    /// The value it had.
    pub value: String,
    /// The number in it, where it is one.
    pub figures: Option<Figures>,
    /// The words that said so.
    pub quote: Quote,
}

/// An item without a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmentioned {
    /// Id of the item.
    pub item: String,
    /// Its name for people.
    pub name: String,
    /// The part of the record it stands under.
    pub region: String,
    /// In which other ways a result of it was spoken of: planned, taken back, and so on. Mostly empty.
    pub spoken_of: Vec<Stance>,
}

/// An utterance of the narration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What was said, as written or heard.
    pub text: String,
    /// Its place in the recording, where there is one.
    pub sound: Option<SoundSpan>,
    /// What was heard there at first, where a second hearing understood more.
    pub at_first: Option<String>,
}

/// The draft that a reading comes to. The reading must be of these utterances by this lexicon.
#[must_use]
pub fn draft(lexicon: &Lexicon, utterances: &[Utterance], reading: &Reading, mut sources: Sources) -> DraftRecord {
    sources.notices.extend(marks(utterances, reading));
    let found = reading.findings.iter().map(|finding| draft_finding(lexicon, utterances, finding));
    let (context, findings) = found.partition(|finding| finding.region == CONTEXT_REGION);
    DraftRecord {
        program: format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION")),
        source: sources.origin,
        model: sources.model,
        other_models: sources.other_models,
        lexicon: lexicon.identity.clone(),
        context,
        findings,
        not_mentioned: not_mentioned(lexicon, reading),
        notices: sources.notices,
        transcript: utterances
            .iter()
            .map(|said| Line { text: said.text.clone(), sound: said.sound, at_first: None })
            .collect(),
    }
}

/// Moments that the examiner ordered to be marked.
fn marks(utterances: &[Utterance], reading: &Reading) -> impl Iterator<Item = Notice> {
    let marked = reading.ordered.iter().filter(|order| order.command == Some(Command::Mark));
    marked.map(|order| {
        let sound = quote(utterances, order.quote).sound;
        Notice { sound, words: "marked by the examiner".to_owned(), loss: Loss::None }
    })
}

fn draft_finding(lexicon: &Lexicon, utterances: &[Utterance], finding: &Finding) -> DraftFinding {
    let stands = &finding.stands;
    let item = &lexicon.items[stands.item];
    DraftFinding {
        item: item.id.clone(),
        name: item.name.clone(),
        region: item.region.clone(),
        side: stands.side,
        value: value_text(lexicon, stands),
        figures: figures(&stands.value),
        approx: stands.approx,
        hedged: stands.hedged,
        by_group: stands.by_group,
        reasons: limits::reasons(utterances, finding),
        heard_by: finding.heard_by,
        proof: proof(utterances, &stands.because),
        history: finding.replaced.iter().map(|old| earlier(lexicon, utterances, old)).collect(),
    }
}

/// The value of a statement as records write it: a value's id, or a number with its unit.
#[must_use]
pub fn value_text(lexicon: &Lexicon, statement: &Statement) -> String {
    match &statement.value {
        Value::Choice(value) => {
            let values = lexicon.items.get(statement.item).map(|item| &item.values);
            values.and_then(|values| values.get(*value)).map(|value| value.id.clone()).unwrap_or_default()
        }
        Value::Amount(amount) => amount.to_string(),
    }
}

fn earlier(lexicon: &Lexicon, utterances: &[Utterance], old: &Statement) -> Earlier {
    let figures = figures(&old.value);
    Earlier { value: value_text(lexicon, old), figures, quote: quote(utterances, old.because.quote) }
}

fn figures(value: &Value) -> Option<Figures> {
    match value {
        Value::Amount(amount) => Some(Figures::of(amount)),
        Value::Choice(_) => None,
    }
}

fn proof(utterances: &[Utterance], because: &Evidence) -> Proof {
    Proof {
        quote: quote(utterances, because.quote),
        item: because.item.map(|span| quote(utterances, span)),
        value: quote(utterances, because.value),
        sides: because.sides.iter().map(|span| quote(utterances, *span)).collect(),
        how: because.how,
        told: because.told,
        probability: limits::least_probability(utterances, because),
    }
}

/// The words at a place, as written. A place outside the utterances gives no words.
#[must_use]
pub fn quote(utterances: &[Utterance], span: Span) -> Quote {
    let said = utterances.get(span.utterance);
    let words = said.and_then(|said| said.words.get(span.first..span.past)).unwrap_or_default();
    let text = match (said, words.first(), words.last()) {
        (Some(said), Some(first), Some(last)) => said.text.get(first.start..last.end).unwrap_or_default(),
        _ => "",
    };
    let sound = SoundSpan::around(words.iter().filter_map(|word| word.sound));
    Quote { text: text.to_owned(), span, sound }
}

fn not_mentioned(lexicon: &Lexicon, reading: &Reading) -> Vec<Unmentioned> {
    let found = |ix: ItemIx| reading.findings.iter().any(|finding| finding.stands.item == ix);
    let without = lexicon.items.iter().enumerate().filter(|(ix, item)| item.members.is_empty() && !found(*ix));
    let unmentioned = |(ix, item): (ItemIx, &crate::lexicon::Item)| {
        let mut spoken_of: Vec<Stance> = Vec::new();
        for statement in reading.statements.iter().filter(|statement| statement.item == ix) {
            if !spoken_of.contains(&statement.stance) {
                spoken_of.push(statement.stance);
            }
        }
        Unmentioned { item: item.id.clone(), name: item.name.clone(), region: item.region.clone(), spoken_of }
    };
    without.map(unmentioned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading;

    fn draft_of(lines: &[&str]) -> DraftRecord {
        let lexicon = Lexicon::load(None).unwrap();
        let utterances: Vec<Utterance> = lines.iter().map(|line| Utterance::from_text(line)).collect();
        let origin = Origin { file_name: "a.txt".into(), sha256: "00".into(), length_ms: None };
        let sources = Sources { origin, model: None, other_models: Vec::new(), notices: Vec::new() };
        draft(&lexicon, &utterances, &reading::read(&lexicon, &utterances), sources)
    }

    #[test]
    fn context_stands_apart_and_every_finding_has_its_words() {
        let draft = draft_of(&["A boy.", "No ankle clonus on the left."]);
        let context: Vec<(&str, &str)> = draft.context.iter().map(|f| (f.item.as_str(), f.value.as_str())).collect();
        assert_eq!(context, [("sex", "male")]);
        let [clonus] = &draft.findings[..] else { panic!("{:?}", draft.findings) };
        assert_eq!((clonus.item.as_str(), clonus.side, clonus.value.as_str()), ("ankle-clonus", Side::Left, "absent"));
        assert_eq!(clonus.proof.quote.span.utterance, 1);
        assert!("No ankle clonus on the left.".contains(&clonus.proof.quote.text));
    }

    #[test]
    fn what_was_not_said_is_listed_and_groups_are_not_items() {
        let draft = draft_of(&["Good morning."]);
        assert!(draft.findings.is_empty() && draft.context.is_empty());
        let lexicon = Lexicon::load(None).unwrap();
        let items = lexicon.items.iter().filter(|item| item.members.is_empty()).count();
        assert_eq!(draft.not_mentioned.len(), items);
    }

    #[test]
    fn numbers_are_kept_as_digits() {
        let draft = draft_of(&["Popliteal angle on the right is about eighty to ninety degrees."]);
        let [angle] = &draft.findings[..] else { panic!("{:?}", draft.findings) };
        let figures = Figures { from: "80".into(), to: Some("90".into()), bound: "is", unit: "deg".into() };
        assert_eq!((angle.figures.as_ref(), angle.flags()), (Some(&figures), vec!["approx"]));
    }
}

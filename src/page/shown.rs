//! A record as the page shows it.
//! Takes a record of the store and the lexicon; gives JSON: every finding with its words, its doubts and where it stands, what
//! was not mentioned, and what every screen must say. Nothing is filled in; what is reckoned stands apart. Leaves alone how it looks.
//! Places of words are told as a browser counts letters (UTF-16).
//!
//! finding `d1`, drafted as "left to midline", changed: its `value` stays "to-midline", its `now` is what it was changed to

use serde::Serialize;

use crate::computed::computed;
use crate::export::computed_json::{ComputedJson, RemarkJson};
use crate::export::draft_json::loss_name;
use crate::lexicon::Lexicon;
use crate::page::finding::{FindingShown, OfTheInfant, Place};
use crate::page::words::{LineWords, Stretch, cautions};
use crate::record::{DraftRecord, Line, Notice, Review, Standing};
use crate::speech::ModelIdentity;
use crate::store::{Kept, Listed, Signature, Sound};

/// A record in a line.
#[derive(Serialize)]
pub(super) struct ListedShown {
    id: String,
    file_name: String,
    created: i64,
    state: &'static str,
    version: u32,
    decided_since: u64,
    infant: Vec<OfTheInfant>,
    undecided: usize,
    eye: usize,
    damaged: bool,
}

/// A record whole.
#[derive(Serialize)]
pub(super) struct RecordShown {
    id: String,
    state: &'static str,
    created: i64,
    seen: u64,
    decided_since: u64,
    draft: DraftShown,
    findings: Vec<FindingShown>,
    not_mentioned: Vec<NotMentioned>,
    sound: &'static str,
    signatures: Vec<SignatureShown>,
    cautions: Vec<String>,
    /// Whose it is, and when the examination was, as somebody wrote.
    infant: Option<RemarkJson>,
    examined: Option<RemarkJson>,
    computed: ComputedJson,
}

#[derive(Serialize)]
struct DraftShown {
    version: u32,
    status: &'static str,
    program: String,
    source: Source,
    model: Option<Model>,
    other_models: Vec<Model>,
    lexicon: String,
    notices: Vec<NoticeShown>,
    transcript: Vec<LineShown>,
}

#[derive(Serialize)]
struct Source {
    file_name: String,
    length_ms: Option<u64>,
    sha256: String,
}

#[derive(Serialize)]
struct Model {
    name: String,
    sha256: String,
    precision: Option<String>,
}

#[derive(Serialize)]
struct NoticeShown {
    words: String,
    loss: &'static str,
    from_ms: Option<u64>,
    to_ms: Option<u64>,
}

#[derive(Serialize)]
struct LineShown {
    text: String,
    at_first: Option<String>,
    from_ms: Option<u64>,
    to_ms: Option<u64>,
    words: Vec<Stretch>,
}

#[derive(Serialize)]
struct NotMentioned {
    item: String,
    name: String,
    region: String,
    spoken_of: Vec<&'static str>,
}

#[derive(Serialize)]
struct SignatureShown {
    version: u32,
    signer: String,
    role: String,
    at: i64,
    reason: Option<String>,
    /// The last entry that it covers.
    last: u64,
    sha256: String,
}

impl ListedShown {
    pub(super) fn of(lexicon: &Lexicon, listed: &Listed) -> Self {
        let standings = listed.review.as_ref().map(Review::standings).unwrap_or_default();
        let undecided = standings.iter().filter(|standing| standing.decided.is_none());
        let eye = undecided.clone().filter(|standing| standing.drafted.is_some_and(|drafted| !drafted.is_clear()));
        let infant = listed.review.iter().flat_map(|review| OfTheInfant::all(lexicon, review, &standings));
        Self {
            id: listed.id.clone(),
            file_name: listed.file_name.clone(),
            created: listed.at.0,
            state: listed.state.name(),
            version: listed.version,
            decided_since: if listed.version == 0 { 0 } else { listed.decided_since },
            infant: infant.collect(),
            undecided: undecided.count(),
            eye: eye.count(),
            damaged: listed.review.is_none(),
        }
    }
}

impl RecordShown {
    pub(super) fn of(lexicon: &Lexicon, kept: &Kept) -> Self {
        let draft = kept.review.draft();
        let lines: Vec<LineWords> = draft.transcript.iter().map(|line| LineWords::of(&line.text)).collect();
        let standings = kept.review.standings();
        let findings =
            standings.iter().map(|standing| FindingShown::of(lexicon, &kept.review, &lines, standing)).collect();
        let signed = kept.signatures.last();
        let covered = signed.map_or(kept.review.last(), |signature| signature.entries);
        let decided_since = kept.review.last().saturating_sub(covered);
        Self {
            id: kept.id.clone(),
            state: kept.state().name(),
            created: kept.at.0,
            seen: kept.review.last(),
            decided_since,
            draft: DraftShown::of(kept.draft_version, draft, &lines),
            findings,
            not_mentioned: NotMentioned::all(&kept.review, &standings),
            sound: sound_name(&kept.sound),
            signatures: kept.signatures.iter().map(SignatureShown::of).collect(),
            cautions: cautions(draft, signed, decided_since),
            infant: kept.remarks.infant().map(RemarkJson::of),
            examined: kept.remarks.examined().map(RemarkJson::of),
            computed: ComputedJson::of(lexicon, &computed(lexicon, &kept.review, &kept.remarks)),
        }
    }
}

impl DraftShown {
    fn of(version: u32, draft: &DraftRecord, lines: &[LineWords]) -> Self {
        let source = &draft.source;
        Self {
            version,
            status: DraftRecord::STATUS,
            program: draft.program.clone(),
            source: Source {
                file_name: source.file_name.clone(),
                length_ms: source.length_ms,
                sha256: source.sha256.clone(),
            },
            model: draft.model.as_ref().map(Model::of),
            other_models: draft.other_models.iter().map(Model::of).collect(),
            lexicon: draft.lexicon.clone(),
            notices: draft.notices.iter().map(NoticeShown::of).collect(),
            transcript: draft.transcript.iter().zip(lines).map(|(line, words)| LineShown::of(line, words)).collect(),
        }
    }
}

impl Model {
    fn of(model: &ModelIdentity) -> Self {
        Self { name: model.name.clone(), sha256: model.sha256.clone(), precision: model.precision.clone() }
    }
}

impl NoticeShown {
    fn of(notice: &Notice) -> Self {
        Self {
            words: notice.words.clone(),
            loss: loss_name(notice.loss),
            from_ms: notice.sound.map(|sound| sound.start_ms),
            to_ms: notice.sound.map(|sound| sound.end_ms),
        }
    }
}

impl LineShown {
    fn of(line: &Line, words: &LineWords) -> Self {
        Self {
            text: line.text.clone(),
            at_first: line.at_first.clone(),
            from_ms: line.sound.map(|sound| sound.start_ms),
            to_ms: line.sound.map(|sound| sound.end_ms),
            words: words.all().to_vec(),
        }
    }
}

impl NotMentioned {
    // What was added by hand is found; what was added and rejected, or undone, is not.
    fn all(review: &Review, standings: &[Standing<'_>]) -> Vec<Self> {
        let stands = |item: &str| standings.iter().any(|standing| Place::of(review, standing).item == item);
        let silent = review.draft().not_mentioned.iter().filter(|silent| !stands(&silent.item));
        let shown = silent.map(|silent| Self {
            item: silent.item.clone(),
            name: silent.name.clone(),
            region: silent.region.clone(),
            spoken_of: silent.spoken_of.iter().map(|stance| stance.name()).collect(),
        });
        shown.collect()
    }
}

impl SignatureShown {
    fn of(signature: &Signature) -> Self {
        Self {
            version: signature.version,
            signer: signature.by.name().to_owned(),
            role: signature.by.role().to_owned(),
            at: signature.at.0,
            reason: signature.reason.clone(),
            last: signature.entries,
            sha256: signature.sha256.clone(),
        }
    }
}

fn sound_name(sound: &Sound) -> &'static str {
    match sound {
        Sound::Kept(_) => "kept",
        Sound::ToDelete(_) | Sound::Deleted => "deleted",
        Sound::None | Sound::NotKept => "none",
    }
}

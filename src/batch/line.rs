//! A file's outcome ⇄ a line of the manifest.
//! Takes what became of a file; gives a line of JSON, and reads such lines back. A line holds no time: the same work gives the
//! same line. Leaves alone where lines are kept (`manifest`).
//!
//! {"file":"bay 2/a.wav","outcome":"drafted","sha256":"…","findings":27,"in_doubt":9,…}

use serde::{Deserialize, Serialize};

use crate::record::DraftRecord;
use crate::speech::ModelIdentity;

/// What became of a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Its name below the place it was found in, with slashes; what no text has stands as `%` and two digits.
    pub file: String,
    /// What became of it.
    pub outcome: Outcome,
    /// Why nothing was drafted, a plain sentence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<Kind>,
    /// SHA-256 of its content, where it could be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
    /// About the draft.
    #[serde(flatten)]
    pub draft: Option<Drafted>,
}

/// Ways in which a file can end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Its draft is written.
    Drafted,
    /// It could not be read, heard or written.
    Failed,
    /// It is neither a recording nor a transcript.
    LeftOut,
}

/// What a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Sound.
    Recording,
    /// Text.
    Transcript,
}

/// What is told of a draft.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drafted {
    /// Its name below the target; empty where it went into the store alone.
    pub draft: String,
    /// Its length in bytes.
    pub draft_bytes: u64,
    /// The id of its record, where it went into the store.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub record: Option<String>,
    /// Seconds of sound; of a transcript 0.
    pub seconds: f64,
    /// How many findings it has, those of the infant included.
    pub findings: usize,
    /// How many of them need the reviewer's eye.
    pub in_doubt: usize,
    /// Whether sound was lost, or there was no speech.
    pub sound_lost: bool,
    /// The models that heard it, in order; none for a transcript or silence.
    pub models: Vec<Model>,
    /// Which models and ways of hearing it was heard by; none for a transcript.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heard_by: Option<String>,
    /// Which lexicon it was read by: the SHA-256 of it.
    pub lexicon: String,
    /// Which lexicon's phrases the recognisers leaned towards, where it was another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heard_with: Option<String>,
    /// The program's version.
    pub program: String,
}

/// Which model.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Model {
    /// Its file's name without the ending.
    pub name: String,
    /// SHA-256 of its file.
    pub sha256: String,
}

impl Model {
    fn of(model: &ModelIdentity) -> Self {
        Self { name: model.name.clone(), sha256: model.sha256.clone() }
    }
}

/// The program's version, which belongs to what a draft rests on.
pub(super) const PROGRAM: &str = concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION"));

impl Line {
    /// A file of which there is a draft.
    pub(super) fn drafted(file: String, kind: Kind, draft: &DraftRecord, told: Told) -> Self {
        let all = || draft.context.iter().chain(&draft.findings);
        let models = draft.model.iter().chain(&draft.other_models).map(Model::of).collect();
        let drafted = Drafted {
            draft: told.draft,
            draft_bytes: told.draft_bytes,
            record: told.record,
            seconds: draft.source.length_ms.unwrap_or_default() as f64 / 1000.0,
            findings: all().count(),
            in_doubt: all().filter(|finding| !finding.is_clear()).count(),
            sound_lost: draft.lacks_sound(),
            models,
            heard_by: told.heard_by,
            lexicon: draft.lexicon.clone(),
            heard_with: told.heard_with.filter(|lexicon| *lexicon != draft.lexicon),
            program: PROGRAM.to_owned(),
        };
        let sha256 = Some(draft.source.sha256.clone());
        Self { file, outcome: Outcome::Drafted, reason: None, kind: Some(kind), sha256, draft: Some(drafted) }
    }

    /// A file without a draft.
    pub(super) fn without(file: String, outcome: Outcome, reason: String, sha256: Option<String>) -> Self {
        Self { file, outcome, reason: Some(reason), kind: None, sha256, draft: None }
    }

    /// The line, with a line feed behind it.
    #[must_use]
    pub fn written(&self) -> String {
        // Text and numbers alone are in it: writing them as JSON does not fail.
        let mut line = serde_json::to_string(self).unwrap_or_default();
        line.push('\n');
        line
    }

    /// The lines of a text; what is no line, such as the rest of one that was cut off, is left out.
    pub(super) fn all_of(text: &str) -> impl Iterator<Item = Self> {
        text.lines().filter_map(|line| serde_json::from_str(line).ok())
    }
}

/// What a draft's own record does not tell.
#[derive(Debug, Clone, Default)]
pub(super) struct Told {
    pub(super) draft: String,
    pub(super) draft_bytes: u64,
    pub(super) record: Option<String>,
    pub(super) heard_by: Option<String>,
    pub(super) heard_with: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow;
    use crate::lexicon::Lexicon;

    #[test]
    fn a_line_is_read_back_as_it_was() {
        let lexicon = Lexicon::load(None).unwrap();
        let draft = flow::of_text(&lexicon, "No ankle clonus on the left.\nMaybe a Moro.", "a.txt").draft;
        let told = Told { draft: "drafts/a.txt.json".into(), draft_bytes: 12, ..Told::default() };
        let drafted = Line::drafted("a.txt".into(), Kind::Transcript, &draft, told);
        let failed = Line::without("b\u{2028}.wav".into(), Outcome::Failed, "it is gone".into(), None);
        let text = format!("{}{}{{\"file\":\"cut o", drafted.written(), failed.written());
        assert_eq!(text.lines().count(), 3);
        assert_eq!(Line::all_of(&text).collect::<Vec<_>>(), [drafted.clone(), failed]);
        let about = drafted.draft.unwrap();
        assert_eq!((about.findings, about.models.len(), about.lexicon), (draft.findings.len(), 0, lexicon.identity));
    }
}

//! What the recogniser wrote for what was said: proposed on the page, and written into the user's own lexicon.
//! Takes the words that were written and those that were said; gives the entry as TOML, once the whole lexicon was loaded
//! with it. The file is replaced whole or not at all. Leaves alone drafts that were made before: they stay as they are.
//!
//! "more oh" for "Moro" becomes three lines of `misheard.toml`

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError};

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::lexicon::load::{self, Source};
use crate::lexicon::{How, Lexicon, LexiconError, Meaning, mentions::Said, mentions_in};
use crate::page::Desk;
use crate::page::decisions::{Body, understood};
use crate::page::error::PageError;
use crate::speech::Utterance;

/// The file that such entries stand in.
const FILE: &str = "misheard.toml";
/// What stands on top of a new one.
const HEAD: &str = "# What the recogniser writes here for what is said, as proposed in reviews.\n";
/// Letters of a phrase.
const LONGEST: usize = 100;

/// What was misheard.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Misheard {
    heard: String,
    said: String,
}

/// What would be written, or was.
#[derive(Debug, Serialize)]
pub(super) struct Proposal {
    file: String,
    toml: String,
    known: bool,
    words: String,
}

/// An entry that was tried, with the file that holds it and the text that this file would have.
struct Tried {
    proposal: Proposal,
    before: Option<String>,
    after: String,
}

/// Shows what would be written.
pub(super) async fn preview(State(desk): State<Arc<Desk>>, body: Body) -> Result<Json<Proposal>, PageError> {
    let misheard: Misheard = understood(body)?;
    desk.apart(move |desk| Ok(Json(tried(desk, &misheard)?.proposal))).await
}

/// Writes it.
pub(super) async fn write(State(desk): State<Arc<Desk>>, body: Body) -> Result<Json<Proposal>, PageError> {
    let misheard: Misheard = understood(body)?;
    desk.apart(move |desk| {
        let _alone = desk.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let folder = desk.own_lexicon.as_deref().ok_or(PageError::NoFolder)?;
        let Tried { mut proposal, before, after } = tried(desk, &misheard)?;
        if !proposal.known {
            replace(&folder.join(FILE), before.as_deref(), &after)?;
            proposal.words = "Written. It is understood in the drafts that are made from now on.".to_owned();
        }
        Ok(Json(proposal))
    })
    .await
}

fn tried(desk: &Desk, misheard: &Misheard) -> Result<Tried, PageError> {
    let (heard, said) = (phrase(&misheard.heard)?, phrase(&misheard.said)?);
    let folder = desk.own_lexicon.as_deref();
    let mut sources = load::built_in();
    sources.extend(folder.map(load::from_folder).transpose().map_err(faulty)?.unwrap_or_default());
    let before = folder.map(|folder| read(&folder.join(FILE))).transpose()?.flatten();
    let toml = format!(
        "[[misheard]]\nheard = {}\nsaid = {}\nmet = \"a review on this machine\"\n",
        quoted(heard),
        quoted(said)
    );
    let text = before.as_deref().unwrap_or(HEAD);
    let blank = if text.ends_with('\n') { "\n" } else { "\n\n" };
    let after = format!("{text}{blank}{toml}");
    let file = folder.map_or_else(|| PathBuf::from(FILE), |folder| folder.join(FILE)).display().to_string();
    let entries = load::read(&sources).map_err(faulty)?;
    let alike = |one: &str, other: &str| one.trim().to_lowercase() == other.to_lowercase();
    let known = entries.misheard.iter().find(|(_, entry)| alike(&entry.heard, heard) && alike(&entry.said, said));
    let words = match known {
        Some((place, _)) => format!("This stands in {} already; nothing is written.", place.file),
        None => {
            check(&Lexicon::from_sources(&sources).map_err(faulty)?, heard)?;
            // A folder of one's own lies over the built-in files, so its file of this name comes last.
            sources.retain(|source| source.file != FILE || before.as_deref() != Some(source.text.as_str()));
            sources.push(Source { file: FILE.to_owned(), text: after.clone() });
            Lexicon::from_sources(&sources).map_err(faulty)?;
            format!("From then on \u{201c}{heard}\u{201d} is taken for \u{201c}{said}\u{201d}, wherever it is written.")
        }
    };
    Ok(Tried { proposal: Proposal { file, toml, known: known.is_some(), words }, before, after })
}

fn phrase(text: &str) -> Result<&str, PageError> {
    let text = text.trim();
    let short = (1..=LONGEST).contains(&text.chars().count());
    if short && !text.contains(char::is_control) {
        return Ok(text);
    }
    Err(PageError::Misheard(format!(
        "what was heard and what was said are one line each, of at most {LONGEST} letters"
    )))
}

// One slip in a small word reverses a meaning: what holds a number, a side or a denial is never taken for something else.
fn check(lexicon: &Lexicon, heard: &str) -> Result<(), PageError> {
    let utterance = Utterance::from_text(heard);
    let refused = |why: &str| Err(PageError::Misheard(format!("\u{201c}{heard}\u{201d} {why}")));
    // "it is" or "the" stand everywhere, and would be taken for an item everywhere.
    let small = |word: &str| lexicon.is_plain(word) || (word.chars().count() <= 3 && !lexicon.is_no_word(word));
    if utterance.words.iter().all(|word| small(&word.plain)) {
        return refused("holds no word of its own; small words are said everywhere");
    }
    for mention in mentions_in(lexicon, &utterance) {
        let sure = matches!(mention.how, How::Exact | How::Misheard);
        let whole = mention.first == 0 && mention.past == utterance.words.len();
        let small = match &mention.said {
            Said::Quantity(_) => true,
            Said::Phrase(_) => mention.meanings(lexicon).iter().any(|meaning| matches!(meaning, Meaning::Word(_))),
        };
        if sure && small {
            return refused("holds a number, a side, a denial or another small word; these are never taken for others");
        }
        if sure && whole {
            return refused("means something already; it cannot be taken for another phrase");
        }
    }
    Ok(())
}

// What is no control character is written alike in TOML and in JSON.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

fn faulty(error: LexiconError) -> PageError {
    PageError::Misheard(error.to_string())
}

fn read(file: &Path) -> Result<Option<String>, PageError> {
    match fs::read_to_string(file) {
        Ok(text) => Ok(Some(text)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(PageError::NotWritten(format!("cannot read {}: {error}", file.display()))),
    }
}

/// Puts a text in the place of a file, whole or not at all, if the file is as it was.
fn replace(file: &Path, before: Option<&str>, after: &str) -> Result<(), PageError> {
    let failed = |error: io::Error| PageError::NotWritten(format!("cannot write {}: {error}", file.display()));
    // Whoever keeps the file elsewhere and links to it has it changed there.
    let place = if before.is_some() { fs::canonicalize(file).map_err(failed)? } else { file.to_owned() };
    let folder = place.parent().unwrap_or(Path::new("."));
    let mut part = tempfile::Builder::new().prefix(".misheard-").tempfile_in(folder).map_err(failed)?;
    part.write_all(after.as_bytes()).map_err(failed)?;
    if before.is_some() {
        let permissions = fs::metadata(&place).map_err(failed)?.permissions();
        part.as_file().set_permissions(permissions).map_err(failed)?;
    }
    part.as_file().sync_all().map_err(failed)?;
    if read(&place)?.as_deref() != before {
        return Err(PageError::NotWritten(format!("{} was changed by somebody else; try again", file.display())));
    }
    part.persist(&place).map(drop).map_err(|error| failed(error.error))
}

//! TOML files → entries, each with its file and line.
//! Takes the texts of the lexicon's files; gives what they declare, as declared. Leaves alone what a phrase means beside
//! others (`compile`), and whether two entries quarrel (`check`).
//!
//! `[scarf-sign.values.past-midline]` gives a value of scarf-sign with its phrases

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use include_dir::{Dir, include_dir};
use serde::Deserialize;
use sha2::{Digest, Sha256};

use crate::lexicon::commands::CommandEntries;
pub use crate::lexicon::entries::{CueEntry, ItemEntry, MisheardEntry, NeverEntry, SidesEntry, ValueEntry};
use crate::lexicon::sets::{Declared, SetEntries};

/// The lexicon that the program carries.
static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/lexicon");

/// What can be wrong with a lexicon's files.
#[derive(Debug, thiserror::Error)]
pub enum LexiconError {
    /// A file cannot be read.
    #[error("cannot read {file}: {source}; check the folder given with --lexicon", file = file.display())]
    Unreadable {
        /// The file or folder.
        file: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// One or more faults, each with file and line.
    #[error("{}", list(.0))]
    Faults(Vec<Fault>),
    /// A word cannot be the attention word.
    #[error("`{word}` cannot be the attention word: {why}")]
    Attention {
        /// The word as given.
        word: String,
        /// Why not, and what would do.
        why: String,
    },
}

fn list(faults: &[Fault]) -> String {
    faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// A fault of one file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// File name below the lexicon's folder.
    pub file: String,
    /// Line, from 1; 0 where none can be told.
    pub line: usize,
    /// What is wrong and what would be right.
    pub what: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}: {}", self.file, self.line, self.what)
    }
}

/// A file of the lexicon, by name below its folder.
#[derive(Debug, Clone)]
pub struct Source {
    /// Name with its folder: `newborn-neuro/arm-tone.toml`.
    pub file: String,
    /// Its text.
    pub text: String,
}

/// Everything the files declare.
#[derive(Debug, Default)]
pub struct Entries {
    /// Items in order of files and of their place in them.
    pub items: Vec<(Place, String, ItemEntry)>,
    /// Cues and general words of the language, by name.
    pub language: Vec<(Place, String, CueEntry)>,
    /// Spelling variants: written → canonical.
    pub spelling: HashMap<String, String>,
    /// What was written → what was said.
    pub misheard: Vec<(Place, MisheardEntry)>,
    /// Phrases that mean nothing here.
    pub never: Vec<(Place, NeverEntry)>,
    /// Phrases that are told by their sounds too.
    pub by_sound: Vec<(Place, String)>,
    /// The attention word and the phrases of orders.
    pub(super) commands: CommandEntries,
    /// Sets of items.
    pub(super) sets: SetEntries,
    /// Files that say nothing of phrases, in their order.
    pub(super) beside: Vec<Source>,
}

/// Files that say nothing of phrases: rules for what is reckoned from a record, and codes for its interchange.
const BESIDE: [&str; 4] = ["computed.toml", "prompts.toml", "usual.csv", "codes.toml"];

/// Where an entry stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// File name below the lexicon's folder.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
}

impl Place {
    /// A fault at this place, in one line whatever is quoted in it.
    #[must_use]
    pub fn fault(&self, what: String) -> Fault {
        Fault { file: self.file.clone(), line: self.line, what: what.replace('\n', "\\n") }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MisheardFile {
    misheard: Vec<toml::Spanned<MisheardEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NeverFile {
    never: Vec<toml::Spanned<NeverEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BySoundFile {
    #[serde(default)]
    names: Vec<toml::Spanned<String>>,
    #[serde(default)]
    values: Vec<toml::Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct SetEntry {
    title: String,
    #[serde(default)]
    items: Vec<toml::Spanned<String>>,
    all_but: Option<Vec<toml::Spanned<String>>>,
}

/// The files that the program carries, in order of their names.
#[must_use]
pub fn built_in() -> Vec<Source> {
    let mut sources = Vec::new();
    collect(&BUILT_IN, &mut sources);
    sources.sort_by(|a, b| a.file.cmp(&b.file));
    sources
}

fn collect(dir: &Dir<'_>, sources: &mut Vec<Source>) {
    for file in dir.files() {
        if let (true, Some(text)) = (is_source(file.path()), file.contents_utf8()) {
            sources.push(Source { file: file.path().display().to_string(), text: text.to_owned() });
        }
    }
    for inner in dir.dirs() {
        collect(inner, sources);
    }
}

/// The files of a folder of growth standards that the program carries, by name below `growth/`; none where they were taken out.
pub fn growth_files() -> impl Iterator<Item = (&'static str, &'static str)> {
    let standards = BUILT_IN.get_dir("growth").into_iter().flat_map(|growth| growth.dirs());
    let files = standards.flat_map(|standard| standard.files());
    let tables = files.filter(|file| file.path().extension().is_some_and(|e| e == "csv"));
    tables.filter_map(|file| Some((file.path().to_str()?, file.contents_utf8()?)))
}

// The tables of growth standards are no files of the lexicon: they lie apart, and may be taken out.
fn is_source(file: &Path) -> bool {
    file.extension().is_some_and(|e| e == "toml") || file.file_name().is_some_and(|name| name == "usual.csv")
}

/// The files of a lexicon in a folder and in its folders, in order of their names.
///
/// # Errors
/// A folder or file that cannot be read, by name.
pub fn from_folder(folder: &Path) -> Result<Vec<Source>, LexiconError> {
    let mut sources = Vec::new();
    walk(folder, folder, &mut sources)?;
    sources.sort_by(|a, b| a.file.cmp(&b.file));
    Ok(sources)
}

fn walk(root: &Path, folder: &Path, sources: &mut Vec<Source>) -> Result<(), LexiconError> {
    let unreadable = |file: &Path| {
        let file = file.to_owned();
        move |source| LexiconError::Unreadable { file, source }
    };
    for entry in std::fs::read_dir(folder).map_err(unreadable(folder))? {
        let path = entry.map_err(unreadable(folder))?.path();
        if path.is_dir() {
            walk(root, &path, sources)?;
        } else if is_source(&path) {
            let text = std::fs::read_to_string(&path).map_err(unreadable(&path))?;
            let file = path.strip_prefix(root).unwrap_or(&path).display().to_string();
            sources.push(Source { file, text });
        }
    }
    Ok(())
}

/// SHA-256 over the files, hex.
pub(super) fn identity_of(sources: &[Source]) -> String {
    let mut hash = Sha256::new();
    for source in sources {
        hash.update(source.file.as_bytes());
        hash.update([0]);
        hash.update(source.text.as_bytes());
        hash.update([0]);
    }
    hexadecimal(&hash.finalize())
}

pub(super) fn hexadecimal(hash: &[u8]) -> String {
    hash.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads the files. Later files add to earlier ones: phrases of the same item, value or cue are joined.
///
/// # Errors
/// Every fault of every file at once, each with file and line.
pub fn read(sources: &[Source]) -> Result<Entries, LexiconError> {
    let mut entries = Entries::default();
    let mut faults = Vec::new();
    for source in sources {
        if let Err(fault) = read_one(source, &mut entries) {
            faults.push(fault);
        }
    }
    if faults.is_empty() { Ok(entries) } else { Err(LexiconError::Faults(faults)) }
}

fn read_one(source: &Source, entries: &mut Entries) -> Result<(), Fault> {
    let name = source.file.rsplit('/').next().unwrap_or(&source.file);
    match name {
        "misheard.toml" => {
            let file: MisheardFile = parse(source)?;
            entries.misheard.extend(file.misheard.into_iter().map(|e| (place(source, e.span().start), e.into_inner())));
        }
        "never.toml" => {
            let file: NeverFile = parse(source)?;
            entries.never.extend(file.never.into_iter().map(|e| (place(source, e.span().start), e.into_inner())));
        }
        "by-sound.toml" => {
            let file: BySoundFile = parse(source)?;
            let phrases = file.names.into_iter().chain(file.values);
            entries.by_sound.extend(phrases.map(|e| (place(source, e.span().start), e.into_inner())));
        }
        "commands.toml" => read_commands(source, entries)?,
        "sets.toml" => read_sets(source, entries)?,
        beside if BESIDE.contains(&beside) => entries.beside.push(source.clone()),
        "spelling.toml" => entries.spelling.extend(parse::<HashMap<String, String>>(source)?),
        _ if source.file.starts_with("language/") => {
            let file: BTreeMap<String, toml::Spanned<CueEntry>> = parse(source)?;
            for (cue, entry) in file {
                entries.language.push((place(source, entry.span().start), cue, entry.into_inner()));
            }
        }
        _ => {
            for (id, value) in tables::<toml::Value>(source)? {
                add_item(source, id, value.into_inner(), entries)?;
            }
        }
    }
    Ok(())
}

// The tables of a file in their order.
fn tables<T: serde::de::DeserializeOwned>(source: &Source) -> Result<Vec<(String, toml::Spanned<T>)>, Fault> {
    let file: BTreeMap<String, toml::Spanned<T>> = parse(source)?;
    let mut tables: Vec<(String, toml::Spanned<T>)> = file.into_iter().collect();
    tables.sort_by_key(|(_, value)| value.span().start);
    Ok(tables)
}

fn read_commands(source: &Source, entries: &mut Entries) -> Result<(), Fault> {
    for (name, value) in tables::<toml::Value>(source)? {
        let at = place(source, value.span().start);
        let faulty = |error: toml::de::Error| at.fault(plain_message(&error));
        if name == "attention" {
            entries.commands.attend(value.into_inner().try_into().map_err(faulty)?, &at);
        } else {
            let entry: CueEntry = value.into_inner().try_into().map_err(faulty)?;
            entries.commands.add(&name, entry.says, &at)?;
        }
    }
    Ok(())
}

fn read_sets(source: &Source, entries: &mut Entries) -> Result<(), Fault> {
    let placed = |words: Vec<toml::Spanned<String>>| {
        words.into_iter().map(|word| (place(source, word.span().start), word.into_inner())).collect()
    };
    for (name, entry) in tables::<SetEntry>(source)? {
        let at = place(source, entry.span().start);
        let SetEntry { title, items, all_but } = entry.into_inner();
        entries.sets.add(Declared { place: at, name, title, items: placed(items), all_but: all_but.map(placed) });
    }
    Ok(())
}

fn add_item(source: &Source, id: String, value: toml::Value, entries: &mut Entries) -> Result<(), Fault> {
    let place = Place { file: source.file.clone(), line: header_line(&source.text, &id) };
    if let Some((_, _, known)) = entries.items.iter_mut().find(|(_, known, _)| *known == id) {
        let added: Addition = value.try_into().map_err(|e| place.fault(plain_message(&e)))?;
        added.join(known);
        return Ok(());
    }
    let entry: ItemEntry = value.try_into().map_err(|e| place.fault(plain_message(&e)))?;
    entries.items.push((place, id, entry));
    Ok(())
}

/// What a later file may add to an item that an earlier one declares.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Addition {
    #[serde(default)]
    names: Vec<String>,
    #[serde(default)]
    shared: Vec<String>,
    #[serde(default)]
    done_by: Vec<String>,
    #[serde(default)]
    body: Vec<String>,
    #[serde(default)]
    values: BTreeMap<String, ValueEntry>,
}

impl Addition {
    fn join(self, known: &mut ItemEntry) {
        known.names.extend(self.names);
        known.shared.extend(self.shared);
        known.done_by.extend(self.done_by);
        known.body.extend(self.body);
        for (id, value) in self.values {
            let entry = known.values.entry(id).or_default();
            entry.alone.extend(value.alone);
            entry.say.extend(value.say);
            entry.loose.extend(value.loose);
            entry.takes.extend(value.takes);
            entry.skips.extend(value.skips);
        }
    }
}

pub(super) fn parse<T: serde::de::DeserializeOwned>(source: &Source) -> Result<T, Fault> {
    toml::from_str(&source.text).map_err(|error| {
        let line = error.span().map_or(0, |span| line_of(&source.text, span.start));
        Fault { file: source.file.clone(), line, what: plain_message(&error) }
    })
}

fn plain_message(error: &toml::de::Error) -> String {
    error.message().trim().replace('\n', "; ")
}

pub(super) fn place(source: &Source, at: usize) -> Place {
    Place { file: source.file.clone(), line: line_of(&source.text, at) }
}

fn line_of(text: &str, at: usize) -> usize {
    text.bytes().take(at).filter(|b| *b == b'\n').count() + 1
}

fn header_line(text: &str, id: &str) -> usize {
    let header = format!("[{id}]");
    text.lines().position(|line| line.trim() == header).map_or(1, |at| at + 1)
}

/// The line of the first place in a file where a phrase stands in quotation marks; 1 where it is nowhere.
#[must_use]
pub fn line_of_phrase(source: &Source, phrase: &str) -> usize {
    let quoted = format!("\"{}\"", phrase.replace('\\', "\\\\").replace('"', "\\\""));
    source.text.find(&quoted).map_or(1, |at| line_of(&source.text, at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_one_line_whatever_it_quotes() {
        let place = Place { file: "mine.toml".to_owned(), line: 3 };
        let fault = place.fault("`toe-\nwiggle` is not an item".to_owned());
        assert_eq!(fault.to_string(), "mine.toml:3: `toe-\\nwiggle` is not an item");
    }
}

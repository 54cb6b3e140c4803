//! A folder → narrations with their annotated findings.
//! Takes a folder; gives each `NAME.tsv` with the text `NAME.txt` and the recording of the same name, and each
//! `NAME.HOW.txt` with the `NAME.tsv` of the folder above. Leaves alone what is in the files.
//!
//! `a.tsv`, `a.txt` and `a.opus` give one narration with text and sound

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Endings of sound files, in the order in which one is chosen.
pub const SOUND_ENDINGS: [&str; 12] =
    ["flac", "wav", "opus", "ogg", "webm", "m4a", "mp3", "aac", "mp4", "aiff", "caf", "mka"];

/// What can be wrong with a folder of narrations.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The folder cannot be read.
    #[error("cannot read the folder {folder}: {source}", folder = folder.display())]
    Unreadable {
        /// The folder.
        folder: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A text that nothing was annotated for.
    #[error("{text} has no annotated findings: {gold} is missing", text = text.display(), gold = gold.display())]
    NoGold {
        /// The text.
        text: PathBuf,
        /// The file that should be there.
        gold: PathBuf,
    },
    /// No pair at all.
    #[error("{folder} holds no narrations: there must be NAME.txt beside NAME.tsv", folder = folder.display())]
    Empty {
        /// The folder.
        folder: PathBuf,
    },
}

/// A narration with what was annotated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// Name of the text without its ending, or of the recording.
    pub name: String,
    /// The text, where there is one.
    pub text: Option<PathBuf>,
    /// The recording, where there is one.
    pub sound: Option<PathBuf>,
    /// The annotated findings.
    pub gold: PathBuf,
}

/// The narrations of a folder in order of their names. Folders within it are not looked into.
///
/// # Errors
/// If it cannot be read, a text has no findings, or there is no narration.
pub fn pairs(folder: &Path) -> Result<Vec<Pair>, FolderError> {
    let unreadable = |source| FolderError::Unreadable { folder: folder.to_owned(), source };
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        files.push(entry.map_err(unreadable)?.path());
    }
    files.sort();
    let mut pairs = BTreeMap::new();
    for gold in files.iter().filter(|file| ending(file) == "tsv") {
        let sounds = SOUND_ENDINGS.iter().map(|ending| gold.with_extension(ending));
        let sound = sounds.into_iter().find(|sound| files.contains(sound));
        let text = Some(gold.with_extension("txt")).filter(|text| files.contains(text));
        if sound.is_some() || text.is_some() {
            pairs.insert(stem(gold), Pair { name: stem(gold), text, sound, gold: gold.clone() });
        }
    }
    for text in files.iter().filter(|file| ending(file) == "txt" && !files.contains(&file.with_extension("tsv"))) {
        let gold = gold_above(folder, text)?;
        pairs.insert(stem(text), Pair { name: stem(text), text: Some(text.clone()), sound: None, gold });
    }
    if pairs.is_empty() {
        return Err(FolderError::Empty { folder: folder.to_owned() });
    }
    Ok(pairs.into_values().collect())
}

// "NAME.VOICE.NOISE.base.txt" is one hearing of the narration NAME of the folder above.
fn gold_above(folder: &Path, text: &Path) -> Result<PathBuf, FolderError> {
    let name = stem(text);
    let missing = |gold| FolderError::NoGold { text: text.to_owned(), gold };
    let Some((narration, _)) = name.split_once('.') else { return Err(missing(text.with_extension("tsv"))) };
    let gold = folder.join("..").join(format!("{narration}.tsv"));
    if gold.is_file() { Ok(gold) } else { Err(missing(gold)) }
}

fn ending(file: &Path) -> String {
    file.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default()
}

fn stem(file: &Path) -> String {
    file.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder_with(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            let file = folder.path().join(name);
            std::fs::create_dir_all(file.parent().unwrap()).unwrap();
            std::fs::write(file, "").unwrap();
        }
        folder
    }

    #[test]
    fn texts_and_sounds_find_their_findings() {
        let folder = folder_with(&["b.txt", "b.tsv", "a.opus", "a.tsv", "README.md", "heard/b.loud.base.txt"]);
        let found = pairs(folder.path()).unwrap();
        let names: Vec<(&str, bool, bool)> =
            found.iter().map(|pair| (pair.name.as_str(), pair.text.is_some(), pair.sound.is_some())).collect();
        assert_eq!(names, [("a", false, true), ("b", true, false)]);
        let heard = pairs(&folder.path().join("heard")).unwrap();
        assert_eq!(heard[0].name, "b.loud.base");
        assert!(heard[0].gold.ends_with("../b.tsv"));
    }

    #[test]
    fn what_is_missing_is_named() {
        let message = |names: &[&str]| pairs(folder_with(names).path()).unwrap_err().to_string();
        assert!(message(&["a.txt"]).contains("a.tsv is missing"));
        assert!(message(&["a.loud.txt"]).contains("a.tsv is missing"));
        assert!(message(&["README.md"]).contains("holds no narrations"));
        let gone = pairs(Path::new("no/such/folder")).unwrap_err().to_string();
        assert!(gone.starts_with("cannot read the folder no/such/folder: "), "{gone}");
    }
}

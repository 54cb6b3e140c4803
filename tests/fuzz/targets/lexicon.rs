//! Files of a lexicon of one's own → a lexicon that reads what it knows, or faults with their places.
//! Takes text in which a line of `@` and a name begins a file; what stands before the first such line is `a.toml`. Files below
//! `growth/` are tables of growth standards. Leaves alone whether the files can be read from a disk.
//!
//! "@misheard.toml" and an entry without what was said is a fault of misheard.toml, with its line

use std::sync::LazyLock;

use spoken_exam::computed::growth::{Measure, Sex, Standard, Tables, curves, score_by};
use spoken_exam::lexicon::Lexicon;
use spoken_exam::lexicon::load::{self, Source};

use super::checks::{check_error, check_own_phrases};

/// What stands beside the files in question: a little of everything, so that one run takes a millisecond and not a second.
static BESIDE: LazyLock<Vec<Source>> = LazyLock::new(|| {
    let wanted = ["computed.toml", "language/negation.toml", "language/sides.toml", "language/spelling.toml"];
    load::built_in().into_iter().filter(|source| wanted.iter().any(|name| source.file.ends_with(name))).collect()
});

pub(super) fn target(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let (growth, files): (Vec<Source>, Vec<Source>) =
        files_of(&text).into_iter().partition(|source| source.file.starts_with("growth/"));
    if !growth.is_empty() {
        tables(&growth);
    }
    if !files.is_empty() {
        laid_over(files);
    }
}

fn files_of(text: &str) -> Vec<Source> {
    let mut files: Vec<Source> = Vec::new();
    for line in text.split_inclusive('\n') {
        match line.strip_prefix('@') {
            Some(name) => {
                let name = name.trim_end();
                // A folder has no two files of one name; here the later one goes for both.
                files.retain(|file| file.file != name);
                files.push(Source { file: name.to_owned(), text: String::new() });
            }
            None => match files.last_mut() {
                Some(file) => file.text.push_str(line),
                None => files.push(Source { file: "a.toml".to_owned(), text: line.to_owned() }),
            },
        }
    }
    files
}

/// As a user's folder lies over the files of the program: behind them.
fn laid_over(files: Vec<Source>) {
    let mut sources: Vec<Source> =
        BESIDE.iter().filter(|beside| !files.iter().any(|file| file.file == beside.file)).cloned().collect();
    sources.extend(files);
    match Lexicon::from_sources(&sources) {
        Ok(lexicon) => check_own_phrases(&lexicon),
        Err(error) => check_error("", &sources, &error),
    }
}

fn tables(files: &[Source]) {
    let named = || files.iter().map(|source| (source.file.as_str(), source.text.as_str()));
    let tables = match Tables::read(named()) {
        Ok(tables) => tables,
        Err(fault) => return assert!(named().any(|(name, _)| name == fault.file) && fault.line > 0, "{fault:?}"),
    };
    for standard in [Standard::Who, Standard::Newborn, Standard::Preterm] {
        for (measure, sex) in
            Measure::ALL.into_iter().flat_map(|measure| [(measure, Sex::Male), (measure, Sex::Female)])
        {
            let ages = curves(&tables, standard, measure, sex).and_then(|curves| curves.ages());
            for at in ages.into_iter().flat_map(|(first, last)| [first, last]) {
                for value in [0.3, 3.2, 35.0, 1e300] {
                    if let Ok(score) = score_by(&tables, standard, (measure, value), sex, at) {
                        assert!(score.z.is_finite() && !score.centile_words().is_empty(), "{score:?}");
                    }
                }
            }
        }
    }
}

//! What commonly warrants a senior's look: `prompts.toml`.
//! Takes rules, each with what was found and a source, the sentences that go with them, and the ids of rules to switch off; gives
//! them checked. Leaves alone whether an infant's findings meet one.
//!
//! two of several findings of low tone are `at-least = 2` over a list of them

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::conditions::OfItem;
use super::{Cited, Level, Rules, Status};
use crate::lexicon::compile::Item;
use crate::lexicon::load::{Fault, Source, parse, place};

/// Findings that together, or each, are worth a second look.
#[derive(Debug, Clone, PartialEq)]
pub struct PromptRule {
    /// What it is about, in words.
    pub title: String,
    /// How pressing.
    pub level: Level,
    /// From this post-menstrual age in weeks; `None` at any age.
    pub from_weeks: Option<u32>,
    /// All of these must be met.
    pub all: Vec<OfItem>,
    /// Of these, so many.
    pub some: Vec<OfItem>,
    /// How many of `some`.
    pub at_least: usize,
    /// Where it is from.
    pub cited: Cited,
}

/// The sentences of prompts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sentences {
    /// What is commonly done, by level: "Commonly reviewed by a senior promptly; follow local guidance."
    pub commonly: BTreeMap<Level, String>,
    /// What stands beside a prompt that rests on doubt.
    pub hedged: String,
    /// What stands beside a prompt that rests on a finding which needs the eye.
    pub unclear: String,
    /// What stands beside a prompt that a state may explain.
    pub state: String,
    /// What stands above all prompts.
    pub about: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    off: Vec<String>,
    sentences: Option<SentencesEntry>,
    #[serde(default)]
    prompt: Vec<Spanned<Entry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentencesEntry {
    now: String,
    soon: String,
    pathway: String,
    recheck: String,
    hedged: String,
    unclear: String,
    state: String,
    about: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Entry {
    id: String,
    title: String,
    level: String,
    from_weeks: Option<u32>,
    #[serde(default)]
    all: Vec<String>,
    #[serde(default)]
    finds: Vec<String>,
    at_least: Option<usize>,
    source: String,
    status: String,
}

impl Rules {
    /// Takes in a file; a rule takes the place of one with the same id.
    pub(super) fn read_prompts(&mut self, source: &Source, items: &[Item], faults: &mut Vec<Fault>) {
        let file: File = match parse(source) {
            Ok(file) => file,
            Err(fault) => return faults.push(fault),
        };
        self.off.extend(file.off);
        if let Some(entry) = file.sentences {
            self.sentences = entry.sentences();
        }
        for entry in file.prompt {
            let at = place(source, entry.span().start);
            match entry.into_inner().rule(items) {
                Ok(rule) => {
                    self.prompts.retain(|known| known.cited.rule != rule.cited.rule);
                    self.prompts.push(rule);
                }
                Err(what) => faults.push(at.fault(what)),
            }
        }
    }
}

impl SentencesEntry {
    fn sentences(self) -> Sentences {
        let by_level = [
            (Level::Now, self.now),
            (Level::Soon, self.soon),
            (Level::Pathway, self.pathway),
            (Level::Recheck, self.recheck),
        ];
        Sentences {
            commonly: by_level.into(),
            hedged: self.hedged,
            unclear: self.unclear,
            state: self.state,
            about: self.about,
        }
    }
}

impl Entry {
    fn rule(self, items: &[Item]) -> Result<PromptRule, String> {
        let of_items =
            |written: &[String]| written.iter().map(|one| OfItem::parse(one, items)).collect::<Result<Vec<_>, _>>();
        let (all, some) = (of_items(&self.all)?, of_items(&self.finds)?);
        let at_least = self.at_least.unwrap_or(usize::from(!some.is_empty()));
        if all.is_empty() && some.is_empty() || at_least > some.len() {
            return Err(format!("`{}` can never be met: it needs {at_least} of {}", self.id, some.len()));
        }
        let level = Level::named(&self.level)
            .ok_or_else(|| format!("`{}` is none of now, soon, pathway and recheck", self.level))?;
        let status =
            Status::named(&self.status).ok_or_else(|| format!("`{}` is no status of a source", self.status))?;
        Ok(PromptRule {
            title: self.title,
            level,
            from_weeks: self.from_weeks,
            all,
            some,
            at_least,
            cited: Cited { rule: self.id, source: self.source, status },
        })
    }
}

//! The phrases of a lexicon, each with everything it can mean.
//! Takes what the files declare; gives the phrases in order, and every fault: a phrase that two items claim, one without
//! words, one that comes down to another. Leaves alone items and their values (`compile`).
//!
//! "recoil" gives a shared name of arm-recoil and of leg-recoil

use std::collections::{HashMap, HashSet};

use crate::lexicon::compile::{General, Item, ItemIx, Lexicon, Meaning, OPEN_VALUES, Phrase, Strength, Word};
use crate::lexicon::load::{self, Entries, Fault, Place, Source};
use crate::lexicon::vocabulary::Words;
use crate::speech::words::words_of;

/// General words by the names of their families.
pub(super) const GENERALS: [(&str, General); 8] = [
    ("good", General::Good),
    ("normal", General::Normal),
    ("abnormal", General::Abnormal),
    ("there", General::There),
    ("nothing", General::Nothing),
    ("weak", General::Weak),
    ("not-tested", General::NotTested),
    ("not-elicited", General::NotElicited),
];

/// Words of the language by the names of their families.
const WORDS: [(&str, Word); 30] = [
    ("side-left", Word::SideLeft),
    ("side-right", Word::SideRight),
    ("side-both", Word::SideBoth),
    ("side-neither", Word::SideNeither),
    ("side-other", Word::SideOther),
    ("side-that", Word::SideThat),
    ("has", Word::Has),
    ("negation", Word::Negation),
    ("affirmed-by-denial", Word::AffirmedByDenial),
    ("plan", Word::Plan),
    ("turn", Word::Turn),
    ("expectation", Word::Expectation),
    ("fulfilled", Word::Fulfilled),
    ("failed", Word::Failed),
    ("teaching", Word::Teaching),
    ("history", Word::History),
    ("now", Word::Now),
    ("reported", Word::Reported),
    ("question", Word::Question),
    ("condition", Word::Condition),
    ("address", Word::Address),
    ("ends", Word::Ends),
    ("replace", Word::Replace),
    ("swap", Word::Swap),
    ("withdraw", Word::Withdraw),
    ("repeat", Word::Repeat),
    ("same", Word::Same),
    ("except", Word::Except),
    ("hedge", Word::Hedge),
    ("approx", Word::Approx),
];

/// Every phrase of the files, in order of its text; faults are added to `faults`.
pub(super) fn phrases_of(
    entries: &Entries,
    items: &[Item],
    sources: &[Source],
    faults: &mut Vec<Fault>,
) -> Vec<Phrase> {
    let spelling = &entries.spelling;
    let forms = Forms::of(entries);
    let mut compiler = Compiler { spelling, forms, phrases: HashMap::new(), faults, owners: HashMap::new() };
    compiler.add_items(entries, items, sources);
    compiler.add_language(entries);
    compiler.add_misheard(entries);
    compiler.tell_by_sound(entries);
    compiler.finish()
}

/// A phrase of so many words is itself whatever commas stand in it: "chin up, arms and legs tucked in".
const LONG: usize = 5;

struct Compiler<'a> {
    spelling: &'a Spelling,
    forms: Forms,
    phrases: HashMap<String, Phrase>,
    faults: &'a mut Vec<Fault>,
    owners: HashMap<String, ItemIx>,
}

impl Compiler<'_> {
    fn add(&mut self, place: &Place, phrase: &str, meaning: Meaning) {
        let text = spelled(self.spelling, phrase);
        if text.is_empty() {
            self.faults.push(place.fault(format!("the phrase `{phrase}` has no words")));
            return;
        }
        let shrunk = !text.contains(' ') && words_of(phrase).len() > 1;
        if shrunk && matches!(meaning, Meaning::Never | Meaning::Word(_)) {
            let what =
                format!("`{phrase}` comes down to `{text}`, which means more: words without weight do not count");
            self.faults.push(place.fault(what));
            return;
        }
        let plural = self.forms.is_plural(&text);
        let entry = self.phrases.entry(text.clone()).or_insert_with(|| Phrase {
            text,
            meanings: Vec::new(),
            plural,
            over_commas: false,
            misheard: false,
            by_sound: false,
        });
        let of_language = matches!(meaning, Meaning::Word(_) | Meaning::Never);
        entry.over_commas |= phrase.contains(',') || of_language || entry.text.split(' ').count() >= LONG;
        if !entry.meanings.contains(&meaning) {
            entry.meanings.push(meaning);
        }
    }

    // A name or a phrase that stands alone must tell its item: two owners would make the reading a guess.
    fn own(&mut self, place: &Place, phrase: &str, item: ItemIx, items: &[Item], sources: &[Source]) {
        let text = spelled(self.spelling, phrase);
        match self.owners.get(&text) {
            Some(other) if *other != item => {
                let (a, b) = (&items[*other].id, &items[item].id);
                let source = sources.iter().find(|source| source.file == place.file);
                let line = source.map_or(place.line, |source| load::line_of_phrase(source, phrase));
                let place = Place { file: place.file.clone(), line };
                self.faults.push(
                    place.fault(format!("`{phrase}` is claimed by {a} and by {b}; move it to `shared` or `say`")),
                );
            }
            _ => drop(self.owners.insert(text, item)),
        }
    }

    fn add_items(&mut self, entries: &Entries, items: &[Item], sources: &[Source]) {
        let of_groups = self.names_of_groups(entries, items);
        for (ix, (place, _, entry)) in entries.items.iter().enumerate() {
            // "Tone in the arms" is the group, though the item it is written for goes by that name too.
            for phrase in entry.names.iter().filter(|name| !of_groups.contains(&(spelled(self.spelling, name), ix))) {
                self.own(place, phrase, ix, items, sources);
                self.add(place, phrase, Meaning::Name(ix));
            }
            for (phrases, meaning) in [
                (&entry.shared, Meaning::Shared(ix)),
                (&entry.done_by, Meaning::DoneBy(ix)),
                (&entry.body, Meaning::Body(ix)),
            ] {
                for phrase in phrases {
                    self.add(place, phrase, meaning);
                }
            }
            for (id, value) in &entry.values {
                let Some(value_ix) = items[ix].value(id) else { continue };
                for phrase in &value.alone {
                    self.own(place, phrase, ix, items, sources);
                }
                for (phrases, strength) in
                    [(&value.alone, Strength::Alone), (&value.say, Strength::Say), (&value.loose, Strength::Loose)]
                {
                    for phrase in phrases {
                        self.add(place, phrase, Meaning::Value(ix, value_ix, strength));
                    }
                }
                if value.alone.len() + value.say.len() + value.loose.len() == 0 && !OPEN_VALUES.contains(&id.as_str()) {
                    self.faults.push(place.fault(format!("value `{id}` has no phrase that says it")));
                }
            }
        }
    }

    fn names_of_groups(&self, entries: &Entries, items: &[Item]) -> HashSet<(String, ItemIx)> {
        let mut names = HashSet::new();
        for (item, (_, _, entry)) in items.iter().zip(&entries.items) {
            for member in &item.members {
                names.extend(entry.names.iter().map(|name| (spelled(self.spelling, name), *member)));
            }
        }
        names
    }

    fn add_language(&mut self, entries: &Entries) {
        let words = entries.language.iter().filter(|(_, name, _)| !FORMS.contains(&name.as_str()));
        for (place, name, entry) in words {
            let general = GENERALS.iter().find(|(known, _)| known == name).map(|(_, g)| Meaning::General(*g));
            let word = WORDS.iter().find(|(known, _)| known == name).map(|(_, w)| Meaning::Word(*w));
            match general.or(word) {
                Some(meaning) => entry.says.iter().for_each(|phrase| self.add(place, phrase, meaning)),
                None => self
                    .faults
                    .push(place.fault(format!("`{name}` is no family of words; see language/ for those known"))),
            }
        }
        for (place, entry) in &entries.never {
            self.add(place, &entry.phrase, Meaning::Never);
        }
    }

    fn add_misheard(&mut self, entries: &Entries) {
        for (place, entry) in &entries.misheard {
            let said = spelled(self.spelling, &entry.said);
            let heard = spelled(self.spelling, &entry.heard);
            if heard.is_empty() {
                self.faults.push(place.fault(format!("the phrase `{}` has no words", entry.heard)));
                continue;
            }
            match self.phrases.get(&said).cloned() {
                Some(phrase) if !self.phrases.contains_key(&heard) => {
                    drop(self.phrases.insert(heard.clone(), Phrase { text: heard, misheard: true, ..phrase }));
                }
                Some(_) => {}
                None => self.faults.push(place.fault(format!("`{}` is no phrase of the lexicon", entry.said))),
            }
        }
    }

    // A lexicon that names none has all its phrases told by their sounds.
    fn tell_by_sound(&mut self, entries: &Entries) {
        if entries.by_sound.is_empty() {
            self.phrases.values_mut().for_each(|phrase| phrase.by_sound = !phrase.misheard);
        }
        for (place, told) in &entries.by_sound {
            match self.phrases.get_mut(&spelled(self.spelling, told)) {
                Some(phrase) => phrase.by_sound = true,
                None => self.faults.push(place.fault(format!("`{told}` is no phrase of the lexicon"))),
            }
        }
    }

    fn finish(self) -> Vec<Phrase> {
        let mut phrases: Vec<Phrase> = self.phrases.into_values().collect();
        phrases.sort_by(|a, b| a.text.cmp(&b.text));
        for phrase in &mut phrases {
            phrase.meanings.sort();
        }
        phrases
    }
}

/// Spelling variants: written → canonical.
pub(super) type Spelling = HashMap<String, String>;

/// A phrase in plain spelling with the lexicon's spelling variants applied.
pub(super) fn spelled(spelling: &Spelling, phrase: &str) -> String {
    let words = words_of(phrase);
    let plain = words.iter().map(|word| spelling.get(&word.plain).map_or(word.plain.as_str(), String::as_str));
    plain.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

impl Lexicon {
    /// A phrase by its plain words.
    #[must_use]
    pub fn phrase(&self, text: &str) -> Option<&Phrase> {
        self.phrases.binary_search_by(|phrase| phrase.text.as_str().cmp(text)).ok().map(|at| &self.phrases[at])
    }

    /// A phrase by its plain words one by one; it has at least two.
    #[must_use]
    pub fn phrase_of(&self, words: &[&str]) -> Option<&Phrase> {
        let mut symbols = words.iter().map(|word| self.vocabulary.symbol_of(word));
        let (first, next) = (symbols.next()??, symbols.next()??);
        if !self.vocabulary.can_open(first, next, symbols.next().flatten()) {
            return None;
        }
        self.phrase_by(words)
    }

    /// A phrase by its plain words one by one, however many they are.
    pub(super) fn phrase_by(&self, words: &[&str]) -> Option<&Phrase> {
        // A space stands before every other letter: phrases are in the order of their words, too.
        let order = |phrase: &Phrase| phrase.text.split(' ').cmp(words.iter().copied());
        self.phrases.binary_search_by(order).ok().map(|at| &self.phrases[at])
    }
}

/// Families that tell the number of a word, or that it has no weight, not its meaning.
const FORMS: [&str; 3] = ["singular", "plural", "plain"];

/// Everyday words that change nothing about a finding.
pub(super) fn plain_words(entries: &Entries) -> Words {
    words_in(entries, FORMS[2]).into_iter().collect()
}

fn words_in(entries: &Entries, family: &str) -> HashSet<String> {
    let families = entries.language.iter().filter(|(_, name, _)| name == family);
    families.flat_map(|(_, _, entry)| entry.says.iter().map(|word| word.to_lowercase())).collect()
}

/// Words whose number their ending does not tell.
struct Forms {
    singular: HashSet<String>,
    plural: HashSet<String>,
}

impl Forms {
    fn of(entries: &Entries) -> Self {
        Self { singular: words_in(entries, FORMS[0]), plural: words_in(entries, FORMS[1]) }
    }

    // "clonus" and "biceps" end in s without being plurals.
    fn is_plural(&self, text: &str) -> bool {
        let last = text.rsplit(' ').next().unwrap_or(text);
        let by_ending =
            last.len() > 3 && last.ends_with('s') && !["ss", "us", "is"].iter().any(|end| last.ends_with(end));
        self.plural.contains(last) || by_ending && !self.singular.contains(last)
    }
}

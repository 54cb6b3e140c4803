//! Orders to the program: the attention word, and what may be said behind it.
//! Takes what `language/commands.toml` declares; tells whether words address the program, and which order they are. Few phrases
//! can stand behind the attention word, so what is written or sounds nearly like one is taken for it. Leaves alone where an
//! order may stand in a narration and what it does (`reading`).
//!
//! "note book" addresses it; "watch left" behind that is the order to say what is left

use std::collections::BTreeMap;

use crate::lexicon::entries::AttentionEntry;
use crate::lexicon::load::{Entries, Fault, Place};
use crate::lexicon::phonemes::{LONGEST, distance, sound_out, weight_of};
use crate::lexicon::phrases::{Spelling, spelled};
use crate::speech::{Stop, Word};

/// The attention word has so many letters at least.
const FEWEST_LETTERS: usize = 4;
/// Attention words with so many letters may be written or sound a little otherwise, before an order that is said exactly.
const LONG: usize = 6;
/// How near their sounds must come then.
const LEAST_OF_ATTENTION: f32 = 0.7;
/// A phrase that weighs no more than three consonants is short.
const SHORT: u32 = 300;
/// How near words must come to a short phrase.
const LEAST_OF_SHORT: f32 = 0.8;
/// Recognisers part the attention word into so many words at most.
const MOST_PARTS: usize = 3;

/// What can be ordered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Command {
    /// Take back what the last statement came to.
    TakeBack,
    /// Say what is left.
    WhatIsLeft,
    /// Say what was found of an item.
    WhatDidISay,
    /// Mark this moment.
    Mark,
    /// Understand nothing but the order to go on.
    Pause,
    /// Go on.
    Resume,
    /// End the dictation.
    End,
}

impl Command {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::TakeBack, Self::WhatIsLeft, Self::WhatDidISay, Self::Mark, Self::Pause, Self::Resume, Self::End];

    /// Its name in the lexicon.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::TakeBack => "take-back",
            Self::WhatIsLeft => "what-is-left",
            Self::WhatDidISay => "what-did-i-say",
            Self::Mark => "mark",
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::End => "end",
        }
    }

    /// How near words must come to one of its phrases, 0 to 1, and by how much nearer than to those of any other order. What
    /// would end the dictation must be said exactly, and what takes back must lead clearly.
    fn needed(self) -> Option<(f32, f32)> {
        match self {
            Self::End => None,
            Self::TakeBack => Some((0.8, 0.2)),
            _ => Some((0.7, 0.12)),
        }
    }
}

/// A phrase of an order.
#[derive(Debug, Clone)]
struct Phrase {
    command: Command,
    text: String,
    sounds: Vec<u8>,
    weight: u32,
}

/// The attention word and all phrases behind it.
#[derive(Debug, Clone, Default)]
pub(super) struct Commands {
    /// As it is told to people.
    pub(super) attention: String,
    /// Its letters, and those of what recognisers write for it.
    letters: Vec<String>,
    /// Its sounds.
    sounds: Vec<u8>,
    before: Vec<Vec<String>>,
    around: Vec<Vec<String>>,
    phrases: Vec<Phrase>,
    spelling: Spelling,
}

/// What is understood behind the attention word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Understood {
    /// The order.
    pub command: Command,
    /// Whether its words stand there exactly.
    pub exact: bool,
    /// How many words are the phrase, and what stands before it; behind them stands what is asked about.
    pub words: usize,
}

/// What all files together declare.
#[derive(Debug, Default)]
pub(super) struct CommandEntries {
    attention: AttentionEntry,
    word_at: Option<Place>,
    phrases: Vec<(Place, Command, String)>,
}

impl CommandEntries {
    /// Takes in what a file says of the attention word: another one takes the place of the one before, and of what recognisers
    /// write for that.
    pub(super) fn attend(&mut self, added: AttentionEntry, at: &Place) {
        let known = &mut self.attention;
        if added.word.is_some() {
            (known.word, known.heard, self.word_at) = (added.word, Vec::new(), Some(at.clone()));
        }
        known.heard.extend(added.heard);
        known.before.extend(added.before);
        known.around.extend(added.around);
    }

    /// Takes in the phrases of an order.
    ///
    /// # Errors
    /// What is wrong, if there is no such order.
    pub(super) fn add(&mut self, name: &str, says: Vec<String>, at: &Place) -> Result<(), Fault> {
        let Some(command) = Command::ALL.into_iter().find(|command| command.name() == name) else {
            let names: Vec<&str> = Command::ALL.iter().map(|command| command.name()).collect();
            return Err(at.fault(format!("`{name}` is no order; there are attention, {}", names.join(", "))));
        };
        self.phrases.extend(says.into_iter().map(|phrase| (at.clone(), command, phrase)));
        Ok(())
    }
}

impl Commands {
    /// What the files declare, made ready; faults are added to `faults`.
    pub(super) fn new(entries: &Entries, faults: &mut Vec<Fault>) -> Self {
        let (known, spelling) = (&entries.commands, &entries.spelling);
        let mut commands = Self { spelling: spelling.clone(), ..Self::default() };
        commands.before = known.attention.before.iter().map(|words| commands.split(words)).collect();
        commands.around = known.attention.around.iter().map(|words| commands.split(words)).collect();
        for (place, command, said) in &known.phrases {
            let text = spelled(spelling, said);
            match commands.phrases.iter().find(|other| other.text == text) {
                _ if text.is_empty() => faults.push(place.fault(format!("the phrase `{said}` has no words"))),
                Some(other) if other.command != *command => {
                    let (one, two) = (other.command.name(), command.name());
                    faults.push(place.fault(format!("`{said}` is claimed by {one} and by {two}; leave it to one")));
                }
                Some(_) => {}
                None => commands.phrases.push(Phrase::new(*command, text)),
            }
        }
        if let (Some(word), Some(place)) = (&known.attention.word, &known.word_at) {
            match commands.attention_of(word) {
                Ok(attention) => commands.set_attention(&attention, &known.attention.heard),
                Err(why) => faults.push(place.fault(format!("`{word}` cannot be the attention word: {why}"))),
            }
        }
        commands
    }

    /// Where the attention word was declared.
    pub(super) fn place(entries: &Entries) -> Option<&Place> {
        entries.commands.word_at.as_ref()
    }

    /// The first of its phrases.
    pub(super) fn example(&self, command: Command) -> &str {
        self.phrases.iter().find(|phrase| phrase.command == command).map_or("", |phrase| &phrase.text)
    }

    fn split(&self, words: &str) -> Vec<String> {
        spelled(&self.spelling, words).split(' ').map(str::to_owned).collect()
    }

    pub(super) fn set_attention(&mut self, word: &str, heard: &[String]) {
        word.clone_into(&mut self.attention);
        self.letters = std::iter::once(word).chain(heard.iter().map(String::as_str)).map(letters_of).collect();
        self.sounds = sounds_of(word);
    }

    /// The attention word as it is compared; an error says in words why it cannot be one.
    pub(super) fn attention_of(&self, word: &str) -> Result<String, String> {
        let parts: Vec<String> =
            word.split([' ', '-']).filter(|part| !part.is_empty()).map(str::to_lowercase).collect();
        let plain = parts.join(" ");
        let letters = parts.concat();
        if !letters.chars().all(char::is_alphabetic) {
            return Err("it has other signs than letters; write it as it is spoken".to_owned());
        }
        if !(1..=2).contains(&parts.len()) {
            return Err(format!("it has {} words; one or two can be heard surely", parts.len()));
        }
        if letters.chars().count() < FEWEST_LETTERS {
            return Err(format!("it has fewer than {FEWEST_LETTERS} letters; short words are misheard"));
        }
        let of_order = |phrase: &Phrase| phrase.text == plain || phrase.text.split(' ').any(|word| word == plain);
        match self.phrases.iter().find(|phrase| of_order(phrase)) {
            Some(phrase) => Err(format!("it stands in `{}`, which is an order itself", phrase.text)),
            None if self.before.iter().chain(&self.around).any(|words| words.join(" ") == plain) => {
                Err("it may stand around orders; take a word that nobody says in passing".to_owned())
            }
            None => Ok(plain),
        }
    }

    /// How many words address the program, where they do at their very beginning; and whether by the attention word exactly.
    pub(super) fn addressed(&self, words: &[Word]) -> Option<(usize, bool)> {
        let mut first = 0;
        while let Some(more) = starts(&words[first..], &self.before) {
            first += more;
        }
        // "Right" may stand before it, and be a part of it too.
        let mut found = self.attention_at(words.get(first..)?).map(|(parts, exact)| (first + parts, exact))?;
        while let Some((parts, exact)) = words.get(found.0..).and_then(|rest| self.attention_at(rest)) {
            found = (found.0 + parts, found.1 && exact);
        }
        Some(found)
    }

    fn attention_at(&self, words: &[Word]) -> Option<(usize, bool)> {
        let own = self.letters.first()?;
        let begins = |letters: &String| letters.starts_with(words.first().map_or("", |word| word.plain.as_str()));
        let near_by = own.len() >= LONG && words.first()?.plain.chars().next() == own.chars().next();
        if !near_by && !self.letters.iter().any(begins) {
            return None;
        }
        let mut near = None;
        let (mut said, mut sounds) = (String::new(), Vec::new());
        for (at, word) in words.iter().take(MOST_PARTS).enumerate() {
            said.push_str(&word.plain);
            if self.letters.contains(&said) {
                return Some((at + 1, true));
            }
            sound_out(&word.plain, &mut sounds);
            if near_by && (strsim::osa_distance(&said, own) == 1 || alike(&sounds, &self.sounds)) {
                near = Some((at + 1, false));
            }
            // Its parts may be parted by a comma, but by no end.
            if word.stop > Stop::Comma {
                break;
            }
        }
        near
    }

    /// The order that words are, from the first to the last of them; of a question, from the first on.
    pub(super) fn understood(&self, words: &[Word], exact_only: bool) -> Option<Understood> {
        let (firsts, pasts) = (self.bare_from(words), self.bare_to(words));
        for (first, past) in firsts.iter().flat_map(|first| pasts.iter().map(move |past| (*first, *past))) {
            let text = self.text(words.get(first..past).unwrap_or_default());
            if let Some(phrase) = self.phrases.iter().find(|phrase| phrase.text == text) {
                return Some(Understood { command: phrase.command, exact: true, words: words.len() });
            }
        }
        self.question(words, &firsts, true).or_else(|| {
            let (first, past) = (*firsts.last()?, *pasts.last()?);
            let words_left = words.get(first..past).filter(|words| !exact_only && !words.is_empty())?;
            match self.near(&self.text(words_left), &|_| true) {
                Some((command, _)) if command != Command::WhatDidISay => {
                    Some(Understood { command, exact: false, words: words.len() })
                }
                _ => self.question(words, &firsts, false),
            }
        })
    }

    // "What did I say for the left knee": the phrase, and what is asked about behind it.
    fn question(&self, words: &[Word], firsts: &[usize], exact: bool) -> Option<Understood> {
        let asks = |phrase: &Phrase| phrase.command == Command::WhatDidISay;
        let mut best: Option<(f32, usize)> = None;
        for (first, past) in
            firsts.iter().flat_map(|first| (first + 1..words.len()).rev().map(move |past| (*first, past)))
        {
            let text = self.text(&words[first..past]);
            if exact && self.phrases.iter().any(|phrase| asks(phrase) && phrase.text == text) {
                return Some(Understood { command: Command::WhatDidISay, exact, words: past });
            }
            let near = if exact || past == first + 1 { None } else { self.near(&text, &asks) };
            best = near.map(|(_, closeness)| (closeness, past)).filter(|new| best.is_none_or(|b| new.0 > b.0)).or(best);
        }
        best.map(|(_, words)| Understood { command: Command::WhatDidISay, exact, words })
    }

    /// The order whose phrases sound most like the text, with its closeness, if it is near enough and leads.
    fn near(&self, text: &str, wanted: &dyn Fn(&Phrase) -> bool) -> Option<(Command, f32)> {
        let heard = Phrase::new(Command::End, text.to_owned());
        if heard.sounds.is_empty() || heard.sounds.len() > LONGEST {
            return None;
        }
        let mut best: BTreeMap<Command, (f32, u32)> = BTreeMap::new();
        for phrase in self.phrases.iter().filter(|phrase| wanted(phrase)) {
            let heavier = heard.weight.max(phrase.weight).max(1);
            let apart = distance((&heard.sounds, heard.weight), (&phrase.sounds, phrase.weight), heavier / 2);
            let Some(apart) = apart else { continue };
            let closeness = 1.0 - apart as f32 / heavier as f32;
            let known = best.entry(phrase.command).or_insert((0.0, heavier));
            if closeness > known.0 {
                *known = (closeness, heavier);
            }
        }
        let (command, (closeness, heavier)) = best.iter().max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
        let others = best.iter().filter(|(other, _)| *other != command).map(|(_, (other, _))| *other);
        let (least, lead) = command.needed()?;
        let least = if *heavier <= SHORT { least.max(LEAST_OF_SHORT) } else { least };
        (*closeness >= least && closeness - others.fold(0.0, f32::max) >= lead).then_some((*command, *closeness))
    }

    fn text(&self, words: &[Word]) -> String {
        let plain = words.iter().map(|word| self.spelling.get(&word.plain).map_or(word.plain.as_str(), String::as_str));
        plain.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
    }

    // Where the phrase may begin: at once, or behind what may stand around it.
    fn bare_from(&self, words: &[Word]) -> Vec<usize> {
        let mut firsts = vec![0];
        while let Some(more) = firsts.last().and_then(|first| starts(words.get(*first..)?, &self.around)) {
            firsts.push(firsts.last().map_or(0, |first| first + more));
        }
        firsts
    }

    fn bare_to(&self, words: &[Word]) -> Vec<usize> {
        let mut pasts = vec![words.len()];
        let ends = |past: usize| {
            let fits = |around: &&Vec<String>| {
                let from = past.checked_sub(around.len());
                from.is_some_and(|from| around.iter().zip(&words[from..past]).all(|(a, word)| *a == word.plain))
            };
            self.around.iter().filter(fits).map(Vec::len).max()
        };
        while let Some(less) = pasts.last().and_then(|past| ends(*past)) {
            pasts.push(pasts.last().map_or(0, |past| past - less));
        }
        pasts
    }
}

impl Phrase {
    fn new(command: Command, text: String) -> Self {
        let sounds = sounds_of(&text);
        Self { command, weight: weight_of(&sounds), text, sounds }
    }
}

// How many words one of the phrases takes that they begin with.
fn starts(words: &[Word], phrases: &[Vec<String>]) -> Option<usize> {
    let fits = |phrase: &&Vec<String>| {
        !phrase.is_empty()
            && phrase.len() < words.len()
            && phrase.iter().zip(words).all(|(known, word)| *known == word.plain)
    };
    phrases.iter().filter(fits).map(Vec::len).max()
}

fn sounds_of(text: &str) -> Vec<u8> {
    let mut sounds = Vec::new();
    text.split(' ').for_each(|word| sound_out(word, &mut sounds));
    sounds
}

/// Whether a stretch of words sounds like the attention word: "no book", "notepuk".
fn alike(heard: &[u8], own: &[u8]) -> bool {
    let (one, other) = (weight_of(heard), weight_of(own));
    let most = ((1.0 - LEAST_OF_ATTENTION) * one.max(other) as f32) as u32;
    distance((heard, one), (own, other), most).is_some()
}

fn letters_of(words: &str) -> String {
    words.to_lowercase().chars().filter(|c| c.is_alphabetic()).collect()
}

//! Orders to the program among what is said.
//! Takes sentences as they come; gives the orders, and reads everything else as ever. An order gives no statement and leaves
//! item and side in progress as they were. Leaves alone what is done upon an order, but for taking back.
//!
//! "Suck strong. Notebook, what did I say for the left knee?" gives a result, and a question about the left knee

use crate::lexicon::{Command, ItemIx, LanguageWord, Lexicon, Meaning, Mention, Said, Strength, Understood};
use crate::reading::clauses::Sentence;
use crate::reading::reader::Reader;
use crate::reading::stance::Stance;
use crate::reading::statements::Side;
use crate::reading::tokens::inside;
use crate::span::{SoundSpan, Span};
use crate::speech::{Stop, Utterance, Word};

/// An order may follow the attention word in the next breath: within so much, in milliseconds.
const NEXT_BREATH_MS: u64 = 2000;
/// Nobody speaks words in less time than this each: common practice, no source.
const LEAST_MS_OF_A_WORD: u64 = 60;

/// An order that was heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ordered {
    /// The order; `None` where the attention word was said and nothing was understood behind it.
    pub command: Option<Command>,
    /// Items that are asked about, with the side, in order of the record; unstated where no side was said, none for items
    /// without sides.
    pub about: Vec<(ItemIx, Side)>,
    /// Its words, attention word included as far as it stands in the same utterance.
    pub quote: Span,
}

/// The orders so far.
#[derive(Debug, Default)]
pub(super) struct Orders {
    pub(super) ordered: Vec<Ordered>,
    /// The attention word that was a sentence by itself.
    open: Option<Open>,
}

#[derive(Debug, Clone, Copy)]
struct Open {
    quote: Span,
    end_ms: Option<u64>,
}

impl Orders {
    /// Nothing follows any more.
    pub(super) fn finish(mut self) -> Vec<Ordered> {
        self.give_up();
        self.ordered
    }

    fn give_up(&mut self) {
        let lone = self.open.take().map(|open| Ordered { command: None, about: Vec::new(), quote: open.quote });
        self.ordered.extend(lone);
    }
}

impl Reader<'_> {
    /// Reads a sentence, or obeys it.
    pub(super) fn hear(&mut self, orders: &mut Orders, sentence: &Sentence, said: &Utterance, mentions: &[Mention]) {
        if let Some(open) = orders.open {
            if is_close(open, sentence, said) && self.obeys(orders, sentence, (said, mentions), (open.quote, false)) {
                return;
            }
            orders.give_up();
        }
        let (first, past) = (sentence.first(), sentence.past());
        let spoken = said.words.get(first..past).filter(|words| !is_too_quick(words));
        let Some((words, exact)) = spoken.and_then(|words| self.lexicon.addressed(words)) else {
            return self.hear_to_the_end(orders, sentence, said, mentions);
        };
        let quote = Span { utterance: sentence.utterance, first, past: first + words };
        let Some(rest) = sentence.between(quote.past, past) else {
            let end_ms = said.words.get(past - 1).and_then(|word| word.sound).map(|sound| sound.end_ms);
            orders.open = exact.then_some(Open { quote, end_ms });
            return;
        };
        // "No book, pause.": the word nearly, and the order exactly, but nothing ends by a word that may have been another.
        let order = self.lexicon.order_in(&said.words[rest.first()..past], true);
        let surely = exact || order.is_some_and(|order| order.command != Command::End);
        if !surely || !self.obeys(orders, &rest, (said, mentions), (quote, !exact)) {
            if exact {
                self.read_or_ask_back(orders, &rest, (said, mentions), quote);
            } else {
                self.read(sentence, said, mentions);
            }
        }
    }

    // "Suck strong, notebook, pause.": recognisers write a comma where a sentence ended. There the order must be exact.
    fn hear_to_the_end(&mut self, orders: &mut Orders, sentence: &Sentence, said: &Utterance, mentions: &[Mention]) {
        let (first, past) = (sentence.first(), sentence.past());
        let starts = sentence.segments.iter().map(|segment| segment.first).filter(|start| *start > first);
        for start in starts.filter(|start| said.words[start - 1].stop >= Stop::Comma) {
            let Some((words, true)) = self.lexicon.addressed(&said.words[start..past]) else { continue };
            let rest = sentence.between(start + words, past);
            let exact = rest.as_ref().and_then(|rest| self.lexicon.order_in(&said.words[rest.first()..past], true));
            if let (Some(_), Some(rest), Some(head)) = (exact, rest, sentence.between(first, start)) {
                self.read(&head, said, mentions);
                let quote = Span { utterance: sentence.utterance, first: start, past: start + words };
                self.obeys(orders, &rest, (said, mentions), (quote, true));
                return;
            }
        }
        self.read(sentence, said, mentions);
    }

    /// Obeys what stands behind the attention word, if it is an order, and reads what stands behind that.
    fn obeys(
        &mut self,
        orders: &mut Orders,
        rest: &Sentence,
        (said, mentions): (&Utterance, &[Mention]),
        (attention, exact_only): (Span, bool),
    ) -> bool {
        let (first, past) = (rest.first(), rest.past());
        let order = |past: usize, exact: bool| {
            let understood = self.lexicon.order_in(said.words.get(first..past)?, exact)?;
            Some((understood, past))
        };
        let commas = rest.segments.iter().map(|segment| segment.past).rev().filter(|cut| *cut < past);
        let at_a_comma = commas.filter(|cut| said.words[cut - 1].stop >= Stop::Comma);
        // "Notebook, take that back, past the midline": the order ends at the comma. The end must be all that is said.
        let cut = || at_a_comma.filter_map(|cut| order(cut, true)).find(|(found, _)| found.command != Command::End);
        let near = || order(past, exact_only).filter(|(found, _)| found.exact || !self.tells(rest, mentions, *found));
        let Some((found, cut)) = order(past, true).or_else(cut).or_else(near) else { return false };
        orders.open = None;
        let about = match found.command {
            Command::WhatDidISay => self.asked_about((first + found.words, cut), mentions),
            _ => Vec::new(),
        };
        let quote = attention.cover(Span { utterance: rest.utterance, first, past: cut });
        orders.ordered.push(Ordered { command: Some(found.command), about, quote });
        if found.command == Command::TakeBack {
            self.withdraw_last();
        }
        if let Some(behind) = rest.between(cut, past) {
            self.hear(orders, &behind, said, mentions);
        }
        true
    }

    /// Whether words say something of the examination: then they are no order that is only nearly heard. What is asked about
    /// may be named, but has no result.
    fn tells(&self, rest: &Sentence, mentions: &[Mention], found: Understood) -> bool {
        let asks = found.command == Command::WhatDidISay;
        let from = if asks { rest.first() + found.words } else { rest.first() };
        let mut here = inside(rest, mentions).filter(|mention| mention.first >= from);
        here.any(|mention| {
            matches!(mention.said, Said::Quantity(_))
                || mention.meanings(self.lexicon).iter().any(|meaning| match meaning {
                    Meaning::Name(_) => !asks,
                    // "Marked this" is "mark this", though "marked" can be a result.
                    Meaning::Value(_, _, Strength::Say) => asks,
                    Meaning::Value(_, _, strength) => *strength == Strength::Alone,
                    _ => false,
                })
        })
    }

    // Nothing of the examination is lost: what reads as a statement is one.
    fn read_or_ask_back(
        &mut self,
        orders: &mut Orders,
        rest: &Sentence,
        (said, mentions): (&Utterance, &[Mention]),
        attention: Span,
    ) {
        let before = self.clone();
        self.read(rest, said, mentions);
        if self.statements == before.statements && self.progress.items == before.progress.items {
            *self = before;
            let quote = Span { past: rest.past(), ..attention };
            orders.ordered.push(Ordered { command: None, about: Vec::new(), quote });
        }
    }

    /// Takes back what the statement made last came to. Unlike "strike that" it waits for nothing in its place.
    fn withdraw_last(&mut self) {
        let Some(last) = self.last else { return };
        let quote = self.statements[last].because.quote;
        let same = |statement: &&mut crate::reading::Statement| {
            statement.because.quote == quote && statement.stance == Stance::Observed
        };
        self.statements.iter_mut().filter(same).for_each(|statement| statement.stance = Stance::Withdrawn);
        self.last = self.statements.iter().rposition(|statement| statement.stance == Stance::Observed);
    }

    /// The items that the words from `first` on name, with the side; where they name none, what was spoken of last.
    fn asked_about(&self, (first, past): (usize, usize), mentions: &[Mention]) -> Vec<(ItemIx, Side)> {
        let told = told_in(self.lexicon, (first, past), mentions);
        let side = side_in(self.lexicon, (first, past), mentions);
        let items = match told {
            Some(items) => items,
            // "What did I say for the left?"
            None if !self.progress.items.is_empty() => self.progress.items.clone(),
            None => self.last.map(|last| self.statements[last].item).into_iter().collect(),
        };
        let mut items: Vec<ItemIx> = items.into_iter().flat_map(|item| members(self.lexicon, item)).collect();
        items.sort_unstable();
        items.dedup();
        let paired = |item: &ItemIx| self.lexicon.items[*item].paired;
        // "The left knee" has nothing to do with what has no sides.
        if side != Side::Unstated && items.iter().any(paired) {
            items.retain(paired);
        }
        items.into_iter().map(|item| (item, if paired(&item) { side } else { Side::None })).collect()
    }
}

// A recogniser now and then writes an order that was given before once more, in no time at all.
fn is_too_quick(words: &[Word]) -> bool {
    let sound = SoundSpan::around(words.iter().filter_map(|word| word.sound));
    sound.is_some_and(|sound| sound.end_ms - sound.start_ms < LEAST_MS_OF_A_WORD * words.len() as u64)
}

fn is_close(open: Open, sentence: &Sentence, said: &Utterance) -> bool {
    if open.quote.utterance == sentence.utterance {
        return true;
    }
    let start = said.words.get(sentence.first()).and_then(|word| word.sound).map(|sound| sound.start_ms);
    match (open.end_ms, start) {
        (Some(end), Some(start)) => start.saturating_sub(end) <= NEXT_BREATH_MS,
        _ => sentence.utterance == open.quote.utterance + 1,
    }
}

fn members(lexicon: &Lexicon, item: ItemIx) -> Vec<ItemIx> {
    let members = &lexicon.items[item].members;
    if members.is_empty() { vec![item] } else { members.clone() }
}

// Longest mentions first; what a longer one holds is not asked for besides. Nothing where no word is of any item; no item
// where there are words that are of none.
fn told_in(lexicon: &Lexicon, (first, past): (usize, usize), mentions: &[Mention]) -> Option<Vec<ItemIx>> {
    let mut inside: Vec<&Mention> =
        mentions.iter().filter(|mention| first <= mention.first && mention.past <= past).collect();
    inside.sort_by_key(|mention| std::cmp::Reverse(mention.len()));
    let mut taken: Vec<&Mention> = Vec::new();
    let mut items = Vec::new();
    for mention in inside {
        let of = items_of(mention.meanings(lexicon));
        if !of.is_empty() && taken.iter().all(|other| mention.past <= other.first || other.past <= mention.first) {
            taken.push(mention);
            items.extend(of);
        }
    }
    let text = |mention: &&Mention| mention.phrase(lexicon).map(|phrase| phrase.text.clone());
    items.extend(taken.iter().filter_map(text).flat_map(|text| of_region(lexicon, &text)));
    let is_side =
        |mention: &Mention| mention.meanings(lexicon).iter().any(|meaning| matches!(meaning, Meaning::Word(_)));
    let all_sides = (first..past).all(|at| mentions.iter().any(|m| m.first <= at && at < m.past && is_side(m)));
    (!items.is_empty() || !all_sides && past > first).then_some(items)
}

fn items_of(meanings: &[Meaning]) -> Vec<ItemIx> {
    let kinds: [fn(&Meaning) -> Option<ItemIx>; 4] = [
        |meaning| if let Meaning::Name(item) = meaning { Some(*item) } else { None },
        |meaning| if let Meaning::Shared(item) = meaning { Some(*item) } else { None },
        |meaning| if let Meaning::DoneBy(item) = meaning { Some(*item) } else { None },
        |meaning| if let Meaning::Body(item) = meaning { Some(*item) } else { None },
    ];
    let of = |kind: &fn(&Meaning) -> Option<ItemIx>| meanings.iter().filter_map(kind).collect::<Vec<_>>();
    kinds.iter().map(of).find(|items| !items.is_empty()).unwrap_or_default()
}

// "The arms" are everything that stands under them in the record.
fn of_region(lexicon: &Lexicon, text: &str) -> Vec<ItemIx> {
    let is_of = |item: &ItemIx| {
        let region = &lexicon.items[*item].region;
        region == text || region.strip_suffix('s') == Some(text)
    };
    (0..lexicon.items.len()).filter(is_of).collect()
}

fn side_in(lexicon: &Lexicon, (first, past): (usize, usize), mentions: &[Mention]) -> Side {
    let inside = mentions.iter().filter(|mention| first <= mention.first && mention.past <= past);
    let meanings: Vec<&Meaning> = inside.flat_map(|mention| mention.meanings(lexicon)).collect();
    let says = |word: LanguageWord| meanings.iter().any(|meaning| **meaning == Meaning::Word(word));
    match (says(LanguageWord::SideLeft), says(LanguageWord::SideRight), says(LanguageWord::SideBoth)) {
        (true, false, false) => Side::Left,
        (false, true, false) => Side::Right,
        (false, false, false) => Side::Unstated,
        _ => Side::Both,
    }
}

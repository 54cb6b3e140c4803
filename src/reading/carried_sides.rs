//! The side of a result that stands without one, and sides said behind their results.
//! Takes what was said so far and the sentence; gives the side that follows from both, or none: a side is never guessed.
//! Leaves alone which side word of a sentence belongs to which result (`sides`).
//!
//! "Left knee jerk, I can't get it. Ah, there it is." is left both times

use std::collections::BTreeSet;

use crate::lexicon::{ItemIx, LanguageWord as Word};
use crate::reading::findings::is_without_result;
use crate::reading::reader::{Event, Read, Reader};
use crate::reading::sides::{Place, Said};
use crate::reading::stance::Stance;
use crate::reading::statements::{Reason, Side, Statement};
use crate::reading::tokens::is_covered;

impl Reader<'_> {
    // "Upgoing on the left. No, hang on, on the right.": only the side was wrong.
    pub(super) fn side_put_right(&mut self, read: &Read<'_>) {
        let Some(last) = self.last else { return };
        let old = &self.statements[last];
        let replace = read.tokens.iter().find(|token| token.is(Word::Replace));
        let Some(from) = replace.map(|token| token.first) else { return };
        let said = read.places.iter().rev().find(|place| place.first >= from);
        let Some(side) = said.and_then(|place| place.said.single()) else { return };
        // "No flexing left": what is denied is something else, and the side its own.
        let strange = |at: usize| {
            !is_covered(&read.tokens, at)
                && read.utterance.words.get(at).is_some_and(|word| !self.lexicon.is_plain(&word.plain))
        };
        let denies = said.is_some_and(|place| (from..place.first).any(strange));
        let others = read.named.iter().any(|named| !named.is_empty() && !named.contains(&old.item));
        let plans = read.tokens.iter().any(|token| token.is(Word::Plan) || token.is(Word::Turn));
        let near = self.since(old) <= 1;
        let first =
            read.utterance.words[read.sentence.first()..read.sentence.past()].iter().any(|w| w.plain == "first");
        if denies || others || plans || first || !near || self.progress.pending || old.side != side.opposite() {
            return;
        }
        let new = Statement { side, corrects: true, ..old.clone() };
        self.statements[last].stance = Stance::Withdrawn;
        self.last = Some(self.statements.len());
        self.statements.push(new);
    }

    // "Biceps two. Triceps two. Symmetric.": sides said behind what was found, and nothing else with them.
    pub(super) fn both_behind(&mut self, read: &Read<'_>) {
        let only_sides =
            read.tokens.iter().all(|token| token.is(Word::SideBoth) || token.words.is_empty() && !token.is_result());
        let names = read.named.iter().any(|named| !named.is_empty());
        let both = read.places.iter().any(|place| place.said == Said::Both);
        if !both || !only_sides || names || self.progress.pending {
            return;
        }
        let recent = self.statements.iter().rev().take_while(|statement| self.since(statement) <= 1).count();
        for statement in self.statements.iter_mut().rev().take(recent) {
            if statement.stance == Stance::Observed && statement.side == Side::Unstated {
                statement.side = Side::Both;
                statement.reasons.retain(|reason| *reason != Reason::SideUnstated);
            }
        }
    }

    /// The side of a paired item, from what was said here or announced before.
    pub(super) fn side_of(&self, read: &Read<'_>, event: &Event, item: ItemIx) -> Side {
        if !self.lexicon.items[item].paired {
            return Side::None;
        }
        let said = event.sides.iter().map(|place| place.said).reduce(Said::join);
        let announced = self.progress.items.contains(&item) || self.progress.body.contains(&item);
        match said.or_else(|| self.progress.side.filter(|_| announced)) {
            Some(Said::Left) => Side::Left,
            Some(Said::Right) => Side::Right,
            Some(Said::Both | Said::Neither) => Side::Both,
            Some(Said::Other) => self.other_side(item),
            Some(Said::That) => self.that_side(item),
            None => self.side_unsaid(read, event, item),
        }
    }

    // "Right, one-fifteen. No. One-ten." puts the right one right, though "popliteal angles" were in progress.
    fn side_unsaid(&self, read: &Read<'_>, event: &Event, item: ItemIx) -> Side {
        let again = self.side_again(read, event, item);
        let single = again.filter(|side| self.correcting && matches!(side, Side::Left | Side::Right));
        let plural = || self.is_plural(read, event, item).then_some(Side::Both);
        // "On the right it's livelier. It's a three.": what it is stands in the singular.
        let it = || again.or_else(|| self.side_of_it(read, item)).filter(|_| says_it(read, event));
        single.or_else(it).or_else(plural).or(again).unwrap_or(Side::Unstated)
    }

    // "Left knee jerk, I can't get it. Ah, there it is": said again, or put right, of the side spoken of last.
    fn side_again(&self, read: &Read<'_>, event: &Event, item: ItemIx) -> Option<Side> {
        let last = self.last.map(|last| &self.statements[last]).filter(|last| last.item == item)?;
        let token = &read.tokens[event.token];
        let again = read.tokens.iter().any(|other| other.is(Word::Repeat) && other.first <= token.first);
        let renamed = read.named.iter().any(|named| named.contains(&item));
        let is_first_try = is_without_result(self.lexicon, last);
        let near = self.since(last) <= 2;
        let carries = near && (self.correcting || again || is_first_try && !renamed);
        (carries && last.side != Side::Unstated).then_some(last.side)
    }

    fn side_of_it(&self, read: &Read<'_>, item: ItemIx) -> Option<Side> {
        let last = self.last.map(|last| &self.statements[last]).filter(|last| last.item == item)?;
        let near = self.since(last) <= 1;
        let renamed = read.named.iter().any(|named| named.contains(&item));
        let single = matches!(last.side, Side::Left | Side::Right);
        (near && single && !renamed && self.progress.side.is_none()).then_some(last.side)
    }

    // "And the right stayed put. It's absent on that side."
    fn that_side(&self, item: ItemIx) -> Side {
        let announced = self.progress.side.and_then(Said::single);
        announced.or_else(|| Some(self.latest(item)?.side)).unwrap_or(Side::Unstated)
    }

    // What was said last of an item, or of a member of a group.
    fn latest(&self, item: ItemIx) -> Option<&Statement> {
        let members = &self.lexicon.items[item].members;
        let is_of = |other: ItemIx| other == item || members.contains(&other);
        self.statements.iter().rev().find(|s| is_of(s.item) && s.stance == Stance::Observed)
    }

    fn other_side(&self, item: ItemIx) -> Side {
        self.latest(item).map_or(Side::Unstated, |statement| match statement.side {
            Side::Left | Side::Right => statement.side.opposite(),
            _ => Side::Unstated,
        })
    }

    fn is_plural(&self, read: &Read<'_>, event: &Event, item: ItemIx) -> bool {
        let segment = read.sentence.segments[read.tokens[event.token].segment];
        let words = &read.utterance.words[segment.first..segment.past];
        let they = words.iter().any(|word| matches!(word.plain.as_str(), "they" | "them" | "these" | "those"));
        let named = read.tokens.iter().zip(&read.named).any(|(token, named)| {
            token.plural && (named.contains(&item) || token.body.contains(&item) || token.done_by.contains(&item))
        });
        let value = &read.tokens[event.token];
        let inside = value.plural_inside && value.values.iter().any(|(of, ..)| *of == item);
        let in_progress = self.progress.plural && self.progress.items.contains(&item);
        they || named || inside || in_progress || !self.lexicon.items[item].members.is_empty()
    }
}

fn says_it(read: &Read<'_>, event: &Event) -> bool {
    let segment = read.sentence.segments[read.tokens[event.token].segment];
    // "That's weaker, isn't it? Weak."
    let bare = read.sentence.past() - read.sentence.first() <= 2 && read.sentence.first() > 0;
    let opening = &read.utterance.words[segment.first..segment.past.min(segment.first + 2)];
    bare || opening.iter().any(|word| matches!(word.plain.as_str(), "it" | "that"))
}

// "Biceps and triceps both brisk, on the left": both counts the items where one side is said.
pub(super) fn both_items(read: &Read<'_>, mut sides: Vec<Place>) -> Vec<Place> {
    let names: BTreeSet<ItemIx> = read.named.iter().flatten().copied().collect();
    let single: BTreeSet<Said> = sides.iter().map(|place| place.said).filter(|said| said.single().is_some()).collect();
    // "Galant, placing, both suspensions not done": both of what has no sides.
    let counts = |place: &Place| {
        let named = read.tokens.iter().zip(&read.named).find(|(token, _)| token.first == place.past);
        named.is_some_and(|(_, named)| named.len() > 1)
    };
    if names.len() > 1 {
        sides.retain(|place| place.said != Said::Both || single.len() != 1 && !counts(place));
    }
    sides
}

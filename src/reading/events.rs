//! A sentence → its results, in order, with their sides.
//! Takes the tokens of a sentence, with their stances, names and places of sides; gives what each result is and of which
//! side. Leaves alone what the results do to what was said before (`reader`).
//!
//! "Present on the left, just an ordinary one" gives two results, both of the left

use std::collections::BTreeSet;

use crate::lexicon::quantities::Unit;
use crate::lexicon::{General, ItemIx, LanguageWord as Word};
use crate::reading::carried_sides::both_items;
use crate::reading::corrections;
use crate::reading::denied_sides::denied_sides;
use crate::reading::negation;
use crate::reading::reader::{Event, Kind, Read, Reader};
use crate::reading::sides::{self, Place, Said, Wanted};
use crate::reading::stance::Stance;
use crate::reading::statements::Side;
use crate::reading::the_rest::says_rest;
use crate::reading::tokens::{Token, counted_only};
use crate::reading::values::{Around, Bound, Value, bind, told_in};

impl Reader<'_> {
    pub(super) fn events(&self, read: &Read<'_>) -> (Vec<Event>, Option<Place>) {
        let mut served = BTreeSet::new();
        let at_start = self.open_at_start();
        let (told, in_play) = told_in(&read.tokens, &read.named, &self.progress);
        let mut kinds: Vec<(usize, Kind)> = Vec::new();
        for (at, token) in read.tokens.iter().enumerate() {
            if token.is(Word::Same) && !result_in_segment(read, at) && !result_behind(read, at) {
                kinds.push((at, Kind::Same));
            } else if token.is(Word::Fulfilled) && self.expects(read, at) {
                kinds.push((at, Kind::Fulfilled));
            } else if token.is_result() && !self.is_no_result(read, at) {
                let around = Around {
                    lexicon: self.lexicon,
                    tokens: &read.tokens,
                    progress: &self.progress,
                    named: &read.named,
                    served: &served,
                    has_side: !read.places.is_empty(),
                    strange: &read.strange,
                    words: &read.utterance.words,
                    told: &told,
                    in_play: &in_play,
                    at_start: &at_start,
                    infant: &self.infant,
                    hearing: self.hearing,
                };
                if let Some(bound) = self.answered(read, at) {
                    kinds.push((at, Kind::Result(bound)));
                } else if let Some(bound) = bind(&around, at) {
                    match negation::apply(self.lexicon, read, bound) {
                        Ok(bound) if !negation::is_circumstance(self.lexicon, read, &bound) => {
                            served.extend(names_served(read, at, &bound));
                            kinds.push((at, Kind::Result(bound)));
                        }
                        Ok(_) => {}
                        Err(bound) => kinds.push((at, Kind::Denied(bound))),
                    }
                }
            }
        }
        let names = negation::denied_names(self.lexicon, read, &served);
        let had = negation::names_had(self.lexicon, &read.tokens, &read.named);
        let sides = denied_sides(self.lexicon, read, &kinds, || self.said_of_a_side());
        kinds.extend(names.into_iter().chain(had).chain(sides).map(|(at, bound)| (at, Kind::Result(bound))));
        kinds.sort_by_key(|(at, _)| *at);
        let denied = kinds.extract_if(.., |(_, kind)| matches!(kind, Kind::Denied(_))).collect::<Vec<_>>();
        let (mut events, left_over) = self.with_sides(read, kinds);
        events.extend(denied.into_iter().map(|(token, kind)| Event { kind, token, sides: Vec::new(), unsure: false }));
        (events, left_over)
    }

    // What was just said of one side.
    fn said_of_a_side(&self) -> Option<(Bound, Side)> {
        let last = &self.statements[self.last?];
        let bound = Bound::named(0, vec![last.item], last.value.clone(), None);
        (self.since(last) <= 1 && matches!(last.side, Side::Left | Side::Right)).then_some((bound, last.side))
    }

    // Words that look like a result and tell none here.
    fn is_no_result(&self, read: &Read<'_>, at: usize) -> bool {
        let talk = only_opens(read, at) || is_cleft(read, at) || is_set_aside(read, at) || tells_when(read, at);
        talk || counted_only(&read.tokens, at) || self.only_sides(read, at)
    }

    // "Symmetric? Yes.", "Is it weak? No.": the answer is to the value that was asked for.
    fn answered(&self, read: &Read<'_>, at: usize) -> Option<Bound> {
        let (asked, _) = self.asked.as_ref()?;
        let alone = read.tokens.iter().all(|token| !token.is_result() || token.first == read.tokens[at].first)
            && read.named.iter().all(Vec::is_empty);
        let bound = Bound { token: at, ..asked.clone() };
        match read.tokens[at].generals.first() {
            Some(General::There) if alone => Some(bound),
            Some(General::Nothing) if alone => negation::deny(self.lexicon, bound),
            _ => None,
        }
    }

    // "Incomplete, and symmetric", "Left weak, right absent. Not equal, then": beside another result of the item it tells the
    // sides and nothing else.
    fn only_sides(&self, read: &Read<'_>, at: usize) -> bool {
        let token = &read.tokens[at];
        let paired = |item: ItemIx| self.lexicon.items[item].paired;
        let knows = |other: &Token| {
            let shared = |(item, ..): &(ItemIx, _, _)| paired(*item) && other.values.iter().any(|(of, ..)| of == item);
            other.is_strong_result() && !other.is(Word::SideBoth) && token.values.iter().any(shared)
        };
        let beside = (0..read.tokens.len()).any(|ix| ix != at && knows(&read.tokens[ix]));
        let before = self.last.map(|last| &self.statements[last]).is_some_and(|last| {
            let near = self.since(last) <= 1;
            let other =
                |(item, ..): &(ItemIx, _, _)| *item != last.item && read.named.iter().any(|named| named.contains(item));
            near && paired(last.item)
                && !self.progress.pending
                && !token.values.iter().any(other)
                && token.values.iter().any(|(item, ..)| *item == last.item)
        });
        // "Thirty-four centimetres even."
        let of_number = at > 0
            && read.tokens[at - 1].quantity.is_some()
            && read.tokens[at - 1].past == token.first
            && read.tokens[at - 1].segment == token.segment;
        token.is(Word::SideBoth) && (beside || before || of_number)
    }

    fn with_sides(&self, read: &Read<'_>, kinds: Vec<(usize, Kind)>) -> (Vec<Event>, Option<Place>) {
        let wanted: Vec<Wanted> = kinds
            .iter()
            .map(|(at, kind)| Wanted {
                first: read.tokens[*at].first,
                segment: read.tokens[*at].segment,
                named_in: named_behind(read, *at, kind),
            })
            .collect();
        // Where no side is said there is none to bound.
        let boundaries = if read.places.is_empty() { Vec::new() } else { self.boundaries(read) };
        let assigned = sides::assign(read.sentence, read.utterance, &read.tokens, &read.places, &wanted, &boundaries);
        let mut sides = assigned.sides;
        said_again(&kinds, &read.named, &mut sides);
        share_out(read, &kinds, &mut sides);
        let events = kinds
            .into_iter()
            .zip(sides)
            .map(|((token, kind), sides)| Event {
                kind,
                token,
                unsure: assigned.unsure.contains(&read.tokens[token].segment),
                sides: corrections::standing(&read.tokens, both_items(read, sides)),
            })
            .filter_map(|event| negation::by_neither(self.lexicon, &read.tokens, event))
            .collect();
        (events, assigned.left_over)
    }

    // A side said with one item does not hold for the next item of the sentence: "left biceps two, triceps one".
    fn boundaries(&self, read: &Read<'_>) -> Vec<usize> {
        // "Left ankle three, the rest two": the rest is of no side.
        let mut boundaries: Vec<usize> =
            (0..read.sentence.segments.len()).filter(|segment| says_rest(read, *segment)).collect();
        let mut seen: Option<&Vec<ItemIx>> = None;
        for (named, token) in read.named.iter().zip(&read.tokens) {
            if named.is_empty() {
                // "Scarf sign to the midline on the left, arms flexed": several limbs are not of that side.
                if token.plural && !token.body.is_empty() && seen.is_some_and(|items| !is_body_of(token, items)) {
                    boundaries.push(token.segment);
                }
                continue;
            }
            // "Left biceps, I mean triceps": the item was wrong, not the side.
            let corrected = read
                .tokens
                .iter()
                .any(|t| t.is(Word::Replace) && t.past <= token.first && t.segment + 1 >= token.segment);
            if seen.is_some_and(|items| items != named) && !corrected {
                boundaries.push(token.segment);
            }
            seen = Some(named);
        }
        boundaries
    }

    // "And there it is" fulfils an expectation, or else says that something is there.
    pub(super) fn without_fulfilment<'r>(&self, mut read: Read<'r>) -> Read<'r> {
        for at in 0..read.tokens.len() {
            if read.tokens[at].is(Word::Fulfilled) && read.tokens[at].generals.is_empty() && !self.expects(&read, at) {
                read.tokens[at].generals.push(General::There);
            }
        }
        read
    }

    pub(super) fn expects(&self, read: &Read<'_>, at: usize) -> bool {
        let segment = read.tokens[at].segment;
        self.expected.is_some() || read.stances.iter().take(segment + 1).any(|stance| *stance == Stance::Expected)
    }
}

fn is_body_of(token: &Token, items: &[ItemIx]) -> bool {
    items.iter().any(|item| token.body.contains(item))
}

// "Eighty and ninety, left and right respectively."
fn share_out(read: &Read<'_>, kinds: &[(usize, Kind)], sides: &mut [Vec<Place>]) {
    let ([(_, Kind::Result(one)), (_, Kind::Result(two))], [a, b]) = (kinds, &*sides) else { return };
    let (&[place], true) = (&a[..], a == b && one.items == two.items) else { return };
    // "Pinpoint and sluggish, left and right": words may both hold for both.
    let numbers = matches!((&one.value, &two.value), (Value::Amount(_), Value::Amount(_)));
    let respective = read.utterance.words[read.sentence.first()..read.sentence.past()]
        .iter()
        .any(|word| word.plain.starts_with("respective"));
    if !numbers && !respective {
        return;
    }
    let words = &read.utterance.words[place.first..place.past];
    let at = |side: &str| words.iter().position(|word| word.plain == side);
    if let (Said::Both, Some(left), Some(right)) = (place.said, at("left"), at("right")) {
        let order = if left < right { [Said::Left, Said::Right] } else { [Said::Right, Said::Left] };
        for (sides, said) in sides.iter_mut().zip(order) {
            *sides = vec![Place { said, ..place }];
        }
    }
}

// "There was a doctor who did his reflexes": "there" opens a sentence about what comes next, an item or something else.
fn only_opens(read: &Read<'_>, at: usize) -> bool {
    let token = &read.tokens[at];
    let word = |ix: usize| read.utterance.words.get(ix).map_or("", |word| word.plain.as_str());
    let opens = token.past == token.first + 1
        && word(token.first) == "there"
        && matches!(word(token.past), "is" | "was" | "are" | "were");
    let named = |ix: usize| !read.named[ix].is_empty() && read.tokens[ix].first <= token.past + 4;
    opens && token.past + 1 < read.sentence.past() && !(at + 1..read.tokens.len()).any(named)
}

// "It's the quiet that you get rung about": what comes behind is said of it in general.
fn is_cleft(read: &Read<'_>, at: usize) -> bool {
    let token = &read.tokens[at];
    let word =
        |ix: Option<usize>| ix.and_then(|ix| read.utterance.words.get(ix)).map_or("", |word| word.plain.as_str());
    word(token.first.checked_sub(1)) == "the"
        && matches!(word(token.first.checked_sub(2)), "is" | "was")
        && matches!(word(Some(token.past)), "that" | "which" | "who")
}

/// Words that tell of what happened.
const HAPPENED: [&str; 10] = ["had", "was", "were", "got", "needed", "given", "did", "started", "stopped", "went"];
/// ... but not of the examination itself.
const EXAMINED: [&str; 5] = ["examined", "seen", "assessed", "checked", "reviewed"];

// "Had a fit at two hours of age", "he's been here two days": when something was, or how long, and no age.
fn tells_when(read: &Read<'_>, at: usize) -> bool {
    let token = &read.tokens[at];
    let unit = token.quantity.as_ref().and_then(|quantity| quantity.spoken.unit());
    let before = read.before(token);
    let said = |words: &[&str]| before.iter().any(|word| words.contains(&word.plain.as_str()));
    let behind = read.utterance.words.get(token.past).filter(|_| token.past < read.sentence.past());
    let since_birth = behind.is_some_and(|word| matches!(word.plain.as_str(), "old" | "of"));
    let at_that_time = before.last().is_some_and(|word| word.plain == "at") && said(&HAPPENED) && !said(&EXAMINED);
    matches!(unit, Some(Unit::Hour | Unit::Day)) && (at_that_time || said(&["been"]) && !since_birth)
}

// "It's not that the suck is weak, he is full": what somebody might think is set aside.
fn is_set_aside(read: &Read<'_>, at: usize) -> bool {
    let before: Vec<&str> = read.before(&read.tokens[at]).iter().map(|word| word.plain.as_str()).collect();
    before.windows(4).any(|words| matches!(words, ["it", "is" | "was", "not", "that"]))
}

// "Present on the left, just an ordinary one": what is said next of the same item, by no other name, is of the same side.
fn said_again(kinds: &[(usize, Kind)], named: &[Vec<ItemIx>], sides: &mut [Vec<Place>]) {
    for ix in 1..kinds.len() {
        let ((from, Kind::Result(before)), (to, Kind::Result(bound))) = (&kinds[ix - 1], &kinds[ix]) else { continue };
        let renamed = named[*from + 1..=*to].iter().any(|named| !named.is_empty());
        if sides[ix].is_empty() && before.items == bound.items && !renamed {
            // "The other one hardly, so reduced": the other of the other would be the first.
            let again = |place: &Place| Place {
                said: if place.said == Said::Other { Said::That } else { place.said },
                ..*place
            };
            sides[ix] = sides[ix - 1].iter().map(again).collect();
        }
    }
}

// "Same again on the right, only one": what follows is the result, not "the same".
fn result_behind(read: &Read<'_>, at: usize) -> bool {
    let behind = read.tokens.iter().map(|token| token.segment).find(|segment| *segment > read.tokens[at].segment);
    let Some(segment) = behind else { return false };
    let next = || (0..read.tokens.len()).filter(|ix| read.tokens[*ix].segment == segment);
    let result = next().any(|ix| read.tokens[ix].is_strong_result());
    let unnamed = next().all(|ix| read.named[ix].is_empty());
    let sided = next().any(|ix| read.tokens[ix].says_one_side());
    // "Placing, same story, present on the left, weak on the right."
    let named_here = (0..read.tokens.len()).any(|ix| read.tokens[ix].segment < segment && !read.named[ix].is_empty());
    result && unnamed && (if sided { named_here } else { next().all(|ix| !read.tokens[ix].is(Word::Same)) })
}

fn named_behind(read: &Read<'_>, at: usize, kind: &Kind) -> Option<usize> {
    let Kind::Result(bound) = kind else { return None };
    let named = |ix: &usize| read.named[*ix].iter().any(|item| bound.items.contains(item));
    let first = (0..read.tokens.len()).find(named)?;
    Some(read.tokens[first].segment).filter(|segment| *segment > read.tokens[at].segment)
}

fn result_in_segment(read: &Read<'_>, at: usize) -> bool {
    let segment = read.tokens[at].segment;
    read.tokens.iter().enumerate().any(|(ix, token)| ix != at && token.segment == segment && token.is_plain_result())
}

fn names_served(read: &Read<'_>, at: usize, bound: &Bound) -> Vec<usize> {
    let serves = |ix: &usize| {
        read.named[*ix].iter().any(|item| bound.items.contains(item))
            && read.tokens[*ix].segment.abs_diff(read.tokens[at].segment) <= 1
    };
    (0..read.tokens.len()).filter(serves).collect()
}

//! Sentences → statements, in order of time.
//! Takes one sentence after another with its mentions; gives the statements said so far. Keeps what is in progress, what
//! was expected and what was said last. Leaves alone what the statements come to together (`findings`).
//!
//! "Other side? Also short." after a scarf sign without a side gives the same value for the other side

use std::collections::BTreeSet;

use crate::lexicon::{General, ItemIx, LanguageWord as Word, Lexicon, Meaning, Mention, Strength};
use crate::reading::carried_sides::both_items;
use crate::reading::clauses::Sentence;
use crate::reading::company::same_values;
use crate::reading::corrections;
use crate::reading::in_progress::Progress;
use crate::reading::negation;
use crate::reading::sides::{self, Place, Said, Wanted};
use crate::reading::stance::{Stance, stances};
use crate::reading::statements::{Side, Statement};
use crate::reading::strange::strange_words;
use crate::reading::tokens::{Token, counted_only, items_in_sentence, share_heads, tokens_of};
use crate::reading::values::{Around, Bound, Told, bind};
use crate::speech::Utterance;

/// Reads sentences in order and keeps what they leave behind.
pub struct Reader<'a> {
    pub(super) lexicon: &'a Lexicon,
    pub(super) progress: Progress,
    /// Everything said so far, whatever its stance.
    pub statements: Vec<Statement>,
    /// What was expected and may be found fulfilled.
    pub(super) expected: Option<(Bound, u32)>,
    /// A value that was asked for, and the sentences since.
    pub(super) asked: Option<(Bound, u32)>,
    /// The observed statement made last.
    pub(super) last: Option<usize>,
    /// Set behind a word of correction, until the next result.
    pub(super) correcting: bool,
}

/// Words of a sentence that only turns to another part of the body.
const MOST_WORDS_OF_A_TURN: usize = 6;

/// A sentence with everything known about it.
pub(super) struct Read<'a> {
    pub(super) sentence: &'a Sentence,
    pub(super) utterance: &'a Utterance,
    pub(super) tokens: Vec<Token>,
    pub(super) named: Vec<Vec<ItemIx>>,
    pub(super) stances: Vec<Stance>,
    pub(super) places: Vec<Place>,
    /// Strange words of each segment.
    pub(super) strange: Vec<u32>,
}

/// A result of a sentence, with its place and sides.
pub(super) struct Event {
    pub(super) kind: Kind,
    pub(super) token: usize,
    pub(super) sides: Vec<Place>,
}

/// What a result is.
pub(super) enum Kind {
    /// A value bound to its items.
    Result(Bound),
    /// "The same": the value said last.
    Same,
    /// "And he does": what was expected.
    Fulfilled,
}

impl<'a> Reader<'a> {
    /// A reader that has heard nothing yet.
    #[must_use]
    pub fn new(lexicon: &'a Lexicon) -> Self {
        Self {
            lexicon,
            progress: Progress::default(),
            statements: Vec::new(),
            expected: None,
            asked: None,
            last: None,
            correcting: false,
        }
    }

    /// Reads a sentence with the mentions of its utterance.
    pub fn read(&mut self, sentence: &Sentence, utterance: &Utterance, mentions: &[Mention]) {
        self.progress.grow_older();
        // An expectation is fulfilled in the same breath, or in the next.
        self.asked = self.asked.take().map(|(bound, age)| (bound, age + 1)).filter(|(_, age)| *age <= 1);
        self.expected = self.expected.take().map(|(bound, age)| (bound, age + 1)).filter(|(_, age)| *age <= 1);
        self.turn_to_other_limb(sentence, mentions);
        let mut in_play = items_in_sentence(self.lexicon, sentence, mentions);
        in_play.add_all(&self.progress.items);
        in_play.add_all(&self.progress.body);
        in_play.add_all(&self.progress.heading);
        for item in in_play.clone().iter() {
            in_play.add_all(&self.lexicon.items[item].members);
        }
        let mut tokens = tokens_of(self.lexicon, sentence, mentions, &in_play);
        // Words that mean nothing here change nothing.
        if tokens.is_empty() {
            return;
        }
        share_heads(self.lexicon, sentence, &utterance.words, &mut tokens);
        negation::settle(&mut tokens, sentence, &utterance.words, self.progress.asked);
        corrections::carry_units(&mut tokens);
        let stances = stances(sentence, utterance, &tokens);
        let places = sides::sides_said(sentence, utterance, &tokens, self.right_is_due());
        let named = self.settle_names(&tokens);
        let strange = strange_words(self.lexicon, sentence, utterance, mentions);
        let read = Read { sentence, utterance, tokens, named, stances, places, strange };
        let read = self.without_fulfilment(read);
        let (events, left_over) = self.events(&read);
        if events.is_empty() {
            self.both_behind(&read);
            self.side_put_right(&read);
        }
        self.take(&read, &events);
        self.move_on(&read, &events, left_over);
    }

    // "Legs flexed. And the arms?": the same is looked at in another part of the body.
    fn turn_to_other_limb(&mut self, sentence: &Sentence, mentions: &[Mention]) {
        let [current] = self.progress.items[..] else { return };
        let short = sentence.past() - sentence.first() <= MOST_WORDS_OF_A_TURN;
        let inside = |mention: &&Mention| mention.first >= sentence.first() && mention.past <= sentence.past();
        let mut bodies: Vec<ItemIx> = Vec::new();
        for mention in mentions.iter().filter(inside) {
            for meaning in mention.meanings(self.lexicon) {
                match meaning {
                    Meaning::Name(_) | Meaning::Shared(_) | Meaning::DoneBy(_) => return,
                    Meaning::Value(_, _, Strength::Alone) => return,
                    Meaning::Body(item) => bodies.push(*item),
                    _ => {}
                }
            }
        }
        let alike = |item: &&ItemIx| same_values(self.lexicon, current, **item) && self.is_counterpart(current, **item);
        if short
            && !bodies.contains(&current)
            && let Some(item) = bodies.iter().find(alike).copied()
        {
            self.progress.start(&[item], true, true);
        }
    }

    // Arm recoil and leg recoil: their names differ in the limb alone.
    fn is_counterpart(&self, one: ItemIx, other: ItemIx) -> bool {
        let head = |ix: ItemIx| self.lexicon.items[ix].name.split_once(' ').map(|(_, head)| head);
        head(one).is_some() && head(one) == head(other)
    }

    // The left of what is in progress was told last.
    fn right_is_due(&self) -> bool {
        self.last.map(|last| &self.statements[last]).is_some_and(|last| {
            last.side == Side::Left && self.progress.items == [last.item] && !self.progress.pending
        })
    }

    /// The items that each token names, shared names settled by what stands beside them or is in progress.
    fn settle_names(&self, tokens: &[Token]) -> Vec<Vec<ItemIx>> {
        let mut named = Vec::with_capacity(tokens.len());
        let mut latest: Option<ItemIx> = self.progress.items.first().copied();
        for token in tokens {
            let items = if token.names.is_empty() && !token.shared.is_empty() {
                vec![self.settle_shared(tokens, token, latest)]
            } else {
                token.names.clone()
            };
            latest = items.first().copied().or(latest);
            named.push(items);
        }
        named
    }

    fn settle_shared(&self, tokens: &[Token], token: &Token, latest: Option<ItemIx>) -> ItemIx {
        let region = |ix: ItemIx| &self.lexicon.items[ix].region;
        let weigh = |item: ItemIx| {
            let mut weight = 0;
            if tokens.iter().any(|t| t.body.contains(&item) && t.segment == token.segment) {
                weight += 16;
            }
            if tokens.iter().any(|t| t.body.contains(&item) || t.done_by.contains(&item)) {
                weight += 8;
            }
            if self.progress.items.contains(&item) {
                weight += 4;
            }
            if latest.is_some_and(|other| region(other) == region(item)) {
                weight += 3;
            }
            if self.progress.body.contains(&item) {
                weight += 4;
            }
            weight
        };
        let mut best = token.shared[0];
        for item in &token.shared {
            if weigh(*item) > weigh(best) {
                best = *item;
            }
        }
        best
    }

    fn events(&self, read: &Read<'_>) -> (Vec<Event>, Option<Place>) {
        let mut served = BTreeSet::new();
        let mut kinds: Vec<(usize, Kind)> = Vec::new();
        for (at, token) in read.tokens.iter().enumerate() {
            if token.is(Word::Same) && !result_in_segment(read, at) && !result_behind(read, at) {
                kinds.push((at, Kind::Same));
            } else if token.is(Word::Fulfilled) && self.expects(read, at) {
                kinds.push((at, Kind::Fulfilled));
            } else if token.is_result() {
                let around = Around {
                    lexicon: self.lexicon,
                    tokens: &read.tokens,
                    progress: &self.progress,
                    named: &read.named,
                    served: &served,
                    has_side: !read.places.is_empty(),
                    strange: &read.strange,
                    words: &read.utterance.words,
                };
                if counted_only(&read.tokens, at) || self.only_sides(read, at) || only_opens(read, at) {
                    continue;
                }
                if let Some(bound) = self.answered(read, at) {
                    kinds.push((at, Kind::Result(bound)));
                } else if let Some(bound) =
                    bind(&around, at).and_then(|bound| negation::apply(self.lexicon, &read.tokens, bound))
                    && !negation::is_circumstance(self.lexicon, read, &bound)
                {
                    served.extend(names_served(read, at, &bound));
                    kinds.push((at, Kind::Result(bound)));
                }
            }
        }
        for (at, bound) in negation::denied_names(self.lexicon, &read.tokens, &read.named, &served) {
            kinds.push((at, Kind::Result(bound)));
        }
        for (at, bound) in negation::names_had(self.lexicon, &read.tokens, &read.named) {
            kinds.push((at, Kind::Result(bound)));
        }
        kinds.sort_by_key(|(at, _)| *at);
        self.with_sides(read, kinds)
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
            let near = last.because.quote.utterance + 1 >= read.sentence.utterance;
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
        let assigned =
            sides::assign(read.sentence, read.utterance, &read.tokens, &read.places, &wanted, &self.boundaries(read));
        let mut sides = assigned.sides;
        said_again(&kinds, &read.named, &mut sides);
        share_out(read, &kinds, &mut sides);
        let events = kinds
            .into_iter()
            .zip(sides)
            .map(|((token, kind), sides)| Event {
                kind,
                token,
                sides: corrections::standing(&read.tokens, both_items(read, sides)),
            })
            .filter_map(|event| negation::by_neither(self.lexicon, &read.tokens, event))
            .collect();
        (events, assigned.left_over)
    }

    // A side said with one item does not hold for the next item of the sentence: "left biceps two, triceps one".
    fn boundaries(&self, read: &Read<'_>) -> Vec<usize> {
        let mut boundaries = Vec::new();
        let mut seen: Option<&Vec<ItemIx>> = None;
        for (named, token) in read.named.iter().zip(&read.tokens) {
            if named.is_empty() {
                continue;
            }
            // "Left biceps, I mean triceps": the item was wrong, not the side.
            let corrected = read.tokens.iter().any(|t| t.is(Word::Replace) && t.past <= token.first && t.segment + 1 >= token.segment);
            if seen.is_some_and(|items| items != named) && !corrected {
                boundaries.push(token.segment);
            }
            seen = Some(named);
        }
        boundaries
    }

    // "And there it is" fulfils an expectation, or else says that something is there.
    fn without_fulfilment<'r>(&self, mut read: Read<'r>) -> Read<'r> {
        for at in 0..read.tokens.len() {
            if read.tokens[at].is(Word::Fulfilled) && read.tokens[at].generals.is_empty() && !self.expects(&read, at) {
                read.tokens[at].generals.push(General::There);
            }
        }
        read
    }

    fn expects(&self, read: &Read<'_>, at: usize) -> bool {
        let segment = read.tokens[at].segment;
        self.expected.is_some() || read.stances.iter().take(segment + 1).any(|stance| *stance == Stance::Expected)
    }

    fn take(&mut self, read: &Read<'_>, events: &[Event]) {
        for (at, token) in read.tokens.iter().enumerate() {
            let addressed = read.stances[token.segment] == Stance::Addressed;
            if token.is(Word::Withdraw) {
                self.withdraw();
            } else if token.is(Word::Swap) && read.stances[token.segment] == Stance::Observed {
                self.swap();
            } else if !addressed && token.is(Word::Replace) && self.last.is_some() {
                self.correcting = true;
            }
            for event in events.iter().filter(|event| event.token == at && !is_left_alone(events, event)) {
                self.happen(read, event);
            }
        }
    }

    fn happen(&mut self, read: &Read<'_>, event: &Event) {
        let stance = read.stances[read.tokens[event.token].segment];
        match &event.kind {
            Kind::Result(bound) => {
                let decided = matches!(bound.general, Some(General::NotTested | General::NotElicited));
                let of_birth = self.lexicon.items[bound.items[0]].told_as_history && stance == Stance::History;
                let observed = stance == Stance::Observed
                    || of_birth
                    || decided
                        && (matches!(stance, Stance::Planned | Stance::Expected)
                            || stance == Stance::Conditional && would_only(read));
                if stance == Stance::Asked {
                    self.asked = Some((bound.clone(), 0));
                }
                if stance == Stance::Expected {
                    self.expected = Some((bound.clone(), 0));
                }
                let stance = if observed { Stance::Observed } else { stance };
                self.state(read, event, bound, stance);
            }
            Kind::Fulfilled => {
                if let Some((bound, _)) = self.expected.take() {
                    self.state(read, event, &bound, Stance::Observed);
                }
            }
            Kind::Same if stance == Stance::Observed => self.same(read, event),
            Kind::Same => {}
        }
    }

    fn move_on(&mut self, read: &Read<'_>, events: &[Event], left_over: Option<Place>) {
        let strange = read.strange.iter().sum::<u32>();
        self.progress.strange += strange;
        let of_trade = |token: &Token| token.is_strong_result() || !token.body.is_empty() || !token.done_by.is_empty();
        self.progress.digressed |= read.sentence.question
            && strange > 0
            && read.named.iter().all(Vec::is_empty)
            && !read.tokens.iter().any(of_trade);
        let moves = |segment: usize| !matches!(read.stances[segment], Stance::History | Stance::Reported);
        let mut started: Option<usize> = None;
        for (ix, token) in read.tokens.iter().enumerate() {
            if !moves(token.segment) {
                continue;
            }
            if !read.named[ix].is_empty() {
                self.start_names(read, ix, started);
                started = Some(ix);
            } else if started.is_none() && !token.done_by.is_empty() && !keeps(&self.progress, &token.done_by) {
                self.progress.start(&token.done_by[..1], token.plural, true);
            }
            if !token.body.is_empty() {
                let whole = (read.sentence.first(), read.sentence.past()) == (token.first, token.past);
                if whole {
                    self.progress.heading.clone_from(&token.body);
                }
                self.progress.body.clone_from(&token.body);
                self.progress.body_age = 0;
            }
            if token.done_by.iter().any(|item| self.progress.items.contains(item)) {
                self.progress.age = 0;
                self.progress.plural |= token.plural;
            }
        }
        for event in events {
            if let Kind::Result(bound) = &event.kind {
                if !self.progress.items.contains(&bound.items[0])
                    && started.is_none()
                    && moves(read.tokens[event.token].segment)
                {
                    self.progress.start(&bound.items, false, bound.told == Told::Named);
                }
                let observed = read.stances[read.tokens[event.token].segment] == Stance::Observed;
                if observed && self.progress.items.contains(&bound.items[0]) {
                    self.progress.answered();
                }
            }
        }
        let expects =
            |token: &Token| token.is(Word::Expectation) || token.is(Word::Condition) || token.is(Word::Teaching);
        if read.sentence.question && started.is_some() && !read.tokens.iter().any(expects) {
            self.progress.asked = true;
        }
        let infant: Vec<&String> =
            self.lexicon.items.iter().filter(|item| !item.unit_at_start.is_empty()).map(|item| &item.region).collect();
        self.progress.begun |=
            self.progress.items.iter().any(|item| !infant.contains(&&self.lexicon.items[*item].region));
        // "No, hang on, let me flex that again. It's normal."
        self.progress.pending |= self.correcting || events.is_empty() && read.tokens.iter().any(|t| t.is(Word::Repeat));
        if let Some(place) = left_over {
            self.progress.side = Some(place.said);
            self.progress.age = 0;
        } else if !events.is_empty() {
            self.progress.side = self.side_asked(read, events);
            self.progress.pending |= self.progress.side.is_some();
        }
    }

    // "Right, a hundred and forty? That can't be. Ninety.": the answer is of the side that was asked for.
    fn side_asked(&self, read: &Read<'_>, events: &[Event]) -> Option<Said> {
        let last = events.last()?;
        let Kind::Result(bound) = &last.kind else { return None };
        let open = matches!(read.stances[read.tokens[last.token].segment], Stance::Asked | Stance::Expected)
            && self.progress.items == bound.items;
        last.sides.last().filter(|_| open).map(|place| place.said)
    }

    // "Biceps, triceps, knees" without a result between are in progress together.
    fn start_names(&mut self, read: &Read<'_>, ix: usize, before: Option<usize>) {
        let token = &read.tokens[ix];
        let joined = before.is_some_and(|before| {
            let other = &read.tokens[before];
            !read.tokens[before..ix].iter().any(Token::is_result) && token.first - other.past <= 2
        });
        let mut items = if joined { self.progress.items.clone() } else { Vec::new() };
        for item in &read.named[ix] {
            if !items.contains(item) {
                items.push(*item);
            }
        }
        // "Next the biceps on the right. Sorry, the triceps.": the side stays.
        let side = self.progress.side.filter(|_| self.correcting && self.progress.pending);
        self.progress.start(&items, token.plural, true);
        self.progress.side = self.progress.side.or(side);
    }
}

// "Eighty and ninety, left and right respectively."
fn share_out(read: &Read<'_>, kinds: &[(usize, Kind)], sides: &mut [Vec<Place>]) {
    let ([(_, Kind::Result(one)), (_, Kind::Result(two))], [a, b]) = (kinds, &*sides) else { return };
    let (&[place], true) = (&a[..], a == b && one.items == two.items) else { return };
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

// "The left I'll leave, his mum's got that foot": once an item is left alone, nothing of it is "there".
fn is_left_alone(events: &[Event], event: &Event) -> bool {
    let Kind::Result(bound) = &event.kind else { return false };
    let left = |other: &Event| match &other.kind {
        Kind::Result(before) => {
            let sides = |event: &Event| event.sides.iter().map(|place| place.said).collect::<Vec<_>>();
            before.general == Some(General::NotTested) && before.items == bound.items && sides(other) == sides(event)
        }
        _ => false,
    };
    let before = events.iter().take_while(|other| other.token < event.token);
    bound.general == Some(General::There) && before.into_iter().any(left)
}

// "I'd planned it, but we'll skip it": no condition was made.
fn would_only(read: &Read<'_>) -> bool {
    let mut conditions = read.tokens.iter().filter(|token| token.is(Word::Condition));
    conditions.all(|token| read.utterance.words[token.first..token.past].iter().any(|word| word.plain == "would"))
}

fn keeps(progress: &Progress, done_by: &[ItemIx]) -> bool {
    progress.age <= 2 && done_by.iter().any(|item| progress.items.contains(item))
}

// "Same again on the right, only one": what follows is the result, not "the same".
fn result_behind(read: &Read<'_>, at: usize) -> bool {
    let behind = |ix: &usize| read.tokens[*ix].segment > read.tokens[at].segment;
    let first_behind = (0..read.tokens.len()).filter(behind).map(|ix| read.tokens[ix].segment).next();
    let segment = first_behind.unwrap_or(read.tokens[at].segment + 1);
    let next: Vec<usize> = (0..read.tokens.len()).filter(|ix| read.tokens[*ix].segment == segment).collect();
    // "Placing, same story, present on the left, weak on the right."
    let named_here = (0..read.tokens.len()).any(|ix| read.tokens[ix].segment < segment && !read.named[ix].is_empty());
    let sided = |ix: &usize| read.tokens[*ix].is(Word::SideLeft) || read.tokens[*ix].is(Word::SideRight);
    if named_here && next.iter().any(sided) && next.iter().any(|ix| read.tokens[*ix].is_strong_result()) {
        return next.iter().all(|ix| read.named[*ix].is_empty());
    }
    let own_side = |token: &Token| token.is(Word::SideLeft) || token.is(Word::SideRight);
    next.iter().any(|ix| read.tokens[*ix].is_strong_result())
        && next
            .iter()
            .all(|ix| read.named[*ix].is_empty() && !own_side(&read.tokens[*ix]) && !read.tokens[*ix].is(Word::Same))
}

fn named_behind(read: &Read<'_>, at: usize, kind: &Kind) -> Option<usize> {
    let Kind::Result(bound) = kind else { return None };
    let named = |ix: &usize| read.named[*ix].iter().any(|item| bound.items.contains(item));
    let first = (0..read.tokens.len()).find(named)?;
    Some(read.tokens[first].segment).filter(|segment| *segment > read.tokens[at].segment)
}

fn result_in_segment(read: &Read<'_>, at: usize) -> bool {
    let segment = read.tokens[at].segment;
    read.tokens.iter().enumerate().any(|(ix, token)| {
        ix != at && token.segment == segment && (token.is_strong_result() || !token.generals.is_empty())
    })
}

fn names_served(read: &Read<'_>, at: usize, bound: &Bound) -> Vec<usize> {
    let serves = |ix: &usize| {
        read.named[*ix].iter().any(|item| bound.items.contains(item))
            && read.tokens[*ix].segment.abs_diff(read.tokens[at].segment) <= 1
    };
    (0..read.tokens.len()).filter(serves).collect()
}

//! Sentences → statements, in order of time.
//! Takes one sentence after another with its mentions; gives the statements said so far. Keeps what is in progress, what
//! was expected and what was said last. Leaves alone what the statements come to together (`findings`).
//!
//! "Other side? Also short." after a scarf sign without a side gives the same value for the other side

use crate::lexicon::{General, Hearing, ItemIx, ItemSet, LanguageWord as Word, Lexicon, Mention};
use crate::reading::apart::set_apart;
use crate::reading::clauses::Sentence;
use crate::reading::corrections;
use crate::reading::in_progress::Progress;
use crate::reading::negation;
use crate::reading::sides::{self, Place};
use crate::reading::stance::{Stance, stances};
use crate::reading::statements::{Side, Statement};
use crate::reading::strange::strange_words;
use crate::reading::tokens::{Token, items_in_sentence, leave_out_compared, share_heads, tokens_of};
use crate::reading::values::Bound;
use crate::speech::{Utterance, Word as Spoken};

/// Reads sentences in order and keeps what they leave behind.
#[derive(Clone)]
pub struct Reader<'a> {
    pub(super) lexicon: &'a Lexicon,
    /// Items of the infant itself, of which a unit tells while nothing else has been spoken of.
    pub(super) infant: ItemSet,
    pub(super) progress: Progress,
    pub(super) hearing: Hearing,
    /// For each utterance, whether its last number may go on in the next one.
    pub(super) runs_on: Vec<bool>,
    /// Everything said so far, whatever its stance.
    pub statements: Vec<Statement>,
    /// Utterances that meant anything, each with how many there were up to it.
    spoken: Vec<(usize, usize)>,
    /// What was expected and may be found fulfilled.
    pub(super) expected: Option<(Bound, u32)>,
    /// A value that was asked for, and the sentences since.
    pub(super) asked: Option<(Bound, u32)>,
    /// A statement whose manoeuvre was done again, or that was called wrong, with no result since; and the sentences since.
    pub(super) reopened: Option<(usize, u32)>,
    /// The observed statement made last.
    pub(super) last: Option<usize>,
    /// Set behind a word of correction, until the next result.
    pub(super) correcting: bool,
}

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

impl Read<'_> {
    /// The words of a token's segment before it.
    pub(super) fn before(&self, token: &Token) -> &[Spoken] {
        &self.utterance.words[self.sentence.segments[token.segment].first..token.first]
    }
}

/// A result of a sentence, with its place and sides.
pub(super) struct Event {
    pub(super) kind: Kind,
    pub(super) token: usize,
    pub(super) sides: Vec<Place>,
    /// Whether its sides can be understood in two ways.
    pub(super) unsure: bool,
}

/// What a result is.
pub(super) enum Kind {
    /// A value bound to its items.
    Result(Bound),
    /// A value denied that has no contrary: "no, not bulging".
    Denied(Bound),
    /// "The same": the value said last.
    Same,
    /// "And he does": what was expected.
    Fulfilled,
}

impl<'a> Reader<'a> {
    /// A reader that has heard nothing yet.
    #[must_use]
    pub fn new(lexicon: &'a Lexicon) -> Self {
        let regions = lexicon.items.iter().filter(|item| !item.unit_at_start.is_empty()).map(|item| &item.region);
        let regions: Vec<&String> = regions.collect();
        let mut infant = ItemSet::default();
        (0..lexicon.items.len())
            .filter(|item| regions.contains(&&lexicon.items[*item].region))
            .for_each(|item| infant.add(item));
        Self {
            lexicon,
            infant,
            progress: Progress::default(),
            hearing: Hearing::Well,
            runs_on: Vec::new(),
            statements: Vec::new(),
            spoken: Vec::new(),
            expected: None,
            asked: None,
            reopened: None,
            last: None,
            correcting: false,
        }
    }

    /// Reads a sentence with the mentions of its utterance.
    pub fn read(&mut self, sentence: &Sentence, utterance: &Utterance, mentions: &[Mention]) {
        self.turn_to_other_limb(sentence, mentions);
        let mut in_play = items_in_sentence(self.lexicon, sentence, mentions);
        in_play.add_all(&self.progress.items);
        in_play.add_all(&self.progress.body);
        in_play.add_all(&self.progress.heading);
        for item in in_play.clone().iter() {
            in_play.add_all(&self.lexicon.items[item].members);
        }
        let mut tokens = tokens_of(self.lexicon, sentence, mentions, &in_play);
        // Words that mean nothing here change nothing, and make nothing older.
        if tokens.iter().all(is_chatter) {
            // "Who's parked in the bay? Good, they've moved it": only a question leads to an answer.
            let asks = sentence.question && !tokens.is_empty() && !tokens.iter().any(|token| token.is(Word::Address));
            self.progress.digressed |= asks;
            return;
        }
        self.grow_older(sentence.utterance);
        leave_out_compared(sentence, &utterance.words, &mut tokens);
        share_heads(self.lexicon, sentence, &utterance.words, &mut tokens);
        negation::settle(&mut tokens, sentence, &utterance.words, self.progress.asked);
        set_apart(sentence, &utterance.words, &mut tokens);
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

    fn grow_older(&mut self, utterance: usize) {
        self.progress.grow_older();
        self.asked = for_one_more(self.asked.take());
        self.expected = for_one_more(self.expected.take());
        let count = self.spoken.last().map_or(0, |(_, count)| *count);
        if self.spoken.last().is_none_or(|(last, _)| *last != utterance) {
            self.spoken.push((utterance, count + 1));
        }
    }

    /// Utterances since a statement was made, those that mean nothing here left out.
    pub(super) fn since(&self, statement: &Statement) -> usize {
        let at = |utterance: usize| {
            let place = self.spoken.partition_point(|(spoken, _)| *spoken <= utterance);
            place.checked_sub(1).map_or(0, |place| self.spoken[place].1)
        };
        self.spoken.last().map_or(0, |(_, count)| count - at(statement.because.quote.utterance))
    }

    /// Facts about the infant that a unit alone may tell: while nothing else has been spoken of, each once. "Eleven days
    /// old. Sedation stopped at four, so twelve hours clear."
    pub(super) fn open_at_start(&self) -> ItemSet {
        let mut open = ItemSet::default();
        let told =
            |item: ItemIx| self.statements.iter().any(|said| said.item == item && said.stance == Stance::Observed);
        if !self.progress.begun {
            self.infant.iter().filter(|item| !told(*item)).for_each(|item| open.add(item));
        }
        open
    }

    // The left of what is in progress was told last.
    fn right_is_due(&self) -> bool {
        self.last
            .map(|last| &self.statements[last])
            .is_some_and(|last| last.side == Side::Left && self.progress.items == [last.item] && !self.progress.pending)
    }

    /// The items that each token names, shared names settled by what stands beside them or is in progress.
    fn settle_names(&self, tokens: &[Token]) -> Vec<Vec<ItemIx>> {
        let mut named = Vec::with_capacity(tokens.len());
        let mut latest: Option<ItemIx> = self.progress.items.first().copied();
        for token in tokens {
            let unpaired = || token.shared.iter().all(|item| !self.lexicon.items[*item].paired);
            let both = || tokens.iter().any(|other| other.is(Word::SideBoth) && other.past == token.first);
            let items = if token.names.is_empty() && !token.shared.is_empty() {
                // "Both suspensions: not done."
                if both() && unpaired() {
                    token.shared.clone()
                } else {
                    vec![self.settle_shared(tokens, token, latest)]
                }
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
            // "Movement absent on the left" is a limb's.
            if self.lexicon.items[item].paired && tokens.iter().any(|t| t.segment == token.segment && t.says_one_side())
            {
                weight += 8;
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
            Kind::Denied(bound) if stance == Stance::Observed => self.take_back(read, bound),
            Kind::Denied(_) => {}
            Kind::Same if stance == Stance::Observed => self.same(read, event),
            Kind::Same => {}
        }
    }
}

// "Could somebody shut the door, please?": words to somebody, and nothing of the trade.
fn is_chatter(token: &Token) -> bool {
    const TALK: [Word; 4] = [Word::Address, Word::Question, Word::Condition, Word::Plan];
    let mut other = token.words;
    TALK.iter().for_each(|word| other.remove(*word));
    other.is_empty()
        && !token.words.is_empty()
        && !token.is_result()
        && token.quantity.is_none()
        && [&token.names, &token.shared, &token.done_by, &token.body].iter().all(|items| items.is_empty())
}

// An expectation is fulfilled, and a question answered, in the same breath or in the next.
fn for_one_more(open: Option<(Bound, u32)>) -> Option<(Bound, u32)> {
    open.map(|(bound, age)| (bound, age + 1)).filter(|(_, age)| *age <= 1)
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

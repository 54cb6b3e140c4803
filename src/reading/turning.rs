//! What is in progress once a sentence was read.
//! Takes a sentence with its results; changes what is in progress: items named or done, the side announced, the part of
//! the body. Leaves alone the results themselves (`events`).
//!
//! "Legs flexed. And the arms?" turns from the posture of the legs to that of the arms

use crate::lexicon::{ItemIx, LanguageWord as Word, Meaning, Mention, Strength};
use crate::reading::clauses::Sentence;
use crate::reading::company::same_values;
use crate::reading::in_progress::Progress;
use crate::reading::reader::{Event, Kind, Read, Reader};
use crate::reading::sides::{Place, Said};
use crate::reading::stance::Stance;
use crate::reading::statements::Reason;
use crate::reading::tokens::{Token, inside};
use crate::reading::values::Told;

/// Words of a sentence that only turns to another part of the body.
const MOST_WORDS_OF_A_TURN: usize = 6;

/// Sentences within which a manoeuvre done again has its result.
const MOST_SENTENCES_OF_A_REPEAT: u32 = 4;

impl Reader<'_> {
    // "Legs flexed. And the arms?": the same is looked at in another part of the body.
    pub(super) fn turn_to_other_limb(&mut self, sentence: &Sentence, mentions: &[Mention]) {
        let [current] = self.progress.items[..] else { return };
        if sentence.past() - sentence.first() > MOST_WORDS_OF_A_TURN {
            return;
        }
        let mut bodies: Vec<ItemIx> = Vec::new();
        for mention in inside(sentence, mentions) {
            for meaning in mention.meanings(self.lexicon) {
                match meaning {
                    Meaning::Name(_)
                    | Meaning::Shared(_)
                    | Meaning::DoneBy(_)
                    | Meaning::Value(_, _, Strength::Alone) => return,
                    Meaning::Body(item) => bodies.push(*item),
                    _ => {}
                }
            }
        }
        let alike = |item: &&ItemIx| same_values(self.lexicon, current, **item) && self.is_counterpart(current, **item);
        if !bodies.contains(&current)
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

    // "Bell. No response. Bell again, nearer.": what is done again, or called wrong, has a result to come; where none is
    // understood, the one before is doubtful.
    fn reopen(&mut self, read: &Read<'_>, events: &[Event]) {
        if let Some((open, age)) = self.reopened.take() {
            let same_item = self.progress.items == [self.statements[open].item];
            if age < MOST_SENTENCES_OF_A_REPEAT && same_item {
                self.reopened = Some((open, age + 1));
            } else {
                self.statements[open].doubt(Reason::ValueUncertain);
            }
        }
        let again = |token: &Token| token.is(Word::Repeat) && !read.stances[token.segment].is_elsewhere();
        let named = |last: usize| {
            read.named.iter().all(|named| named.is_empty() || named.contains(&self.statements[last].item))
        };
        let result = events.iter().any(|event| matches!(event.kind, Kind::Result(_) | Kind::Same | Kind::Fulfilled));
        // "The left foot's jerking again, and it doesn't stop when I hold it" does nothing again.
        let short = read.sentence.past() - read.sentence.first() <= MOST_WORDS_OF_A_TURN;
        // "Weak, no, give him a second": called wrong in the same breath, with no other result behind.
        let last_result = events.iter().map(|event| event.token).max();
        let wrong = read.tokens.iter().enumerate().any(|(at, token)| {
            token.is(Word::Replace)
                && last_result.is_some_and(|last| at > last && read.tokens[last].segment < token.segment)
                && !read.stances[token.segment].is_elsewhere()
                && !read.places.iter().any(|place| place.first >= token.past)
        });
        if wrong {
            self.reopened = self.last.map(|last| (last, 0));
        }
        if !result
            && (short && read.tokens.iter().any(again) || calls_wrong(read))
            && let Some(last) = self.last.filter(|last| named(*last))
            && self.since(&self.statements[last]) <= 1
        {
            self.reopened = Some((last, 0));
        }
    }

    /// Doubts what was left open at the end of the narration.
    pub(super) fn finish(&mut self) {
        if let Some((open, _)) = self.reopened.take() {
            self.statements[open].doubt(Reason::ValueUncertain);
        }
    }

    pub(super) fn move_on(&mut self, read: &Read<'_>, events: &[Event], left_over: Option<Place>) {
        self.drift(read);
        self.reopen(read, events);
        let mut started: Option<usize> = None;
        for (ix, token) in read.tokens.iter().enumerate() {
            if read.stances[token.segment].is_elsewhere() {
                continue;
            }
            if !read.named[ix].is_empty() {
                self.start_names(read, ix, started);
                started = Some(ix);
            // "Could you hold the torch, please?" begins nothing.
            } else if started.is_none()
                && !token.done_by.is_empty()
                && !read.tokens.iter().any(|other| other.is(Word::Address) && other.segment == token.segment)
                && !keeps(&self.progress, &token.done_by)
            {
                self.progress.start(&token.done_by[..1], token.plural, true);
            }
            self.look_at(read, token);
            if token.done_by.iter().any(|item| self.progress.items.contains(item)) {
                self.progress.age = 0;
                self.progress.plural |= token.plural;
            }
        }
        self.answer(read, events, started.is_none());
        let expects =
            |token: &Token| token.is(Word::Expectation) || token.is(Word::Condition) || token.is(Word::Teaching);
        if read.sentence.question && started.is_some() && !read.tokens.iter().any(expects) {
            self.progress.asked = true;
        }
        self.progress.begun |= self.progress.items.iter().any(|item| !self.infant.contains(*item));
        // "No, hang on, let me flex that again. It's normal."
        self.progress.pending |= self.correcting || events.is_empty() && read.tokens.iter().any(|t| t.is(Word::Repeat));
        match left_over {
            Some(place) => self.wait_for_side(read, place, started.is_some()),
            None if !events.is_empty() => {
                self.progress.side = self.side_asked(read, events);
                self.progress.pending |= self.progress.side.is_some();
            }
            None => {}
        }
    }

    fn look_at(&mut self, read: &Read<'_>, token: &Token) {
        if token.body.is_empty() {
            return;
        }
        if (read.sentence.first(), read.sentence.past()) == (token.first, token.past) {
            self.progress.heading.clone_from(&token.body);
        }
        self.progress.body.clone_from(&token.body);
        self.progress.body_age = 0;
    }

    // A side without a result holds for what comes next. "The left foot's jerking" is no new side of the rooting before.
    fn wait_for_side(&mut self, read: &Read<'_>, place: Place, started: bool) {
        self.progress.side = Some(place.said);
        let mut bodies = read.tokens.iter().filter(|token| !token.body.is_empty()).peekable();
        let of_it = |token: &Token| token.body.iter().any(|item| self.progress.items.contains(item));
        if started || bodies.peek().is_none() || bodies.any(of_it) {
            self.progress.age = 0;
        }
    }

    // Strange words lead away from what is in progress, and a question full of them to something else.
    fn drift(&mut self, read: &Read<'_>) {
        let strange = read.strange.iter().sum::<u32>();
        self.progress.strange += strange;
        let of_trade = |token: &Token| token.is_strong_result() || !token.body.is_empty() || !token.done_by.is_empty();
        // "How does one tell it from a tremor? Good.": a student is praised.
        let opening = read.utterance.words.get(read.sentence.first()).map_or("", |word| word.plain.as_str());
        let quizzes = matches!(opening, "how" | "why" | "who" | "which" | "when");
        self.progress.digressed |= read.sentence.question
            && (strange > 0 || quizzes)
            && read.named.iter().all(Vec::is_empty)
            && !read.tokens.iter().any(of_trade);
    }

    // A result puts its item in progress where nothing was named, and answers what is in progress.
    fn answer(&mut self, read: &Read<'_>, events: &[Event], unnamed: bool) {
        for event in events {
            let Kind::Result(bound) = &event.kind else { continue };
            let stance = read.stances[read.tokens[event.token].segment];
            if !self.progress.items.contains(&bound.items[0]) && unnamed && !stance.is_elsewhere() {
                self.progress.start(&bound.items, false, bound.told == Told::Named);
            }
            if stance == Stance::Observed && self.progress.items.contains(&bound.items[0]) {
                self.progress.answered();
            }
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

// "Hands are open. I tell a lie.": called wrong in the next breath; "wait" alone is said to anybody.
fn calls_wrong(read: &Read<'_>) -> bool {
    let first = read.tokens.first().filter(|token| token.first <= read.sentence.first() + 1);
    let calls = |token: &Token| {
        token.is(Word::Replace)
            && token.past - token.first > 1
            && !read.stances[token.segment].is_elsewhere()
            && read.places.is_empty()
    };
    first.is_some_and(calls)
}

fn keeps(progress: &Progress, done_by: &[ItemIx]) -> bool {
    progress.age <= 2 && done_by.iter().any(|item| progress.items.contains(item))
}

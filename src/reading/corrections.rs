//! Corrections, withdrawals, "the same" and "the other way round".
//! Takes what was said so far and the words that correct it; changes or adds statements. Nothing is deleted: a statement
//! that is taken back stays with the stance `withdrawn`.
//! Leaves alone a plain later value for the same item and side: there the later one stands by itself (`findings`).
//!
//! "left, sorry, right" leaves right

use crate::lexicon::{How, ItemIx, LanguageWord as Word, Strength};
use crate::reading::company::same_values;
use crate::reading::doubts;
use crate::reading::reader::{Event, Read, Reader};
use crate::reading::sides::{Place, Said};
use crate::reading::stance::Stance;
use crate::reading::statements::{Evidence, Reason, Side, Statement};
use crate::reading::strange;
use crate::reading::the_rest::{is_of_the_rest, side_left};
use crate::reading::tokens::Token;
use crate::reading::values::{Bound, Value, general_value};
use crate::span::Span;

/// The sides that stand: of two with a word of correction between them, the later one.
#[must_use]
pub(super) fn standing(tokens: &[Token], sides: Vec<Place>) -> Vec<Place> {
    let mut standing: Vec<Place> = Vec::new();
    for place in sides {
        let corrected = standing.last().is_some_and(|before| {
            tokens.iter().any(|t| t.is(Word::Replace) && t.first >= before.past && t.past <= place.first)
        });
        if corrected {
            standing.clear();
        }
        standing.push(place);
    }
    standing
}

/// "Thirty hours old, sorry, thirty-three": the corrected number keeps the unit.
pub(super) fn carry_units(tokens: &mut [Token]) {
    let mut unit = None;
    let mut corrected = false;
    for token in tokens.iter_mut() {
        corrected |= token.is(Word::Replace);
        let Some(quantity) = token.quantity.take() else { continue };
        let said = quantity.spoken.unit();
        token.quantity = Some(match (said, unit) {
            (None, Some(unit)) if corrected => quantity.or_in(unit),
            _ => quantity,
        });
        unit = said.or(unit);
        corrected = false;
    }
}

impl Reader<'_> {
    /// Takes back the statement made last.
    pub(super) fn withdraw(&mut self) {
        if let Some(last) = self.last {
            let quote = self.statements[last].because.quote;
            let (item, side) = (self.statements[last].item, self.statements[last].side);
            // "Moro weak on both sides. Scratch that, incomplete": the new result is of the same item and side.
            self.progress.start(&[item], false, true);
            self.progress.pending = true;
            self.progress.side = match side {
                Side::Left => Some(Said::Left),
                Side::Right => Some(Said::Right),
                Side::Both => Some(Said::Both),
                Side::Unstated | Side::None => None,
            };
            for statement in &mut self.statements {
                if statement.because.quote == quote && statement.stance == Stance::Observed {
                    statement.stance = Stance::Withdrawn;
                }
            }
            self.last = self.statements.iter().rposition(|statement| statement.stance == Stance::Observed);
            self.correcting = true;
        }
    }

    /// "Bulging. ... No, not bulging.": what is denied and was said last is taken back. "Rooting, to the right weak. To the
    /// left, not weak": of the other side it stays.
    pub(super) fn take_back(&mut self, read: &Read<'_>, bound: &Bound) {
        let Some(last) = self.last else { return };
        let statement = &mut self.statements[last];
        let other_side = read.places.iter().any(|place| place.said.single() == Some(statement.side.opposite()));
        if statement.item == bound.items[0] && statement.value == bound.value && !other_side {
            statement.stance = Stance::Withdrawn;
            self.last = self.statements.iter().rposition(|statement| statement.stance == Stance::Observed);
        }
    }

    /// Exchanges the sides of the item spoken of last.
    pub(super) fn swap(&mut self) {
        let Some(item) = self.last.map(|last| self.statements[last].item) else { return };
        for statement in self.statements.iter_mut().filter(|s| s.item == item && s.stance == Stance::Observed) {
            statement.side = statement.side.opposite();
        }
    }

    /// Adds a statement for every item of a result, group members written out.
    pub(super) fn state(&mut self, read: &Read<'_>, event: &Event, bound: &Bound, stance: Stance) {
        let mut made = Vec::new();
        let rest = is_of_the_rest(read, event.token);
        for item in &bound.items {
            let members = &self.lexicon.items[*item].members;
            let targets: Vec<ItemIx> = if members.is_empty() { vec![*item] } else { members.clone() };
            for target in targets {
                let general = || general_value(&self.lexicon.items[target], bound.general?).map(Value::Choice);
                let carried = self.carried(bound.items[0], target, &bound.value);
                let Some(value) = carried.or_else(general) else { continue };
                let statement = self.statement(read, event, bound, (target, value, !members.is_empty(), *item), stance);
                let statement = if rest { self.of_the_rest(statement) } else { Some(statement) };
                made.extend(statement.and_then(|statement| without_exception(read, event, statement)));
            }
        }
        for statement in made {
            self.push(statement);
        }
        self.correcting = false;
    }

    // "Ankles brisk, the rest two": of the ankles it was said already.
    fn of_the_rest(&self, statement: Statement) -> Option<Statement> {
        let side = side_left(&self.statements, statement.item, statement.side)?;
        Some(Statement { side, ..statement })
    }

    /// A value of one item as a value of another; nothing where the other does not know it.
    fn carried(&self, from: ItemIx, to: ItemIx, value: &Value) -> Option<Value> {
        match value {
            Value::Choice(ix) => {
                self.lexicon.items[to].value(&self.lexicon.items[from].values[*ix].id).map(Value::Choice)
            }
            Value::Amount(amount) => Some(Value::Amount(*amount)),
        }
    }

    fn statement(
        &self,
        read: &Read<'_>,
        event: &Event,
        bound: &Bound,
        (item, value, by_group, said_of): (ItemIx, Value, bool, ItemIx),
        stance: Stance,
    ) -> Statement {
        let token = &read.tokens[event.token];
        let mut side = self.side_of(read, event, said_of);
        let not_tested = matches!(&value, Value::Choice(ix) if self.lexicon.items[item].values[*ix].id == "not-tested");
        // "Tone in the left arm" is said of one limb, not of a group.
        let by_group = by_group && !matches!(side, Side::Left | Side::Right);
        if not_tested && event.sides.is_empty() && side == Side::Both {
            side = Side::Unstated;
        }
        let because = self.evidence(read, event, bound);
        let hedged = is_hedged(read, token.segment);
        let approx = matches!(&value, Value::Amount(amount) if amount.approx);
        let reasons = self.reasons(read, event, bound, (item, &value, side, said_of), (because.how, hedged));
        let repeated = read.tokens.iter().any(|t| t.is(Word::Repeat) && t.first <= token.first);
        Statement {
            item,
            side,
            value,
            stance,
            hedged,
            approx,
            by_group,
            general: bound.general.is_some(),
            corrects: self.correcting || repeated,
            heard_poorly: strange::is_heard_poorly(read, self.hearing, (event.token, bound)),
            because,
            reasons,
        }
    }

    fn reasons(
        &self,
        read: &Read<'_>,
        event: &Event,
        bound: &Bound,
        (item, value, side, said_of): (ItemIx, &Value, Side, ItemIx),
        (how, hedged): (How, bool),
    ) -> Vec<Reason> {
        let token = &read.tokens[event.token];
        // "There's the teaspoon, boy": a word for the infant, long after the infant was told of.
        let of_infant = self.progress.begun && self.infant.contains(item);
        let calls = of_infant && token.past == token.first + 1 && token.quantity.is_none();
        let loose = token.values.iter().any(|(i, _, s)| *i == item && *s == Strength::Loose) && bound.general.is_none();
        let open = |at: Option<usize>| at.and_then(|at| self.runs_on.get(at)).copied().unwrap_or(false);
        let at = read.sentence.utterance;
        let told = (event.token, bound, &self.lexicon.items[said_of].members[..]);
        let doubtful = doubts::is_doubtful(read, told, value, (open(at.checked_sub(1)), open(Some(at))));
        let outside = matches!(value, Value::Amount(amount) if amount.outside);
        let garbled = strange::is_garbled_behind(self.lexicon, read, token);
        let known = [
            (!matches!(how, How::Exact), Reason::HeardUnclearly),
            (bound.contested || calls, Reason::ItemUncertain),
            (bound.ask || loose || doubtful || event.unsure || garbled, Reason::ValueUncertain),
            (side == Side::Unstated, Reason::SideUnstated),
            (outside, Reason::OutsideLimits),
            (hedged, Reason::Hedged),
        ];
        let mut reasons: Vec<Reason> = known.into_iter().filter(|(is, _)| *is).map(|(_, reason)| reason).collect();
        reasons.extend(strange::doubts(read, token.segment, bound, self.progress.strange));
        reasons
    }

    fn evidence(&self, read: &Read<'_>, event: &Event, bound: &Bound) -> Evidence {
        let span = |first: usize, past: usize| Span { utterance: read.sentence.utterance, first, past };
        let token = &read.tokens[event.token];
        let value = span(token.first, token.past);
        let name = read
            .tokens
            .iter()
            .zip(&read.named)
            .filter(|(_, named)| named.iter().any(|item| bound.items.contains(item)))
            .min_by_key(|(other, _)| other.first.abs_diff(token.first))
            .map(|(other, _)| other);
        let item = name.map(|name| span(name.first, name.past));
        let sides: Vec<Span> = event.sides.iter().map(|place| span(place.first, place.past)).collect();
        // "No clonus" is not to be quoted as "clonus", nor "probably weak" as "weak".
        let beside = read.tokens.iter().filter(|other| {
            other.segment == token.segment
                && (other.is(Word::Negation) && other.first < token.past || other.is(Word::Hedge))
        });
        let beside = beside.map(|other| span(other.first, other.past));
        let quote = sides.iter().copied().chain(item).chain(beside).fold(value, Span::cover);
        let how = if token.how == How::Exact { name.map_or(How::Exact, |name| name.how) } else { token.how };
        Evidence { quote, item, value, sides, how, told: bound.told }
    }

    fn push(&mut self, mut statement: Statement) {
        if statement.stance == Stance::Observed {
            if self.correcting {
                self.replace_side(&statement);
            }
            self.complete_pair(&mut statement);
            self.reopened = self.reopened.filter(|(open, _)| self.statements[*open].item != statement.item);
            self.last = Some(self.statements.len());
        }
        self.statements.push(statement);
    }

    // "Left biceps two, sorry, right biceps two": the side was wrong, so the first statement goes.
    fn replace_side(&mut self, new: &Statement) {
        if let Some(last) = self.last.map(|last| &mut self.statements[last])
            && last.item == new.item
            && last.side != new.side
            && last.side != Side::Unstated
            && last.value == new.value
        {
            last.stance = Stance::Withdrawn;
        }
    }

    // "To the midline. Other side? The same." No side was named, both were done with one result: both.
    fn complete_pair(&mut self, new: &mut Statement) {
        let said = !new.because.sides.is_empty() || self.progress.side == Some(Said::Other);
        let other_said = new.side == Side::Unstated && said;
        if let Some(last) = self.last.map(|last| &mut self.statements[last])
            && other_said
            && last.item == new.item
            && last.side == Side::Unstated
            && last.value == new.value
        {
            last.stance = Stance::Withdrawn;
            new.side = Side::Both;
            new.reasons.retain(|reason| *reason != Reason::SideUnstated);
        }
    }

    /// "The same": the value said last, for another side or another item.
    pub(super) fn same(&mut self, read: &Read<'_>, event: &Event) {
        let Some(last) = self.last.map(|last| self.statements[last].clone()) else { return };
        let target = self.same_item(read, event, &last);
        let Some(value) = self.carried(last.item, target, &last.value) else { return };
        let bound = Bound::named(event.token, vec![target], value, None);
        // "Reflexes the same": a group is its members.
        if !self.lexicon.items[target].members.is_empty() {
            return self.state(read, event, &bound, Stance::Observed);
        }
        let whole = (target, bound.value.clone(), false, target);
        let mut statement = self.statement(read, event, &bound, whole, Stance::Observed);
        // "The right to the midline, I think. Left, the same.": as doubtful as what it is the same as.
        let carried = last.reasons.iter().filter(|reason| **reason != Reason::SideUnstated);
        carried.for_each(|reason| statement.doubt(*reason));
        // "The right stops somewhere else. It came out the same.": what was not understood may be what it is the same as.
        let here = read.strange[..=read.tokens[event.token].segment].iter().sum::<u32>();
        let named = read.named.iter().any(|named| named.contains(&target));
        if !named && self.progress.strange + here > 0 {
            statement.doubt(Reason::ValueUncertain);
        }
        if event.sides.is_empty() && target != last.item && self.lexicon.items[target].paired {
            // "No stepping. Galant the same": stepping has no sides, and so tells none of the Galant.
            let side = self.latest_side(last.item, &last.value).filter(|side| *side != Side::None);
            statement.side = side.unwrap_or(statement.side);
            statement.reasons.retain(|reason| *reason != Reason::SideUnstated || statement.side == Side::Unstated);
        }
        let says_nothing_new = target == last.item && event.sides.is_empty() && self.progress.side.is_none();
        if !says_nothing_new {
            self.push(statement);
        }
    }

    fn same_item(&self, read: &Read<'_>, event: &Event, last: &Statement) -> ItemIx {
        let knows = |item: &ItemIx| match &last.value {
            Value::Choice(_) => self.carried(last.item, *item, &last.value).is_some(),
            Value::Amount(_) => self.lexicon.items[*item].measure == self.lexicon.items[last.item].measure,
        };
        let segment = read.tokens[event.token].segment;
        let near = |token: &&Token| token.segment + 1 >= segment && token.segment <= segment + 1;
        let named = read.tokens.iter().zip(&read.named).filter(|(token, _)| near(token)).flat_map(|(_, named)| named);
        if let Some(item) = named.copied().rfind(knows) {
            return item;
        }
        // "Pull on his arms, keeps the bend. Pull on his legs, likewise."
        let done = read.tokens.iter().filter(near).flat_map(|token| &token.done_by);
        if let Some(item) =
            done.copied().filter(|item| *item != last.item && same_values(self.lexicon, last.item, *item)).find(knows)
        {
            return item;
        }
        let bodies: Vec<ItemIx> = read.tokens.iter().filter(near).flat_map(|token| token.body.clone()).collect();
        if bodies.is_empty() || bodies.contains(&last.item) {
            return last.item;
        }
        let region = &self.lexicon.items[last.item].region;
        let alike = |item: &&ItemIx| {
            self.lexicon.items[**item].region == *region
                && self.lexicon.items[**item].values.len() == self.lexicon.items[last.item].values.len()
        };
        bodies.iter().filter(|item| knows(item)).find(alike).copied().unwrap_or(last.item)
    }

    fn latest_side(&self, item: ItemIx, value: &Value) -> Option<Side> {
        let mut sides = self
            .statements
            .iter()
            .rev()
            .filter(|s| s.item == item && s.stance == Stance::Observed && s.value == *value)
            .map(|s| s.side);
        let latest = sides.next()?;
        let pair = sides.next().is_some_and(|other| other == latest.opposite() && other != latest);
        Some(if pair { Side::Both } else { latest })
    }
}

// "Reflexes three plus, except the ankles": what is excepted behind the result is not of it, or of the other side alone.
fn without_exception(read: &Read<'_>, event: &Event, statement: Statement) -> Option<Statement> {
    let Some(except) = read.tokens.iter().position(|token| token.is(Word::Except)) else { return Some(statement) };
    let tells =
        |ix: &usize| read.named[*ix].contains(&statement.item) || read.tokens[*ix].body.contains(&statement.item);
    let Some(told) = (except + 1..read.tokens.len()).find(tells).filter(|_| event.token < except) else {
        return Some(statement);
    };
    let segment = read.tokens[told].segment;
    let from = read.tokens[except].first;
    let mut sides = read.places.iter().filter(|place| place.first > from && place.segment == segment);
    let excepted = sides.find_map(|place| place.said.single());
    let side = excepted.filter(|_| statement.side == Side::Both)?.opposite();
    Some(Statement { side, ..statement })
}

fn is_hedged(read: &Read<'_>, segment: usize) -> bool {
    read.tokens
        .iter()
        .filter(|token| token.is(Word::Hedge))
        .any(|token| token.segment == segment || token.segment.abs_diff(segment) == 1 && alone_in_segment(read, token))
}

fn alone_in_segment(read: &Read<'_>, token: &Token) -> bool {
    let segment = read.sentence.segments[token.segment];
    segment.past - segment.first <= token.past - token.first + 1
}

#[cfg(test)]
mod tests {
    use crate::lexicon::Lexicon;
    use crate::reading;
    use crate::speech::Utterance;

    #[track_caller]
    fn check(said: &str, items: &[&str]) {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        let findings = reading::read(&LEXICON, &[Utterance::from_text(said)]).findings;
        let told = findings.iter().map(|found| {
            let stands = &found.stands;
            format!("{} {}", LEXICON.items[stands.item].id, stands.side.name())
        });
        assert_eq!(told.collect::<Vec<_>>(), items, "said: {said}");
    }

    #[test]
    fn the_same_of_an_item_without_sides_tells_no_side() {
        check("No stepping. The same for the Galant.", &["galant unstated", "stepping none"]);
    }

    #[test]
    fn the_same_of_a_group_is_said_of_its_members() {
        let all = ["biceps-reflex", "triceps-reflex", "knee-jerk", "ankle-jerk"];
        let both: Vec<String> = all.iter().flat_map(|item| [format!("{item} left"), format!("{item} right")]).collect();
        check("dead reflexes the same", &both.iter().map(String::as_str).collect::<Vec<_>>());
    }
}

//! What is denied.
//! Takes the tokens of a sentence; gives denied results their contrary, and denied items their absence. A denying word
//! reaches forward to the next result or item of its segment (after NegEx, Chapman 2001).
//! Leaves alone phrases that hold their own denial ("doesn't reach the midline").
//!
//! "no clonus" gives ankle-clonus absent; "not a good suck" gives suck weak

use std::collections::BTreeSet;

use crate::lexicon::{General, Item, ItemIx, LanguageWord as Word, Lexicon, Strength, ValueIx};
use crate::reading::clauses::Sentence;
use crate::reading::reach::{Reach, reach};
use crate::reading::reader::{Event, Kind, Read};
use crate::reading::sides::Said;
use crate::reading::tokens::Token;
use crate::reading::values::{Bound, Value, general_value};
use crate::speech::{Stop, Word as Spoken};

/// Decides for every denying word whether it denies what follows or is an answer by itself.
pub fn settle(tokens: &mut [Token], sentence: &Sentence, words: &[Spoken], asked: bool) {
    for at in 0..tokens.len() {
        tokens[at].after_or = is_after_or(words, sentence.first(), tokens[at].first);
        if !tokens[at].is(Word::Negation) {
            continue;
        }
        let follows = tokens.get(at + 1).is_some_and(|next| {
            next.segment == tokens[at].segment
                && (next.is_result() || !next.names.is_empty() || !next.shared.is_empty() || next.is(Word::Negation))
        });
        let segment = sentence.segments[tokens[at].segment];
        let alone = segment.past - segment.first <= tokens[at].past - tokens[at].first + 1;
        let answers = alone && (asked || !is_no(&tokens[at]));
        if follows || !answers && tokens[at].values.is_empty() {
            tokens[at].generals.clear();
            if follows {
                tokens[at].values.clear();
                tokens[at].words.remove(Word::Replace);
            }
        }
    }
}

fn is_after_or(words: &[Spoken], from: usize, at: usize) -> bool {
    let mut before = words[from..at].iter().rev().map(|word| word.plain.as_str());
    before.find(|word| !matches!(*word, "a" | "an" | "any" | "the")).is_some_and(|word| matches!(word, "or" | "nor"))
}

// "none" and "nil" answer by themselves; "no" only after a question.
fn is_no(token: &Token) -> bool {
    token.is(Word::Replace) || token.is(Word::Question)
}

// "There's neither a right nor a left galant": what is there is denied behind it.
fn denied_behind(tokens: &[Token], at: usize) -> bool {
    let (token, behind) = (&tokens[at], &tokens[at + 1..]);
    // "Facial weakness nil on either side": a name that says a value is denied by what stands right behind it.
    let alone = token.values.iter().any(|(_, _, strength)| *strength == Strength::Alone);
    let nil = |next: &Token| {
        next.generals.contains(&General::Nothing) && next.first == token.past && next.segment == token.segment
    };
    if alone && behind.first().is_some_and(nil) {
        return true;
    }
    let here = behind.iter().take_while(|other| other.segment == token.segment);
    token.generals == [General::There]
        && here.take_while(|other| other.names.is_empty()).any(|other| other.is(Word::Negation))
}

fn denied_by(tokens: &[Token], at: usize) -> bool {
    if denied_behind(tokens, at) {
        return true;
    }
    for before in (0..at).rev() {
        let token = &tokens[before];
        if token.segment != tokens[at].segment {
            return false;
        }
        if token.is(Word::Negation) && token.generals.is_empty() {
            return true;
        }
        // "I can't find a pit or a tuft": results joined by "or" share their denial.
        let joined = tokens[before + 1].after_or;
        if token.is_result() && !joined || token.is(Word::AffirmedByDenial) {
            return false;
        }
    }
    false
}

fn opened_by_while(read: &Read<'_>, token: &Token) -> bool {
    read.before(token)
        .iter()
        .rev()
        .take(3)
        .any(|word| matches!(word.plain.as_str(), "while" | "when" | "whenever" | "until" | "once"))
}

/// Words behind "none" that leave a finding what it is and tell only where it is not.
const WITHOUT: [&str; 6] = ["without", "otherwise", "else", "elsewhere", "besides", "apart"];

/// Words that open a circumstance.
const CIRCUMSTANCES: [&str; 8] = ["at", "when", "while", "during", "even", "with", "in", "under"];

/// "Without any tremor, at rest or upset": behind a denied item its circumstance is no result.
#[must_use]
pub(super) fn is_circumstance(lexicon: &Lexicon, read: &Read<'_>, bound: &Bound) -> bool {
    let token = &read.tokens[bound.token];
    let first = read.sentence.segments[token.segment].first;
    let opens = CIRCUMSTANCES.contains(&read.utterance.words[first].plain.as_str()) && token.first <= first + 1;
    let denied = |ix: usize| {
        let name = &read.tokens[ix];
        let own = read
            .tokens
            .iter()
            .any(|other| other.segment == name.segment && other.is_result() && !other.is(Word::Negation));
        name.segment < token.segment && read.named[ix].contains(&bound.items[0]) && denied_by(&read.tokens, ix) && !own
    };
    // "Don't do it while he's crying": no state of this moment is told.
    let when = ["while", "when", "whenever", "until", "once", "if"];
    let state = lexicon.items[bound.items[0]].keeps_all
        && (when.contains(&read.utterance.words[first].plain.as_str()) || opened_by_while(read, token));
    // "Tremor with it, none without."
    let without = bound.general == Some(General::Nothing)
        && read.utterance.words.get(token.past).is_some_and(|word| WITHOUT.contains(&word.plain.as_str()))
        && token.past < read.sentence.past();
    state
        || without
        || opens
            && (0..read.tokens.len()).any(denied)
            && !read.places.iter().any(|place| place.segment == token.segment)
}

/// The result with a denial applied; as it was where the denial leaves nothing to write down.
pub(super) fn apply(lexicon: &Lexicon, read: &Read<'_>, bound: Bound) -> Result<Bound, Bound> {
    let tokens = &read.tokens;
    if !denied_by(tokens, bound.token) {
        return Ok(bound);
    }
    if let Some(less) = less(lexicon, read, &bound) {
        return Ok(less);
    }
    match reach(lexicon, read, bound.token) {
        // "I couldn't check whether it is there"
        Reach::Unseen(general) => as_general(lexicon, &bound, general).ok_or(bound),
        Reach::Denied => deny(lexicon, bound.clone()).ok_or(bound),
        Reach::Nearly | Reach::Odd | Reach::Elsewhere => {
            deny(lexicon, bound.clone()).map(|denied| Bound { ask: true, ..denied }).ok_or(bound)
        }
    }
}

/// The result as if a general word had told it.
fn as_general(lexicon: &Lexicon, bound: &Bound, general: General) -> Option<Bound> {
    let value = general_value(&lexicon.items[bound.items[0]], general)?;
    Some(Bound { value: Value::Choice(value), general: Some(general), ..bound.clone() })
}

// "The left isn't as strong": less than the other, and not missing.
fn less(lexicon: &Lexicon, read: &Read<'_>, bound: &Bound) -> Option<Bound> {
    let before = &read.utterance.words[read.tokens[bound.token].first.checked_sub(1)?];
    let compared = before.stop == Stop::None && matches!(before.plain.as_str(), "as" | "so" | "quite");
    let there = general_value(&lexicon.items[bound.items[0]], General::There).map(Value::Choice);
    let weak = (compared && there.as_ref() == Some(&bound.value)).then(|| as_general(lexicon, bound, General::Weak));
    Some(Bound { ask: true, ..weak.flatten()? })
}

/// "Neither side present": a side that denies turns its result round, unless a denying word has done so already.
pub(super) fn by_neither(lexicon: &Lexicon, tokens: &[Token], event: Event) -> Option<Event> {
    let neither = event.sides.iter().any(|place| place.said == Said::Neither);
    match event.kind {
        Kind::Result(bound) if neither && !denied_by(tokens, event.token) => {
            Some(Event { kind: Kind::Result(deny(lexicon, bound)?), ..event })
        }
        kind => Some(Event { kind, ..event }),
    }
}

/// The contrary of a result, where it has one.
pub(super) fn deny(lexicon: &Lexicon, mut bound: Bound) -> Option<Bound> {
    let item = &lexicon.items[bound.items[0]];
    let Value::Choice(value) = bound.value else { return Some(bound) };
    if matches!(bound.general, Some(General::Nothing | General::NotTested | General::NotElicited)) {
        return Some(bound);
    }
    let contrary = match bound.general {
        Some(General::Good) => general_value(item, General::Weak),
        Some(General::Normal) => general_value(item, General::Abnormal),
        _ => contrary(item, value),
    }?;
    bound.value = Value::Choice(contrary);
    Some(bound)
}

fn contrary(item: &Item, value: ValueIx) -> Option<ValueIx> {
    if let Some(denied) = item.values.get(value).and_then(|value| value.denied) {
        return Some(denied);
    }
    let own: Vec<ValueIx> = (0..item.values.len()).filter(|ix| !item.is_open(*ix)).collect();
    if own.len() == 2 {
        return own.into_iter().find(|ix| *ix != value);
    }
    if item.general.get(&General::There) == Some(&value) {
        return item.general.get(&General::Nothing).copied();
    }
    None
}

/// Items that are denied and have no other result: "no clonus", "I can't see any tremor".
#[must_use]
pub(super) fn denied_names(lexicon: &Lexicon, read: &Read<'_>, served: &BTreeSet<usize>) -> Vec<(usize, Bound)> {
    let (tokens, named) = (&read.tokens, &read.named);
    // "It's not his suck that's to blame" denies nothing of the suck.
    let blamed = |at: usize| {
        let before = &read.utterance.words[read.sentence.first()..tokens[at].first];
        let before: Vec<&str> = before.iter().rev().take(4).map(|word| word.plain.as_str()).collect();
        // "With one arm it isn't a pull to sit": what something is not called.
        let called = matches!(before[..], ["a" | "an", "not", "is" | "was", subject, ..] if subject != "there");
        if called {
            return true;
        }
        let opens = before.windows(3).any(|words| matches!(words, ["not", "is" | "was", "it"]));
        let next = read.utterance.words.get(tokens[at].past).filter(|_| tokens[at].past < read.sentence.past());
        opens && next.is_some_and(|word| matches!(word.plain.as_str(), "that" | "which" | "who"))
    };
    let mut found = Vec::new();
    for (at, items) in named.iter().enumerate() {
        let denied = || denied_by(tokens, at) || shares_denial(tokens, named, at, &found);
        if items.is_empty() || blamed(at) || served.contains(&at) && !contrasted(tokens, at) || !denied() {
            continue;
        }
        let reach = reach(lexicon, read, at);
        let general = match reach {
            Reach::Denied | Reach::Odd => General::Nothing,
            Reach::Nearly => General::Weak,
            Reach::Unseen(general) => general,
            Reach::Elsewhere => continue,
        };
        let item = &lexicon.items[items[0]];
        let absent = item.general.get(&General::Nothing).copied();
        let value = match general {
            General::Nothing => absent,
            General::Weak => general_value(item, general).or(absent),
            general => general_value(item, general),
        };
        let Some(value) = value else { continue };
        let mut bound = Bound::named(at, items.clone(), Value::Choice(value), Some(general));
        // "No clonic movements" denies some kind of movements, whichever a word that nobody knows may tell.
        (bound.contested, bound.ask) = (reach == Reach::Odd, reach == Reach::Nearly);
        found.push((at, bound));
    }
    found
}

/// Items that are said to be there and have no other result: "I've got both red reflexes".
#[must_use]
pub fn names_had(lexicon: &Lexicon, tokens: &[Token], named: &[Vec<ItemIx>]) -> Vec<(usize, Bound)> {
    let mut found = Vec::new();
    for (at, items) in named.iter().enumerate() {
        let had = at.checked_sub(1).map(|before| &tokens[before]).is_some_and(|before| {
            before.is(Word::Has) && tokens[at].first <= before.past + 1 && before.segment == tokens[at].segment
        });
        let own = tokens.iter().any(|other| other.segment == tokens[at].segment && other.is_result());
        if !had || items.is_empty() || own || denied_by(tokens, at) {
            continue;
        }
        let Some(value) = general_value(&lexicon.items[items[0]], General::There) else { continue };
        found.push((at, Bound::named(at, items.clone(), Value::Choice(value), Some(General::There))));
    }
    found
}

// "No clonus on the left but six beats on the right", "No grasp on the left, weak on the right": the denial holds though a result
// follows for the other side.
fn contrasted(tokens: &[Token], at: usize) -> bool {
    let any = |segment: usize, is_one: fn(&Token) -> bool| {
        tokens.iter().any(|token| token.segment == segment && is_one(token) && !token.is(Word::Negation))
    };
    let sided = |segment: usize| tokens.iter().any(|token| token.segment == segment && token.says_one_side());
    let here = tokens[at].segment;
    let but = tokens.iter().find(|token| token.is(Word::Ends) && token.segment > here).map(|token| token.segment);
    let next = tokens.iter().map(|token| token.segment).find(|segment| *segment > here);
    let other = next.filter(|next| {
        any(*next, Token::is_result)
            && one_side(tokens, *next).is_some_and(|side| one_side(tokens, here).is_some_and(|own| own != side))
    });
    // "No recoil in the left arm, good on the right": "in" could be how it comes back.
    !any(here, Token::is_plain_result) && (but.is_some_and(|but| sided(but) && sided(here)) || other.is_some())
}

/// The only side that a segment says, left or right.
fn one_side(tokens: &[Token], segment: usize) -> Option<bool> {
    let mut sides = tokens.iter().filter(|token| token.segment == segment && token.says_one_side());
    let side = sides.next()?.is(Word::SideLeft);
    sides.all(|token| token.is(Word::SideLeft) == side).then_some(side)
}

// "No tremor, clonus or seizures": a list shares one denial.
fn shares_denial(tokens: &[Token], named: &[Vec<ItemIx>], at: usize, found: &[(usize, Bound)]) -> bool {
    let Some((before, _)) = found.last() else { return false };
    let between = &tokens[before + 1..at];
    between.iter().all(|token| !token.is_result() && !token.is(Word::Ends))
        && named[*before + 1..at].iter().all(Vec::is_empty)
        && tokens[at].first - tokens[*before].past <= 2
}

#[cfg(test)]
mod tests {
    use crate::lexicon::Lexicon;
    use crate::reading::{Reason, read};
    use crate::speech::Utterance;

    #[test]
    fn a_kind_that_is_denied_or_another_item_beside_makes_the_item_uncertain() {
        let lexicon = Lexicon::load(None).unwrap();
        for (said, uncertain) in [
            ("There are no clonic movements.", true),
            ("No purposeful movements.", true),
            ("No spontaneous movement.", false),
            ("No obvious tremor.", false),
            ("The back is curved in ventral suspension.", true),
            ("The back is curved.", false),
        ] {
            let findings = read(&lexicon, &[Utterance::from_text(said)]).findings;
            assert!(!findings.is_empty(), "{said}");
            let found = findings.iter().all(|finding| finding.reasons.contains(&Reason::ItemUncertain));
            assert_eq!(found, uncertain, "{said}");
        }
    }
}

//! Doubts that the words around a result raise.
//! Takes a result with its sentence; gives whether its value may not be what was said: a number that goes on in the next
//! utterance, a value with another item between it and its name. Leaves alone strange words (`strange`), and how
//! surely the words were heard.
//!
//! "born at forty-one weeks and" / "no days": forty-one weeks may not be all

use crate::lexicon::quantities::{Figure, Join, Part, Point, Quantity, Unit};
use crate::lexicon::{ItemIx, LanguageWord as Word, Strength};
use crate::reading::reader::Read;
use crate::reading::tokens::Token;
use crate::reading::values::{Bound, Told, Value};
use crate::speech::{Stop, Utterance};

/// Words at the end of an utterance behind which a number goes on.
const OPEN: [&str; 8] = ["and", "point", "plus", "of", "a", "the", "to", "minus"];

/// Units that may begin an utterance whose number ended the one before.
const UNITS: [&str; 14] = [
    "weeks",
    "week",
    "days",
    "day",
    "hours",
    "hour",
    "grams",
    "kilos",
    "kilograms",
    "centimetres",
    "degrees",
    "beats",
    "plus",
    "point",
];

/// Whether the last number of an utterance may go on in the next one.
#[must_use]
pub(super) fn runs_on(utterance: &Utterance, next: &Utterance, number_first: Option<usize>) -> bool {
    let Some(last) = utterance.words.last().filter(|word| word.stop == Stop::None) else { return false };
    let opens = next.words.first().is_some_and(|word| UNITS.contains(&word.plain.as_str()));
    OPEN.contains(&last.plain.as_str()) || opens || number_first.is_some_and(|first| first <= 1)
}

/// Whether the value of a result, told by the token `at`, is doubtful by what stands around it.
pub(super) fn is_doubtful(
    read: &Read<'_>,
    (at, bound, members): (usize, &Bound, &[ItemIx]),
    value: &Value,
    (before, here): (bool, bool),
) -> bool {
    let token = &read.tokens[at];
    let number = token.quantity.as_ref();
    let cut = number.is_some() && (before && token.first <= 1 || here && token.past + 2 >= read.utterance.words.len());
    let digits = bound.told != Told::Named && number.is_some_and(is_two_digits);
    cut || digits
        || is_less(read, token)
        || is_too_exact(value)
        || is_parted(read, at, bound)
        || is_unexcepted(read, at, bound, members)
}

// "It's two four, not two five": two digits alone may be a telephone's, a room's or a decimal.
fn is_two_digits(quantity: &Quantity) -> bool {
    let digit = |part: &Part| part.width == 1 && !part.fraction && part.unit.is_none();
    let parts = &quantity.spoken.said.parts;
    quantity.spoken.then.is_none() && parts.len() == 2 && parts.iter().all(digit) && parts[1].join == Join::RunOn
}

// "Legs bent up some": less than the word says.
fn is_less(read: &Read<'_>, token: &Token) -> bool {
    let next = read.utterance.words.get(token.past).filter(|_| token.past < read.sentence.past());
    let less = next.is_some_and(|word| matches!(word.plain.as_str(), "some" | "somewhat" | "partly"));
    token.quantity.is_none() && less
}

// "About ninety-two": an angle told roughly is told in steps of five (common practice, no source); "ninety too" was said.
fn is_too_exact(value: &Value) -> bool {
    let Value::Amount(amount) = value else { return false };
    let uneven =
        |point: Point| matches!(point, Point::Plain(number) if number.as_whole().is_some_and(|whole| whole % 5 != 0));
    amount.approx && amount.unit == Unit::Degree && matches!(amount.figure, Figure::One(point) if uneven(point))
}

// "Neck flexors weak neck extensors good": each value may be of the name before it or of the one behind.
fn is_parted(read: &Read<'_>, at: usize, bound: &Bound) -> bool {
    let token = &read.tokens[at];
    let of = |ix: usize| read.named[ix].iter().any(|item| bound.items.contains(item));
    let alone_of = |ix: usize, other: bool| {
        let mut alone = read.tokens[ix].values.iter().filter(|(_, _, strength)| *strength == Strength::Alone);
        alone.any(|(item, ..)| bound.items.contains(item) != other)
    };
    let of_other = |ix: usize| (!read.named[ix].is_empty() || alone_of(ix, true)) && !of(ix);
    let here = |ix: &usize| read.tokens[*ix].segment == token.segment;
    let name = (0..at).rev().filter(here).find(|ix| of(*ix));
    let between = name.is_some_and(|name| {
        (name + 1..at).any(of_other) && (name + 1..at).any(|ix| read.tokens[ix].is_strong_result())
    });
    let alone = alone_of(at, false);
    let behind_name = at > 0 && of_other(at - 1) && here(&(at - 1)) && read.tokens[at - 1].past == token.first;
    between || alone && behind_name && token.past - token.first > 1
}

// "Reflexes three plus, except left by sex": an exception that was not understood may be any of them.
fn is_unexcepted(read: &Read<'_>, at: usize, bound: &Bound, members: &[ItemIx]) -> bool {
    let token = &read.tokens[at];
    let Some(except) = read.tokens.iter().position(|other| other.is(Word::Except)) else { return false };
    let is_one = |item: &ItemIx| members.contains(item) || bound.items.contains(item);
    let tells = |ix: usize| read.named[ix].iter().any(is_one) || read.tokens[ix].body.iter().any(is_one);
    token.first < read.tokens[except].first && !(except + 1..read.tokens.len()).any(tells)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lexicon::Lexicon;
    use crate::reading::{self, Reason};

    #[test]
    fn what_could_be_understood_in_two_ways_is_doubted() {
        let lexicon = Lexicon::load(None).unwrap();
        for (said, doubted) in [
            ("Plantars at left equivocal right.", true),
            ("Left knee jerk weak right.", true),
            ("Plantars left equivocal and right.", false),
            ("The left biceps is weak, no, right.", false),
            ("Left knee jerk weak.", false),
            ("Hands are open. / I tell a lie, I held them.", true),
            ("Hands are open. / No, hang on.", true),
            ("Hands are open. / Wait.", false),
            ("Hands are open. / I tell a lie, loosely closed.", false),
        ] {
            let utterances: Vec<Utterance> = said.split(" / ").map(Utterance::from_text).collect();
            let findings = reading::read(&lexicon, &utterances).findings;
            assert!(!findings.is_empty(), "{said}");
            let found = findings.iter().all(|finding| finding.reasons.contains(&Reason::ValueUncertain));
            assert_eq!(found, doubted, "{said}");
        }
    }
}

//! Words → one number, as it is counted out in English.
//! Takes words from a place in an utterance; gives the number that starts there and the index behind it.
//! Leaves alone numbers made of several ("thirty-four six": `parts`), units, ranges and bounds.
//!
//! "a hundred and ten" is 110, "three point oh two" is 3.02, "two and a half" is 2.5; "34.6" is read as it stands

use super::decimal::Decimal;
use crate::speech::words::{Stop, Word};

/// One number as it was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Number {
    /// Its value, with the zeros that were said behind the point.
    pub value: Decimal,
    /// How many digits a whole number was said with: "oh five" has one too many to be just 5.
    pub width: u8,
    /// "and a half", "and a quarter": no digits were said for it.
    pub fraction: bool,
    /// "ninetyish", in one word.
    pub about: bool,
}

/// How the words may be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Manner {
    /// "oh" is a digit: only behind other digits.
    pub oh: bool,
    /// "a hundred and ten" is one number: not between "between" and its "and".
    pub and: bool,
}

/// Plain English, at the start of a number.
pub(super) const PLAIN: Manner = Manner { oh: false, and: true };
/// Behind other digits.
pub(super) const INSIDE: Manner = Manner { oh: true, and: true };

/// The plain spelling at `at`; empty behind the last word.
pub(super) fn plain(words: &[Word], at: usize) -> &str {
    words.get(at).map_or("", |word| word.plain.as_str())
}

/// Whether `at` is a word and nothing stands between it and the word before.
pub(super) fn runs_on(words: &[Word], at: usize) -> bool {
    at < words.len() && (at == 0 || words.get(at - 1).is_some_and(|word| word.stop == Stop::None))
}

/// The number that starts at `at`, and the index behind it.
pub(super) fn number_at(words: &[Word], at: usize, manner: Manner) -> Option<(Number, usize)> {
    let (mut number, mut next) = match plain(words, at) {
        "" => return None,
        "point" => (number_of(Decimal::whole(0), 0), at),
        _ => whole_at(words, at, manner)?,
    };
    let leading_point = next == at;
    if number.value.places() == 0
        && (leading_point || runs_on(words, next))
        && matches!(plain(words, next), "point" | "decimal" | "dot" | "comma")
        && let Some((value, behind)) = places_at(words, next + 1, number.value)
    {
        (number.value, next) = (value, behind);
    } else if leading_point {
        return None;
    }
    if runs_on(words, next)
        && let Some((fraction, behind)) = fraction_at(words, next)
    {
        number = Number { value: number.value.plus(fraction), fraction: true, ..number };
        next = behind;
    }
    Some((number, next))
}

/// "and a half", "and a quarter", "and three quarters", and the index behind it.
pub(super) fn fraction_at(words: &[Word], at: usize) -> Option<(Decimal, usize)> {
    const FRACTIONS: [(&[&str], Decimal); 6] = [
        (&["and", "a", "half"], Decimal::new(5, 1)),
        (&["and", "one", "half"], Decimal::new(5, 1)),
        (&["and", "half"], Decimal::new(5, 1)),
        (&["and", "a", "quarter"], Decimal::new(25, 2)),
        (&["and", "one", "quarter"], Decimal::new(25, 2)),
        (&["and", "three", "quarters"], Decimal::new(75, 2)),
    ];
    FRACTIONS.iter().find(|(said, _)| says(words, at, said)).map(|(said, value)| (*value, at + said.len()))
}

/// Whether exactly these words run on from `at`.
pub(super) fn says(words: &[Word], at: usize, said: &[&str]) -> bool {
    said.iter()
        .enumerate()
        .all(|(index, word)| plain(words, at + index) == *word && (index == 0 || runs_on(words, at + index)))
}

/// Whether a number could start with this word; cheap enough for every word.
pub(super) fn starts_number(word: &str) -> bool {
    below_hundred(word).is_some()
        || matches!(word, "hundred" | "thousand" | "point")
        || word.starts_with(|first: char| first.is_ascii_digit() || first == '.')
        || ish(word).is_some()
}

fn number_of(value: Decimal, width: usize) -> Number {
    Number { value, width: u8::try_from(width).unwrap_or(u8::MAX), fraction: false, about: false }
}

// "twenty-ish" is two words for the word stage, "twentyish" is one.
fn ish(word: &str) -> Option<i64> {
    below_hundred(word.strip_suffix("ish")?)
}

fn whole_at(words: &[Word], at: usize, manner: Manner) -> Option<(Number, usize)> {
    if let Some(value) = ish(plain(words, at)) {
        return Some((Number { about: true, ..number_of(Decimal::whole(value), value.to_string().len()) }, at + 1));
    }
    let (number, next) = hundreds_at(words, at, manner)?;
    let Some(thousands) = number.value.as_whole().filter(|value| (1..1000).contains(value)) else {
        return Some((number, next));
    };
    if !runs_on(words, next) || plain(words, next) != "thousand" {
        return Some((number, next));
    }
    // "three thousand, two hundred and forty" is one number in spite of its comma, if hundreds follow.
    let comma = words.get(next).is_some_and(|word| word.stop == Stop::Comma);
    let rest = rest_at(words, next + 1, manner, |words, at| hundreds_at(words, at, manner))
        .filter(|(rest, _)| *rest < 1000 && (!comma || *rest >= 100));
    let (rest, next) = rest.unwrap_or((0, next + 1));
    Some((number_of(Decimal::whole(thousands * 1000 + rest), 4), next))
}

/// What follows "hundred" or "thousand", with or without "and".
fn rest_at(
    words: &[Word],
    at: usize,
    manner: Manner,
    read: impl Fn(&[Word], usize) -> Option<(Number, usize)>,
) -> Option<(i64, usize)> {
    let tied = |at: usize| words.get(at.wrapping_sub(1)).is_some_and(|word| word.stop <= Stop::Comma);
    let and = plain(words, at) == "and";
    // "one hundred and ... ten": behind a hanging "and" the number goes on in spite of the pause.
    if and && (!manner.and || !runs_on(words, at)) || !and && !tied(at) {
        return None;
    }
    if !and && !runs_on(words, at) && plain(words, at.wrapping_sub(1)) != "thousand" {
        return None;
    }
    if and && words.get(at).is_none_or(|word| word.stop > Stop::Pause) {
        return None;
    }
    let (number, next) = read(words, at + usize::from(and))?;
    // "between one hundred and one hundred and five": the second "one" is not the end of a hundred and one.
    if runs_on(words, next) && matches!(plain(words, next), "hundred" | "thousand") {
        return None;
    }
    number.value.as_whole().filter(|value| *value > 0).map(|value| (value, next))
}

fn hundreds_at(words: &[Word], at: usize, manner: Manner) -> Option<(Number, usize)> {
    let (hundreds, hundred_at) = match plain(words, at) {
        "a" | "hundred" | "thousand" => {
            let word = at + usize::from(plain(words, at) == "a");
            let named = matches!(plain(words, word), "hundred" | "thousand") && (word == at || runs_on(words, word));
            if !named {
                return None;
            }
            if plain(words, word) == "thousand" {
                return (word > at).then(|| (number_of(Decimal::whole(1), 1), word));
            }
            (1, word)
        }
        _ => {
            let (number, next) = small_at(words, at, manner.oh)?;
            let hundred = runs_on(words, next) && plain(words, next) == "hundred";
            match number.value.as_whole() {
                Some(value @ 1..100) if hundred => (value, next),
                Some(round) if round >= 100 && round % 100 == 0 => {
                    return Some(round_figures_at(words, number, next, manner));
                }
                _ => return Some((number, next)),
            }
        }
    };
    let rest =
        rest_at(words, hundred_at + 1, manner, |words, at| small_at(words, at, false)).filter(|(rest, _)| *rest < 100);
    let (rest, next) = rest.unwrap_or((0, hundred_at + 1));
    let value = hundreds * 100 + rest;
    Some((number_of(Decimal::whole(value), value.to_string().len()), next))
}

/// "300 and 20", "1,900 and 80": recognisers write the round part of a number in figures for itself.
fn round_figures_at(words: &[Word], number: Number, next: usize, manner: Manner) -> (Number, usize) {
    let round = number.value.as_whole().unwrap_or_default();
    let room = if round % 1000 == 0 { 1000 } else { 100 };
    let and = plain(words, next) == "and" && runs_on(words, next);
    match rest_at(words, next, manner, |words, at| small_at(words, at, false)) {
        Some((rest, behind)) if and && rest < room => {
            (number_of(Decimal::whole(round + rest), usize::from(number.width)), behind)
        }
        _ => (number, next),
    }
}

/// A number below a hundred in words, or whatever figures stand there.
fn small_at(words: &[Word], at: usize, oh: bool) -> Option<(Number, usize)> {
    let word = plain(words, at);
    if word.starts_with(|first: char| first.is_ascii_digit() || first == '.') {
        let value = Decimal::parse(word)?;
        let width = word.split('.').next().map_or(0, str::len);
        return Some((number_of(value, width), at + 1));
    }
    if oh && is_oh(word) {
        return Some((number_of(Decimal::whole(0), 1), at + 1));
    }
    let value = below_hundred(word)?;
    let tens = value >= 20;
    let unit = if tens && runs_on(words, at + 1) { digit_of(plain(words, at + 1)) } else { None };
    match unit {
        Some(unit @ 1..=9) => Some((number_of(Decimal::whole(value + unit), 2), at + 2)),
        _ => Some((number_of(Decimal::whole(value), if value < 10 { 1 } else { 2 }), at + 1)),
    }
}

// Recognisers mix the two: "thirty 4".
fn digit_of(word: &str) -> Option<i64> {
    match word.as_bytes() {
        [digit @ b'1'..=b'9'] => Some(i64::from(digit - b'0')),
        _ => below_hundred(word),
    }
}

/// The digits behind "point", put behind `whole`.
fn places_at(words: &[Word], at: usize, whole: Decimal) -> Option<(Decimal, usize)> {
    // "thirty-four point ... six": a hanging "point" waits for its digits, but not past the end of a sentence.
    if words.get(at.wrapping_sub(1)).is_none_or(|word| word.stop > Stop::Pause) {
        return None;
    }
    let mut digits = String::new();
    let mut next = at;
    while digits.len() < 4 && (next == at || runs_on(words, next)) {
        let word = plain(words, next);
        match below_hundred(word) {
            _ if is_oh(word) => digits.push('0'),
            Some(digit @ 0..=9) => digits.push_str(&digit.to_string()),
            // "three point twenty-five" ends with its tens.
            Some(_) if digits.is_empty() => {
                let (number, behind) = small_at(words, next, false)?;
                digits.push_str(&number.value.to_string());
                next = behind;
                break;
            }
            _ if digits.is_empty() && !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_digit()) => {
                digits.push_str(word);
            }
            _ => break,
        }
        next += 1;
    }
    if digits.is_empty() {
        return None;
    }
    let value = Decimal::parse(&format!("{}.{digits}", whole.as_whole()?))?;
    Some((value, next))
}

/// "oh" as a digit.
pub(super) fn is_oh(word: &str) -> bool {
    matches!(word, "oh" | "o")
}

fn below_hundred(word: &str) -> Option<i64> {
    below_ten(word).or_else(|| tens_and_teens(word))
}

fn below_ten(word: &str) -> Option<i64> {
    Some(match word {
        "zero" | "nought" | "naught" => 0,
        "one" => 1,
        "two" => 2,
        "three" => 3,
        "four" => 4,
        "five" => 5,
        "six" => 6,
        "seven" => 7,
        "eight" => 8,
        "nine" => 9,
        _ => return None,
    })
}

// "fourty" and "ninty" are misspellings that recognisers and people write.
fn tens_and_teens(word: &str) -> Option<i64> {
    Some(match word {
        "ten" => 10,
        "eleven" => 11,
        "twelve" => 12,
        "thirteen" => 13,
        "fourteen" => 14,
        "fifteen" => 15,
        "sixteen" => 16,
        "seventeen" => 17,
        "eighteen" => 18,
        "nineteen" => 19,
        "twenty" => 20,
        "thirty" => 30,
        "forty" | "fourty" => 40,
        "fifty" => 50,
        "sixty" => 60,
        "seventy" => 70,
        "eighty" => 80,
        "ninety" | "ninty" => 90,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::words::words_of;

    #[track_caller]
    fn check(said: &str, number: &str, words_left: usize) {
        let words = words_of(said);
        let read = number_at(&words, 0, PLAIN);
        let written = read.map(|(number, next)| (number.value.to_string(), words.len() - next));
        assert_eq!(written, Some((number.to_owned(), words_left)), "said: {said}");
    }

    #[test]
    fn numbers_are_counted_out() {
        check("one hundred and ten", "110", 0);
        check("hundred ten degrees", "110", 1);
        check("thirty-two hundred grams", "3200", 1);
        check("three thousand, two hundred and forty", "3240", 0);
        check("one thousand seven hundred and five", "1705", 0);
        check("a thousand and five", "1005", 0);
        check("one hundred and one hundred and five", "100", 5);
        check("one hundred and... ten", "110", 0);
        check("ninety, five", "90", 1);
        check("1,900 and 80 grams", "1980", 1);
        check("300 and 20 millimetres", "320", 1);
        check("300 and 400", "300", 2);
    }

    #[test]
    fn places_keep_their_digits() {
        check("thirty-four point six", "34.6", 0);
        check("thirty-four point zero five", "34.05", 0);
        check("three point oh two kilos", "3.02", 1);
        check("three point twenty five", "3.25", 0);
        check("31 point 2", "31.2", 0);
        check("point eight", "0.8", 0);
        check("two and a half kilos", "2.5", 1);
        check("thirty-five and a quarter", "35.25", 0);
    }

    #[test]
    fn no_number_is_no_number() {
        for said in ["", "oh", "hello", "a", "point", "point taken", "2nd", "second", "thousand", "1234567890123"] {
            assert_eq!(number_at(&words_of(said), 0, PLAIN), None, "said: {said}");
        }
    }
}

//! What is found in words, and what it is read as.

use super::*;
use crate::speech::words::words_of;

/// Each quantity of `said` in turn, as it is read in `units`; those of another kind leave nothing.
fn read(said: &str, units: &str) -> String {
    let Some(measure) = Measure::parse(units, None) else { return "unknown unit".to_owned() };
    let words = words_of(said);
    let readings = quantities_in(&words).into_iter().filter_map(|quantity| match quantity.read_as(&measure) {
        Reading::Is(amount) => Some(format!("{amount}{}", if amount.approx { " approx" } else { "" })),
        Reading::Ask(amount, other) => {
            Some(other.map_or(format!("{amount}?"), |other| format!("{amount} or {other}?")))
        }
        Reading::Unsettled => Some("?".to_owned()),
        Reading::Not => None,
    });
    readings.collect::<Vec<_>>().join("; ")
}

#[track_caller]
fn check(said: &str, units: &str, readings: &str) {
    assert_eq!(read(said, units), readings, "said: {said}, in {units}");
}

#[test]
fn the_same_words_are_read_by_their_measure() {
    check("thirty-four six", "cm", "34.6cm");
    check("thirty-four six", "wk", "34+6wk");
    check("thirty-four six", "deg", "");
    check("one ten", "deg", "110deg");
    check("two plus", "grade", "2grade");
    check("two plus", "g|kg", "");
    check("a hundred plus behind the knees", "deg", ">100deg");
}

#[test]
fn figures_of_a_recogniser_are_read_like_words() {
    check("34.6 cm", "cm", "34.6cm");
    check("34 6", "cm", "34.6cm");
    check("34 point six", "cm", "34.6cm");
    check("346 millimetres", "cm", "34.6cm");
    check("90°", "deg", "90deg");
    check("80-90°", "deg", "80-90deg");
    check("3,240 grams", "g|kg", "3240g");
    check("38-4", "wk", "38+4wk");
    check("35-4", "cm", "35.4cm");
    check("50 to 16 degrees", "deg", "50-60deg or 16-50deg?");
    check("reflexes free plus", "grade", "3grade");
    check("39 weeks, and two days", "wk", "39+2wk");
    check("38+4/40", "wk", "38+4wk");
    check("38 4/7", "wk", "38+4wk");
    check("2+ and 3+", "grade", "2grade; 3grade");
    check("2/4", "grade", "2grade");
    check("+3", "grade", "3grade");
}

#[test]
fn a_number_that_points_counts_nothing() {
    for said in [
        "this one is slower",
        "the other one",
        "no one is here",
        "one of them",
        "one more time",
        "one side",
        "the slow one",
        "these two",
        "all four limbs",
        "two of them",
        "one at a time",
        "the second one",
        "once more",
        "one moment",
    ] {
        check(said, "beats", "");
    }
    check("on the right one plus", "grade", "1grade");
    check("right one, left one", "grade", "1grade; 1grade");
    check("all four are two plus", "grade", "2grade");
    check("it's one plus", "grade", "1grade");
}

#[test]
fn numbers_end_where_speech_pauses() {
    check("ninety, no, a hundred", "deg", "90deg; 100deg");
    check("thirty. four", "deg", "30deg; 4deg");
    check("one hundred and... ten", "deg", "110deg");
    check("right ninety, left one ten", "deg", "90deg; 110deg");
    check("two plus on this one, two plus on that one", "grade", "2grade; 2grade");
}

#[test]
fn neighbours_are_joined_when_asked() {
    let joined = |said: &str, units: &str| {
        let found = quantities_in(&words_of(said));
        let measure = Measure::parse(units, None)?;
        match found.as_slice() {
            [first, second] => match first.joined_with(second)?.read_as(&measure) {
                Reading::Is(amount) => Some(amount.to_string()),
                _ => None,
            },
            _ => None,
        }
    };
    assert_eq!(joined("ninety, a hundred", "deg").as_deref(), Some("90-100deg"));
    assert_eq!(joined("one ten, one fifteen", "deg").as_deref(), Some("110-115deg"));
    assert_eq!(joined("34, 6", "cm").as_deref(), Some("34.6cm"));
    assert_eq!(joined("five, six beats", "beats").as_deref(), Some("5-6beats"));
    assert_eq!(joined("ninety, no, a hundred", "deg"), None);
    assert_eq!(joined("right ninety, left a hundred", "deg"), None);
}

#[test]
fn counting_aloud_is_marked() {
    let counting = |said: &str| quantities_in(&words_of(said)).iter().map(|found| found.counting).collect::<Vec<_>>();
    assert_eq!(counting("One, two, three, four, five, and let go"), [true; 5]);
    assert_eq!(counting("six, seven, eight beats"), [true; 3]);
    assert_eq!(counting("one... two... three"), [true; 3]);
    assert_eq!(counting("two, three, no, two"), [false; 3]);
    assert_eq!(counting("one two three four"), [true]);
    check("one two three beats", "beats", "3beats");
}

#[test]
fn numbers_of_something_else_are_told_apart() {
    for said in [
        "10:42",
        "at four this morning",
        "ten past two",
        "bed six",
        "heart rate one eighty",
        "two seconds",
        "Apgars 9 and 10",
    ] {
        check(said, "deg", "");
    }
    let counts = |said: &str| quantities_in(&words_of(said)).first().map(|found| found.counts_next_word);
    assert_eq!(counts("two stiff legs"), Some(true));
    assert_eq!(counts("two on the left"), Some(false));
    assert_eq!(counts("two plus ankles"), Some(false));
}

#[test]
fn words_around_a_number_belong_to_it() {
    let span = |said: &str| quantities_in(&words_of(said)).first().map(|found| (found.first, found.past));
    assert_eq!(span("left at least about ninety degrees or so today"), Some((1, 8)));
    assert_eq!(span("just under thirty-five"), Some((0, 4)));
    assert_eq!(span("minus ten degrees"), Some((0, 3)));
    assert_eq!(span("grade two"), Some((0, 2)));
    check("it comes up to ninety", "deg", "90deg");
    check("up to ninety", "deg", "<=90deg");
    check("weight up to 3200", "g|kg", "3200g");
    check("minus ten degrees", "deg", "-10deg");
    check("ten or more beats", "beats", ">=10beats");
    check("between one hundred and one hundred and five", "deg", "100-105deg");
    check("ninety or a hundred", "deg", "90-100deg");
    check("one ten to twenty", "deg", "110-120deg");
}

#[test]
fn a_number_goes_on_in_the_unit_before_it() {
    let found = quantities_in(&words_of("thirty hours old, sorry, thirty-three"));
    let age = Measure::parse("h|d|wk", None);
    let [first, second] = found.as_slice() else { panic!("two numbers were said") };
    let unit = first.spoken.unit();
    let read = age.zip(unit).map(|(age, unit)| second.clone().or_in(unit).read_as(&age));
    assert!(matches!(read, Some(Reading::Is(amount)) if amount.to_string() == "33h"), "{read:?}");
}

#[test]
fn numbers_that_sound_alike_are_offered() {
    let twin = |said: &str, units: &str, limits: (i64, i64)| {
        let measure = Measure::parse(units, Some((Decimal::whole(limits.0), Decimal::whole(limits.1))))?;
        quantities_in(&words_of(said)).first()?.sounds_like(&measure).map(|amount| amount.to_string())
    };
    assert_eq!(twin("fifteen degrees", "deg", (0, 120)).as_deref(), Some("50deg"));
    assert_eq!(twin("ninety", "deg", (50, 180)), None);
    assert_eq!(twin("thirty beats", "beats", (0, 30)).as_deref(), Some("13beats"));
    assert_eq!(twin("forty-five", "deg", (0, 120)), None);
    check("on the third day of life", "h|d|wk", "3d or 2d?");
}

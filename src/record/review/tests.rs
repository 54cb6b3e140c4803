//! Tests of deciding: what is refused and why, and what undoing leaves.
//! Takes a narration with five findings and a table of wishes; fails where another outcome than the one written comes.
//! Leaves alone signing.

use std::sync::LazyLock;

use super::*;
use crate::reading;
use crate::record::person::{Moment, Person};
use crate::record::{Origin, Sources, draft};
use crate::speech::Utterance;

/// A girl; scarf left to-midline; popliteal right about 95deg; suck strong (hedged); clonus right absent.
pub(in crate::record) fn review() -> (&'static Lexicon, Review) {
    static LEXICON: LazyLock<Lexicon> = LazyLock::new(|| Lexicon::load(None).unwrap());
    let lexicon = &*LEXICON;
    let lines = [
        "This is a girl.",
        "Scarf sign on the left to the midline.",
        "Popliteal angle on the right about ninety-five degrees.",
        "The suck is strong, I think.",
        "No ankle clonus on the right.",
    ];
    let utterances: Vec<Utterance> = lines.iter().map(|line| Utterance::from_text(line)).collect();
    let origin = Origin { file_name: "a.txt".into(), sha256: "00".into(), length_ms: None };
    let sources = Sources { origin, model: None, other_models: Vec::new(), notices: Vec::new() };
    let draft = draft(lexicon, &utterances, &reading::read(lexicon, &utterances), sources);
    (lexicon, Review::new(draft))
}

pub(in crate::record) fn author(seen: u64) -> Author {
    Author { by: Person::new("A. Examiner", "registrar").unwrap(), at: Moment(1000), seen }
}

/// Reads "confirm 2", "change 2 right past-midline", "reject +6", "add moro left present", "undo 3".
pub(in crate::record) fn wish(text: &str) -> Wish {
    let words: Vec<&str> = text.split(' ').collect();
    let side = |word: &str| Side::ALL.into_iter().find(|side| side.name() == word);
    let finding = |word: &str| match word.strip_prefix('+') {
        Some(entry) => FindingId::Added(entry.parse().unwrap()),
        None => FindingId::Drafted(word.parse().unwrap()),
    };
    match words[..] {
        ["confirm", number] => Wish::Confirm(finding(number)),
        ["reject", number] => Wish::Reject(finding(number)),
        ["undo", entry] => Wish::Undo(entry.parse().unwrap()),
        ["change", number, to, value] => Wish::Change {
            finding: finding(number),
            side: side(to),
            value: (value != "=").then(|| value.to_owned()),
            approx: None,
        },
        ["add", item, to, value] => {
            Wish::Add { item: item.into(), side: side(to).unwrap(), value: value.into(), approx: false }
        }
        _ => panic!("{text}"),
    }
}

fn rows(review: &Review) -> Vec<String> {
    review.standings().iter().map(|standing| format!("{}: {}", standing.finding, standing.words())).collect()
}

/// Every wish by somebody who has seen everything; the last one's outcome is compared.
#[track_caller]
fn check(wishes: &[&str], outcome: &str) {
    let (lexicon, mut review) = review();
    let mut last = String::new();
    for text in wishes {
        let author = author(review.last());
        last = match review.decide(lexicon, &author, &wish(text)) {
            Ok(_) => String::new(),
            Err(refused) => refused.to_string(),
        };
    }
    let row = outcome.split(": ").next().unwrap_or_default();
    let standing = rows(&review).into_iter().find(|line| line.starts_with(&format!("{row}: ")));
    let came = if last.is_empty() { standing.unwrap_or_default() } else { last };
    assert_eq!(came, outcome, "{wishes:?}");
}

#[test]
fn the_draft_is_as_the_cases_take_it() {
    let (_, review) = review();
    assert_eq!(
        rows(&review),
        [
            "finding 1: undecided: sex female",
            "finding 2: undecided: scarf-sign left to-midline",
            "finding 3: undecided: suck strong",
            "finding 4: undecided: popliteal-angle right about 95deg",
            "finding 5: undecided: ankle-clonus right absent",
        ]
    );
}

#[test]
fn a_finding_is_confirmed_changed_or_rejected() {
    check(&["confirm 2"], "finding 2: confirmed: scarf-sign left to-midline");
    check(&["change 2 right ="], "finding 2: changed: scarf-sign right to-midline");
    check(&["change 2 left past-midline"], "finding 2: changed: scarf-sign left past-midline");
    check(&["change 4 = 100deg"], "finding 4: changed: popliteal-angle right about 100deg");
    check(&["reject 2"], "finding 2: rejected");
    check(&["reject 2", "change 2 right ="], "finding 2: changed: scarf-sign right to-midline");
    // What was undone is not what it was before it was rejected.
    check(
        &["change 2 left past-midline", "undo 1", "reject 2", "change 2 right ="],
        "finding 2: changed: scarf-sign right to-midline",
    );
    check(&["confirm 2", "change 2 right =", "change 2 left ="], "finding 2: changed: scarf-sign left to-midline");
    check(&["add head-lag none not-tested"], "the finding that entry 1 added: added: head-lag not-tested");
    check(&["add palmar-grasp left weak", "reject +1"], "the finding that entry 1 added: rejected");
    check(
        &["add palmar-grasp left weak", "change +1 right ="],
        "the finding that entry 1 added: changed: palmar-grasp right weak",
    );
}

#[test]
fn undoing_brings_back_what_was_before() {
    check(&["confirm 2", "undo 1"], "finding 2: undecided: scarf-sign left to-midline");
    check(&["confirm 2", "change 2 right =", "undo 2"], "finding 2: confirmed: scarf-sign left to-midline");
    check(&["change 2 right =", "reject 2", "undo 2"], "finding 2: changed: scarf-sign right to-midline");
    check(&["confirm 2", "undo 1", "confirm 2"], "finding 2: confirmed: scarf-sign left to-midline");
    let (lexicon, mut review) = review();
    for (seen, text) in (0..).zip(["add palmar-grasp left weak", "undo 1"]) {
        review.decide(lexicon, &author(seen), &wish(text)).unwrap();
    }
    assert_eq!(
        (review.standings().len(), review.entries().len()),
        (5, 2),
        "gone from the findings, not from the entries"
    );
}

#[test]
fn what_makes_no_sense_is_refused_with_what_would_do() {
    check(&["confirm 6"], "finding 6 is not there; the draft has 5, and what is added has the number of its entry");
    check(&["confirm 0"], "finding 0 is not there; the draft has 5, and what is added has the number of its entry");
    check(
        &["confirm 2", "confirm 2"],
        "finding 2 is decided already: entry 1 says scarf-sign left to-midline; undo entry 1 first, or change or reject it",
    );
    check(
        &["change 2 left to-midline"],
        "finding 2 is scarf-sign left to-midline already; confirm it, or name another value or side",
    );
    check(&["reject 2", "reject 2"], "finding 2 is rejected already; confirm it, or name another value or side");
    check(&["undo 1"], "entry 1 cannot be undone: the last one is 0");
    check(&["confirm 2", "undo 1", "undo 1"], "entry 1 cannot be undone: it was undone already");
    check(
        &["confirm 2", "undo 1", "undo 2"],
        "entry 2 cannot be undone: it is an undo itself; decide the finding anew",
    );
    check(&["confirm 2", "reject 2", "undo 1"], "entry 1 cannot be undone: entry 2 came after it; undo that first");
    check(&["change 1 left ="], "sex has no sides; leave `left` out");
    check(&["change 2 both ="], "scarf-sign is found on the left and on the right; say left or right, and both as two");
    check(
        &["change 1 none girl"],
        "`girl` is not a value of sex; it has female, male, normal, abnormal, not-tested, not-elicited",
    );
    check(&["add horn left present"], "`horn` is not an item of the lexicon");
}

#[test]
fn whoever_has_not_seen_the_last_word_is_asked_again() {
    let (lexicon, mut review) = review();
    review.decide(lexicon, &author(0), &wish("confirm 2")).unwrap();
    // Another finding is no quarrel.
    review.decide(lexicon, &author(0), &wish("confirm 3")).unwrap();
    for text in ["reject 2", "confirm 2", "change 2 right ="] {
        let refused = review.decide(lexicon, &author(0), &wish(text)).unwrap_err().to_string();
        assert_eq!(
            refused,
            "finding 2 was decided in between: entry 1 by A. Examiner, registrar says confirmed: scarf-sign left \
             to-midline; look at it and decide again"
        );
    }
    assert_eq!(review.entries().len(), 2, "a refused wish leaves nothing");
    review.decide(lexicon, &author(1), &wish("reject 2")).unwrap();
    // An undo is a word about the finding, too.
    review.decide(lexicon, &author(3), &wish("undo 3")).unwrap();
    let refused = review.decide(lexicon, &author(3), &wish("reject 2")).unwrap_err();
    assert!(matches!(&refused, Refused::AskedAgain { since, .. } if since.number == 4), "{refused}");
    review.decide(lexicon, &author(4), &wish("reject 2")).unwrap();
    // Two who add the same thing at once.
    review.decide(lexicon, &author(5), &wish("add palmar-grasp left weak")).unwrap();
    let refused = review.decide(lexicon, &author(5), &wish("add palmar-grasp left normal")).unwrap_err();
    assert!(matches!(&refused, Refused::AskedAgain { since, .. } if since.number == 6), "{refused}");
    review.decide(lexicon, &author(5), &wish("add palmar-grasp right weak")).unwrap();
    // What was added and undone meanwhile is in nobody's way; what was added behind that is.
    review.decide(lexicon, &author(7), &wish("undo 6")).unwrap();
    review.decide(lexicon, &author(5), &wish("add palmar-grasp left normal")).unwrap();
    let refused = review.decide(lexicon, &author(5), &wish("add palmar-grasp left absent")).unwrap_err();
    assert!(matches!(&refused, Refused::AskedAgain { since, .. } if since.number == 9), "{refused}");
    let refused = review.decide(lexicon, &author(10), &wish("confirm 1")).unwrap_err();
    assert_eq!(refused, Refused::SeenTooMuch { seen: 10, last: 9 });
}

#[test]
fn only_what_is_clear_and_undecided_is_confirmed_at_once() {
    let (lexicon, mut review) = review();
    review.decide(lexicon, &author(0), &wish("reject 5")).unwrap();
    let all_clear = review.confirm_all_clear();
    let wanted: Vec<Wish> = ["confirm 1", "confirm 2", "confirm 4"].map(wish).into();
    assert_eq!(all_clear, wanted, "3 is hedged, 5 is decided");
    for wish in &all_clear {
        let author = author(review.last());
        review.decide(lexicon, &author, wish).unwrap();
    }
    assert!(review.confirm_all_clear().is_empty());
    assert_eq!(review.undecided().len(), 1);
}

#[test]
fn entries_with_a_gap_or_about_nothing_are_no_review() {
    let (lexicon, mut review) = review();
    review.decide(lexicon, &author(0), &wish("confirm 2")).unwrap();
    review.decide(lexicon, &author(1), &wish("undo 1")).unwrap();
    let entries = review.entries().to_vec();
    assert_eq!(Review::replay(review.draft().clone(), entries.clone()).as_ref(), Ok(&review));
    let gap = Review::replay(review.draft().clone(), entries[1..].to_vec()).unwrap_err();
    assert_eq!(gap, NoReview::Gap { expected: 1, found: 2 });
    for decision in [Decision::Confirm(FindingId::Drafted(9)), Decision::Undo(1), Decision::Reject(FindingId::Added(1))]
    {
        let entry = Entry { decision, ..entries[0].clone() };
        let nothing = Review::replay(review.draft().clone(), vec![entry]).unwrap_err();
        assert!(matches!(nothing, NoReview::AboutNothing { entry: 1, .. }), "{nothing}");
    }
}

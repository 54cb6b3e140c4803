//! Tests of signing: what keeps a record from being signed, and what stands in one.
//! Takes the review of `review/tests.rs`; fails where something undecided is signed or a decision is lost.
//! Leaves alone single decisions.

use super::*;
use crate::record::review::tests::{author, review, wish};

const AT: Moment = Moment(5000);

fn signer() -> Person {
    Person::new("B. Senior", "consultant").unwrap()
}

fn decide(lexicon: &Lexicon, review: &mut Review, wishes: &[&str]) {
    for text in wishes {
        let author = author(review.last());
        review.decide(lexicon, &author, &wish(text)).unwrap();
    }
}

fn told(open: Vec<Undecided>) -> Vec<String> {
    open.iter().map(ToString::to_string).collect()
}

const ALL: [&str; 5] = ["confirm 1", "change 2 right past-midline", "confirm 3", "reject 4", "confirm 5"];

#[test]
fn nothing_is_signed_while_something_is_undecided() {
    let (lexicon, mut review) = review();
    decide(lexicon, &mut review, &["confirm 1", "confirm 2", "reject 4"]);
    let open = sign(lexicon, &review, &signer(), AT).unwrap_err();
    assert_eq!(
        told(open),
        ["finding 3 is undecided: suck strong (hedged)", "finding 5 is undecided: ankle-clonus right absent"]
    );
}

#[test]
fn a_signed_record_has_what_stands_what_was_and_who_decided() {
    let (lexicon, mut review) = review();
    decide(lexicon, &mut review, &ALL);
    decide(lexicon, &mut review, &["add head-lag none not-tested"]);
    let signed = sign(lexicon, &review, &signer(), AT).unwrap();
    let row =
        |found: &SignedFinding| format!("{} | {} {} {}", found.region, found.name, found.side.name(), found.value);
    let rows: Vec<String> = signed.findings().iter().map(row).collect();
    assert_eq!(
        rows,
        [
            "infant | sex none female",
            "arms | scarf sign right past-midline",
            "face and senses | suck none strong",
            "legs | ankle clonus right absent",
            "neck and trunk | head lag none not-tested"
        ]
    );
    let changed = &signed.findings()[1];
    assert_eq!(changed.drafted.as_ref().map(|was| (was.side, was.value.as_str())), Some((Side::Left, "to-midline")));
    assert_eq!((changed.decided.number, changed.decided.by.name()), (2, "A. Examiner"));
    assert!(signed.findings()[2].hedged, "confirmed as said");
    assert_eq!(signed.rejected().iter().map(|gone| gone.finding).collect::<Vec<_>>(), [FindingId::Drafted(4)]);
    assert_eq!((signed.version(), signed.predecessor(), signed.reason()), (1, None, None));
    assert_eq!((signed.signer(), signed.at(), signed.entries().len()), (&signer(), AT, 6));
}

#[test]
fn two_values_for_one_side_are_not_signed_and_exchanged_sides_are() {
    let (lexicon, mut review) = review();
    decide(lexicon, &mut review, &["confirm 1", "confirm 2", "confirm 3", "confirm 4", "confirm 5"]);
    decide(lexicon, &mut review, &["add scarf-sign left past-midline"]);
    assert_eq!(
        told(sign(lexicon, &review, &signer(), AT).unwrap_err()),
        ["finding 2 and the finding that entry 6 added both stand (scarf-sign left to-midline; scarf-sign left \
          past-midline); change or reject one of them"]
    );
    decide(lexicon, &mut review, &["change 2 right ="]);
    assert!(sign(lexicon, &review, &signer(), AT).is_ok());
}

#[test]
fn an_item_that_keeps_all_may_have_two_values_but_not_one_twice() {
    let (lexicon, mut review) = review();
    let item = lexicon.items.iter().find(|item| item.keeps_all && !item.paired).unwrap();
    let add = |value: usize| format!("add {} none {}", item.id, item.values[value].id);
    decide(lexicon, &mut review, &ALL);
    decide(lexicon, &mut review, &[&add(0), &add(1)]);
    assert!(sign(lexicon, &review, &signer(), AT).is_ok());
    decide(lexicon, &mut review, &[&add(0)]);
    let open = sign(lexicon, &review, &signer(), AT).unwrap_err();
    assert!(matches!(open[..], [Undecided::Twice { .. }]), "{open:?}");
}

#[test]
fn an_amendment_is_a_new_version_with_a_reason() {
    let (lexicon, mut review) = review();
    decide(lexicon, &mut review, &ALL);
    let signed = sign(lexicon, &review, &signer(), AT).unwrap();
    let first = signed.clone();
    let amend = |review: &Review, reason: &str| amend(lexicon, &signed, review, (&signer(), Moment(6000)), reason);
    assert_eq!(
        told(amend(&review, " ").unwrap_err()),
        [
            "no reason was given; an amendment says why it is made, in one line",
            "nothing was decided since version 1 was signed; decide first, then amend"
        ]
    );
    decide(lexicon, &mut review, &["change 5 left ="]);
    let second = amend(&review, "sides exchanged").unwrap();
    assert_eq!((second.version(), second.predecessor(), second.reason()), (2, Some(1), Some("sides exchanged")));
    assert_eq!(second.findings()[3].side, Side::Left);
    assert_eq!(signed, first, "the old version stays as it was");
    let other = review.up_to(3);
    assert!(amend(&other, "x").unwrap_err().contains(&Undecided::AnotherReview { version: 1 }));
    let again = SignedRecord::recorded(&review, 2, (&signer(), Moment(6000)), Some("sides exchanged".into()));
    assert_eq!(again.as_ref(), Ok(&second));
}

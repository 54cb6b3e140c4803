//! A finding as the page shows it.
//! Takes where a finding stands in a review; gives JSON: what was drafted or added, with its words and doubts, what was
//! decided, and what it comes to now. Leaves alone the record around it (`shown`).
//!
//! drafted as "left to midline" and changed: its `value` stays "to-midline", its `now` is what it was changed to

use serde::Serialize;

use crate::export::words::plain_value;
use crate::lexicon::Lexicon;
use crate::page::words::{LineWords, heard_by_words, how_words, reason_why, told_words};
use crate::record::decisions::Entry;
use crate::record::draft::CONTEXT_REGION;
use crate::record::{Decision, DraftFinding, Earlier, FindingId, Proof, Quote, Review, Standing, Stated, is_outside};

/// Something that stands of the infant.
#[derive(Serialize)]
pub(super) struct OfTheInfant {
    name: String,
    words: String,
}

/// A finding, drafted or added.
#[derive(Serialize)]
pub(super) struct FindingShown {
    id: String,
    item: String,
    name: String,
    region: String,
    context: bool,
    side: &'static str,
    value: String,
    words: String,
    approx: bool,
    hedged: bool,
    by_group: bool,
    reasons: Vec<ReasonShown>,
    clear: bool,
    heard_by: Option<&'static str>,
    evidence: Option<Evidence>,
    history: Vec<Replaced>,
    decision: Option<DecisionShown>,
    now: Option<StatedShown>,
    outside: bool,
}

#[derive(Serialize)]
struct ReasonShown {
    id: String,
    words: &'static str,
    why: &'static str,
}

#[derive(Serialize)]
struct Evidence {
    #[serde(flatten)]
    whole: QuoteShown,
    item: Option<QuoteShown>,
    value: QuoteShown,
    sides: Vec<QuoteShown>,
    recognised: &'static str,
    item_told: &'static str,
}

#[derive(Serialize)]
struct QuoteShown {
    quote: String,
    utterance: usize,
    first: usize,
    past: usize,
    start: Option<usize>,
    end: Option<usize>,
    from_ms: Option<u64>,
    to_ms: Option<u64>,
}

#[derive(Serialize)]
struct Replaced {
    words: String,
    why: String,
    utterance: usize,
}

#[derive(Serialize)]
struct DecisionShown {
    kind: &'static str,
    by: String,
    role: String,
    at: i64,
    entry: u64,
}

#[derive(Serialize)]
struct StatedShown {
    side: &'static str,
    value: String,
    words: String,
    approx: bool,
}

/// What a finding is about, and what was said of it first: by the draft, or by who added it.
pub(super) struct Place<'a> {
    pub(super) item: &'a str,
    first: Option<&'a Stated>,
}

impl<'a> Place<'a> {
    pub(super) fn of(review: &'a Review, standing: &Standing<'a>) -> Self {
        let added = match standing.finding {
            FindingId::Added(number) => review.entries().iter().find(|entry| entry.number == number),
            FindingId::Drafted(_) => None,
        };
        let first =
            added.and_then(|entry| if let Decision::Add(stated) = &entry.decision { Some(stated) } else { None });
        let item = standing.drafted.map(|drafted| &drafted.item).or(first.map(|stated| &stated.item));
        Self { item: item.map_or("", String::as_str), first }
    }

    fn name_and_region(&self, lexicon: &Lexicon, review: &Review) -> (String, String) {
        let (name, region) = review.draft().name_and_region_by(lexicon, self.item);
        (name.to_owned(), region.to_owned())
    }
}

impl OfTheInfant {
    /// All that stands of the infant, in the draft's order.
    pub(super) fn all(lexicon: &Lexicon, review: &Review, standings: &[Standing<'_>]) -> Vec<Self> {
        let of = |standing: &Standing<'_>| {
            let (name, region) = Place::of(review, standing).name_and_region(lexicon, review);
            let stated = standing.stands.as_ref().filter(|_| region == CONTEXT_REGION)?;
            let words = plain_value(&stated.value, stated.figures.as_ref());
            Some(Self { name, words: if stated.approx { format!("about {words}") } else { words } })
        };
        standings.iter().filter_map(of).collect()
    }
}

impl FindingShown {
    pub(super) fn of(lexicon: &Lexicon, review: &Review, lines: &[LineWords], standing: &Standing<'_>) -> Self {
        let place = Place::of(review, standing);
        let (name, region) = place.name_and_region(lexicon, review);
        let (drafted, first) = (standing.drafted, place.first);
        let side = drafted.map(|drafted| drafted.side).or(first.map(|stated| stated.side));
        let value = drafted.map(|drafted| &drafted.value).or(first.map(|stated| &stated.value));
        let figures = drafted.map(|drafted| &drafted.figures).or(first.map(|stated| &stated.figures));
        let words = value.map(|value| plain_value(value, figures.and_then(Option::as_ref)));
        Self {
            id: standing.finding.written(),
            item: place.item.to_owned(),
            name,
            context: region == CONTEXT_REGION,
            region,
            side: side.map_or("none", |side| side.name()),
            value: value.cloned().unwrap_or_default(),
            words: words.unwrap_or_default(),
            approx: drafted.map_or_else(|| first.is_some_and(|stated| stated.approx), |drafted| drafted.approx),
            hedged: drafted.is_some_and(|drafted| drafted.hedged),
            by_group: drafted.is_some_and(|drafted| drafted.by_group),
            reasons: drafted.map(ReasonShown::all).unwrap_or_default(),
            clear: drafted.is_none_or(DraftFinding::is_clear),
            heard_by: drafted.and_then(|drafted| heard_by_words(drafted.heard_by)),
            evidence: drafted.map(|drafted| Evidence::of(lines, &drafted.proof)),
            history: drafted.map(|drafted| drafted.history.iter().map(Replaced::of).collect()).unwrap_or_default(),
            decision: standing.decided.and_then(DecisionShown::of),
            now: standing.stands.as_ref().map(StatedShown::of),
            outside: standing.stands.as_ref().is_some_and(|stated| is_outside(lexicon, stated)),
        }
    }
}

/// The finding that a page means.
pub(super) fn finding_id(written: &str) -> Option<FindingId> {
    let number = |digits: &str| digits.parse().ok().filter(|_| digits.bytes().all(|byte| byte.is_ascii_digit()));
    match written.split_at_checked(1)? {
        ("d", digits) => number(digits).map(FindingId::Drafted),
        ("a", digits) => number(digits).map(FindingId::Added),
        _ => None,
    }
}

impl ReasonShown {
    fn all(drafted: &DraftFinding) -> Vec<Self> {
        let shown = drafted.reasons.iter().map(|reason| Self {
            id: reason.words().replace(' ', "-"),
            words: reason.words(),
            why: reason_why(*reason),
        });
        shown.collect()
    }
}

impl Evidence {
    fn of(lines: &[LineWords], proof: &Proof) -> Self {
        Self {
            whole: QuoteShown::of(lines, &proof.quote),
            item: proof.item.as_ref().map(|quote| QuoteShown::of(lines, quote)),
            value: QuoteShown::of(lines, &proof.value),
            sides: proof.sides.iter().map(|quote| QuoteShown::of(lines, quote)).collect(),
            recognised: how_words(proof.how),
            item_told: told_words(proof.told),
        }
    }
}

impl QuoteShown {
    fn of(lines: &[LineWords], quote: &Quote) -> Self {
        let stretch = lines.get(quote.span.utterance).and_then(|line| line.stretch(quote));
        Self {
            quote: quote.text.clone(),
            utterance: quote.span.utterance,
            first: quote.span.first,
            past: quote.span.past,
            start: stretch.map(|stretch| stretch.start),
            end: stretch.map(|stretch| stretch.end),
            from_ms: quote.sound.map(|sound| sound.start_ms),
            to_ms: quote.sound.map(|sound| sound.end_ms),
        }
    }
}

impl Replaced {
    fn of(earlier: &Earlier) -> Self {
        Self {
            words: plain_value(&earlier.value, earlier.figures.as_ref()),
            why: earlier.quote.text.clone(),
            utterance: earlier.quote.span.utterance,
        }
    }
}

impl DecisionShown {
    fn of(entry: &Entry) -> Option<Self> {
        if matches!(entry.decision, Decision::Undo(_)) {
            return None;
        }
        let kind = entry.decision.name();
        let (by, role) = (entry.by.name().to_owned(), entry.by.role().to_owned());
        Some(Self { kind, by, role, at: entry.at.0, entry: entry.number })
    }
}

impl StatedShown {
    fn of(stated: &Stated) -> Self {
        let words = plain_value(&stated.value, stated.figures.as_ref());
        Self { side: stated.side.name(), value: stated.value.clone(), words, approx: stated.approx }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_is_named_in_two_ways_and_in_no_other() {
        for finding in [FindingId::Drafted(12), FindingId::Added(3)] {
            assert_eq!(finding_id(&finding.written()), Some(finding));
        }
        for wrong in ["", "d", "12", "e1", "d-1", "d+1", "d1x", "ä1", "d99999999999999999999"] {
            assert_eq!(finding_id(wrong), None, "{wrong}");
        }
    }
}

//! Several hearings of one recording → one narration, and which of them came to each finding.
//! Takes the utterances of the first recogniser and of others; gives those of the first, with what another understood in
//! the place of words that came to nothing or that two others understood alike, and the findings marked.
//! Leaves alone what is done with the marks (`record`). Nothing that the first hearing came to is taken away, but for what
//! two others outvote.
//!
//! "Ristangle forty" and "wrist angle forty" give the second, marked; "clonus absent", heard twice, can be clear even
//! where much else was misheard

use std::ops::Range;

use crate::lexicon::{How, ItemIx, Lexicon};
use crate::reading::{self, Finding, HeardBy, Reading, Side, Value};
use crate::span::{SoundSpan, Span};
use crate::speech::Utterance;

/// No more utterances than this are put in the place of others at a time.
const MOST: usize = 4;
/// Times of two recognisers waver by so much, in milliseconds.
const WAVER_MS: u64 = 400;

/// What several hearings come to together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Together {
    /// The utterances.
    pub(super) utterances: Vec<Utterance>,
    /// Beside each what stood there at first, where another hearing took its place.
    pub(super) at_first: Vec<Option<String>>,
    /// The reading of the utterances, with findings marked.
    pub(super) reading: Reading,
}

/// What several hearings come to, before it is marked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Gathered {
    /// The narration as it stands.
    pub(super) now: Narrated,
    /// What each hearing came to by itself.
    pub(super) hearings: Vec<Reading>,
}

/// An utterance, and what was put into it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    /// As it stands.
    pub(super) said: Utterance,
    /// What stood there at first, where something else took its place.
    pub(super) at_first: Option<String>,
    /// Whether it is another hearing's.
    of_other: bool,
    /// The words that were put right by listening again.
    pub(super) again: Vec<Range<usize>>,
}

impl Line {
    fn heard(said: Utterance) -> Self {
        Self { said, at_first: None, of_other: false, again: Vec::new() }
    }

    /// Whether words of a span are not those of the first hearing.
    fn was_put_in(&self, span: &Span) -> bool {
        self.of_other || self.again.iter().any(|words| words.start < span.past && span.first < words.end)
    }
}

/// Utterances as they were heard first.
#[must_use]
pub(super) fn lines_of(first: Vec<Utterance>) -> Vec<Line> {
    first.into_iter().map(Line::heard).collect()
}

/// Takes hearings together.
#[must_use]
pub(super) fn gathered(lexicon: &Lexicon, first: Vec<Line>, again: &[Vec<Utterance>]) -> Gathered {
    let others: Vec<Reading> = again.iter().map(|heard| reading::read(lexicon, heard)).collect();
    let mut now = Narrated::new(lexicon, first);
    let hearings: Vec<Reading> = std::iter::once(now.reading.clone()).chain(others).collect();
    for (other, heard) in hearings.iter().skip(1).zip(again) {
        for finding in &other.findings {
            if let Some(better) = now.bettered(lexicon, finding, heard, &hearings) {
                now = better;
            }
        }
    }
    Gathered { now, hearings }
}

/// How many hearings came to the same, and how many to something else about the item and side. Of an item that keeps all
/// its values nobody comes to something else.
fn votes(lexicon: &Lexicon, hearings: &[Reading], found: &Result) -> (usize, usize) {
    let of = |wanted: &dyn Fn(&Finding) -> bool| hearings.iter().filter(|one| one.findings.iter().any(wanted)).count();
    let same = of(&|one| result(one) == *found);
    let all = of(&|one| one.stands.item == found.0 && one.stands.side == found.1);
    let other = if lexicon.items[found.0].keeps_all { 0 } else { all - same.min(all) };
    (same, other)
}

/// Whether each hearing that came to it did so by words that only sound like the lexicon's: two recognisers may mishear
/// "unsustained" as "and sustained".
fn by_sound_alone(hearings: &[Reading], found: &Result) -> bool {
    let mut came = hearings.iter().flat_map(|one| &one.findings).filter(|one| result(one) == *found);
    came.all(|one| matches!(one.stands.because.how, How::Sound(_)))
}

/// What a finding says.
pub(super) type Result = (ItemIx, Side, Value);

pub(super) fn result(finding: &Finding) -> Result {
    (finding.stands.item, finding.stands.side, finding.stands.value.clone())
}

/// Utterances, each with what stood there at first, and their reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Narrated {
    pub(super) lines: Vec<Line>,
    reading: Reading,
}

impl Narrated {
    pub(super) fn new(lexicon: &Lexicon, lines: Vec<Line>) -> Self {
        let utterances: Vec<Utterance> = lines.iter().map(|line| line.said.clone()).collect();
        let reading = reading::read(lexicon, &utterances);
        Self { lines, reading }
    }

    /// Whether something stands that the finding would quarrel with.
    fn has_any(&self, lexicon: &Lexicon, found: &Result) -> bool {
        let (item, side) = (found.0, found.1);
        if lexicon.items[item].keeps_all {
            return self.has(found);
        }
        let same = |finding: &&Finding| finding.stands.item == item;
        let mut of_item = self.reading.findings.iter().filter(same);
        of_item.any(|finding| {
            finding.stands.side == side || finding.stands.side == Side::Unstated || side == Side::Unstated
        })
    }

    /// The narration with what another hearing understood in the place of what came to nothing, or of what two others
    /// understood otherwise; `None` where that would lose anything else.
    fn bettered(
        &self,
        lexicon: &Lexicon,
        finding: &Finding,
        heard: &[Utterance],
        hearings: &[Reading],
    ) -> Option<Self> {
        let found = result(finding);
        let several = !lexicon.items[found.0].keeps_all && votes(lexicon, hearings, &found).0 > 1;
        let outvoted = several && self.votes_for_own(lexicon, &found, hearings) == Some(1);
        if !outvoted && self.has_any(lexicon, &found) {
            return None;
        }
        let because = &finding.stands.because;
        let places = because.item.into_iter().chain([because.value]).map(|span| span.utterance);
        let (from, to) = places.fold((usize::MAX, 0), |(from, to), at| (from.min(at), to.max(at)));
        let better = Self::new(lexicon, self.with(heard, (from, to + 1))?);
        let kept = self.reading.findings.iter().all(|own| {
            let own = result(own);
            better.has(&own) || outvoted && (own.0, own.1) == (found.0, found.1)
        });
        // What another hearing wrote in the place of an order is no finding.
        let orders = |one: &Self| one.reading.ordered.iter().map(|order| order.command).collect::<Vec<_>>();
        (kept && better.has(&found) && orders(&better) == orders(self)).then_some(better)
    }

    fn has(&self, found: &Result) -> bool {
        self.reading.findings.iter().any(|own| result(own) == *found)
    }

    /// Whether words from `first` to before `past` of a line belong to an order.
    pub(super) fn is_order(&self, at: usize, (first, past): (usize, usize)) -> bool {
        let words = Span { utterance: at, first, past };
        self.reading.ordered.iter().any(|order| order.quote.overlaps(words))
    }

    /// How many hearings came to what this one says of the item and side, if it says anything.
    fn votes_for_own(&self, lexicon: &Lexicon, found: &Result, hearings: &[Reading]) -> Option<usize> {
        let own = self.reading.findings.iter().find(|own| own.stands.item == found.0 && own.stands.side == found.1)?;
        (result(own) != *found).then(|| votes(lexicon, hearings, &result(own)).0)
    }

    /// Whether it comes to all that the other does. What rests on the line `at` alone may be lost: there another phrase is told
    /// by the sound, and "viceps present" had given a result to what was spoken of before.
    pub(super) fn keeps(&self, other: &Self, at: usize) -> bool {
        let rests = |finding: &Finding| {
            let because = &finding.stands.because;
            because.value.utterance == at && because.item.is_none_or(|item| item.utterance == at)
        };
        other.reading.findings.iter().all(|own| self.has(&result(own)) || rests(own))
    }

    /// Whether it comes to anything that the other does not.
    pub(super) fn gains_over(&self, other: &Self) -> bool {
        self.reading.findings.iter().any(|own| !other.has(&result(own)))
    }

    /// The lines with some of another hearing's in the place of those spoken at the same time; `None` where the two do
    /// not part at the same pauses.
    fn with(&self, second: &[Utterance], (from, past): (usize, usize)) -> Option<Vec<Line>> {
        let (mut theirs, mut ours) = ((from, past), (0, 0));
        loop {
            let span = SoundSpan::around(second.get(theirs.0..theirs.1)?.iter().filter_map(|said| said.sound))?;
            ours = self.spoken_within(span, ours)?;
            let sounds = self.lines[ours.0..ours.1].iter().filter_map(|line| line.said.sound);
            let Some(own) = SoundSpan::around(sounds) else { break };
            let wider = widened(second, theirs, own);
            if wider == theirs {
                break;
            }
            theirs = wider;
            if theirs.1 - theirs.0 > MOST || ours.1 - ours.0 > MOST {
                return None;
            }
        }
        if self.lines[ours.0..ours.1].iter().any(|line| line.at_first.is_some()) {
            return None;
        }
        let replaced: Vec<&str> = self.lines[ours.0..ours.1].iter().map(|line| line.said.text.as_str()).collect();
        let replaced = replaced.join(" ");
        let line =
            |said: &Utterance| Line { at_first: Some(replaced.clone()), of_other: true, ..Line::heard(said.clone()) };
        let put_in = second[theirs.0..theirs.1].iter().map(line);
        let before = self.lines[..ours.0].iter().cloned();
        Some(before.chain(put_in).chain(self.lines[ours.1..].iter().cloned()).collect())
    }

    /// The lines that were spoken within a span; an empty range at their place in time if there is none.
    fn spoken_within(&self, span: SoundSpan, known: (usize, usize)) -> Option<(usize, usize)> {
        let within = |line: &Line| line.said.sound.is_some_and(|sound| overlap(sound, span));
        let Some(first) = self.lines.iter().position(within) else {
            let behind = |line: &Line| line.said.sound.is_some_and(|sound| sound.start_ms >= span.start_ms);
            let at = self.lines.iter().position(behind).unwrap_or(self.lines.len());
            return Some((at, at));
        };
        let last = self.lines.iter().rposition(within)?;
        Some(if known == (0, 0) { (first, last + 1) } else { (first.min(known.0), (last + 1).max(known.1)) })
    }
}

impl Gathered {
    /// The narration with a mark on each finding, by how many came to it.
    #[must_use]
    pub(super) fn marked(self, lexicon: &Lexicon) -> Together {
        let Narrated { lines, mut reading } = self.now;
        for finding in &mut reading.findings {
            let because = &finding.stands.because;
            let spans = || because.item.iter().chain([&because.value]).chain(&because.sides);
            let line = |span: &Span| lines.get(span.utterance);
            let put_in = spans().any(|span| line(span).is_some_and(|line| line.was_put_in(span)));
            let again = spans().any(|span| line(span).is_some_and(|line| !line.of_other && line.was_put_in(span)));
            finding.heard_by = match votes(lexicon, &self.hearings, &result(finding)) {
                (_, 1..) => HeardBy::Otherwise,
                (2.., 0) if by_sound_alone(&self.hearings, &result(finding)) => HeardBy::SoundAlone,
                (same, 0) if same > 2 && same == self.hearings.len() => HeardBy::All,
                (2.., 0) => HeardBy::Two,
                // One understood it, and the sound told the same.
                (1, 0) if again => HeardBy::Two,
                _ if put_in => HeardBy::OtherAlone,
                _ => HeardBy::FirstAlone,
            };
        }
        let (utterances, at_first) = lines.into_iter().map(|line| (line.said, line.at_first)).unzip();
        Together { utterances, at_first, reading }
    }
}

/// The second hearing's utterances that were spoken within what is known so far, wider where they reach over it.
fn widened(second: &[Utterance], (from, past): (usize, usize), span: SoundSpan) -> (usize, usize) {
    let within = |said: &Utterance| said.sound.is_some_and(|sound| overlap(sound, span));
    let first = second.iter().position(within).map_or(from, |first| first.min(from));
    let last = second.iter().rposition(within).map_or(past, |last| (last + 1).max(past));
    (first, last)
}

/// Whether two spans share more than times waver by, or most of the shorter.
fn overlap(one: SoundSpan, other: SoundSpan) -> bool {
    let shared = one.end_ms.min(other.end_ms).saturating_sub(one.start_ms.max(other.start_ms));
    let shorter = (one.end_ms - one.start_ms).min(other.end_ms - other.start_ms);
    shared > WAVER_MS || shared * 2 > shorter
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::draft::value_text;
    use crate::speech::Transcriber;
    use crate::speech::scripted::Scripted;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// A hearing of which each line lasts three seconds.
    fn hearing(lines: &[&str]) -> Vec<Utterance> {
        let placed: Vec<(u64, u64, &str)> =
            (0u64..).zip(lines).map(|(at, line)| (4000 * at, 4000 * at + 3000, *line)).collect();
        let mut scripted =
            Scripted::of_lines(&placed.into_iter().filter(|line| !line.2.is_empty()).collect::<Vec<_>>());
        scripted.transcribe(&vec![0.0; 64_000 * lines.len()], &mut |_| ()).unwrap().utterances
    }

    fn taken(first: &[&str], others: &[&[&str]]) -> (Together, Vec<(String, &'static str, String, HeardBy)>) {
        let others: Vec<Vec<Utterance>> = others.iter().map(|lines| hearing(lines)).collect();
        let together = gathered(lexicon(), lines_of(hearing(first)), &others).marked(lexicon());
        let found = |finding: &Finding| {
            let stands = &finding.stands;
            let item = lexicon().items[stands.item].id.clone();
            (item, stands.side.name(), value_text(lexicon(), stands), finding.heard_by)
        };
        let findings = together.reading.findings.iter().map(found).collect();
        (together, findings)
    }

    #[track_caller]
    fn check(first: &[&str], others: &[&[&str]], expected: &[(&str, &str, &str, HeardBy)]) {
        let (_, found) = taken(first, others);
        let found: Vec<(&str, &str, &str, HeardBy)> =
            found.iter().map(|(item, side, value, by)| (item.as_str(), *side, value.as_str(), *by)).collect();
        assert_eq!(found, expected, "{first:?} {others:?}");
    }

    const CLONUS: &str = "No ankle clonus on the left.";
    const MORO: &str = "The Moro is symmetrical and complete.";

    #[test]
    fn what_was_heard_alike_is_known_to_be() {
        let absent = |by| [("ankle-clonus", "left", "absent", by)];
        check(&[CLONUS], &[&[CLONUS]], &absent(HeardBy::Two));
        check(&[CLONUS], &[&[CLONUS], &[CLONUS]], &absent(HeardBy::All));
        check(
            &[CLONUS],
            &[&["No ankle clonus on the left."], &["Not an uncle bonus on the left."]],
            &absent(HeardBy::Two),
        );
        check(&[CLONUS], &[&["Good morning."], &[]], &absent(HeardBy::FirstAlone));
        check(&[CLONUS], &[&["Ankle clonus on the left, six beats."], &[CLONUS]], &absent(HeardBy::Otherwise));
    }

    #[test]
    fn what_another_hearing_understood_is_put_in_and_keeps_what_stood_there() {
        let garbled = ["Not an uncle bonus on the lift.", MORO];
        let (together, found) = taken(&garbled, &[&[CLONUS, MORO]]);
        assert_eq!(found[0].0, "ankle-clonus");
        assert_eq!(found[0].3, HeardBy::OtherAlone);
        assert_eq!(together.utterances[0].text, CLONUS);
        assert_eq!(together.at_first, [Some(garbled[0].to_owned()), None]);
        // Two who understood the same may be believed.
        let (_, found) = taken(&garbled, &[&[CLONUS, MORO], &[CLONUS, MORO]]);
        assert_eq!(found[0].3, HeardBy::Two);
        // What the first hearing slept through has its place in time.
        let (together, _) = taken(&["", MORO], &[&[CLONUS, MORO]]);
        let texts: Vec<&str> = together.utterances.iter().map(|said| said.text.as_str()).collect();
        assert_eq!(texts, [CLONUS, MORO]);
        assert_eq!(together.at_first, [Some(String::new()), None]);
    }

    #[test]
    fn two_outvote_the_first_and_one_does_not() {
        let six = "Ankle clonus on the left, six beats.";
        check(&[six], &[&[CLONUS], &[CLONUS]], &[("ankle-clonus", "left", "absent", HeardBy::Otherwise)]);
        check(&[six], &[&[CLONUS], &[]], &[("ankle-clonus", "left", "6beats", HeardBy::Otherwise)]);
    }

    #[test]
    fn nothing_that_the_first_hearing_came_to_is_lost() {
        // The second understood the clonus and lost the knee jerk in the same breath.
        let first = "The left knee jerk is two plus, and no uncle bonus on the lift.";
        let second = "The left pancake is to plus, and no ankle clonus on the left.";
        let (together, found) = taken(&[first], &[&[second]]);
        assert!(found.iter().any(|found| found.0 == "knee-jerk"), "{found:?}");
        assert_eq!(together.utterances[0].text, first);
        check(&[], &[&[]], &[]);
    }
}

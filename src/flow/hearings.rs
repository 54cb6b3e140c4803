//! Two hearings of one recording → one narration, and what both came to.
//! Takes the utterances of two recognisers; gives those of the first, with what only the second understood in the place
//! of words that came to nothing, and marks the findings that both hearings came to.
//! Leaves alone what was heard the same way and what the first hearing came to by itself: nothing is taken away.
//!
//! "Ristangle forty" and "wrist angle forty" give the second, marked as heard unclearly; "clonus absent", heard twice,
//! is clear even where much else was misheard

use crate::lexicon::{ItemIx, Lexicon};
use crate::reading::{self, Finding, HeardBy, Reading, Side, Value};
use crate::span::SoundSpan;
use crate::speech::Utterance;

/// No more utterances than this are put in the place of others at a time.
const MOST: usize = 4;
/// Times of two recognisers waver by so much, in milliseconds.
const WAVER_MS: u64 = 400;

/// What two hearings come to together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Together {
    /// The utterances.
    pub(super) utterances: Vec<Utterance>,
    /// Beside each what stood there at first, where the second hearing took its place.
    pub(super) at_first: Vec<Option<String>>,
    /// The reading of the utterances, with findings marked.
    pub(super) reading: Reading,
}

/// Takes two hearings together.
#[must_use]
pub(super) fn together(lexicon: &Lexicon, first: Vec<Utterance>, again: &[Vec<Utterance>]) -> Together {
    let others: Vec<Reading> = again.iter().map(|heard| reading::read(lexicon, heard)).collect();
    let mut now = Narrated::new(lexicon, first.into_iter().map(|said| (said, None)).collect());
    let hearings: Vec<Reading> = std::iter::once(now.reading.clone()).chain(others).collect();
    for (other, heard) in hearings.iter().skip(1).zip(again) {
        for finding in &other.findings {
            if let Some(better) = now.bettered(lexicon, finding, heard, &hearings) {
                now = better;
            }
        }
    }
    now.marked(&hearings)
}

/// How many hearings came to the same, and how many to something else about the item and side.
fn votes(hearings: &[Reading], found: &Result) -> (usize, usize) {
    let of = |wanted: &dyn Fn(&Finding) -> bool| hearings.iter().filter(|one| one.findings.iter().any(wanted)).count();
    let same = of(&|one| result(one) == *found);
    let all = of(&|one| one.stands.item == found.0 && one.stands.side == found.1);
    (same, all - same.min(all))
}

/// What a finding says.
type Result = (ItemIx, Side, Value);

fn result(finding: &Finding) -> Result {
    (finding.stands.item, finding.stands.side, finding.stands.value.clone())
}

/// Utterances, each with what stood there at first, and their reading.
struct Narrated {
    lines: Vec<(Utterance, Option<String>)>,
    reading: Reading,
}

impl Narrated {
    fn new(lexicon: &Lexicon, lines: Vec<(Utterance, Option<String>)>) -> Self {
        let utterances: Vec<Utterance> = lines.iter().map(|(said, _)| said.clone()).collect();
        let reading = reading::read(lexicon, &utterances);
        Self { lines, reading }
    }

    fn has_any(&self, item: ItemIx, side: Side) -> bool {
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
        let outvoted = votes(hearings, &found).0 > 1 && self.votes_for_own(&found, hearings) == Some(1);
        if !outvoted && self.has_any(found.0, found.1) {
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
        (kept && better.has(&found)).then_some(better)
    }

    fn has(&self, found: &Result) -> bool {
        self.reading.findings.iter().any(|own| result(own) == *found)
    }

    /// How many hearings came to what this one says of the item and side, if it says anything.
    fn votes_for_own(&self, found: &Result, hearings: &[Reading]) -> Option<usize> {
        let own = self.reading.findings.iter().find(|own| own.stands.item == found.0 && own.stands.side == found.1)?;
        (result(own) != *found).then(|| votes(hearings, &result(own)).0)
    }

    /// The lines with some of the second hearing's in the place of those spoken at the same time; `None` where the two
    /// hearings do not part at the same pauses.
    fn with(&self, second: &[Utterance], (from, past): (usize, usize)) -> Option<Vec<(Utterance, Option<String>)>> {
        let (mut theirs, mut ours) = ((from, past), (0, 0));
        loop {
            let span = spoken(second.get(theirs.0..theirs.1)?)?;
            ours = self.spoken_within(span, ours)?;
            let Some(own) = spoken_lines(&self.lines[ours.0..ours.1]) else { break };
            let wider = widened(second, theirs, own);
            if wider == theirs {
                break;
            }
            theirs = wider;
            if theirs.1 - theirs.0 > MOST || ours.1 - ours.0 > MOST {
                return None;
            }
        }
        if self.lines[ours.0..ours.1].iter().any(|(_, at_first)| at_first.is_some()) {
            return None;
        }
        let replaced: Vec<&str> = self.lines[ours.0..ours.1].iter().map(|(said, _)| said.text.as_str()).collect();
        let replaced = replaced.join(" ");
        let put_in = second[theirs.0..theirs.1].iter().map(|said| (said.clone(), Some(replaced.clone())));
        let before = self.lines[..ours.0].iter().cloned();
        Some(before.chain(put_in).chain(self.lines[ours.1..].iter().cloned()).collect())
    }

    /// The lines that were spoken within a span; an empty range at their place in time if there is none.
    fn spoken_within(&self, span: SoundSpan, known: (usize, usize)) -> Option<(usize, usize)> {
        let within = |(said, _): &(Utterance, _)| said.sound.is_some_and(|sound| overlap(sound, span));
        let Some(first) = self.lines.iter().position(within) else {
            let behind = |(said, _): &(Utterance, _)| said.sound.is_some_and(|sound| sound.start_ms >= span.start_ms);
            let at = self.lines.iter().position(behind).unwrap_or(self.lines.len());
            return Some((at, at));
        };
        let last = self.lines.iter().rposition(within)?;
        Some(if known == (0, 0) { (first, last + 1) } else { (first.min(known.0), (last + 1).max(known.1)) })
    }

    fn marked(mut self, hearings: &[Reading]) -> Together {
        for finding in &mut self.reading.findings {
            let because = &finding.stands.because;
            let mut spans = because.item.iter().chain([&because.value]).chain(&because.sides);
            let put_in = spans.any(|span| self.lines.get(span.utterance).is_some_and(|line| line.1.is_some()));
            finding.heard_by = match votes(hearings, &result(finding)) {
                (_, 1..) => HeardBy::Otherwise,
                (same, 0) if same > 2 && same == hearings.len() => HeardBy::All,
                (2.., 0) => HeardBy::Two,
                _ if put_in => HeardBy::OtherAlone,
                _ => HeardBy::FirstAlone,
            };
        }
        let (utterances, at_first) = self.lines.into_iter().unzip();
        Together { utterances, at_first, reading: self.reading }
    }
}

/// The second hearing's utterances that were spoken within what is known so far, wider where they reach over it.
fn widened(second: &[Utterance], (from, past): (usize, usize), span: SoundSpan) -> (usize, usize) {
    let within = |said: &Utterance| said.sound.is_some_and(|sound| overlap(sound, span));
    let first = second.iter().position(within).map_or(from, |first| first.min(from));
    let last = second.iter().rposition(within).map_or(past, |last| (last + 1).max(past));
    (first, last)
}

fn spoken(utterances: &[Utterance]) -> Option<SoundSpan> {
    let start_ms = utterances.iter().filter_map(|said| said.sound).map(|sound| sound.start_ms).min()?;
    let end_ms = utterances.iter().filter_map(|said| said.sound).map(|sound| sound.end_ms).max()?;
    Some(SoundSpan { start_ms, end_ms })
}

fn spoken_lines(lines: &[(Utterance, Option<String>)]) -> Option<SoundSpan> {
    let start_ms = lines.iter().filter_map(|(said, _)| said.sound).map(|sound| sound.start_ms).min()?;
    let end_ms = lines.iter().filter_map(|(said, _)| said.sound).map(|sound| sound.end_ms).max()?;
    Some(SoundSpan { start_ms, end_ms })
}

/// Whether two spans share more than times waver by, or most of the shorter.
fn overlap(one: SoundSpan, other: SoundSpan) -> bool {
    let shared = one.end_ms.min(other.end_ms).saturating_sub(one.start_ms.max(other.start_ms));
    let shorter = (one.end_ms - one.start_ms).min(other.end_ms - other.start_ms);
    shared > WAVER_MS || shared * 2 > shorter
}

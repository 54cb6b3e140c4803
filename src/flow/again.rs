//! Words that came to nothing → what the sound says was meant.
//! Takes a narration and a recogniser; for words that sound a little like a phrase of the lexicon the recogniser tells which
//! text fits the sound. What fits about as well as what was written, and better than its rivals, is put in where it comes to
//! a finding. Leaves alone what was understood, and every finding that rests on other words.
//!
//! "Viceps present, left and right" against "Biceps present, left and right" gives the second, marked as heard unclearly

use crate::audio::Sound;
use crate::flow::hearings::Narrated;
use crate::lexicon::{Lexicon, Rival, rivals_in};
use crate::span::SoundSpan;
use crate::speech::{Contest, SpeechError, Transcriber, Utterance};

/// By how much a text may be beaten by the one that was written, in nats, where a word in its place is none of English.
const BEHIND_NO_WORD: f32 = 4.0;
/// The same where all are words. Chosen with the others by a sweep over 1,540 s of synthetic voices, judged by tiny.en; from 5
/// to 8, and of `LEAD` from 1 to 3, the F1 of the findings moved by .01 at most.
const BEHIND_WORDS: f32 = 6.0;
/// By how much it must lead over what says something else in the same place.
const LEAD: f32 = 2.0;
/// The same for the long name of an item that sounds alike: names are rare in what the recogniser learnt from, and are written
/// as words that are not. "Pop like a angle" for "popliteal angle" is 12 ahead of it.
const NAME: Long = Long { behind: 12.0, lead: 6.0, letters: 8, alike: 0.6 };

/// What is asked of a long name.
struct Long {
    behind: f32,
    lead: f32,
    letters: usize,
    alike: f32,
}

/// Air around an utterance, in milliseconds.
const AIR_MS: u64 = 300;
/// Phrases that are tried in an utterance in the place of what is no word, and of words.
const MOST_FOR_NO_WORD: usize = 5;
const MOST_FOR_WORDS: usize = 6;
/// How alike words and a phrase must sound for the question to be worth its while.
const ALIKE: f32 = 0.65;

/// An utterance that was listened to again.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// What was written.
    pub heard: String,
    /// The sum of logarithms for it.
    pub chance: f32,
    /// What else could have been said, with the same.
    pub rivals: Vec<(String, f32)>,
    /// What stands there now, if it is something else.
    pub put_in: Option<String>,
}

/// Texts for an utterance, each with one phrase in its place.
struct Question {
    at: usize,
    candidates: Vec<(Rival, Utterance)>,
}

/// Puts right what the sound tells of the lines from `since` on.
///
/// # Errors
/// If the recogniser fails or was stopped.
pub(super) fn put_right(
    lexicon: &Lexicon,
    now: &mut Narrated,
    (sound, since): (&dyn Sound, usize),
    judge: &mut dyn Transcriber,
) -> Result<Vec<Asked>, SpeechError> {
    let questions: Vec<Question> = (since..now.lines.len()).filter_map(|at| question(lexicon, now, at)).collect();
    let said = |at: usize| now.lines.get(at).map(|line| &line.said);
    let texts =
        |question: &Question| contest(&said, question.at, &mut question.candidates.iter().map(|(_, said)| &said.text));
    let contests: Vec<Contest> = questions.iter().filter_map(texts).collect();
    let Some(scores) = judge.scores(sound, &contests)? else { return Ok(Vec::new()) };
    let before = now.clone();
    for (question, scores) in questions.iter().zip(&scores) {
        // One of the texts was not asked about when somebody listened: what would have led is not known.
        if scores.iter().any(|chance| chance.is_nan()) {
            continue;
        }
        let Some((heard, chances)) = scores.split_first() else { continue };
        let places = told(&question.candidates, *heard, chances);
        if let Some(better) = better(lexicon, now, question.at, &places) {
            *now = better;
        }
    }
    take_back(lexicon, now, &before);
    let asked = questions.iter().zip(&contests).zip(scores);
    Ok(asked.filter_map(|((question, contest), scores)| asked_of(now, question.at, contest, &scores)).collect())
}

fn asked_of(now: &Narrated, at: usize, contest: &Contest, scores: &[f32]) -> Option<Asked> {
    let line = now.lines.get(at)?;
    let mut texts = contest.texts.iter().cloned().zip(scores.iter().copied());
    let (heard, chance) = texts.next()?;
    let put_in = (!line.again.is_empty()).then(|| line.said.text.clone());
    Some(Asked { heard, chance, rivals: texts.collect(), put_in })
}

/// Takes back what was put right and comes to nothing.
fn take_back(lexicon: &Lexicon, now: &mut Narrated, before: &Narrated) {
    for (at, was) in before.lines.iter().enumerate() {
        if now.lines.get(at).is_none_or(|line| line == was) {
            continue;
        }
        let mut lines = now.lines.clone();
        lines.iter_mut().skip(at).take(1).for_each(|line| line.clone_from(was));
        let without = Narrated::new(lexicon, lines);
        if !now.gains_over(&without) {
            *now = without;
        }
    }
}

/// What could be asked about a line, where any answer would come to a finding.
fn question(lexicon: &Lexicon, now: &Narrated, at: usize) -> Option<Question> {
    let said = &now.lines.get(at).filter(|line| line.said.sound.is_some())?.said;
    let asked = |rival: &Rival| rival.closeness >= least(rival) && !now.is_order(at, (rival.first, rival.past));
    let rivals: Vec<Rival> = rivals_in(lexicon, said).into_iter().filter(asked).collect();
    let strange = rivals.iter().filter(|rival| rival.no_word).take(MOST_FOR_NO_WORD);
    let words = rivals.iter().filter(|rival| !rival.no_word).take(MOST_FOR_WORDS);
    let candidates: Vec<(Rival, Utterance)> =
        strange.chain(words).filter_map(|rival| Some((rival.clone(), put(said, rival)?))).collect();
    let counts = |places: &[&Rival]| better(lexicon, now, at, places).is_some_and(|better| better.gains_over(now));
    let several = candidates.iter().enumerate().any(|(place, (rival, _))| {
        let mut others = candidates.iter().skip(place + 1).map(|(other, _)| other);
        counts(&[rival]) || others.any(|other| !overlap(rival, other) && counts(&in_order(rival, other)))
    });
    several.then_some(Question { at, candidates })
}

fn least(rival: &Rival) -> f32 {
    if rival.no_word { 0.0 } else { ALIKE }
}

fn in_order<'a>(a: &'a Rival, b: &'a Rival) -> [&'a Rival; 2] {
    if a.first < b.first { [a, b] } else { [b, a] }
}

/// The utterance with a phrase in its place, which begins as the words did that it stands for.
fn put(said: &Utterance, rival: &Rival) -> Option<Utterance> {
    said.with((rival.first, rival.past), &said.beginning_alike(rival.first, &rival.phrase)?)
}

/// What was written of an utterance, first, and other texts, with its sound and a little air.
pub(super) fn contest<'a, 'b>(
    said: &dyn Fn(usize) -> Option<&'a Utterance>,
    at: usize,
    others: &mut dyn Iterator<Item = &'b String>,
) -> Option<Contest> {
    let own = said(at)?;
    let sound = own.sound?;
    let beside = |at: Option<usize>| at.and_then(said).and_then(|said| said.sound);
    // No word of a neighbour may be heard with it.
    let before = beside(at.checked_sub(1)).map_or(AIR_MS, |before| sound.start_ms.saturating_sub(before.end_ms) / 2);
    let behind = beside(Some(at + 1)).map_or(AIR_MS, |behind| behind.start_ms.saturating_sub(sound.end_ms) / 2);
    let sound = SoundSpan {
        start_ms: sound.start_ms.saturating_sub(before.min(AIR_MS)),
        end_ms: sound.end_ms + behind.min(AIR_MS),
    };
    Some(Contest { sound, texts: std::iter::once(own.text.clone()).chain(others.cloned()).collect() })
}

/// Whether two phrases would stand for the same word.
fn overlap(a: &Rival, b: &Rival) -> bool {
    a.first < b.past && b.first < a.past
}

/// The phrases that the sound tells, one for a place, in order of place.
fn told<'a>(candidates: &'a [(Rival, Utterance)], heard: f32, chances: &[f32]) -> Vec<&'a Rival> {
    let mut all: Vec<(f32, &(Rival, Utterance))> = chances.iter().copied().zip(candidates).collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut told: Vec<&Rival> = Vec::new();
    for (chance, (rival, text)) in &all {
        // "Popliteal" for "pop like a" and "popliteal angle" for "pop like a angle" make the same text.
        let others = all
            .iter()
            .filter(|(_, (other, new))| overlap(other, rival) && other.phrase != rival.phrase && new.text != text.text);
        let lead = others.map(|(other, _)| chance - other).fold(f32::INFINITY, f32::min);
        if is_told(rival, heard - chance, lead) && !told.iter().any(|other| overlap(other, rival)) {
            told.push(rival);
        }
    }
    told.sort_by_key(|rival| rival.first);
    told
}

/// Whether a phrase is believed that is so far behind what was written, and leads by so much over others in its place.
fn is_told(rival: &Rival, behind: f32, lead: f32) -> bool {
    let most = if rival.no_word { BEHIND_NO_WORD } else { BEHIND_WORDS };
    let long = rival.is_name && rival.phrase.len() >= NAME.letters && rival.closeness >= NAME.alike;
    behind <= most && lead >= LEAD || long && behind <= NAME.behind && lead >= NAME.lead
}

/// The narration with phrases in their places on a line, where nothing else is lost.
fn better(lexicon: &Lexicon, now: &Narrated, at: usize, places: &[&Rival]) -> Option<Narrated> {
    let mut lines = now.lines.clone();
    let line = lines.get_mut(at).filter(|_| !places.is_empty())?;
    line.at_first.get_or_insert_with(|| line.said.text.clone());
    let words = line.said.words.len();
    for rival in places {
        // What was put in before may have more words or fewer than what stood there.
        let moved = |word: usize| (word + line.said.words.len()).checked_sub(words);
        let place = Rival { first: moved(rival.first)?, past: moved(rival.past)?, ..(*rival).clone() };
        let put = put(&line.said, &place)?;
        let past = (place.past + put.words.len()).checked_sub(line.said.words.len())?;
        line.again.push(place.first..past);
        line.said = put;
    }
    let better = Narrated::new(lexicon, lines);
    better.keeps(now, at).then_some(better)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::hearings::{gathered, lines_of};
    use crate::reading::HeardBy;
    use crate::speech::scripted::Scripted;

    fn lexicon() -> &'static Lexicon {
        static LEXICON: std::sync::LazyLock<Lexicon> = std::sync::LazyLock::new(|| Lexicon::load(None).unwrap());
        &LEXICON
    }

    /// What stands in the end where the recogniser gives these texts these chances, and whether it has findings.
    fn put(heard: &[&str], chances: &[(&str, f32)]) -> (Vec<String>, Vec<HeardBy>) {
        let lines: Vec<(u64, u64, &str)> =
            (0u64..).zip(heard).map(|(at, line)| (4000 * at, 4000 * at + 3000, *line)).collect();
        let mut scripted = Scripted::of_lines(&lines).with_chances(chances);
        let samples = vec![0.0; 64_000 * lines.len()];
        let first = scripted.transcribe(&samples, &mut |_| ()).unwrap().utterances;
        let mut all = gathered(lexicon(), lines_of(first), &[Vec::new()]);
        put_right(lexicon(), &mut all.now, (&samples, 0), &mut scripted).unwrap();
        let marked = all.marked(lexicon());
        let texts = marked.utterances.iter().map(|said| said.text.clone()).collect();
        let at_first = heard.iter().zip(&marked.at_first).zip(&marked.utterances);
        for ((heard, at_first), said) in at_first {
            assert_eq!(at_first.as_deref(), (said.text != *heard).then_some(*heard));
        }
        (texts, marked.reading.findings.iter().map(|finding| finding.heard_by).collect())
    }

    const HEARD: &str = "My steps reduced on the right.";
    const SAID: &str = "Biceps reduced on the right.";

    #[test]
    fn what_fits_about_as_well_is_put_in_and_is_unclear() {
        for behind in [-3.0, BEHIND_WORDS - 0.1] {
            let (texts, by) = put(&[HEARD], &[(HEARD, -10.0), (SAID, -10.0 - behind)]);
            assert_eq!(texts, [SAID], "{behind} behind");
            assert_eq!(by, [HeardBy::OtherAlone]);
        }
        let (texts, by) = put(&[HEARD], &[(HEARD, -10.0), (SAID, -10.1 - BEHIND_WORDS)]);
        assert_eq!((texts, by), (vec![HEARD.to_owned()], Vec::new()));
    }

    #[test]
    fn what_does_not_lead_is_not_put_in() {
        let (heard, rival) = ("Biceps do plus on the right.", "Biceps four plus on the right.");
        let said = "Biceps two plus on the right.";
        for (lead, expected) in [(LEAD - 0.1, heard), (LEAD + 0.1, said)] {
            let (texts, _) = put(&[heard], &[(heard, -10.0), (said, -9.0), (rival, -9.0 - lead)]);
            assert_eq!(texts, [expected], "{lead} ahead");
        }
    }

    #[test]
    fn the_long_name_of_an_item_may_be_further_behind() {
        let (heard, said) = ("Pop like a angle 160 on the left.", "Popliteal angle 160 on the left.");
        for (behind, put_in) in [(NAME.behind - 0.1, true), (NAME.behind + 0.1, false)] {
            let (texts, _) = put(&[heard], &[(heard, -10.0), (said, -10.0 - behind)]);
            assert_eq!(texts, [if put_in { said } else { heard }], "{behind} behind");
        }
    }

    #[test]
    fn several_places_of_a_line_are_put_right_at_once() {
        let heard = "My steps do plus on the right.";
        let (texts, by) = put(
            &[heard],
            &[(heard, -10.0), ("Biceps do plus on the right.", -10.0), ("My steps two plus on the right.", -10.0)],
        );
        assert_eq!(texts, ["Biceps two plus on the right."]);
        assert_eq!(by, [HeardBy::OtherAlone]);
    }

    #[test]
    fn what_comes_to_nothing_and_what_would_lose_something_stays() {
        let nothing = "We spoke of the viceps.";
        let (texts, _) = put(&[nothing], &[(nothing, -10.0), ("We spoke of the biceps.", -1.0)]);
        assert_eq!(texts, [nothing]);
        // A recogniser that cannot tell changes nothing.
        assert_eq!(put(&[HEARD], &[]).0, [HEARD]);
    }

    #[test]
    fn findings_beside_keep_their_marks() {
        let heard = "Clonus absent on the left, my steps reduced on the right.";
        let (texts, by) =
            put(&[heard], &[(heard, -10.0), ("Clonus absent on the left, biceps reduced on the right.", -9.0)]);
        assert_eq!(texts, ["Clonus absent on the left, biceps reduced on the right."]);
        assert_eq!(by, [HeardBy::FirstAlone, HeardBy::OtherAlone]);
    }
}

//! Tokens → the stance of every segment.
//! Takes the tokens of a sentence; gives for each segment whether it is observed, planned, expected, taught and so on.
//! Leaves alone items and values. In the spirit of published negation and context algorithms (NegEx, Chapman 2001;
//! ConText, Harkema 2009): a cue has a reach, and words such as "but" and "today" end it.
//!
//! "Yesterday the grasp was weak, today it's strong" gives reported history, then observed

use crate::lexicon::LanguageWord as Word;
use crate::reading::clauses::{Segment, Sentence};
use crate::reading::tokens::Token;
use crate::reading::word_set::WordSet;
use crate::speech::{Stop, Utterance};

/// What kind of speech a segment is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stance {
    /// Seen or felt on this infant in this examination.
    Observed,
    /// What will be done.
    Planned,
    /// What ought to be seen.
    Expected,
    /// About other infants, or about the examination in general.
    Taught,
    /// Seen by somebody else.
    Reported,
    /// From before this examination.
    History,
    /// A question.
    Asked,
    /// Under a condition.
    Conditional,
    /// Said to the infant, a parent or staff.
    Addressed,
    /// Taken back by the examiner.
    Withdrawn,
}

impl Stance {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Observed,
        Self::Planned,
        Self::Expected,
        Self::Taught,
        Self::Reported,
        Self::History,
        Self::Asked,
        Self::Conditional,
        Self::Addressed,
        Self::Withdrawn,
    ];

    /// Whether it is of another time, or seen by somebody else: it leaves what is in progress as it is.
    #[must_use]
    pub fn is_elsewhere(self) -> bool {
        matches!(self, Self::History | Self::Reported)
    }

    /// Its plain name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Observed => "observed",
            Self::Planned => "planned",
            Self::Expected => "expected",
            Self::Taught => "taught",
            Self::Reported => "reported",
            Self::History => "history",
            Self::Asked => "asked",
            Self::Conditional => "conditional",
            Self::Addressed => "addressed",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// A cue: the stance it gives, and which words end its reach to the right.
struct Cue {
    word: Word,
    stance: Stance,
    ends: &'static [Word],
    whole_sentence: bool,
}

// Later cues of this list win where two meet in a segment: a condition inside teaching is a condition.
const CUES: [Cue; 6] = [
    Cue {
        word: Word::Expectation,
        stance: Stance::Expected,
        ends: &[Word::Ends, Word::Now, Word::Fulfilled, Word::Failed],
        whole_sentence: true,
    },
    Cue { word: Word::Plan, stance: Stance::Planned, ends: &[], whole_sentence: false },
    Cue {
        word: Word::Teaching,
        stance: Stance::Taught,
        ends: &[Word::Ends, Word::Now, Word::Fulfilled, Word::Failed],
        whole_sentence: true,
    },
    Cue { word: Word::History, stance: Stance::History, ends: &[Word::Ends, Word::Now], whole_sentence: true },
    Cue { word: Word::Reported, stance: Stance::Reported, ends: &[Word::Ends, Word::Now], whole_sentence: true },
    Cue {
        word: Word::Condition,
        stance: Stance::Conditional,
        ends: &[Word::Ends, Word::Now, Word::Fulfilled],
        whole_sentence: true,
    },
];

/// The stance of every segment of a sentence.
#[must_use]
pub fn stances(sentence: &Sentence, utterance: &Utterance, tokens: &[Token]) -> Vec<Stance> {
    let mut stances = vec![Stance::Observed; sentence.segments.len()];
    let mut said = WordSet::default();
    tokens.iter().for_each(|token| said.extend(token.words));
    for cue in CUES.iter().filter(|cue| said.contains(cue.word)) {
        for token in tokens.iter().filter(|token| token.is(cue.word)) {
            reach(sentence, utterance, tokens, token, cue, &mut stances);
        }
    }
    if is_general(sentence, utterance, tokens) {
        stances.fill(Stance::Taught);
    }
    if sentence.question {
        ask(sentence, utterance, tokens, &mut stances);
    }
    for token in tokens.iter().filter(|token| token.is(Word::Address)) {
        let results =
            tokens.iter().any(|t| t.segment == token.segment && (!t.names.is_empty() || t.quantity.is_some()));
        let opens = token.first == sentence.first()
            && IMPERATIVES.contains(&utterance.words[token.first].plain.as_str())
            && !tokens.iter().any(|t| t.segment == token.segment && t.quantity.is_some());
        if (!results || opens) && stances[token.segment] == Stance::Observed {
            stances[token.segment] = Stance::Addressed;
        }
    }
    stances
}

/// Verbs that ask the infant, or somebody else, to do something.
const IMPERATIVES: [&str; 3] = ["give", "show", "let"];

/// Words behind "some" and "most" that make them infants.
const DOING: [&str; 15] = [
    "will", "would", "do", "are", "can", "may", "have", "never", "of", "go", "come", "just", "only", "babies",
    "infants",
];

/// Verbs behind a finding with "a" that tell what such findings are like.
const TELLING: [&str; 8] = ["is", "does", "means", "may", "comes", "goes", "tells", "can"];

// "A caput is soft too": what is said of a finding in general. "A good strong suck." is said of this one.
fn is_general(sentence: &Sentence, utterance: &Utterance, tokens: &[Token]) -> bool {
    // "Why does the age matter? Because the same arm is fine at thirty weeks."
    if utterance.words.get(sentence.first()).is_some_and(|word| word.plain == "because") {
        return true;
    }
    // "Some won't at a day old", "Most of them do": how others are.
    let word = |at: usize| utterance.words.get(sentence.first() + at).map_or("", |word| word.plain.as_str());
    let others = matches!(word(0), "some" | "most" | "many" | "others" | "plenty" | "half" | "lots" | "few");
    if others && DOING.contains(&word(1)) {
        return true;
    }
    // "At thirty-four the legs are like a frog's": how infants of that age are.
    let aged = word(0) == "at"
        && tokens.iter().find(|token| token.quantity.is_some()).is_some_and(|token| {
            let next = utterance.words.get(token.past).filter(|_| token.past < sentence.past());
            token.first == sentence.first() + 1
                && next
                    .is_some_and(|next| matches!(next.plain.as_str(), "the" | "they" | "you" | "most" | "weeks" | "a"))
        });
    if aged {
        return true;
    }
    let opens = utterance.words.get(sentence.first()).is_some_and(|word| matches!(word.plain.as_str(), "a" | "an"));
    let early = &utterance.words[sentence.first()..sentence.segments[0].past.min(sentence.first() + 7)];
    let modal = early
        .iter()
        .any(|word| matches!(word.plain.as_str(), "will" | "would" | "may" | "can" | "might" | "should" | "never"));
    if opens && modal && !early.iter().any(|word| matches!(word.plain.as_str(), "i" | "we" | "he" | "she")) {
        return true;
    }
    let named = tokens.iter().find(|token| !token.names.is_empty() || !token.values.is_empty());
    opens
        && named.is_some_and(|token| {
            let next = utterance.words.get(token.past).filter(|_| token.past < sentence.past());
            token.first <= sentence.first() + 2 && next.is_some_and(|word| TELLING.contains(&word.plain.as_str()))
        })
}

/// Openings that tell what is, not what ought to be or was.
const OPENINGS: [&str; 8] = ["it is", "he is", "she is", "they are", "there is", "this is", "that is", "these are"];

// "You'd think the hip would open; it's limited": behind a pause, with a subject of its own, something seen begins.
fn starts_anew(sentence: &Sentence, utterance: &Utterance, tokens: &[Token], segment: usize, cue: &Cue) -> bool {
    let Segment { first, past } = sentence.segments[segment];
    let own_cue = tokens.iter().any(|token| token.segment == segment && token.is(cue.word));
    let paused = first > 0 && utterance.words[first - 1].stop >= Stop::Pause;
    let joined =
        utterance.words[first..past].iter().take_while(|word| word.plain == "and" || word.plain == "so").count();
    let first = first + joined;
    let opening: Vec<&str> =
        utterance.words[first..past.min(first + 2)].iter().map(|word| word.plain.as_str()).collect();
    // "This is what we call the rag doll, he drapes over my hand."
    if cue.stance == Stance::Taught {
        return !own_cue
            && matches!(opening.first(), Some(&("he" | "she")))
            && !tells_of_another(utterance, sentence.first(), first);
    }
    !own_cue && (paused || OPENINGS.contains(&opening.join(" ").as_str()))
}

// "A floppy baby, he drapes over your hand": who he is was said before, and is not this infant.
fn tells_of_another(utterance: &Utterance, from: usize, to: usize) -> bool {
    let others = [
        "baby", "babies", "infant", "infants", "newborn", "newborns", "child", "preterm", "one", "twin", "lad", "boy",
        "girl",
    ];
    utterance.words[from..to].iter().any(|word| others.contains(&word.plain.as_str()))
}

// "The triceps, which comes from lower down: present": what is put in about an item ends with its segment.
fn is_relative(sentence: &Sentence, utterance: &Utterance, token: &Token) -> bool {
    let first = sentence.segments[token.segment].first;
    first > sentence.first() && matches!(utterance.words[first].plain.as_str(), "which" | "who" | "whose")
}

fn reach(
    sentence: &Sentence,
    utterance: &Utterance,
    tokens: &[Token],
    token: &Token,
    cue: &Cue,
    stances: &mut [Stance],
) {
    // "Yesterday it was weak, today it is strong": a later segment with an ending word is no longer meant.
    let ends = |t: &Token| {
        cue.ends.iter().any(|end| t.is(*end)) || cue.ends.contains(&Word::Now) && ends_with_now(sentence, utterance, t)
    };
    let by_word = tokens.iter().find(|t| t.segment > token.segment && ends(t)).map(|t| t.segment);
    let anew = (token.segment + 1..sentence.segments.len()).find(|segment| {
        matches!(cue.stance, Stance::Expected | Stance::History | Stance::Taught)
            && starts_anew(sentence, utterance, tokens, *segment, cue)
    });
    let ended_at = [by_word, anew].into_iter().flatten().min();
    // "The fontanelle, and I'd have worried if it weren't, is soft": a condition put in between ends with its segment.
    let put_in = cue.stance == Stance::Conditional
        && tokens.iter().any(|t| t.segment < token.segment && !t.names.is_empty())
        && !tokens.iter().any(|t| t.segment <= token.segment && t.is_result());
    let until = match ended_at {
        _ if put_in || !cue.whole_sentence || is_relative(sentence, utterance, token) => token.segment + 1,
        Some(segment) => segment,
        None => sentence.segments.len(),
    };
    // "The cry was weak at first, so says the letter": who says so may stand behind what is said.
    let words = sentence.segments[token.segment].past - sentence.segments[token.segment].first;
    let behind = cue.stance == Stance::Reported
        && token.segment + 1 == sentence.segments.len()
        && words <= 7
        && !tokens.iter().any(|t| t.segment == token.segment && t.is_result());
    // "In deep sleep, I wouldn't hold that against anybody."
    let opening = utterance.words.get(sentence.first()).map_or("", |word| word.plain.as_str());
    let circumstance =
        cue.stance == Stance::Conditional && token.segment == 1 && matches!(opening, "in" | "with" | "under");
    let from = if behind || circumstance || is_bare_modal(sentence, utterance, token) { 0 } else { token.segment };
    for stance in stances.iter_mut().take(until).skip(from) {
        *stance = cue.stance;
    }
}

// "Thirty-six weeks at birth, eleven days old now": at the end of what is said, "now" tells the time and turns to nothing.
fn ends_with_now(sentence: &Sentence, utterance: &Utterance, token: &Token) -> bool {
    token.past == sentence.segments[token.segment].past
        && utterance.words.get(token.first).is_some_and(|word| token.past == token.first + 1 && word.plain == "now")
}

/// Words behind "would" that make it ask, or begin anew.
const SUBJECTS: [&str; 10] = ["you", "he", "she", "it", "we", "they", "i", "somebody", "anyone", "someone"];

// "A marked lag, at term, would have surprised me": what would have been is told before.
fn is_bare_modal(sentence: &Sentence, utterance: &Utterance, token: &Token) -> bool {
    let segment = sentence.segments[token.segment];
    let next = utterance.words.get(token.past).map_or("", |word| word.plain.as_str());
    token.is(Word::Condition)
        && token.first == segment.first
        && utterance.words[token.first].plain == "would"
        && !SUBJECTS.contains(&next)
}

/// Closing words that ask for assent and leave the statement a statement.
const TAGS: [&str; 12] =
    ["right", "yes", "okay", "eh", "yeah", "no", "is not", "does not", "are not", "do not", "see", "did not"];

/// Verbs that open a question.
const AUXILIARIES: [&str; 14] =
    ["is", "are", "was", "were", "does", "do", "did", "can", "could", "has", "have", "will", "would", "should"];

fn ask(sentence: &Sentence, utterance: &Utterance, tokens: &[Token], stances: &mut [Stance]) {
    let words = |segment: usize| {
        let segment = sentence.segments[segment];
        let plain: Vec<&str> = utterance.words[segment.first..segment.past].iter().map(|w| w.plain.as_str()).collect();
        plain.join(" ")
    };
    let last = sentence.segments.len() - 1;
    let closing = words(last);
    if closing.split(' ').count() <= 3 && last > 0 && TAGS.iter().any(|tag| closing.starts_with(tag)) {
        return;
    }
    let opening = words(0);
    if ["you see how", "see how", "see that", "you see that"].iter().any(|pointing| opening.starts_with(pointing)) {
        return;
    }
    // "Are those sutures overriding, or what do you reckon?"
    let inverted = opening.split(' ').next().is_some_and(|word| AUXILIARIES.contains(&word));
    let asked_from = tokens.iter().filter(|token| token.is(Word::Question)).map(|token| token.segment).next_back();
    // A question that follows statements asks from its first asking word on; without one it asks as a whole.
    let follows = last > 0 && tokens.iter().any(|t| t.segment < last && t.is_result());
    let from = if inverted { 0 } else { asked_from.unwrap_or(if follows { last } else { 0 }) };
    for stance in stances.iter_mut().skip(from) {
        *stance = Stance::Asked;
    }
}

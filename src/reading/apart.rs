//! "Left and the right": one thing said of both sides, or the end of one clause and the start of the next.
//! Takes the tokens of a sentence; cuts a token for both sides in two where each side has a result of its own.
//! Leaves alone which result belongs to which side (`sides`).
//!
//! "No Moro on the left, and the right is exaggerated" is absent on the left; "brisk on the left and right" is both

use crate::lexicon::LanguageWord as Word;
use crate::reading::clauses::Sentence;
use crate::reading::tokens::Token;
use crate::speech::{self, Stop};

/// Words behind one side that say something of it alone: of both sides the plural would be said.
const OF_ONE: [&str; 33] = [
    "is", "isn't", "was", "wasn't", "has", "hasn't", "had", "hadn't", "shows", "gives", "does", "doesn't", "looks",
    "feels", "seems", "stays", "stayed", "comes", "came", "goes", "went", "gets", "got", "reaches", "reached", "makes",
    "made", "measures", "moves", "remains", "opens", "gave", "showed",
];

/// Words behind sides that say something of both.
const OF_BOTH: [&str; 6] = ["are", "aren't", "were", "weren't", "have", "both"];

/// Cuts each token that joins two sides where a result stands before it, for the first side, and another behind it.
pub(super) fn set_apart(sentence: &Sentence, words: &[speech::Word], tokens: &mut Vec<Token>) {
    let mut at = 0;
    while at < tokens.len() {
        if let Some((one, other)) = sides_joined(words, &tokens[at])
            && said_before(tokens, at)
            && said_behind(sentence, words, tokens, at)
        {
            let whole = tokens.remove(at);
            tokens.insert(at, side(&whole, sentence, one, whole.first));
            tokens.insert(at + 1, side(&whole, sentence, other, whole.past - 1));
            at += 1;
        }
        at += 1;
    }
}

// "Left, and the right"
fn sides_joined(words: &[speech::Word], token: &Token) -> Option<(Word, Word)> {
    let inside = &words[token.first..token.past];
    let (first, last) = (inside.first()?, inside.last()?);
    let joined = inside.iter().any(|word| word.plain == "and");
    match (first.plain.as_str(), last.plain.as_str()) {
        ("left", "right") if joined => Some((Word::SideLeft, Word::SideRight)),
        ("right", "left") if joined => Some((Word::SideRight, Word::SideLeft)),
        _ => None,
    }
}

fn side(whole: &Token, sentence: &Sentence, side: Word, at: usize) -> Token {
    let mut token =
        Token { first: at, past: at + 1, segment: sentence.segment_of(at), words: Default::default(), ..whole.clone() };
    token.words.push(side);
    token
}

// "Weak on the left": in the same breath, with no stop between.
fn said_before(tokens: &[Token], at: usize) -> bool {
    let mut here = tokens[..at].iter().rev().take_while(|token| token.segment == tokens[at].segment);
    here.any(|token| (token.is_result() || token.is(Word::Negation)) && !token.is(Word::SideBoth))
}

// "The right is exaggerated", "the right three beats", but not "the right, exaggerated" and not "right, brisk knee jerks".
fn said_behind(sentence: &Sentence, words: &[speech::Word], tokens: &[Token], at: usize) -> bool {
    let past = tokens[at].past;
    if past >= sentence.past() || words[past - 1].stop != Stop::None || OF_BOTH.contains(&words[past].plain.as_str()) {
        return false;
    }
    let of_one = OF_ONE.contains(&words[past].plain.as_str());
    let segment = sentence.segment_of(past);
    let mut behind = tokens[at + 1..].iter().take_while(|token| token.segment == segment);
    let says = |token: &&Token| token.is_result() || !token.names.is_empty() || of_one && token.is(Word::Negation);
    let Some(next) = behind.find(says) else { return false };
    let named = |token: &Token| !token.names.is_empty() || !token.shared.is_empty();
    next.names.is_empty() && !next.is(Word::SideBoth) && (of_one || !behind.any(named))
}

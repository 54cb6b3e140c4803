//! Phrases → a leaning of the recogniser towards them, token by token.
//! Takes phrases as plain text and the recogniser's vocabulary; given the tokens written so far, raises the chances of
//! those tokens that begin or continue a phrase and that the sound already makes possible.
//! Leaves alone every token far below the best: a phrase that was not said stays unwritten.
//!
//! With "moro reflex" among the phrases and " M" written, "oro" is raised; after "the m", "oral" is not.

use std::collections::BTreeMap;

/// What the recogniser should lean towards, each phrase as one would write it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Phrases(pub Vec<String>);

/// How strongly to lean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean {
    /// Nats given to a token that continues a phrase, 0 to 6: beyond that ordinary words bend.
    pub strength: f32,
    /// The share of `strength` for the first token of a phrase, when nothing yet says that it is one.
    pub at_start: f32,
    /// A continuing token must be within this many nats of the best one.
    pub gate: f32,
    /// A starting token must be within this many nats of the best one.
    pub start_gate: f32,
}

impl Default for Lean {
    fn default() -> Self {
        Self { strength: 5.0, at_start: 0.5, gate: 12.0, start_gate: 8.0 }
    }
}

/// The phrases laid out over a vocabulary. It holds no interior state: many recognisers may share it.
#[derive(Debug)]
pub struct Bias {
    nodes: Vec<Node>,
    /// Lower-cased text of each token; empty for those that are no whole characters.
    texts: Vec<Box<str>>,
    /// Characters of the longest phrase: no more of what was written matters.
    longest: usize,
    lean: Lean,
}

/// A place within a phrase.
#[derive(Debug, Default)]
struct Node {
    next: BTreeMap<char, usize>,
    /// Tokens that go on from here, each with its letters, at most 255.
    tokens: Vec<(usize, u8)>,
}

impl Bias {
    /// Lays the phrases out over a vocabulary; `None` if no phrase has a letter.
    #[must_use]
    pub fn new(phrases: &Phrases, vocabulary: &[Vec<u8>], lean: Lean) -> Option<Self> {
        let mut nodes = vec![Node::default()];
        let mut longest = 0;
        for phrase in &phrases.0 {
            let letters = letters(phrase);
            longest = longest.max(letters.len());
            plant(&mut nodes, &letters);
        }
        if nodes.len() == 1 {
            return None;
        }
        let text = |bytes: &Vec<u8>| String::from_utf8(bytes.clone()).unwrap_or_default().to_lowercase();
        let texts: Vec<Box<str>> = vocabulary.iter().map(|token| text(token).into_boxed_str()).collect();
        lay_tokens(&mut nodes, &texts);
        Some(Self { nodes, texts, longest, lean })
    }

    /// How many text tokens the vocabulary has: `raise` needs as many logits.
    #[must_use]
    pub fn tokens(&self) -> usize {
        self.texts.len()
    }

    /// How many of the last tokens matter at most: each has a letter or more.
    #[must_use]
    pub fn reach(&self) -> usize {
        self.longest.saturating_add(1)
    }

    /// Raises the chances of tokens that go on with a phrase. `written` are the tokens so far, special ones included.
    /// It neither panics nor keeps anything, whatever it is given.
    pub fn raise(&self, written: &[i32], logits: &mut [f32]) {
        let text_tokens = self.texts.len().min(logits.len());
        let best = logits.iter().take(text_tokens).copied().fold(f32::NEG_INFINITY, f32::max);
        if !best.is_finite() {
            return;
        }
        // A token that several places would raise gets the largest gain, not the sum.
        let mut gains: BTreeMap<usize, f32> = BTreeMap::new();
        let mut offer = |node: usize, full: f32, letters: f32, gate: f32| {
            for &(token, count) in self.nodes.get(node).map_or(&[][..], |node| &node.tokens) {
                if logits.get(token).is_some_and(|&logit| logit > best - gate) {
                    let gain = full * (f32::from(count) / letters).min(1.0);
                    let held = gains.entry(token).or_insert(gain);
                    *held = held.max(gain);
                }
            }
        };
        offer(0, self.lean.strength * self.lean.at_start, 4.0, self.lean.start_gate);
        for node in self.places(written) {
            offer(node, self.lean.strength, 3.0, self.lean.gate);
        }
        for (token, gain) in gains {
            if let Some(logit) = logits.get_mut(token) {
                *logit += gain;
            }
        }
    }

    /// The places within phrases that the written text ends at.
    fn places(&self, written: &[i32]) -> Vec<usize> {
        let mut tail: Vec<&str> = Vec::new();
        let mut length = 0;
        for token in written.iter().rev() {
            // A special token (a time) does not speak, and a phrase does not cross it.
            let Some(text) = usize::try_from(*token).ok().and_then(|token| self.texts.get(token)) else { break };
            tail.push(text);
            length += text.len();
            if length > 4 * self.longest {
                break;
            }
        }
        let text: Vec<char> = tail.iter().rev().flat_map(|text| text.chars()).collect();
        let from = text.len().saturating_sub(self.longest);
        let starts = (from..text.len()).filter(|&at| text.get(at) == Some(&' '));
        starts.filter_map(|at| self.walk(text.get(at..)?)).collect()
    }

    fn walk(&self, text: &[char]) -> Option<usize> {
        text.iter().try_fold(0, |node, letter| self.nodes.get(node)?.next.get(letter).copied())
    }
}

/// A phrase as the recogniser would write it within a sentence: a space before each word, lower case.
fn letters(phrase: &str) -> Vec<char> {
    let words = phrase.split(|c: char| c.is_whitespace() || c == '-').filter(|word| !word.is_empty());
    words.flat_map(|word| std::iter::once(' ').chain(word.chars().flat_map(char::to_lowercase))).collect()
}

fn plant(nodes: &mut Vec<Node>, letters: &[char]) {
    let mut at = 0;
    for &letter in letters {
        let fresh = nodes.len();
        let Some(node) = nodes.get_mut(at) else { return };
        at = *node.next.entry(letter).or_insert(fresh);
        if at == fresh {
            nodes.push(Node::default());
        }
    }
}

/// Notes at every place the tokens that stay within a phrase from there on.
fn lay_tokens(nodes: &mut [Node], texts: &[Box<str>]) {
    let mut vocabulary = vec![Node::default()];
    for (token, text) in texts.iter().enumerate().filter(|(_, text)| !text.is_empty()) {
        let letters: Vec<char> = text.chars().collect();
        plant(&mut vocabulary, &letters);
        let end = letters.iter().try_fold(0, |at: usize, letter| vocabulary.get(at)?.next.get(letter).copied());
        let count = letters.iter().filter(|letter| **letter != ' ').count();
        // A lone space decides nothing.
        if let Some(node) = end.and_then(|end| vocabulary.get_mut(end)).filter(|_| count > 0) {
            node.tokens.push((token, u8::try_from(count).unwrap_or(u8::MAX)));
        }
    }
    for place in 0..nodes.len() {
        let mut found = Vec::new();
        let mut both = vec![(place, 0)];
        while let Some((node, word)) = both.pop() {
            let (Some(node), Some(word)) = (nodes.get(node), vocabulary.get(word)) else { continue };
            found.extend_from_slice(&word.tokens);
            let common = word.next.iter().filter_map(|(letter, &word)| Some((*node.next.get(letter)?, word)));
            both.extend(common);
        }
        if let Some(node) = nodes.get_mut(place) {
            node.tokens = found;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOKENS: [&str; 14] =
        [" M", "oro", " reflex", "oral", " the", " m", "or", "o", " ", "\u{fffd}", " Mor", "!", " moro", "ex"];

    fn bias(phrases: &[&str]) -> Option<Bias> {
        let phrases = Phrases(phrases.iter().map(|&phrase| phrase.to_owned()).collect());
        let vocabulary: Vec<Vec<u8>> = TOKENS.iter().map(|token| token.as_bytes().to_vec()).collect();
        Bias::new(&phrases, &vocabulary, Lean { strength: 6.0, ..Lean::default() })
    }

    fn token(text: &str) -> i32 {
        i32::try_from(TOKENS.iter().position(|&token| token == text).unwrap()).unwrap()
    }

    /// The tokens raised after some text when all are equally likely, with their gains.
    #[track_caller]
    fn check(written: &[&str], raised: &[(&str, f32)]) {
        let bias = bias(&["Moro reflex"]).unwrap();
        let mut logits = vec![0.0; TOKENS.len() + 5];
        bias.raise(&written.iter().map(|text| token(text)).collect::<Vec<_>>(), &mut logits);
        let mut found: Vec<(&str, f32)> = Vec::new();
        for (text, &gain) in TOKENS.iter().zip(&logits).filter(|(_, gain)| **gain != 0.0) {
            found.push((text, gain));
        }
        found.sort_by(|a, b| a.0.cmp(b.0));
        assert_eq!(found, raised, "after {written:?}");
        assert!(logits[TOKENS.len()..].iter().all(|&logit| logit == 0.0));
    }

    const STARTS: [(&str, f32); 4] = [(" M", 0.75), (" Mor", 2.25), (" m", 0.75), (" moro", 3.0)];

    #[test]
    fn begins_and_continues_a_phrase_in_any_case_and_cut() {
        check(&[], &STARTS);
        check(&[" the"], &STARTS);
        let with = |more: &[(&'static str, f32)]| {
            let mut all = [&STARTS[..], more].concat();
            all.sort_by(|a, b| a.0.cmp(b.0));
            all
        };
        check(&[" the", " M"], &with(&[("or", 4.0), ("oro", 6.0), ("o", 2.0)]));
        check(&[" m", "or"], &with(&[("o", 2.0)]));
        check(&[" Mor", "o"], &with(&[(" reflex", 6.0)]));
        check(&[" m", "oral"], &STARTS);
        check(&[" moro", " reflex"], &STARTS);
    }

    #[test]
    fn special_tokens_and_odd_numbers_end_what_was_written() {
        let bias = bias(&["moro reflex"]).unwrap();
        for odd in [-1, i32::MAX, 14, 18] {
            let mut logits = vec![0.0; 19];
            bias.raise(&[token(" moro"), odd], &mut logits);
            assert_eq!(logits[2], 0.0);
        }
        bias.raise(&[1, 2, 3], &mut []);
        bias.raise(&[], &mut [0.0; 3]);
        bias.raise(&[], &mut [f32::NEG_INFINITY; 30]);
        bias.raise(&[], &mut [f32::NAN; 30]);
    }

    #[test]
    fn what_the_sound_rules_out_stays_out() {
        let bias = bias(&["moro reflex"]).unwrap();
        let mut logits = vec![0.0; TOKENS.len()];
        logits[4] = 8.5;
        bias.raise(&[], &mut logits);
        assert_eq!(logits[12], 0.0, "a start below its gate");
        bias.raise(&[token(" moro")], &mut logits);
        assert_eq!(logits[2], 6.0, "a continuation within its gate");
        logits[4] = 20.0;
        bias.raise(&[token(" moro")], &mut logits);
        assert_eq!(logits[2], 6.0, "a continuation below its gate");
    }

    #[test]
    fn no_phrases_no_bias() {
        assert!(bias(&[]).is_none());
        assert!(bias(&["", " - "]).is_none());
    }
}

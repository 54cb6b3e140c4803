//! Phrases → a leaning of the recogniser towards them, token by token.
//! Takes phrases as plain text and the recogniser's vocabulary; given the tokens written so far, raises the chances of
//! those tokens that begin or continue a phrase and that the sound already makes possible.
//! Leaves alone every token far below the best (a phrase that was not said stays unwritten), and words that the
//! vocabulary has whole: the recogniser knows them, and leaning towards "week" only bends "weak".
//!
//! With "Moro reflex" among the phrases and " M" written, "oro" is raised, and after " Moro" " reflex".

use std::collections::{BTreeMap, HashMap};

/// What the recogniser should lean towards, each phrase as one would write it within a sentence.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Phrases(pub Vec<String>);

/// How strongly to lean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean {
    /// Nats given to a token that continues a phrase, 0 to 6: beyond that ordinary words bend.
    pub strength: f32,
    /// The share of `strength` for the first token of a phrase, when nothing yet says that it is one.
    pub at_start: f32,
    /// The share of `strength` for a word that the vocabulary has whole, behind the first words of a phrase.
    pub known_word: f32,
    /// A continuing token must be within this many nats of the best one.
    pub gate: f32,
    /// A starting token must be within this many nats of the best one.
    pub start_gate: f32,
}

impl Default for Lean {
    fn default() -> Self {
        Self { strength: 5.0, at_start: 0.5, known_word: 0.5, gate: 12.0, start_gate: 8.0 }
    }
}

/// The phrases laid out over a vocabulary. Nothing in it changes: many recognisers may share it.
#[derive(Debug)]
pub struct Bias {
    nodes: Vec<Node>,
    /// Spelling of each token; empty for those that are no whole characters.
    texts: Vec<Box<str>>,
    /// Characters of the longest phrase: no more of what was written matters.
    longest: usize,
    lean: Lean,
}

/// A place within a phrase.
#[derive(Debug, Default)]
struct Node {
    next: BTreeMap<char, usize>,
    /// Tokens that go on from here, each with its share of the full strength.
    tokens: BTreeMap<usize, f32>,
}

impl Bias {
    /// Lays the phrases out over a vocabulary; `None` if that leaves nothing to lean towards.
    #[must_use]
    pub fn new(phrases: &Phrases, vocabulary: &[Vec<u8>], lean: Lean) -> Option<Self> {
        let text = |token: &Vec<u8>| spelling(std::str::from_utf8(token).unwrap_or_default()).into_boxed_str();
        let texts: Vec<Box<str>> = vocabulary.iter().map(text).collect();
        let mut tokens: HashMap<&str, Vec<usize>> = HashMap::new();
        for (token, text) in texts.iter().enumerate() {
            tokens.entry(text).or_default().push(token);
        }
        let mut nodes = vec![Node::default()];
        let mut longest = 0;
        for phrase in &phrases.0 {
            let words: Vec<String> = phrase.split(|c: char| c.is_whitespace() || c == '-').map(word).collect();
            longest = longest.max(words.concat().chars().count());
            lay(&mut nodes, &words, &tokens, lean);
        }
        let empty = nodes.iter().all(|node| node.tokens.is_empty());
        (!empty).then_some(Self { nodes, texts, longest, lean })
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
        let best = logits.iter().take(self.texts.len()).copied().fold(f32::NEG_INFINITY, f32::max);
        if !best.is_finite() {
            return;
        }
        // A token that several places would raise gets the largest gain, not the sum.
        let mut gains: BTreeMap<usize, f32> = BTreeMap::new();
        let mut offer = |node: usize, gate: f32| {
            for (&token, &share) in self.nodes.get(node).into_iter().flat_map(|node| &node.tokens) {
                if logits.get(token).is_some_and(|&logit| logit > best - gate) {
                    let held = gains.entry(token).or_insert(share);
                    *held = held.max(share);
                }
            }
        };
        offer(0, self.lean.start_gate);
        for node in self.places(written) {
            offer(node, self.lean.gate);
        }
        for (token, share) in gains {
            if let Some(logit) = logits.get_mut(token) {
                *logit += share * self.lean.strength;
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

/// A text with the first letter of each word in lower case: a phrase may open a sentence. The letters behind it keep
/// theirs: were capitals taken for small letters, the recogniser would fall into writing whole sentences IN CAPITALS.
fn spelling(text: &str) -> String {
    let mut behind_space = false;
    let mut spelled = String::with_capacity(text.len());
    for c in text.chars() {
        if behind_space {
            spelled.extend(c.to_lowercase());
        } else {
            spelled.push(c);
        }
        behind_space = c == ' ';
    }
    spelled
}

/// A word of a phrase as the recogniser writes it: behind a space. Nothing for no letters.
fn word(text: &str) -> String {
    if text.is_empty() { String::new() } else { spelling(&format!(" {text}")) }
}

/// Adds a phrase: its places, and at each the tokens that go on from there.
fn lay(nodes: &mut Vec<Node>, words: &[String], tokens: &HashMap<&str, Vec<usize>>, lean: Lean) {
    let mut node = 0;
    for word in words.iter().filter(|word| !word.is_empty()) {
        let known = tokens.contains_key(word.as_str());
        let first = node == 0;
        let letters: Vec<(usize, char)> = word.char_indices().collect();
        for &(from, letter) in &letters {
            let ends = letters.iter().map(|&(at, _)| at).chain([word.len()]).filter(|&end| end > from + 1);
            for end in ends {
                let whole = from == 0 && end == word.len();
                let Some(share) = share(&word[from..end], known, whole, first && from == 0, lean) else { continue };
                for &token in tokens.get(&word[from..end]).into_iter().flatten() {
                    let held = nodes[node].tokens.entry(token).or_insert(share);
                    *held = held.max(share);
                }
            }
            let fresh = nodes.len();
            node = *nodes[node].next.entry(letter).or_insert(fresh);
            if node == fresh {
                nodes.push(Node::default());
            }
        }
    }
}

/// The share of the full strength for a piece of a word, or none if it needs no help.
fn share(piece: &str, known: bool, whole: bool, first: bool, lean: Lean) -> Option<f32> {
    // The more letters a token settles, the surer it is that the phrase was meant.
    let letters = piece.trim_start().chars().count() as f32;
    match (known, whole, first) {
        (true, true, false) => Some(lean.known_word * (letters / 3.0).min(1.0)),
        (true, ..) => None,
        (false, _, true) => Some(lean.at_start * (letters / 4.0).min(1.0)),
        (false, _, false) => Some((letters / 3.0).min(1.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOKENS: [&str; 16] = [
        " M", "oro", " reflex", "oral", " the", " m", "or", "ro", " ", "\u{fffd}", " Mor", "!", " MORO", "flex", "ORO",
        " head",
    ];

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
        let bias = bias(&["Moro reflex", "head"]).unwrap();
        let mut logits = vec![0.0; TOKENS.len() + 5];
        bias.raise(&written.iter().map(|text| token(text)).collect::<Vec<_>>(), &mut logits);
        let found: Vec<(&str, f32)> =
            TOKENS.iter().copied().zip(logits.iter().copied()).filter(|at| at.1 != 0.0).collect();
        let starts = [(" M", 0.75), (" m", 0.75), (" Mor", 2.25)];
        let mut expected = [&starts[..], raised].concat();
        expected.sort_by_key(|at| token(at.0));
        assert_eq!(found, expected, "after {written:?}");
        assert!(logits[TOKENS.len()..].iter().all(|&logit| logit == 0.0));
    }

    #[test]
    fn begins_and_continues_a_phrase_however_it_is_cut() {
        check(&[], &[]);
        check(&[" the"], &[]);
        check(&[" the", " M"], &[("or", 4.0), ("oro", 6.0)]);
        check(&[" m", "or"], &[]);
        check(&[" m", "oro"], &[(" reflex", 3.0)]);
        check(&[" M", "oral"], &[]);
        check(&[" m", "oro", " reflex"], &[]);
        // Capitals within a word are another spelling.
        check(&[" MORO"], &[]);
        check(&[" M", "ORO"], &[]);
    }

    #[test]
    fn words_that_the_vocabulary_has_whole_are_not_leant_towards_alone() {
        assert!(bias(&["head", "the reflex"]).is_some());
        assert!(bias(&["head", "reflex"]).is_none());
    }

    #[test]
    fn special_tokens_and_odd_numbers_end_what_was_written() {
        let bias = bias(&["Moro reflex"]).unwrap();
        for odd in [-1, i32::MAX, 16, 18] {
            let mut logits = vec![0.0; 21];
            bias.raise(&[token(" M"), token("oro"), odd], &mut logits);
            assert_eq!(logits[2], 0.0);
        }
        bias.raise(&[1, 2, 3], &mut []);
        bias.raise(&[], &mut [0.0; 3]);
        bias.raise(&[], &mut [f32::NEG_INFINITY; 30]);
        bias.raise(&[], &mut [f32::NAN; 30]);
    }

    #[test]
    fn what_the_sound_rules_out_stays_out() {
        let bias = bias(&["Moro reflex"]).unwrap();
        let mut logits = vec![0.0; TOKENS.len()];
        logits[4] = 8.5;
        bias.raise(&[], &mut logits);
        assert_eq!(logits[10], 0.0, "a start below its gate");
        bias.raise(&[token(" M")], &mut logits);
        assert_eq!(logits[1], 6.0, "a continuation within its gate");
        logits[4] = 20.0;
        bias.raise(&[token(" M")], &mut logits);
        assert_eq!(logits[1], 6.0, "a continuation below its gate");
    }

    #[test]
    fn no_phrases_no_bias() {
        assert!(bias(&[]).is_none());
        assert!(bias(&["", " - "]).is_none());
    }
}

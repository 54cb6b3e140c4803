//! Mentions → tokens: of overlapping mentions, those that can mean something here.
//! Takes the mentions of a sentence and the items that are in play; gives tokens in order, none overlapping another.
//! Leaves alone which item a value belongs to.
//!
//! "elbow to the midline" with the scarf sign in play gives "elbow to the midline", not "elbow" and "midline"

use std::collections::BTreeSet;

use crate::lexicon::quantities::Quantity;
use crate::lexicon::{General, How, ItemIx, LanguageWord, Lexicon, Meaning, Mention, Said, Strength, ValueIx};
use crate::reading::clauses::Sentence;
use crate::speech::{Stop, Word};

/// A stretch of words with what it can mean here.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    /// Index of its first word in the utterance.
    pub first: usize,
    /// Index behind its last word.
    pub past: usize,
    /// The segment that holds its first word.
    pub segment: usize,
    /// Items it names.
    pub names: Vec<ItemIx>,
    /// Items of which it may name one.
    pub shared: Vec<ItemIx>,
    /// Items whose manoeuvre it tells.
    pub done_by: Vec<ItemIx>,
    /// Items that look at this part of the body.
    pub body: Vec<ItemIx>,
    /// Values it can be.
    pub values: Vec<(ItemIx, ValueIx, Strength)>,
    /// General words it can be.
    pub generals: Vec<General>,
    /// Words of the language it can be.
    pub words: Vec<LanguageWord>,
    /// The number it says.
    pub quantity: Option<Quantity>,
    /// Whether the phrase is a plural.
    pub plural: bool,
    /// Whether it holds a plural part of the body ("hands loosely closed").
    pub plural_inside: bool,
    /// How it was recognised.
    pub how: How,
}

impl Token {
    /// Whether it is a given word of the language.
    #[must_use]
    pub fn is(&self, word: LanguageWord) -> bool {
        self.words.contains(&word)
    }

    /// Whether it says a number, or a value by more than an everyday word.
    #[must_use]
    pub fn is_strong_result(&self) -> bool {
        self.quantity.is_some() || self.values.iter().any(|(_, _, strength)| *strength > Strength::Loose)
    }

    /// Whether it can be the result of something.
    #[must_use]
    pub fn is_result(&self) -> bool {
        !self.values.is_empty() || !self.generals.is_empty() || self.quantity.is_some()
    }
}

/// The items that a sentence itself brings into play.
#[must_use]
pub fn items_in_sentence(lexicon: &Lexicon, sentence: &Sentence, mentions: &[Mention]) -> BTreeSet<ItemIx> {
    let mut items = BTreeSet::new();
    let inside = |mention: &&Mention| mention.first >= sentence.first() && mention.past <= sentence.past();
    for meaning in mentions.iter().filter(inside).flat_map(|mention| mention.meanings(lexicon)) {
        match meaning {
            Meaning::Name(item) | Meaning::Shared(item) | Meaning::DoneBy(item) | Meaning::Body(item) => {
                items.insert(*item);
                items.extend(lexicon.items[*item].members.iter());
            }
            Meaning::Value(item, _, Strength::Alone) => drop(items.insert(*item)),
            _ => {}
        }
    }
    items
}

/// The tokens of a sentence: the longest mentions that mean something with the given items in play.
#[must_use]
pub fn tokens_of(
    lexicon: &Lexicon,
    sentence: &Sentence,
    mentions: &[Mention],
    in_play: &BTreeSet<ItemIx>,
) -> Vec<Token> {
    let inside = |mention: &&Mention| mention.first >= sentence.first() && mention.past <= sentence.past();
    let mut tokens: Vec<(bool, Token)> =
        mentions.iter().filter(inside).filter_map(|mention| token_of(lexicon, sentence, mention, in_play)).collect();
    tokens.sort_by(|(_, a), (_, b)| {
        (b.past - b.first).cmp(&(a.past - a.first)).then(rank(b).total_cmp(&rank(a))).then(a.first.cmp(&b.first))
    });
    let mut kept: Vec<(bool, Token)> = Vec::new();
    for token in tokens {
        if kept.iter().all(|(_, other)| can_stand_beside(&token.1, other)) {
            kept.push(token);
        } else if let Some((_, phrase)) = kept.iter_mut().find(|(_, other)| holds(other, &token.1)) {
            // The part of the body inside a name helps to tell what a number beside it measures, and "pupils are equal"
            // says both sides though it is one phrase.
            if !phrase.names.is_empty() {
                phrase.body.extend(&token.1.body);
            }
            phrase.plural_inside |= token.1.plural && !token.1.body.is_empty() && token.1.first == phrase.first;
            phrase.words.extend(token.1.words.iter().filter(|word| **word == LanguageWord::SideBoth));
        }
    }
    let mut tokens: Vec<Token> = kept.into_iter().filter(|(never, _)| !never).map(|(_, token)| token).collect();
    tokens.sort_by_key(|token| token.first);
    tokens
}

/// Words between two qualifiers of one head.
const BETWEEN_QUALIFIERS: [&str; 5] = ["and", "or", "nor", "both", "the"];

/// "Palmar and plantar grasps": the first name lacks its head, which it shares with the second. Adds a token for it.
pub fn share_heads(lexicon: &Lexicon, sentence: &Sentence, words: &[Word], tokens: &mut Vec<Token>) {
    let mut added = Vec::new();
    for token in tokens.iter().filter(|token| !token.names.is_empty() || !token.shared.is_empty()) {
        let Some(head) = words.get(token.past - 1).map(|word| word.plain.as_str()) else { continue };
        let mut at = token.first;
        while at > sentence.first() && BETWEEN_QUALIFIERS.contains(&words[at - 1].plain.as_str()) {
            at -= 1;
        }
        let comma = at == token.first && at > sentence.first() && words[at - 1].stop == Stop::Comma;
        if at == sentence.first() || at == token.first && !comma {
            continue;
        }
        let names_with_head = |from: usize| {
            let stem: Vec<&str> = words[from..at].iter().map(|word| word.plain.as_str()).collect();
            let one =
                head.strip_suffix("es").filter(|one| one.ends_with('x')).or(head.strip_suffix('s')).unwrap_or(head);
            let whole = [one, head].map(|head| format!("{} {head}", stem.join(" ")));
            let names = |text: &String| lexicon.phrase(text).map(|phrase| names_of(&phrase.meanings));
            whole.iter().filter_map(names).find(|names| !names.is_empty() && *names != token.names)
        };
        let mut starts = sentence.first().max(at.saturating_sub(3))..at;
        let Some((first, names)) = starts.find_map(|from| Some((from, names_with_head(from)?))) else { continue };
        let (shared, done_by, body) = (Vec::new(), Vec::new(), Vec::new());
        let segment = sentence.segment_of(first);
        added.push(Token { first, past: at, segment, names, shared, done_by, body, ..token.clone() });
    }
    for token in added {
        let whole = |other: &Token| !other.names.is_empty() && other.first < token.past && token.first < other.past;
        if !tokens.iter().any(whole) {
            tokens.retain(|other| other.past <= token.first || token.past <= other.first);
            tokens.push(token);
        }
    }
    tokens.sort_by_key(|token| token.first);
}

fn names_of(meanings: &[Meaning]) -> Vec<ItemIx> {
    let name = |meaning: &Meaning| if let Meaning::Name(item) = meaning { Some(*item) } else { None };
    meanings.iter().filter_map(name).collect()
}

// "Fifty-three hours of age": the number and the name share a word, and both hold.
fn can_stand_beside(token: &Token, other: &Token) -> bool {
    if token.past <= other.first || other.past <= token.first {
        return true;
    }
    let inside = token.first >= other.first && token.past <= other.past;
    token.quantity.is_some() != other.quantity.is_some() && !inside
}

fn holds(phrase: &Token, inner: &Token) -> bool {
    (!phrase.names.is_empty() || !phrase.values.is_empty()) && phrase.first <= inner.first && inner.past <= phrase.past
}

// Of two mentions of one length that overlap, names and numbers stand before everything else, sounds last.
fn rank(token: &Token) -> f32 {
    let kind = if !token.names.is_empty() {
        4.0
    } else if token.quantity.is_some() {
        3.0
    } else if !token.values.is_empty() {
        2.0
    } else {
        1.0
    };
    match token.how {
        How::Exact => kind,
        How::Spelling | How::Misheard => kind - 0.5,
        How::Sound(closeness) => closeness - 1.0,
    }
}

fn token_of(
    lexicon: &Lexicon,
    sentence: &Sentence,
    mention: &Mention,
    in_play: &BTreeSet<ItemIx>,
) -> Option<(bool, Token)> {
    let mut token = Token {
        first: mention.first,
        past: mention.past,
        segment: sentence.segment_of(mention.first),
        names: Vec::new(),
        shared: Vec::new(),
        done_by: Vec::new(),
        body: Vec::new(),
        values: Vec::new(),
        generals: Vec::new(),
        words: Vec::new(),
        quantity: None,
        plural: mention.phrase(lexicon).is_some_and(|phrase| phrase.plural),
        plural_inside: false,
        how: mention.how,
    };
    if let Said::Quantity(quantity) = &mention.said {
        token.quantity = Some(Quantity::clone(quantity));
        return Some((false, token));
    }
    let mut never = false;
    for meaning in mention.meanings(lexicon) {
        match *meaning {
            Meaning::Name(item) => token.names.push(item),
            Meaning::Shared(item) => token.shared.push(item),
            Meaning::DoneBy(item) => token.done_by.push(item),
            Meaning::Body(item) => token.body.push(item),
            Meaning::Value(item, value, strength) if strength == Strength::Alone || in_play.contains(&item) => {
                token.values.push((item, value, strength));
            }
            Meaning::Value(..) => {}
            Meaning::General(general) => token.generals.push(general),
            Meaning::Word(word) => token.words.push(word),
            Meaning::Never => never = true,
        }
    }
    let empty = token.names.is_empty()
        && token.shared.is_empty()
        && token.done_by.is_empty()
        && token.body.is_empty()
        && !token.is_result()
        && token.words.is_empty();
    (never || !empty).then_some((never, token))
}

/// Whether a number only counts along: "one, two, three, four, five, and let go" is no result; "six, seven, eight beats"
/// ends in one.
#[must_use]
pub fn counted_only(tokens: &[Token], at: usize) -> bool {
    let Some(quantity) = &tokens[at].quantity else { return false };
    if quantity.counting && quantity.spoken.unit().is_none() {
        // The last number of a count may be a count of beats; every other one is not the result.
        return tokens[at + 1..].iter().any(|token| token.quantity.as_ref().is_some_and(|next| next.counting));
    }
    // "The right one, brisk": one that stands for the side, with the result behind it.
    let behind_side = at > 0
        && tokens[at - 1].past == tokens[at].first
        && (tokens[at - 1].is(LanguageWord::SideLeft) || tokens[at - 1].is(LanguageWord::SideRight));
    let bare_one = quantity.past == quantity.first + 1
        && quantity.spoken.said.single().is_some_and(|part| part.number.as_whole() == Some(1));
    behind_side && bare_one && tokens[at + 1..].iter().any(|token| token.is_result() && token.quantity.is_none())
}

//! Mentions → tokens: of overlapping mentions, those that can mean something here.
//! Takes the mentions of a sentence and the items that are in play; gives tokens in order, none overlapping another.
//! Leaves alone which item a value belongs to.
//!
//! "elbow to the midline" with the scarf sign in play gives "elbow to the midline", not "elbow" and "midline"

use crate::lexicon::quantities::Quantity;
use crate::lexicon::{General, How, ItemIx, ItemSet, LanguageWord, Lexicon, Meaning, Mention, Said, Strength, ValueIx};
use crate::reading::clauses::Sentence;
use crate::reading::word_set::WordSet;
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
    pub words: WordSet,
    /// The number it says.
    pub quantity: Option<Quantity>,
    /// Whether the phrase is a plural.
    pub plural: bool,
    /// Whether it holds a plural part of the body ("hands loosely closed").
    pub plural_inside: bool,
    /// Whether "or" joins it to what stands before.
    pub after_or: bool,
    /// How it was recognised.
    pub how: How,
}

impl Token {
    /// Whether it is a given word of the language.
    #[must_use]
    pub fn is(&self, word: LanguageWord) -> bool {
        self.words.contains(word)
    }

    /// Whether it says a number, or a value by more than an everyday word.
    #[must_use]
    pub fn is_strong_result(&self) -> bool {
        self.quantity.is_some() || self.values.iter().any(|(_, _, strength)| *strength > Strength::Loose)
    }

    /// Whether it says a number, a general word, or a value by more than an everyday word.
    #[must_use]
    pub fn is_plain_result(&self) -> bool {
        self.is_strong_result() || !self.generals.is_empty()
    }

    /// Whether it says the left or the right.
    #[must_use]
    pub fn says_one_side(&self) -> bool {
        self.is(LanguageWord::SideLeft) || self.is(LanguageWord::SideRight)
    }

    /// Whether it can be the result of something.
    #[must_use]
    pub fn is_result(&self) -> bool {
        !self.values.is_empty() || !self.generals.is_empty() || self.quantity.is_some()
    }
}

/// Whether nobody knows a word, which runs on into the next.
pub(super) fn is_odd(lexicon: &Lexicon, tokens: &[Token], words: &[Word], at: usize) -> bool {
    words[at].stop == Stop::None && !is_covered(tokens, at) && !lexicon.is_plain(&words[at].plain)
}

/// Whether a word is part of any of the tokens.
pub(super) fn is_covered(tokens: &[Token], word: usize) -> bool {
    tokens.iter().any(|token| token.first <= word && word < token.past)
}

/// The items that a sentence itself brings into play.
#[must_use]
pub fn items_in_sentence(lexicon: &Lexicon, sentence: &Sentence, mentions: &[Mention]) -> ItemSet {
    let mut items = ItemSet::default();
    for mention in inside(sentence, mentions) {
        if let Some(gist) = mention.gist(lexicon) {
            items.extend(&gist.brings);
        }
    }
    items
}

// Mentions stand in order of their first word.
pub(super) fn inside<'m>(sentence: &Sentence, mentions: &'m [Mention]) -> impl Iterator<Item = &'m Mention> {
    let (first, past) = (sentence.first(), sentence.past());
    let from = mentions.partition_point(|mention| mention.first < first);
    let here = mentions[from..].iter().take_while(move |mention| mention.first < past);
    here.filter(move |mention| mention.past <= past)
}

/// The tokens of a sentence: the longest mentions that mean something with the given items in play.
#[must_use]
pub fn tokens_of(lexicon: &Lexicon, sentence: &Sentence, mentions: &[Mention], in_play: &ItemSet) -> Vec<Token> {
    let mut outlines: Vec<Outline> = Vec::with_capacity(2 * (sentence.past() - sentence.first()));
    outlines.extend(inside(sentence, mentions).filter_map(|mention| Outline::of(lexicon, mention, in_play)));
    outlines.sort_by(|a, b| b.len().cmp(&a.len()).then(b.rank.total_cmp(&a.rank)).then(a.first.cmp(&b.first)));
    let mut kept: Vec<Outline> = Vec::with_capacity(outlines.len());
    let mut held: Vec<(&Mention, &Mention)> = Vec::new();
    for outline in outlines {
        if kept.iter().all(|other| outline.can_stand_beside(other)) {
            kept.push(outline);
        } else if let Some(phrase) = kept.iter().find(|other| other.holds(&outline)) {
            held.push((phrase.mention, outline.mention));
        }
    }
    kept.retain(|outline| !outline.never);
    kept.sort_by_key(|outline| outline.first);
    kept.iter()
        .map(|outline| {
            let mut token = token_of(lexicon, sentence, outline.mention, in_play);
            for (_, inner) in held.iter().filter(|(phrase, _)| std::ptr::eq(*phrase, outline.mention)) {
                take_in(lexicon, &mut token, inner, in_play);
            }
            token
        })
        .collect()
}

// What a phrase holds counts where it does not go against the whole: the part of the body inside a name or a side
// ("either leg") helps to tell what is meant, "pupils are equal" says both sides though it is one phrase, and "very brisk"
// is brisk for an item that does not know it.
fn take_in(lexicon: &Lexicon, phrase: &mut Token, inner: &Mention, in_play: &ItemSet) {
    let plural = inner.phrase(lexicon).is_some_and(|inner| inner.plural);
    let is_side = SIDES.iter().any(|word| phrase.words.contains(*word));
    let takes_body = !phrase.names.is_empty() || is_side;
    let is_strong = phrase.values.iter().all(|(_, _, strength)| *strength < Strength::Alone);
    let takes_values = is_strong && !phrase.values.is_empty() && inner.past == phrase.past && phrase.words.is_empty();
    let knows = |phrase: &Token, item: ItemIx| phrase.values.iter().any(|(of, ..)| *of == item);
    for meaning in inner.meanings(lexicon) {
        match *meaning {
            Meaning::Body(item) => {
                phrase.body.extend(takes_body.then_some(item));
                phrase.plural_inside |= plural && inner.first == phrase.first;
            }
            // "Plantars up"
            Meaning::Name(_) => phrase.plural_inside |= plural && inner.first == phrase.first,
            Meaning::Value(item, value, strength)
                if takes_values && strength > Strength::Loose && in_play.contains(item) && !knows(phrase, item) =>
            {
                phrase.values.push((item, value, strength));
            }
            Meaning::Word(LanguageWord::SideBoth) => phrase.words.push(LanguageWord::SideBoth),
            Meaning::Word(side) if SIDES.contains(&side) && !phrase.done_by.is_empty() => phrase.words.push(side),
            _ => {}
        }
    }
}

const SIDES: [LanguageWord; 4] =
    [LanguageWord::SideLeft, LanguageWord::SideRight, LanguageWord::SideBoth, LanguageWord::SideOther];

/// Leaves out what something is only compared with: "higher in the legs than in the arms" says nothing of the arms.
pub fn leave_out_compared(sentence: &Sentence, words: &[Word], tokens: &mut Vec<Token>) {
    let is_compared = |token: &Token| {
        let before = words[sentence.first()..token.first].iter().rev();
        let mut before = before.take_while(|word| word.stop == Stop::None).map(|word| word.plain.as_str());
        before.find(|word| !["the", "his", "her", "its", "in", "on", "at", "of", "for"].contains(word)) == Some("than")
    };
    let tells = |token: &Token| !(token.names.is_empty() && token.shared.is_empty() && token.body.is_empty());
    tokens.retain(|token| token.is_result() || !tells(token) || !is_compared(token));
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
            let one =
                head.strip_suffix("es").filter(|one| one.ends_with('x')).or(head.strip_suffix('s')).unwrap_or(head);
            let mut whole: Vec<&str> = words[from..at].iter().map(|word| word.plain.as_str()).collect();
            whole.push(head);
            let mut names = |head| {
                *whole.last_mut()? = head;
                lexicon.phrase_of(&whole).map(|phrase| names_of(&phrase.meanings))
            };
            [one, head].into_iter().filter_map(&mut names).find(|names| !names.is_empty() && *names != token.names)
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

/// What of a mention decides whether it becomes a token: most do not, and a token is much to make.
struct Outline<'m> {
    mention: &'m Mention,
    first: usize,
    past: usize,
    names: bool,
    values: bool,
    /// Whether it tells a manoeuvre or a side.
    places: bool,
    quantity: bool,
    /// Whether it means nothing, whatever the phrases inside it mean.
    never: bool,
    rank: f32,
}

impl<'m> Outline<'m> {
    // Nothing where the mention means nothing with these items in play.
    fn of(lexicon: &Lexicon, mention: &'m Mention, in_play: &ItemSet) -> Option<Self> {
        let (first, past, quantity) = (mention.first, mention.past, matches!(mention.said, Said::Quantity(_)));
        let gist = mention.gist(lexicon);
        let values = gist.is_some_and(|gist| gist.is_value(in_play));
        if !(quantity || values || gist.is_some_and(|gist| gist.more)) {
            return None;
        }
        let names = gist.is_some_and(|gist| gist.names);
        let never = gist.is_some_and(|gist| gist.never);
        let places = gist.is_some_and(|gist| gist.places);
        let rank = rank(names, quantity, values, mention.how);
        Some(Self { mention, first, past, names, values, places, quantity, never, rank })
    }

    fn len(&self) -> usize {
        self.past - self.first
    }

    // "Fifty-three hours of age": the number and the name share a word, and both hold.
    fn can_stand_beside(&self, other: &Self) -> bool {
        if self.past <= other.first || other.past <= self.first {
            return true;
        }
        let inside = self.first >= other.first && self.past <= other.past;
        self.quantity != other.quantity && !inside
    }

    fn holds(&self, inner: &Self) -> bool {
        (self.names || self.values || self.places) && self.first <= inner.first && inner.past <= self.past
    }
}

// Of two mentions of one length that overlap, names and numbers stand before everything else, sounds last.
fn rank(names: bool, quantity: bool, values: bool, how: How) -> f32 {
    let kind = match (names, quantity, values) {
        (true, ..) => 4.0,
        (_, true, _) => 3.0,
        (.., true) => 2.0,
        _ => 1.0,
    };
    match how {
        How::Exact => kind,
        How::Spelling | How::Misheard => kind - 0.5,
        How::Sound(closeness) => closeness - 1.0,
    }
}

fn token_of(lexicon: &Lexicon, sentence: &Sentence, mention: &Mention, in_play: &ItemSet) -> Token {
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
        words: WordSet::default(),
        quantity: None,
        plural: mention.phrase(lexicon).is_some_and(|phrase| phrase.plural),
        plural_inside: false,
        after_or: false,
        how: mention.how,
    };
    if let Said::Quantity(quantity) = &mention.said {
        token.quantity = Some(Quantity::clone(quantity));
    }
    for meaning in mention.meanings(lexicon) {
        match *meaning {
            Meaning::Name(item) => token.names.push(item),
            Meaning::Shared(item) => token.shared.push(item),
            Meaning::DoneBy(item) => token.done_by.push(item),
            Meaning::Body(item) => token.body.push(item),
            Meaning::Value(item, value, strength) if strength == Strength::Alone || in_play.contains(item) => {
                token.values.push((item, value, strength));
            }
            Meaning::General(general) => token.generals.push(general),
            Meaning::Word(word) => token.words.push(word),
            Meaning::Value(..) | Meaning::Never => {}
        }
    }
    token
}

/// Whether a number only counts along: "one, two, three, four, five, and let go" is no result; "six, seven, eight beats"
/// ends in one.
#[must_use]
pub fn counted_only(tokens: &[Token], at: usize) -> bool {
    let Some(quantity) = &tokens[at].quantity else { return false };
    // "Wait, one, two little beats": a number that the next one goes on from is no result.
    let whole = |token: &Token| token.quantity.as_ref()?.spoken.said.single()?.number.as_whole();
    let goes_on = tokens.get(at + 1).is_some_and(|next| {
        next.first <= tokens[at].past + 1 && whole(&tokens[at]).is_some_and(|n| n < 10 && whole(next) == Some(n + 1))
    });
    if goes_on && quantity.spoken.unit().is_none() {
        return true;
    }
    if quantity.counting && quantity.spoken.unit().is_none() {
        // The last number of a count may be a count of beats; every other one is not the result.
        return tokens[at + 1..].iter().any(|token| token.quantity.as_ref().is_some_and(|next| next.counting));
    }
    // "The right one, brisk": one that stands for the side, with the result behind it; but "two on the right, one on the left".
    let next_to = |one: &Token, other: &Token| one.past == other.first && one.segment == other.segment;
    let behind_side = at > 0 && next_to(&tokens[at - 1], &tokens[at]) && tokens[at - 1].says_one_side();
    let bare_one = quantity.past == quantity.first + 1
        && quantity.spoken.said.single().is_some_and(|part| part.number.as_whole() == Some(1));
    behind_side && bare_one && tokens[at + 1..].iter().any(|token| token.is_result() && token.quantity.is_none())
}

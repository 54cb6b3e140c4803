//! Text → words, spelled one way.
//! Takes a line as a transcript or a phrase file has it; gives its words in order, each with a plain spelling
//! (lower case, contractions opened, hyphens split) and the pause or stop behind it.
//! Leaves alone what the words mean. Phrases and transcripts pass through here alike, so both sides of a match agree.
//!
//! "The left's thirty-four." gives the | left | is | thirty | four

use crate::span::SoundSpan;

/// What stands between a word and the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stop {
    /// Nothing: the words run on.
    None,
    /// A comma, a bracket or a quotation mark.
    Comma,
    /// A dash, a colon, a semicolon or dots: a pause that a number does not cross.
    Pause,
    /// A full stop or an exclamation mark.
    End,
    /// A question mark.
    Question,
}

/// One word of an utterance.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Plain spelling, used for every comparison.
    pub plain: String,
    /// First byte of the written word in the utterance's text.
    pub start: usize,
    /// Byte behind the written word in the utterance's text.
    pub end: usize,
    /// What follows the word.
    pub stop: Stop,
    /// Place in the recording, where there is one.
    pub sound: Option<SoundSpan>,
    /// The recogniser's probability of the word, 0 to 1, where there is one.
    pub probability: Option<f32>,
}

/// The words of a line. Any text is accepted; a line without words gives none.
#[must_use]
pub fn words_of(line: &str) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::with_capacity(line.len() / 4 + 1);
    let mut start = 0;
    while let Some(byte) = line.as_bytes().get(start) {
        if *byte == b' ' {
            start += 1;
            continue;
        }
        if let Some(end) = simple_word_end(line.as_bytes(), start) {
            push_simple_word(&mut words, &line[start..end], start);
            start = end;
            continue;
        }
        let Some(c) = byte_at(line, start) else { break };
        let behind = start + c.len_utf8();
        if c.is_alphanumeric() || joins_number(line, start, c) {
            let end = word_end(line, start, behind);
            push_word(&mut words, line, start, end);
            start = end;
        } else {
            if let Some(last) = words.last_mut() {
                last.stop = last.stop.max(stop_of(c, line, start));
            }
            push_symbol(&mut words, c, line, start);
            start = behind;
        }
    }
    words
}

// Most words are plain letters with a space or a stop behind them: where such a one ends.
fn simple_word_end(line: &[u8], start: usize) -> Option<usize> {
    let length = line.get(start..)?.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    let simple = length > 0
        && line.get(start + length).is_none_or(|next| next.is_ascii() && !next.is_ascii_digit() && *next != b'\'');
    simple.then_some(start + length)
}

fn push_simple_word(words: &mut Vec<Word>, written: &str, start: usize) {
    let plain = written.to_ascii_lowercase();
    if plain == "cannot" || denied_in_scots(&plain).is_some() {
        let opened = opened(&plain).into_iter();
        words.extend(opened.map(|plain| word(plain, start, start + written.len())));
    } else {
        words.push(word(plain, start, start + written.len()));
    }
}

fn word_end(line: &str, start: usize, behind: usize) -> usize {
    let mut end = behind;
    while let Some(next) = byte_at(line, end) {
        if !continues(line, start, end, next) {
            break;
        }
        end += next.len_utf8();
    }
    end
}

/// The plain words of a phrase, joined by single spaces.
#[must_use]
pub fn plain_phrase(phrase: &str) -> String {
    let words = words_of(phrase);
    let plain: Vec<&str> = words.iter().map(|word| word.plain.as_str()).collect();
    plain.join(" ")
}

fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '’' | 'ʼ' | '‘')
}

fn byte_at(line: &str, at: usize) -> Option<char> {
    line.get(at..)?.chars().next()
}

fn before(line: &str, at: usize) -> Option<char> {
    line.get(..at)?.chars().next_back()
}

// ".5" starts a number; a stop between two digits stays inside it: "34.6".
fn joins_number(line: &str, at: usize, c: char) -> bool {
    c == '.'
        && byte_at(line, at + 1).is_some_and(|next| next.is_ascii_digit())
        && before(line, at).is_none_or(char::is_whitespace)
}

fn continues(line: &str, start: usize, at: usize, c: char) -> bool {
    let previous = before(line, at);
    let next = byte_at(line, at + c.len_utf8());
    let digit = |x: Option<char>| x.is_some_and(|x| x.is_ascii_digit());
    let alphabetic = |x: Option<char>| x.is_some_and(char::is_alphabetic);
    match c {
        // "3,240" is one number; "two, three" never comes as digits without a space.
        ',' => {
            digit(previous)
                && line.get(at + 1..at + 4).is_some_and(|three| three.bytes().all(|b| b.is_ascii_digit()))
                && !digit(byte_at(line, at + 4))
                && line.get(start..at).is_some_and(|head| head.len() <= 3)
        }
        '.' => digit(previous) && digit(next),
        _ if is_apostrophe(c) => previous.is_some_and(char::is_alphanumeric) && alphabetic(next),
        // "90deg" and "2nd" are split where digits meet letters.
        _ if c.is_alphanumeric() => {
            let meets = digit(previous) && c.is_alphabetic() || alphabetic(previous) && c.is_ascii_digit();
            !meets || is_ordinal(line, at)
        }
        _ => false,
    }
}

fn is_ordinal(line: &str, at: usize) -> bool {
    let tail: String = line[at..].chars().take_while(|c| c.is_alphabetic()).collect();
    matches!(tail.to_lowercase().as_str(), "st" | "nd" | "rd" | "th")
}

fn stop_of(c: char, line: &str, at: usize) -> Stop {
    match c {
        '?' => Stop::Question,
        '.' if line[at + 1..].starts_with('.') || line[..at].ends_with('.') => Stop::Pause,
        '.' | '!' => Stop::End,
        ':' | ';' | '—' | '–' | '…' => Stop::Pause,
        '-' if before(line, at).is_some_and(char::is_whitespace) => Stop::Pause,
        ',' | '(' | ')' | '"' | '“' | '”' => Stop::Comma,
        _ => Stop::None,
    }
}

// "38+4", "2+" and "90°" carry meaning in their signs.
fn push_symbol(words: &mut Vec<Word>, c: char, line: &str, at: usize) {
    let after_digit = before(line, at).is_some_and(|c| c.is_ascii_digit());
    let plain = match c {
        '+' => "plus",
        '°' => "degrees",
        '%' => "percent",
        '/' if after_digit => "over",
        '<' => "under",
        '>' => "over",
        '-' | '–' if after_digit && byte_at(line, at + c.len_utf8()).is_some_and(|c| c.is_ascii_digit()) => "hyphen",
        _ => return,
    };
    if let Some(last) = words.last_mut()
        && last.end == at
    {
        last.stop = Stop::None;
    }
    words.push(word(plain.to_owned(), at, at + c.len_utf8()));
}

fn word(plain: String, start: usize, end: usize) -> Word {
    Word { plain, start, end, stop: Stop::None, sound: None, probability: None }
}

fn push_word(words: &mut Vec<Word>, line: &str, start: usize, end: usize) {
    let written: String =
        line[start..end].chars().map(|c| if is_apostrophe(c) { '\'' } else { c }).collect::<String>().to_lowercase();
    let written = if written.starts_with(|c: char| c.is_ascii_digit()) { written.replace(',', "") } else { written };
    for plain in opened(&written) {
        words.push(word(plain, start, end));
    }
}

/// Contractions that do not follow the endings' rule.
const IRREGULAR: [(&str, &[&str]); 8] = [
    ("cannot", &["can", "not"]),
    ("can't", &["can", "not"]),
    ("won't", &["will", "not"]),
    ("shan't", &["shall", "not"]),
    ("ain't", &["is", "not"]),
    ("let's", &["let", "us"]),
    ("y'all", &["you", "all"]),
    ("o'clock", &["o'clock"]),
];

/// Verbs that Scots denies with "-na" or "-nae": "the elbow doesna reach".
const SCOTS: [&str; 13] =
    ["does", "did", "do", "is", "was", "has", "have", "can", "could", "would", "should", "will", "had"];

const ENDINGS: [(&str, &str); 6] =
    [("n't", "not"), ("'s", "is"), ("'re", "are"), ("'ve", "have"), ("'ll", "will"), ("'m", "am")];

fn denied_in_scots(written: &str) -> Option<&str> {
    let verb = written.strip_suffix("nae").or_else(|| written.strip_suffix("na"))?;
    SCOTS.contains(&verb).then_some(verb)
}

fn opened(written: &str) -> Vec<String> {
    if let Some((_, parts)) = IRREGULAR.iter().find(|(from, _)| *from == written) {
        return parts.iter().map(|part| (*part).to_owned()).collect();
    }
    if let Some(verb) = denied_in_scots(written) {
        return vec![verb.to_owned(), "not".to_owned()];
    }
    for (ending, opened) in ENDINGS {
        if let Some(stem) = written.strip_suffix(ending)
            && !stem.is_empty()
        {
            return vec![stem.to_owned(), opened.to_owned()];
        }
    }
    if let Some(stem) = written.strip_suffix("'d")
        && !stem.is_empty()
    {
        return vec![stem.to_owned(), "would".to_owned()];
    }
    vec![written.to_owned()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(line: &str, plain: &str) {
        assert_eq!(plain_phrase(line), plain, "line: {line}");
    }

    #[test]
    fn words_are_spelled_one_way() {
        check("The left's thirty-four.", "the left is thirty four");
        check("Can't get it, won't go", "can not get it will not go");
        check("The elbow doesna reach, I cannae, an arena", "the elbow does not reach i can not an arena");
        check("34.6 cm, 38+4 and 2+", "34.6 cm 38 plus 4 and 2 plus");
        check("3,240 grams; 90° or 90deg", "3240 grams 90 degrees or 90 deg");
        check("80-90, 38 4/7", "80 hyphen 90 38 4 over 7");
        check("weeks’ gestation – he’d", "weeks gestation he would");
        check("cannot, CANNOT… Ünder the é2", "can not can not ünder the é 2");
        check("... ?!", "");
    }

    #[test]
    fn stops_are_kept() {
        let stops: Vec<Stop> = words_of("One, two... three? four").iter().map(|word| word.stop).collect();
        assert_eq!(stops, [Stop::Comma, Stop::Pause, Stop::Question, Stop::None]);
    }

    #[test]
    fn a_word_points_at_its_place_in_the_line() {
        let line = "It's 34.6, isn’t it?";
        for word in words_of(line) {
            assert!(line.get(word.start..word.end).is_some());
        }
    }
}

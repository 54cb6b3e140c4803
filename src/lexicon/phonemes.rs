//! Words → sounds.
//! Takes a word in plain spelling; gives its sounds, by rules of English spelling. Leaves alone which phrase is meant.
//! A sound is a letter: `T` as in thin, `D` then, `S` shoe, `Z` vision, `C` chin, `J` jaw, `N` sing, `@` about; vowels are
//! told apart as `a e i o u` only, since recognisers and accents differ most in them.
//!
//! "phone" gives "fon", "knee" gives "ni"

/// Longer rows of sounds are not compared: they are told by their parts.
pub(super) const LONGEST: usize = 30;

/// Letters that make one sound, in order of the first letter, longer ones before what they begin with; from general knowledge of English spelling, no
/// source.
const RULES: [(&str, &str); 56] = [
    ("augh", "o"),
    ("air", "er"),
    ("ai", "e"),
    ("ay", "e"),
    ("au", "o"),
    ("aw", "o"),
    ("ae", "i"),
    ("cious", "S@s"),
    ("cian", "S@n"),
    ("cial", "S@l"),
    ("ch", "C"),
    ("ck", "k"),
    ("dge", "J"),
    ("eigh", "e"),
    ("ear", "ir"),
    ("eer", "ir"),
    ("er", "@r"),
    ("ee", "i"),
    ("ea", "i"),
    ("ei", "e"),
    ("ew", "u"),
    ("gh", ""),
    ("gg", "g"),
    ("igh", "i"),
    ("ir", "@r"),
    ("ie", "i"),
    ("j", "J"),
    ("mb", "m"),
    ("ng", "N"),
    ("nk", "Nk"),
    ("ough", "o"),
    ("oor", "or"),
    ("our", "or"),
    ("oo", "u"),
    ("ous", "@s"),
    ("ou", "a"),
    ("ow", "o"),
    ("oa", "o"),
    ("oi", "o"),
    ("oy", "o"),
    ("oe", "i"),
    ("ph", "f"),
    ("qu", "kw"),
    ("sion", "Z@n"),
    ("sch", "sk"),
    ("sh", "S"),
    ("tious", "S@s"),
    ("tion", "S@n"),
    ("tial", "S@l"),
    ("ture", "C@r"),
    ("tch", "C"),
    ("th", "T"),
    ("ur", "@r"),
    ("wh", "w"),
    ("x", "ks"),
    ("yr", "@r"),
];

/// Where the rules of each first letter begin, and where those of `z` end.
const FIRST_RULES: [usize; 27] = first_rules();

const fn first_rules() -> [usize; 27] {
    let mut first = [0; 27];
    let mut letter = 0;
    while letter < 26 {
        let mut at = first[letter];
        while at < RULES.len() && RULES[at].0.as_bytes()[0] == b'a' + letter as u8 {
            at += 1;
        }
        letter += 1;
        first[letter] = at;
    }
    first
}

fn rules_for(rest: &str) -> &'static [(&'static str, &'static str)] {
    match rest.bytes().next() {
        Some(letter @ b'a'..=b'z') => {
            let letter = usize::from(letter - b'a');
            &RULES[FIRST_RULES[letter]..FIRST_RULES[letter + 1]]
        }
        _ => &[],
    }
}

/// Letters that are silent or sound otherwise at the start of a word.
const OPENINGS: [(&str, &str); 9] = [
    ("kn", "n"),
    ("gn", "n"),
    ("wr", "r"),
    ("ps", "s"),
    ("pn", "n"),
    ("x", "z"),
    ("y", "y"),
    ("who", "hu"),
    ("ch", "C"),
];

/// Letters that sound otherwise at the end of a word.
const ENDINGS: [(&str, &str); 13] = [
    ("elle", "el"),
    ("le", "@l"),
    ("les", "@lz"),
    ("re", "@r"),
    ("ed", "d"),
    ("es", "z"),
    ("age", "@J"),
    ("ate", "et"),
    ("a", "@"),
    ("al", "@l"),
    ("ar", "@r"),
    ("or", "@r"),
    ("e", ""),
];

/// Adds a word's sounds. A sound that repeats the one before it is left out.
pub(super) fn sound_out(word: &str, sounds: &mut Vec<u8>) {
    let (mut at, start) = (0, sounds.len());
    let push = |sounds: &mut Vec<u8>, sound: u8| {
        if sounds.len() == start || sounds.last() != Some(&sound) {
            sounds.push(sound);
        }
    };
    while let Some(rest) = word.get(at..).filter(|rest| !rest.is_empty()) {
        let letters = if at == 0 { OPENINGS.iter().find(|(from, _)| rest.starts_with(from)) } else { None }
            .or_else(|| ENDINGS.iter().find(|(from, _)| at > 1 && rest == *from))
            .or_else(|| rules_for(rest).iter().find(|(from, _)| rest.starts_with(from)));
        if let Some((letters, sound)) = letters {
            sound.bytes().for_each(|sound| push(sounds, sound));
            at += letters.len();
            continue;
        }
        let Some(c) = rest.chars().next() else { break };
        at += c.len_utf8();
        let soft = word.get(at..).is_some_and(|rest| rest.starts_with(['e', 'i', 'y']));
        match c {
            'c' if soft => push(sounds, b's'),
            'c' => push(sounds, b'k'),
            'g' if soft => push(sounds, b'J'),
            'y' => push(sounds, b'i'),
            'q' => push(sounds, b'k'),
            'a'..='z' => push(sounds, c as u8),
            _ => {}
        }
    }
}

/// Whether a sound is a vowel.
pub(super) const fn is_vowel(sound: u8) -> bool {
    matches!(sound, b'a' | b'e' | b'i' | b'o' | b'u' | b'@')
}

/// The kind of a consonant, from 1: consonants of a kind are taken for one another. 0 for vowels, and for `h`, `w` and
/// `y`, which come and go.
pub(super) const fn kind(sound: u8) -> u8 {
    match sound {
        b'p' | b'b' => 1,
        b't' | b'd' => 2,
        b'k' | b'g' => 3,
        b'f' | b'v' | b'T' | b'D' => 4,
        b's' | b'z' => 5,
        b'S' | b'Z' | b'C' | b'J' => 6,
        b'm' => 7,
        b'n' | b'N' => 8,
        b'l' => 9,
        b'r' => 10,
        _ => 0,
    }
}

/// What a sound weighs that only one of two rows has, in hundredths of a consonant.
pub(super) const fn gap_cost(sound: u8) -> u32 {
    match sound {
        b'@' => 30,
        b'h' | b'w' | b'y' => 50,
        b'r' => 60,
        sound if is_vowel(sound) => 50,
        _ => 100,
    }
}

/// What a row of sounds weighs together.
pub(super) fn weight_of(sounds: &[u8]) -> u32 {
    sounds.iter().map(|sound| gap(*sound)).sum()
}

/// What it weighs that one sound stands for the other, in hundredths of a consonant; chosen by hand.
const fn change_cost(a: u8, b: u8) -> u8 {
    let (kinds, vowels) = ((kind(a), kind(b)), (is_vowel(a), is_vowel(b)));
    match kinds {
        _ if a == b => 0,
        _ if vowels.0 && vowels.1 => {
            if a == b'@' || b == b'@' {
                15
            } else {
                30
            }
        }
        _ if vowels.0 != vowels.1 => 100,
        (x, y) if x == y => 35,
        (7, 8) | (8, 7) => 40,
        (5, 6) | (6, 5) | (4, 5) | (5, 4) | (2, 4) | (4, 2) | (2, 6) | (6, 2) | (9, 10) | (10, 9) => 60,
        (1..=3, 1..=3) | (1, 4) | (4, 1) => 70,
        _ => 100,
    }
}

/// [`change_cost`] of every two sounds, so that comparing long rows is a matter of looking up.
static CHANGES: [[u8; 128]; 128] = changes();

const fn changes() -> [[u8; 128]; 128] {
    let mut costs = [[0; 128]; 128];
    let mut at = 0;
    while at < 128 * 128 {
        costs[at / 128][at % 128] = change_cost((at / 128) as u8, (at % 128) as u8);
        at += 1;
    }
    costs
}

/// [`gap_cost`] of every sound.
static GAPS: [u8; 128] = gaps();

const fn gaps() -> [u8; 128] {
    let mut costs = [0; 128];
    let mut at = 0;
    while at < 128 {
        costs[at] = gap_cost(at as u8) as u8;
        at += 1;
    }
    costs
}

fn gap(sound: u8) -> u32 {
    u32::from(GAPS[usize::from(sound & 127)])
}

/// How far apart two rows of sounds are, each given with what [`weight_of`] tells of it, in hundredths of a consonant; nothing where it is more than
/// `most` or the second row is longer than [`LONGEST`].
pub(super) fn distance((a, a_weight): (&[u8], u32), (b, b_weight): (&[u8], u32), most: u32) -> Option<u32> {
    // Rows whose weights differ by more are further apart than that.
    if a_weight.abs_diff(b_weight) > most {
        return None;
    }
    let (mut row, mut gaps) = ([0_u32; LONGEST + 1], [0_u32; LONGEST]);
    let (row, gaps) = (row.get_mut(..=b.len())?, gaps.get_mut(..b.len())?);
    for (j, y) in b.iter().enumerate() {
        gaps[j] = gap(*y);
        row[j + 1] = row[j] + gaps[j];
    }
    let mut a_rest = a_weight;
    for x in a {
        let (changes, gap) = (&CHANGES[usize::from(*x & 127)], gap(*x));
        let (mut diagonal, mut left, mut b_rest) = (row[0], row[0] + gap, b_weight);
        a_rest -= gap;
        row[0] = left;
        // What is left of the rows weighs differently by so much at least.
        let mut least = left + a_rest.abs_diff(b_rest);
        for ((y, y_gap), above) in b.iter().zip(&*gaps).zip(row[1..].iter_mut()) {
            let change = diagonal + u32::from(changes[usize::from(*y & 127)]);
            diagonal = *above;
            left = change.min(diagonal + gap).min(left + y_gap);
            *above = left;
            b_rest -= y_gap;
            least = least.min(left + a_rest.abs_diff(b_rest));
        }
        if least > most {
            return None;
        }
    }
    row.last().copied().filter(|distance| *distance <= most)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sounds_of(text: &str) -> Vec<u8> {
        let mut sounds = Vec::new();
        text.split(' ').for_each(|word| sound_out(word, &mut sounds));
        sounds
    }

    fn apart(a: &[u8], b: &[u8], most: u32) -> Option<u32> {
        distance((a, weight_of(a)), (b, weight_of(b)), most)
    }

    fn alike(a: &str, b: &str) -> f32 {
        let (a, b) = (sounds_of(a), sounds_of(b));
        let longest = weight_of(&a).max(weight_of(&b));
        apart(&a, &b, longest).map_or(0.0, |distance| 1.0 - distance as f32 / longest as f32)
    }

    #[test]
    fn words_are_sounded_out_by_their_letters() {
        for (word, sounds) in [
            ("phone", "fon"),
            ("knee", "ni"),
            ("grasp", "grasp"),
            ("reflex", "refleks"),
            ("fontanelle", "fontanel"),
            ("circumference", "s@rkumf@rens"),
            ("", ""),
            ("ß", ""),
        ] {
            assert_eq!(String::from_utf8(sounds_of(word)).unwrap(), sounds, "{word}");
        }
    }

    #[test]
    fn what_sounds_alike_is_close() {
        for (heard, said) in [
            ("pop light lingual", "popliteal"),
            ("font on elle", "fontanelle"),
            ("palmer grass", "palmar grasp"),
            ("heads are conference", "head circumference"),
            ("cloneness", "clonus"),
        ] {
            assert!(alike(heard, said) > 0.64, "{heard} / {said}: {}", alike(heard, said));
        }
        for (heard, other) in [("the weather today", "scarf sign"), ("suture", "scarf sign"), ("galant", "clonus")] {
            assert!(alike(heard, other) < 0.6, "{heard} / {other}: {}", alike(heard, other));
        }
    }

    #[test]
    fn the_distance_is_the_same_both_ways_and_nothing_beyond_the_limit() {
        let (a, b) = (sounds_of("plantar"), sounds_of("palmar grasp"));
        let between = apart(&a, &b, 10_000).unwrap();
        assert_eq!(apart(&b, &a, 10_000), Some(between));
        assert_eq!(apart(&a, &b, between - 1), None);
        assert_eq!(apart(&a, &[b'a'; 2 * LONGEST], 10_000), None);
    }
}

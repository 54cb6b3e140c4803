//! Predicted findings against annotated ones.
//! Takes both lists of one narration; gives counts that can be added up over narrations, with every miss and extra.
//! Leaves alone flags when it decides whether a finding agrees, and counts them apart.
//!
//! two of three agree, one extra that was clear and swapped: precision 0.67, recall 0.67, one silent error

use std::collections::BTreeMap;

use crate::score::gold::GoldRow;

/// A finding of the program, in the words of the corpus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Predicted {
    /// Item, side, value and flags.
    pub row: GoldRow,
    /// Whether it does not need the reviewer's eye.
    pub clear: bool,
    /// The words it rests on.
    pub quote: String,
}

/// Kinds of wrong findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ErrorKind {
    /// Nothing was said of the item.
    ItemNeverMentioned,
    /// The value was said of the other side.
    SideSwapped,
    /// The contrary was said.
    MeaningReversed,
    /// Another number was said.
    WrongNumber,
    /// A side was written that was not said, or not written though it was.
    SideNotAsSaid,
    /// Another value was said.
    WrongValue,
}

impl ErrorKind {
    /// All kinds, gravest first.
    pub const ALL: [Self; 6] = [
        Self::ItemNeverMentioned,
        Self::SideSwapped,
        Self::MeaningReversed,
        Self::WrongNumber,
        Self::SideNotAsSaid,
        Self::WrongValue,
    ];

    /// Its plain words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::ItemNeverMentioned => "item never mentioned",
            Self::SideSwapped => "side swapped",
            Self::MeaningReversed => "meaning reversed",
            Self::WrongNumber => "wrong number",
            Self::SideNotAsSaid => "side not as said",
            Self::WrongValue => "wrong value",
        }
    }
}

/// Counts of one narration, or of many.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// Findings that agree in item, side and value.
    pub agree: usize,
    /// Findings that agree and are clear.
    pub agree_clear: usize,
    /// Findings that agree in their flags too.
    pub agree_flags: usize,
    /// All predicted findings.
    pub predicted: usize,
    /// All annotated findings.
    pub annotated: usize,
    /// Wrong findings that are clear, by kind.
    pub silent: BTreeMap<ErrorKind, usize>,
    /// Annotated findings that were not predicted.
    pub missed: Vec<GoldRow>,
    /// Predicted findings that were not annotated, with their kind.
    pub extra: Vec<(Predicted, ErrorKind)>,
}

impl Tally {
    /// Share of the predicted findings that agree, 0 to 1; 1 where none was predicted.
    #[must_use]
    pub fn precision(&self) -> f64 {
        share(self.agree, self.predicted)
    }

    /// Share of the annotated findings that were found, 0 to 1; 1 where none was annotated.
    #[must_use]
    pub fn recall(&self) -> f64 {
        share(self.agree, self.annotated)
    }

    /// Harmonic mean of precision and recall, 0 to 1.
    #[must_use]
    pub fn f1(&self) -> f64 {
        let (precision, recall) = (self.precision(), self.recall());
        if precision + recall == 0.0 { 0.0 } else { 2.0 * precision * recall / (precision + recall) }
    }

    /// Share of the agreeing findings that are clear, 0 to 1.
    #[must_use]
    pub fn clear(&self) -> f64 {
        share(self.agree_clear, self.agree)
    }

    /// All silent errors.
    #[must_use]
    pub fn silent_errors(&self) -> usize {
        self.silent.values().sum()
    }

    /// Silent errors for every 1,000 findings of the program; 0 where there were none.
    #[must_use]
    pub fn silent_per_1000(&self) -> f64 {
        if self.predicted == 0 { 0.0 } else { self.silent_errors() as f64 * 1000.0 / self.predicted as f64 }
    }

    /// Adds the counts of another narration.
    pub fn add(&mut self, other: &Self) {
        self.agree += other.agree;
        self.agree_clear += other.agree_clear;
        self.agree_flags += other.agree_flags;
        self.predicted += other.predicted;
        self.annotated += other.annotated;
        for (kind, count) in &other.silent {
            *self.silent.entry(*kind).or_default() += count;
        }
        self.missed.extend(other.missed.iter().cloned());
        self.extra.extend(other.extra.iter().cloned());
    }
}

fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 { 1.0 } else { part as f64 / whole as f64 }
}

/// Compares the findings of one narration with those annotated.
#[must_use]
pub fn compare(predicted: &[Predicted], annotated: &[GoldRow]) -> Tally {
    let mut tally = Tally { predicted: predicted.len(), annotated: annotated.len(), ..Tally::default() };
    let mut open: Vec<&GoldRow> = annotated.iter().collect();
    let mut wrong = Vec::new();
    for finding in predicted {
        match open.iter().position(|row| agrees(&finding.row, row)) {
            Some(at) => {
                let row = open.swap_remove(at);
                tally.agree += 1;
                tally.agree_clear += usize::from(finding.clear);
                tally.agree_flags += usize::from(row.flags == finding.row.flags);
            }
            None => wrong.push(finding),
        }
    }
    open.sort();
    tally.missed = open.into_iter().cloned().collect();
    for finding in wrong {
        let kind = kind_of(&finding.row, annotated, &tally.missed);
        if finding.clear {
            *tally.silent.entry(kind).or_default() += 1;
        }
        tally.extra.push((finding.clone(), kind));
    }
    tally
}

fn agrees(a: &GoldRow, b: &GoldRow) -> bool {
    a.item == b.item && a.side == b.side && same_value(&a.value, &b.value)
}

fn same_value(a: &str, b: &str) -> bool {
    a == b || grams(a).is_some_and(|grams_a| grams(b) == Some(grams_a))
}

// Milligrams, so that 3.2kg and 3200g are one number.
fn grams(value: &str) -> Option<i64> {
    let (number, scale) = match value.strip_suffix("kg") {
        Some(number) => (number, 1_000_000.0),
        None => (value.strip_suffix('g')?, 1_000.0),
    };
    number.parse::<f64>().ok().map(|number| (number * scale).round() as i64)
}

fn kind_of(row: &GoldRow, annotated: &[GoldRow], missed: &[GoldRow]) -> ErrorKind {
    let same_item: Vec<&GoldRow> = annotated.iter().filter(|gold| gold.item == row.item).collect();
    let opposite = match row.side.as_str() {
        "left" => "right",
        "right" => "left",
        other => other,
    };
    if same_item.is_empty() {
        return ErrorKind::ItemNeverMentioned;
    }
    let here = missed.iter().find(|gold| gold.item == row.item && gold.side == row.side);
    if here.is_none() && same_item.iter().any(|gold| same_value(&gold.value, &row.value) && gold.side != row.side) {
        let other = same_item.iter().any(|gold| gold.side == opposite && same_value(&gold.value, &row.value));
        return if other && opposite != row.side { ErrorKind::SideSwapped } else { ErrorKind::SideNotAsSaid };
    }
    let Some(gold) = here.or_else(|| same_item.first().copied()) else { return ErrorKind::WrongValue };
    let opposite_has = same_item.iter().any(|other| other.side == opposite && same_value(&other.value, &row.value));
    if opposite != row.side && opposite_has && !same_value(&gold.value, &row.value) {
        return ErrorKind::SideSwapped;
    }
    let number = |value: &str| value.trim_start_matches(['<', '>', '=']).starts_with(|c: char| c.is_ascii_digit());
    match (number(&row.value), number(&gold.value)) {
        (true, true) => ErrorKind::WrongNumber,
        _ if reversed(&row.value, &gold.value) => ErrorKind::MeaningReversed,
        _ => ErrorKind::WrongValue,
    }
}

/// Values that deny: against any other value of the item they turn its meaning round.
const DENYING: [&str; 4] = ["absent", "none", "no-flexion", "inconsolable"];
/// Pairs of values that are each other's contrary.
const CONTRARY: [(&str, &str); 11] = [
    ("normal", "abnormal"),
    ("upgoing", "downgoing"),
    ("reduced", "increased"),
    ("full", "limited"),
    ("full", "reduced"),
    ("symmetric", "asymmetric"),
    ("intact", "cleft"),
    ("strong", "weak"),
    ("holds", "slips-through"),
    ("good", "weak"),
    ("open", "closed"),
];

fn reversed(a: &str, b: &str) -> bool {
    let pair = |x: &str, y: &str| CONTRARY.contains(&(x, y));
    pair(a, b)
        || pair(b, a)
        || (DENYING.contains(&a) != DENYING.contains(&b) && !a.starts_with("not-") && !b.starts_with("not-"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(item: &str, side: &str, value: &str) -> GoldRow {
        GoldRow { item: item.into(), side: side.into(), value: value.into(), flags: Vec::new() }
    }

    #[track_caller]
    fn check(predicted: GoldRow, annotated: &[GoldRow], kind: Option<ErrorKind>) {
        let predicted = Predicted { row: predicted, clear: true, quote: String::new() };
        let tally = compare(&[predicted], annotated);
        assert_eq!(tally.silent.keys().next().copied(), kind);
        assert_eq!(tally.agree, usize::from(kind.is_none()));
    }

    #[test]
    fn wrong_findings_are_told_apart_by_kind() {
        let gold = [row("moro", "left", "present"), row("moro", "right", "absent"), row("weight", "none", "3.2kg")];
        check(row("moro", "left", "present"), &gold, None);
        check(row("weight", "none", "3200g"), &gold, None);
        check(row("weight", "none", "3300g"), &gold, Some(ErrorKind::WrongNumber));
        check(row("moro", "left", "absent"), &gold, Some(ErrorKind::SideSwapped));
        check(row("moro", "left", "weak"), &gold, Some(ErrorKind::WrongValue));
        check(row("moro", "unstated", "present"), &gold, Some(ErrorKind::SideNotAsSaid));
        check(row("suck", "none", "weak"), &gold, Some(ErrorKind::ItemNeverMentioned));
        check(row("gag", "none", "absent"), &[row("gag", "none", "weak")], Some(ErrorKind::MeaningReversed));
    }

    #[test]
    fn precision_and_recall_are_shares() {
        let gold = [row("moro", "left", "present"), row("suck", "none", "weak")];
        let found = |row| Predicted { row, clear: false, quote: String::new() };
        let tally = compare(&[found(gold[0].clone()), found(row("gag", "none", "weak"))], &gold);
        assert_eq!((tally.precision(), tally.recall(), tally.f1()), (0.5, 0.5, 0.5));
        assert_eq!((tally.silent_errors(), tally.missed.len(), tally.extra.len()), (0, 1, 1));
    }
}

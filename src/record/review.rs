//! A draft with what was decided about it.
//! Takes a draft and wishes, one after the other; gives entries and where every finding stands by them. Nothing is ever taken
//! out: an undo is an entry too, and whoever decides what somebody else has decided in between is asked again.
//! Leaves alone the clock, where entries are kept (`store`), and whether enough is known of the infant.
//!
//! entry 1 confirms finding 3, entry 2 undoes entry 1: finding 3 is undecided, and both entries stand

use std::collections::HashSet;

use thiserror::Error;

use crate::lexicon::Lexicon;
use crate::reading::Side;
use crate::record::decisions::{Author, Decision, Entry, FindingId, Refused, Wish, said};
use crate::record::draft::{DraftFinding, DraftRecord};
use crate::record::stated::{Stated, check_side, checked_value, known_item};

/// A draft with the entries about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    draft: DraftRecord,
    entries: Vec<Entry>,
}

/// Where a finding stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing<'a> {
    /// Which.
    pub finding: FindingId,
    /// What the draft says of it; `None` for one that was added.
    pub drafted: Option<&'a DraftFinding>,
    /// The decision that holds; `None` where it is undecided.
    pub decided: Option<&'a Entry>,
    /// What it comes to now; `None` where it was rejected.
    pub stands: Option<Stated>,
}

/// Why entries are not those of a review.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NoReview {
    /// A number is missing or stands twice.
    #[error("entry {expected} is missing: entry {found} stands in its place")]
    Gap {
        /// What should come.
        expected: u64,
        /// What comes.
        found: u64,
    },
    /// An entry is about nothing.
    #[error("entry {entry} is about {what}, which is not there before it")]
    AboutNothing {
        /// The entry.
        entry: u64,
        /// What it names.
        what: String,
    },
}

impl Review {
    /// A review in which nothing is decided.
    #[must_use]
    pub fn new(draft: DraftRecord) -> Self {
        Self { draft, entries: Vec::new() }
    }

    /// The review that these entries come to, as they were decided before. Their values are not checked again: a lexicon
    /// may have changed since.
    ///
    /// # Errors
    /// If a number is missing, or an entry names what is not there.
    pub fn replay(draft: DraftRecord, entries: Vec<Entry>) -> Result<Self, NoReview> {
        let mut review = Self::new(draft);
        for entry in entries {
            let expected = review.last() + 1;
            if entry.number != expected {
                return Err(NoReview::Gap { expected, found: entry.number });
            }
            let about_nothing = |what: String| NoReview::AboutNothing { entry: entry.number, what };
            match &entry.decision {
                Decision::Confirm(finding) | Decision::Change(finding, _) | Decision::Reject(finding) => {
                    if !review.has(*finding) {
                        return Err(about_nothing(finding.to_string()));
                    }
                }
                Decision::Undo(undone) if review.entry(*undone).is_none() => {
                    return Err(about_nothing(format!("entry {undone}")));
                }
                Decision::Add(_) | Decision::Undo(_) => {}
            }
            review.entries.push(entry);
        }
        Ok(review)
    }

    /// The draft.
    #[must_use]
    pub fn draft(&self) -> &DraftRecord {
        &self.draft
    }

    /// Every entry, in order.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The number of the last entry; 0 for none.
    #[must_use]
    pub fn last(&self) -> u64 {
        self.entries.len() as u64
    }

    /// The review as it was behind an entry.
    #[must_use]
    pub fn up_to(&self, last: u64) -> Self {
        let entries = self.entries.iter().filter(|entry| entry.number <= last).cloned().collect();
        Self { draft: self.draft.clone(), entries }
    }

    /// Where every finding stands: those of the draft in its order, then those added by hand. What was added and undone is
    /// none any more.
    #[must_use]
    pub fn standings(&self) -> Vec<Standing<'_>> {
        let drafted = (1..).zip(self.draft.all_findings()).map(|(number, _)| FindingId::Drafted(number));
        let added = self.entries.iter().filter(|entry| matches!(entry.decision, Decision::Add(_)));
        let added = added.map(|entry| FindingId::Added(entry.number));
        drafted.chain(added).filter_map(|finding| self.standing(finding)).collect()
    }

    /// Where one finding stands; `None` if it is not there, or was added and undone.
    #[must_use]
    pub fn standing(&self, finding: FindingId) -> Option<Standing<'_>> {
        let drafted = self.drafted(finding);
        let decided = self.holding(finding);
        let stands = match (decided.map(|entry| &entry.decision), drafted) {
            (Some(Decision::Change(_, stated) | Decision::Add(stated)), _) => Some(stated.clone()),
            (Some(Decision::Confirm(_)) | None, Some(drafted)) => Some(as_drafted(drafted)),
            (Some(Decision::Reject(_)), _) => None,
            (Some(Decision::Confirm(_) | Decision::Undo(_)) | None, _) => return None,
        };
        Some(Standing { finding, drafted, decided, stands })
    }

    /// Findings without a decision.
    #[must_use]
    pub fn undecided(&self) -> Vec<Standing<'_>> {
        self.standings().into_iter().filter(|standing| standing.decided.is_none()).collect()
    }

    /// Confirmations of exactly those findings that are undecided and have no reason for doubt.
    #[must_use]
    pub fn confirm_all_clear(&self) -> Vec<Wish> {
        let clear = |standing: &Standing<'_>| standing.drafted.is_some_and(DraftFinding::is_clear);
        self.undecided().into_iter().filter(clear).map(|standing| Wish::Confirm(standing.finding)).collect()
    }

    /// Checks a wish, and takes it in as the next entry.
    ///
    /// # Errors
    /// If it cannot be, or if the finding was decided since the author looked. Nothing is changed then.
    pub fn decide(&mut self, lexicon: &Lexicon, author: &Author, wish: &Wish) -> Result<&Entry, Refused> {
        if author.seen > self.last() {
            return Err(Refused::SeenTooMuch { seen: author.seen, last: self.last() });
        }
        let decision = self.checked(lexicon, author.seen, wish)?;
        let (by, at) = (author.by.clone(), author.at);
        let entry = Entry { number: self.last() + 1, seen: author.seen, by, at, decision };
        let at = self.entries.len();
        self.entries.push(entry);
        Ok(&self.entries[at])
    }

    fn checked(&self, lexicon: &Lexicon, seen: u64, wish: &Wish) -> Result<Decision, Refused> {
        match wish {
            Wish::Confirm(finding) => {
                let standing = self.open_to(*finding, seen)?;
                match standing.decided {
                    Some(entry) => {
                        let now = said(standing.stands.as_ref());
                        Err(Refused::Decided { finding: *finding, entry: entry.number, now })
                    }
                    None => Ok(Decision::Confirm(*finding)),
                }
            }
            Wish::Change { finding, side, value, approx } => {
                self.changed(lexicon, seen, *finding, (*side, value.as_deref(), *approx))
            }
            Wish::Reject(finding) => match self.open_to(*finding, seen)?.stands {
                Some(_) => Ok(Decision::Reject(*finding)),
                None => Err(Refused::SameAsBefore { finding: *finding, now: said(None) }),
            },
            Wish::Add { item, side, value, approx } => {
                let stated = Stated::new(lexicon, item, *side, value, *approx)?;
                self.not_added_since(seen, &stated)?;
                Ok(Decision::Add(stated))
            }
            Wish::Undo(entry) => self.undone(seen, *entry),
        }
    }

    fn changed(
        &self,
        lexicon: &Lexicon,
        seen: u64,
        finding: FindingId,
        (side, value, approx): (Option<Side>, Option<&str>, Option<bool>),
    ) -> Result<Decision, Refused> {
        let standing = self.open_to(finding, seen)?;
        // What was rejected can be changed all the same: from what it was.
        let before = standing.stands.clone().or_else(|| self.was(finding));
        let Some(before) = before else { return Err(self.no_finding(finding)) };
        let item = known_item(lexicon, &before.item)?;
        if let Some(side) = side {
            check_side(item, side)?;
        }
        let value = value.map(|value| checked_value(item, value)).transpose()?;
        let value = value.as_deref().unwrap_or(&before.value);
        let (side, approx) = (side.unwrap_or(before.side), approx.unwrap_or(before.approx));
        let stated = Stated::recorded(&before.item, side, value, approx);
        if standing.stands.as_ref() == Some(&stated) {
            return Err(Refused::SameAsBefore { finding, now: said(Some(&stated)) });
        }
        Ok(Decision::Change(finding, stated))
    }

    // Only what holds can be undone: undoing an older entry about the same finding would change nothing that anybody sees.
    fn undone(&self, seen: u64, number: u64) -> Result<Decision, Refused> {
        let refused = |because: String| Refused::NotUndone { entry: number, because };
        let Some(entry) = self.entry(number) else { return Err(refused(format!("the last one is {}", self.last()))) };
        let Some(finding) = entry.finding() else {
            return Err(refused("it is an undo itself; decide the finding anew".to_owned()));
        };
        self.not_decided_since(finding, seen)?;
        match self.holding(finding) {
            Some(holding) if holding.number == number => Ok(Decision::Undo(number)),
            Some(holding) => Err(refused(format!("entry {} came after it; undo that first", holding.number))),
            None => Err(refused("it was undone already".to_owned())),
        }
    }

    /// The finding, if it is there and nobody decided it since entry `seen`.
    fn open_to(&self, finding: FindingId, seen: u64) -> Result<Standing<'_>, Refused> {
        self.not_decided_since(finding, seen)?;
        self.standing(finding).ok_or_else(|| self.no_finding(finding))
    }

    fn not_decided_since(&self, finding: FindingId, seen: u64) -> Result<(), Refused> {
        let about = |entry: &&Entry| match entry.decision {
            Decision::Undo(undone) => self.entry(undone).and_then(Entry::finding) == Some(finding),
            _ => entry.finding() == Some(finding),
        };
        match self.entries.iter().rev().take_while(|entry| entry.number > seen).find(about) {
            None => Ok(()),
            Some(since) => {
                let now = self.standing(finding).map_or_else(|| "undone".to_owned(), |standing| standing.words());
                Err(Refused::AskedAgain { finding, since: Box::new(since.clone()), now })
            }
        }
    }

    fn not_added_since(&self, seen: u64, stated: &Stated) -> Result<(), Refused> {
        let place = |stated: &Stated| (stated.item.clone(), stated.side);
        for entry in self.entries.iter().filter(|entry| entry.number > seen) {
            let Decision::Add(other) = &entry.decision else { continue };
            let finding = FindingId::Added(entry.number);
            if let Some(standing) = self.standing(finding).filter(|_| place(other) == place(stated)) {
                let now = standing.words();
                return Err(Refused::AskedAgain { finding, since: Box::new(entry.clone()), now });
            }
        }
        Ok(())
    }

    fn no_finding(&self, finding: FindingId) -> Refused {
        Refused::NoFinding { finding, drafted: self.draft.all_findings().count() as u64 }
    }

    /// The last entry about a finding that was not undone.
    fn holding(&self, finding: FindingId) -> Option<&Entry> {
        self.about(finding).next_back()
    }

    /// The entries about a finding that were not undone.
    fn about(&self, finding: FindingId) -> impl DoubleEndedIterator<Item = &Entry> {
        let undone = |entry: &Entry| if let Decision::Undo(undone) = entry.decision { Some(undone) } else { None };
        let undone: HashSet<u64> = self.entries.iter().filter_map(undone).collect();
        self.entries.iter().filter(move |entry| entry.finding() == Some(finding) && !undone.contains(&entry.number))
    }

    /// What a finding was before it was rejected.
    fn was(&self, finding: FindingId) -> Option<Stated> {
        let stated = |entry: &Entry| match &entry.decision {
            Decision::Change(_, stated) | Decision::Add(stated) => Some(stated.clone()),
            _ => None,
        };
        let last = self.about(finding).rev().find_map(stated);
        last.or_else(|| self.drafted(finding).map(as_drafted))
    }

    fn has(&self, finding: FindingId) -> bool {
        match finding {
            FindingId::Drafted(_) => self.drafted(finding).is_some(),
            FindingId::Added(number) => {
                self.entry(number).is_some_and(|entry| matches!(entry.decision, Decision::Add(_)))
            }
        }
    }

    fn drafted(&self, finding: FindingId) -> Option<&DraftFinding> {
        let FindingId::Drafted(number) = finding else { return None };
        self.draft.all_findings().nth(usize::try_from(number.checked_sub(1)?).ok()?)
    }

    fn entry(&self, number: u64) -> Option<&Entry> {
        self.entries.get(usize::try_from(number.checked_sub(1)?).ok()?)
    }
}

impl Standing<'_> {
    /// Where it stands, in words: "confirmed: left to-midline", "undecided: ...".
    #[must_use]
    pub fn words(&self) -> String {
        let how = match self.decided.map(|entry| &entry.decision) {
            None | Some(Decision::Undo(_)) => "undecided",
            Some(Decision::Reject(_)) => return said(None),
            Some(decision) => decision.name(),
        };
        format!("{how}: {}", said(self.stands.as_ref()))
    }
}

fn as_drafted(drafted: &DraftFinding) -> Stated {
    Stated {
        item: drafted.item.clone(),
        side: drafted.side,
        value: drafted.value.clone(),
        figures: drafted.figures.clone(),
        approx: drafted.approx,
    }
}

#[cfg(test)]
pub(super) mod tests;

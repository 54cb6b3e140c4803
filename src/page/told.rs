//! What a dictation tells → what the page is told.
//! Takes events; gives JSON, each with its `kind`. Keeps what a page that comes back must be told. Leaves alone how it looks.
//!
//! `{"kind": "guess", "words": "scarf sign to"}`

use serde_json::{Value, json};

use crate::export::words::plain_value;
use crate::live::{Event, Picture};
use crate::record::DraftFinding;

/// Kinds of which the last one still holds, in the order in which they are told.
const LASTING: [&str; 5] = ["draft", "paused", "behind", "ending", "final"];

/// What still holds of what was told.
#[derive(Default, Debug)]
pub(super) struct Told {
    kept_ms: u64,
    lasting: [Option<Value>; LASTING.len()],
}

impl Told {
    pub(super) fn remember(&mut self, message: Value) {
        if let Some(kept_ms) = message["kept_ms"].as_u64() {
            self.kept_ms = kept_ms;
        }
        let place = LASTING.iter().position(|kind| message["kind"] == *kind);
        if let Some(place) = place.and_then(|place| self.lasting.get_mut(place)) {
            *place = Some(message);
        }
    }

    /// How much was on the disk last.
    pub(super) fn kept_ms(&self) -> u64 {
        self.kept_ms
    }

    /// What a page that comes back must be told; it is marked, so that no tone sounds for it once more.
    pub(super) fn again(&self) -> Vec<Value> {
        let again = self.lasting.iter().flatten().cloned().map(|mut message| {
            message["first"] = Value::Bool(true);
            message
        });
        again.collect()
    }
}

/// An event as the page is told of it.
pub(super) fn message(event: &Event) -> Value {
    match event {
        Event::Level { decibels, kept_ms } => json!({ "kind": "level", "decibels": decibels, "kept_ms": kept_ms }),
        Event::Guess(words) => json!({ "kind": "guess", "words": words }),
        Event::Said { text, is_order, at_ms, .. } => {
            json!({ "kind": "said", "words": text, "order": is_order, "at_ms": at_ms })
        }
        Event::Draft(picture) => drawn(picture),
        Event::Answer(answer) => {
            json!({ "kind": "answer", "title": answer.title, "lines": answer.lines, "aloud": answer.aloud })
        }
        Event::Paused(is) => json!({ "kind": "paused", "is": is }),
        Event::Marked(at_ms) => json!({ "kind": "marked", "at_ms": at_ms }),
        Event::TakenBack(words) => json!({ "kind": "taken-back", "words": words }),
        Event::NotUnderstood(words) => json!({ "kind": "not-understood", "words": words }),
        Event::Behind(ms) => json!({ "kind": "behind", "ms": ms }),
        Event::EndAsked => json!({ "kind": "ending" }),
        Event::Final(progress) => {
            json!({ "kind": "final", "done_ms": progress.done_ms, "total_ms": progress.total_ms })
        }
        Event::Trouble(words) => json!({ "kind": "trouble", "words": words }),
    }
}

fn drawn(picture: &Picture) -> Value {
    let context = picture.draft.context.iter().map(|found| finding(found, false));
    let found = picture.draft.findings.iter().enumerate();
    let found = found.map(|(at, found)| finding(found, picture.newest.contains(&at)));
    let left = picture.left.iter().map(|left| json!({ "region": left.region, "items": left.items }));
    json!({
        "kind": "draft",
        "findings": context.chain(found).collect::<Vec<_>>(),
        "left": left.collect::<Vec<_>>(),
    })
}

fn finding(found: &DraftFinding, is_new: bool) -> Value {
    let reasons: Vec<&str> = found.reasons.iter().map(|reason| reason.words()).collect();
    json!({
        "item": found.item,
        "name": found.name,
        "region": found.region,
        "side": found.side.name(),
        "words": plain_value(&found.value, found.figures.as_ref()),
        "approx": found.approx,
        "reasons": reasons,
        "at": found.proof.quote.sound.map_or(0, |sound| sound.start_ms),
        "newest": is_new,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_that_comes_back_is_told_what_still_holds_and_nothing_else() {
        let mut told = Told::default();
        let events = [
            Event::Guess("scarf".to_owned()),
            Event::Behind(3000),
            Event::Paused(true),
            Event::Level { decibels: -30.0, kept_ms: 1200 },
            Event::Paused(false),
            Event::Marked(900),
        ];
        for event in events {
            told.remember(message(&event));
        }
        assert_eq!(told.kept_ms(), 1200);
        let again = told.again();
        assert_eq!(
            again,
            [
                json!({ "kind": "paused", "is": false, "first": true }),
                json!({ "kind": "behind", "ms": 3000, "first": true }),
            ]
        );
    }
}

//! How long a store of 10,000 records takes to answer.
//! Takes records made of one short narration, a third of them in review; measures lists, searches, a decision and the check of
//! everything. Leaves alone recordings: their time is the disk's.
//! The store lies in memory where Linux has /dev/shm, so that the figures are the program's and not a disk's.

#![allow(clippy::expect_used, missing_docs, reason = "a bench may give up, and its macros document nothing")]

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;
use spoken_exam::record::{Author, FindingId, Moment, Person, Wish};
use spoken_exam::store::{Query, State, Store};

const RECORDS: i64 = 10_000;

fn author(seen: u64) -> Author {
    Author { by: Person::new("A. Examiner", "registrar").expect("a person"), at: Moment(1), seen }
}

fn filled(folder: &Path, lexicon: &Lexicon) -> Store {
    let mut store = Store::open(folder).expect("it opens");
    let text = include_str!("../cli/narrations/short.txt");
    for number in 0..RECORDS {
        let name = format!("ward-{}-visit-{number}.m4a", number % 7);
        let draft = flow::of_text(lexicon, text, &name).draft;
        let id = store.keep(&draft, None, Moment(1_700_000_000_000 + number)).expect("it is kept");
        if number % 3 == 0 {
            let on = store.record(&id).expect("it is there").draft_id();
            store.decide(&on, lexicon, &author(0), &[Wish::Confirm(FindingId::Drafted(1))]).expect("decided");
        }
    }
    store
}

fn store(criterion: &mut Criterion) {
    let memory = Path::new("/dev/shm");
    let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.expect("a folder");
    let lexicon = Lexicon::load(None).expect("the lexicon has no faults");
    let mut store = filled(folder.path(), &lexicon);
    let mut group = criterion.benchmark_group("a store of 10,000 records");
    group.sample_size(10);
    for (name, words, state, from) in [
        ("the first page", "", None, 0),
        ("the last page", "", None, 9_980),
        ("a page in review", "", Some(State::InReview), 0),
        ("one file found", "visit-7777", None, 0),
        ("two words found", "ward-3 female", None, 0),
        ("nothing found", "nothing", None, 0),
    ] {
        let words = words.split_whitespace().map(str::to_owned).collect();
        let query = Query { words, state, from, most: 20 };
        group.bench_function(name, |bench| bench.iter(|| store.list(black_box(&query)).expect("a list")));
    }
    let page = store.list(&Query { words: Vec::new(), state: None, from: 0, most: 10_000 }).expect("a list");
    // Another record each time: nobody decides a thousand times about one.
    let mut ids = page.records.iter().map(|record| record.id.clone()).cycle();
    group.bench_function("a decision and its undoing", |bench| {
        bench.iter(|| {
            let kept = store.record(&ids.next().expect("without end")).expect("it is there");
            let (on, seen) = (kept.draft_id(), kept.review.last());
            store.decide(&on, &lexicon, &author(seen), &[Wish::Confirm(FindingId::Drafted(2))]).expect("decided");
            store.decide(&on, &lexicon, &author(seen + 1), &[Wish::Undo(seen + 1)]).expect("undone");
        });
    });
    group.bench_function("the check of everything", |bench| bench.iter(|| store.verify().expect("it is checked")));
    group.finish();
}

criterion_group!(benches, store);
criterion_main!(benches);

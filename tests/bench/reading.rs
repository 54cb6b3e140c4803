//! How long text takes on its way to a draft.
//! Takes sixty lines of the corpus and the built-in lexicon; measures reading and loading. Leaves alone sound.
//! `cargo bench` before and after a change of anything that every word passes through; the ratio belongs in the commit.

#![allow(clippy::expect_used, missing_docs, reason = "a bench may give up, and its macros document nothing")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use spoken_exam::flow;
use spoken_exam::lexicon::Lexicon;

/// Lines of a long narration.
const LINES: usize = 60;

fn sixty_lines() -> String {
    let texts = [
        include_str!("../corpus/late-preterm-boy-ward-dictation.txt"),
        include_str!("../corpus/bedside-storyteller.txt"),
        include_str!("../corpus/post-bleed-big-head.txt"),
    ];
    let lines: Vec<&str> = texts.iter().flat_map(|text| text.lines()).take(LINES).collect();
    assert_eq!(lines.len(), LINES, "the texts are long enough");
    lines.join("\n")
}

fn reading(criterion: &mut Criterion) {
    let lexicon = Lexicon::load(None).expect("the lexicon has no faults");
    let text = sixty_lines();
    criterion.bench_function("a draft of sixty lines", |bench| {
        bench.iter(|| flow::of_text(&lexicon, black_box(&text), "bench.txt"));
    });
    let mut loading = criterion.benchmark_group("lexicon");
    loading.sample_size(20);
    loading.bench_function("loading", |bench| bench.iter(|| Lexicon::load(black_box(None))));
    loading.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);

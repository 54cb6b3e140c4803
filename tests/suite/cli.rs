//! Whole commands with what they print and how they end.
//! Takes the files of `tests/cli`; fails where output or exit code differ. Leaves alone sound, which needs a model.
//! To accept a change: `TRYCMD=overwrite cargo test --test suite cli`, then read the difference.

#[test]
fn commands_print_what_they_promise() {
    let cases = trycmd::TestCases::new();
    cases.env("SPOKEN_EXAM_MODELS", "no-models").case("tests/cli/*.toml").case("tests/cli/*.md");
    cases.run();
}

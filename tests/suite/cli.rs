//! Whole commands with what they print and how they end.
//! Takes the files of `tests/cli`; fails where output or exit code differ. Leaves alone sound, which needs a model.
//! To accept a change: `TRYCMD=overwrite cargo test --test suite cli`, then read the difference.

#[test]
fn commands_print_what_they_promise() {
    let cases = trycmd::TestCases::new();
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("store");
    cases.env("SPOKEN_EXAM_MODELS", "no-models").env("SPOKEN_EXAM_STORE", store.to_string_lossy());
    cases.env("SPOKEN_EXAM_PASSPHRASE_FILE", "");
    cases.case("tests/cli/*.toml").case("tests/cli/*.md");
    cases.run();
}

#[test]
fn a_check_of_the_lexicon_counts_what_there_is() {
    let mut check = std::process::Command::new(env!("CARGO_BIN_EXE_spoken-exam"));
    let output = check.args(["lexicon", "check", "tests/cli/phrases"]).output().expect("it starts");
    let text = String::from_utf8_lossy(&output.stdout);
    let items = crate::corpus::LEXICON.items.iter().filter(|item| item.members.is_empty()).count();
    assert!(text.contains(&format!("\nitems: {items}, groups: ")), "{text}");
    let failed = text.lines().find_map(|line| line.strip_prefix("examples that do not hold: ")).expect("it is counted");
    let all_hold = failed.starts_with("0 of ");
    assert_eq!(output.status.code(), Some(if all_hold { 0 } else { 1 }), "{text}");
}

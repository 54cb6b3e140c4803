//! The table of threats in DEVELOPERS.md names tests that there are.
//! Takes the table; fails where a row names no test, or one that no file of `src/` or `tests/` has. Leaves alone whether the test
//! shows what the row says of it.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use regex::Regex;

/// The names of all tests, and of those that a browser runs, with blanks made lines.
fn tests_below(folder: &Path, names: &mut BTreeSet<String>) {
    let rust = Regex::new(r"#\[test\]\s*(?:#\[[^\n]*\]\s*)*(?:async )?fn (\w+)").expect("a pattern");
    let browser = Regex::new(r#"(?m)^test\("([^"]+)""#).expect("a pattern");
    for entry in fs::read_dir(folder).expect("it is a folder") {
        let path = entry.expect("it can be read").path();
        if path.is_dir() {
            tests_below(&path, names);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let text = fs::read_to_string(&path).expect("text");
            names.extend(rust.captures_iter(&text).map(|found| found[1].to_owned()));
        } else if path.extension().is_some_and(|ending| ending == "mjs") {
            let text = fs::read_to_string(&path).expect("text");
            names.extend(browser.captures_iter(&text).map(|found| found[1].to_owned()));
        }
    }
}

#[test]
fn every_test_that_the_table_of_threats_names_is_there() {
    let mut names = BTreeSet::new();
    for folder in ["src", "tests/suite", "tests/page"] {
        tests_below(Path::new(folder), &mut names);
    }
    let text = fs::read_to_string("DEVELOPERS.md").expect("it is there");
    let (_, behind) = text.split_once("\n## What could go wrong with a record\n").expect("the table has its heading");
    let section = behind.split("\n## ").next().expect("a section");
    let rows: Vec<&str> = section.lines().filter(|line| line.starts_with("| ")).skip(2).collect();
    assert!(rows.len() >= 15, "{} rows", rows.len());
    let quoted = Regex::new("`([^`]+)`").expect("a pattern");
    for row in rows {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").collect();
        assert_eq!(cells.len(), 4, "{row}");
        let named: Vec<String> = quoted.captures_iter(cells[2]).map(|found| found[1].to_owned()).collect();
        assert!(!named.is_empty() || cells[2].contains("none"), "no test in: {row}");
        for name in named.into_iter().filter(|name| !Path::new(name).is_file()) {
            assert!(names.contains(&name), "there is no test `{name}`: {row}");
        }
    }
}

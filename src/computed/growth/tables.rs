//! The numbers of the standards, as they lie in `lexicon/growth/`.
//! Takes the files' texts; gives parameters by measure, sex and age. A folder that is not there leaves its standards out. Leaves alone
//! which standard is used.
//!
//! `male,d,0,1,34.4618,0.03686` gives L 1, M 34.4618, S 0.03686 for a boy's head on the day of birth

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::lexicon::load::growth_files;

use super::standards::Standard;

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Measure {
    /// Head circumference, in centimetres.
    Head,
    /// Weight, in kilograms.
    Weight,
    /// Lying length, in centimetres.
    Length,
}

impl Measure {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Head, Self::Weight, Self::Length];

    /// Its name, with which that in the tables begins.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Head => "head",
            Self::Weight => "weight",
            Self::Length => "length",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Head | Self::Length => "cm",
            Self::Weight => "kg",
        }
    }
}

/// The sex that a standard is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sex {
    /// Boys.
    Male,
    /// Girls.
    Female,
}

impl Sex {
    /// By its name in tables and records.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        match name {
            "male" => Some(Self::Male),
            "female" => Some(Self::Female),
            _ => None,
        }
    }
}

/// Parameters of a distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Parameters {
    /// L, M, S.
    Lms(f64, f64, f64),
    /// Mean and standard deviation of the value.
    Mean(f64, f64),
    /// The same of its natural logarithm.
    MeanOfLogarithm(f64, f64),
    /// mu, sigma, nu, tau.
    SkewedT(f64, f64, f64, f64),
}

/// Of a standard, by measure, sex and age in days.
pub(super) type Table = BTreeMap<(Measure, Sex, u32), Parameters>;

/// The numbers of all standards that are there.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tables {
    /// WHO Child Growth Standards: days since birth.
    pub(super) who: Table,
    /// INTERGROWTH-21st newborn size: days of gestation.
    pub(super) newborn: Table,
    /// INTERGROWTH-21st postnatal growth of preterm infants: post-menstrual days.
    pub(super) preterm: Table,
}

/// A row that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}: {what}")]
pub struct TableFault {
    /// The file.
    pub file: String,
    /// Its line, from 1.
    pub line: usize,
    /// What is wrong there.
    pub what: String,
}

/// Those that the program carries.
static BUILT_IN: LazyLock<Tables> = LazyLock::new(|| Tables::read(growth_files()).unwrap_or_default());

impl Tables {
    /// The standards that the program carries: without those whose folder was taken out of it.
    #[must_use]
    pub fn built_in() -> &'static Self {
        &BUILT_IN
    }

    /// The numbers of a standard; none where they are not there.
    pub(super) fn of(&self, standard: Standard) -> &Table {
        match standard {
            Standard::Who => &self.who,
            Standard::Newborn => &self.newborn,
            Standard::Preterm => &self.preterm,
        }
    }

    /// Reads the files that are there, each with its name.
    ///
    /// # Errors
    /// If a row cannot be read.
    pub fn read<'a>(files: impl IntoIterator<Item = (&'a str, &'a str)>) -> Result<Self, TableFault> {
        let mut tables = Self::default();
        for (name, text) in files {
            let base = name.rsplit('/').next().unwrap_or(name);
            for (at, line) in text.lines().enumerate().skip(1).filter(|(_, line)| !line.trim().is_empty()) {
                let row: Vec<&str> = line.split(',').map(str::trim).collect();
                let fault = |what: &str| TableFault { file: name.to_owned(), line: at + 1, what: what.to_owned() };
                let known = match base {
                    "who-hcfa.csv" => tables.who_row(Measure::Head, &row),
                    "who-wfa.csv" => tables.who_row(Measure::Weight, &row),
                    "who-lfa.csv" => tables.who_row(Measure::Length, &row),
                    "intergrowth-newborn.csv" => skewed_row(&mut tables.newborn, &row),
                    "intergrowth-newborn-very-preterm.csv" => mean_row(&mut tables.newborn, &row),
                    "intergrowth-preterm-postnatal.csv" => mean_row(&mut tables.preterm, &row),
                    _ => return Err(fault("no standard has a file of this name")),
                };
                known.ok_or_else(|| fault("the row is not as the columns say"))?;
            }
        }
        Ok(tables)
    }

    // sex,age_unit,age,L,M,S; only the rows by day are used.
    fn who_row(&mut self, measure: Measure, row: &[&str]) -> Option<()> {
        let [sex, unit, age, l, m, s] = row else { return None };
        let parameters = Parameters::Lms(l.parse().ok()?, m.parse().ok()?, s.parse().ok()?);
        let (sex, age) = (Sex::named(sex)?, age.parse().ok()?);
        if *unit == "d" {
            self.who.insert((measure, sex, age), parameters);
        }
        Some(())
    }
}

// measure,unit,sex,ga_days,ga,mu,sigma,nu,tau
fn skewed_row(table: &mut Table, row: &[&str]) -> Option<()> {
    let [measure, unit, sex, days, _, mu, sigma, nu, tau] = row else { return None };
    let parameters = Parameters::SkewedT(mu.parse().ok()?, sigma.parse().ok()?, nu.parse().ok()?, tau.parse().ok()?);
    table.insert((measured(measure, unit)?, Sex::named(sex)?, days.parse().ok()?), parameters);
    Some(())
}

// measure,unit,sex,days,age,transform,mean,sd
fn mean_row(table: &mut Table, row: &[&str]) -> Option<()> {
    let [measure, unit, sex, days, _, transform, mean, sd] = row else { return None };
    let (mean, sd) = (mean.parse().ok()?, sd.parse().ok()?);
    let parameters = match *transform {
        "none" => Parameters::Mean(mean, sd),
        "log" => Parameters::MeanOfLogarithm(mean, sd),
        _ => return None,
    };
    table.insert((measured(measure, unit)?, Sex::named(sex)?, days.parse().ok()?), parameters);
    Some(())
}

fn measured(name: &str, unit: &str) -> Option<Measure> {
    Measure::ALL.into_iter().find(|measure| Some(measure.name()) == name.split('-').next() && measure.unit() == unit)
}

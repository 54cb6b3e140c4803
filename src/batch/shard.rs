//! Which part of a batch is ours.
//! Takes what was typed and the environment of a cluster's job; gives part K of N, and whether a file belongs to it, told by
//! its content. Leaves alone who else works on it (`claim`).
//!
//! In the third task of a Slurm array of eight: 3/8

use std::fmt;
use std::str::FromStr;

/// Part K of N, K from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shard {
    /// Which part.
    pub part: u32,
    /// Of how many.
    pub of: u32,
}

/// What was typed: K/N, or only /N where the environment knows K.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    part: Option<u32>,
    of: u32,
}

/// Why no part is known.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoShard {
    /// It is not K/N.
    #[error("`{0}` is no part of a batch: write K/N with K from 1 to N, or /N inside a job that knows its own number")]
    NotAPart(String),
    /// Nothing tells which part.
    #[error(
        "which of the {0} parts is ours? write --shard K/{0}: neither SLURM_ARRAY_TASK_ID nor JOB_COMPLETION_INDEX is set"
    )]
    NoPart(u32),
    /// Nothing tells how many parts.
    #[error(
        "JOB_COMPLETION_INDEX is set, so this is one of several jobs, but of how many? write --shard /N with the job's completions"
    )]
    NoNumber,
    /// The environment makes no sense.
    #[error("{name} is `{value}`, which is no number that fits: {why}; write --shard K/N")]
    Environment {
        /// The variable.
        name: &'static str,
        /// What it holds.
        value: String,
        /// What is wrong with it.
        why: &'static str,
    },
}

impl FromStr for Wanted {
    type Err = NoShard;

    fn from_str(typed: &str) -> Result<Self, NoShard> {
        let wrong = || NoShard::NotAPart(typed.to_owned());
        let (part, of) = typed.split_once('/').ok_or_else(wrong)?;
        let number = |text: &str| text.parse::<u32>().map_err(|_| wrong());
        let of = number(of)?;
        let part = if part.is_empty() { None } else { Some(number(part)?) };
        if of == 0 || part.is_some_and(|part| part == 0 || part > of) {
            return Err(wrong());
        }
        Ok(Self { part, of })
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.part, self.of)
    }
}

impl Shard {
    /// All of it.
    pub const WHOLE: Self = Self { part: 1, of: 1 };

    /// The part that was typed, or that the environment of a Slurm array or of a Kubernetes indexed job tells; the whole where
    /// neither does. `variable` looks up an environment variable.
    ///
    /// # Errors
    /// If only half of it is known, or the environment makes no sense.
    pub fn find(wanted: Option<Wanted>, variable: &dyn Fn(&str) -> Option<String>) -> Result<Self, NoShard> {
        if let Some(Wanted { part: Some(part), of }) = wanted {
            return Ok(Self { part, of });
        }
        let variable = |name: &str| variable(name).filter(|value| !value.is_empty());
        let slurm = variable(TASK).map(|_| of_slurm(&variable)).transpose()?;
        let completion = match variable(COMPLETION) {
            Some(value) => Some(number(COMPLETION, &value)?.saturating_add(1)),
            None => None,
        };
        let (part, of) = match (wanted, slurm, completion) {
            (None, None, None) => return Ok(Self::WHOLE),
            (None, Some(own), _) => return Ok(own),
            (Some(wanted), Some(own), _) => (own.part, wanted.of),
            (Some(wanted), None, Some(part)) => (part, wanted.of),
            (Some(wanted), None, None) => return Err(NoShard::NoPart(wanted.of)),
            (None, None, Some(_)) => return Err(NoShard::NoNumber),
        };
        if part > of {
            return Err(NoShard::NotAPart(format!("{part}/{of}")));
        }
        Ok(Self { part, of })
    }

    /// Whether a file with this mark of its content, some 32 hexadecimal digits or more, belongs to the part. Wherever it lies and
    /// whatever it is called, the same content belongs to the same part.
    #[must_use]
    pub fn holds(self, mark: &str) -> bool {
        let digits = mark.bytes().filter_map(|byte| char::from(byte).to_digit(16)).take(16);
        let number = digits.fold(0u64, |number, digit| number << 4 | u64::from(digit));
        // The first digits would do for a hash; a product spreads marks that are less even.
        let spread = number.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 32;
        spread % u64::from(self.of) == u64::from(self.part - 1)
    }

    /// As names of files have it: `3-of-4`.
    #[must_use]
    pub(super) fn in_names(self) -> String {
        format!("{}-of-{}", self.part, self.of)
    }

    /// The part that a name tells.
    pub(super) fn of_name(name: &str) -> Option<Self> {
        let (part, of) = name.split_once("-of-")?;
        Some(Self { part: part.parse().ok()?, of: of.parse().ok()? })
    }

    /// Whether it is all of a batch.
    #[must_use]
    pub fn is_whole(self) -> bool {
        self.of == 1
    }
}

const TASK: &str = "SLURM_ARRAY_TASK_ID";
const COMPLETION: &str = "JOB_COMPLETION_INDEX";

/// A task of a Slurm array. Ids may begin anywhere and go in steps ("--array=10-40:10"); a list ("--array=1,5") has none.
fn of_slurm(variable: &dyn Fn(&str) -> Option<String>) -> Result<Shard, NoShard> {
    let read = |name: &'static str, otherwise: u32| variable(name).map_or(Ok(otherwise), |value| number(name, &value));
    let (task, least) = (read(TASK, 0)?, read("SLURM_ARRAY_TASK_MIN", 0)?);
    let (most, step) = (read("SLURM_ARRAY_TASK_MAX", 0)?, read("SLURM_ARRAY_TASK_STEP", 1)?.max(1));
    let of = read("SLURM_ARRAY_TASK_COUNT", 0)?;
    let fits = least <= task && task <= most && (task - least) % step == 0;
    let part = if fits { (task - least) / step + 1 } else { 0 };
    if part == 0 || part > of || (most - least) / step + 1 != of {
        let why = "the array's tasks are no row from the first to the last";
        return Err(NoShard::Environment { name: TASK, value: task.to_string(), why });
    }
    Ok(Shard { part, of })
}

fn number(name: &'static str, value: &str) -> Result<u32, NoShard> {
    let environment = |_| NoShard::Environment { name, value: value.to_owned(), why: "it is not a whole number" };
    value.parse().map_err(environment)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(typed: Option<&str>, environment: &[(&str, &str)]) -> Result<String, String> {
        let look =
            |name: &str| environment.iter().find(|(known, _)| *known == name).map(|(_, value)| (*value).to_owned());
        let wanted = typed.map(str::parse).transpose().map_err(|fault: NoShard| fault.to_string())?;
        Shard::find(wanted, &look).map(|shard| shard.to_string()).map_err(|fault| fault.to_string())
    }

    fn slurm<'a>(task: &'a str, least: &'a str, most: &'a str, step: &'a str, of: &'a str) -> [(&'a str, &'a str); 5] {
        [
            (TASK, task),
            ("SLURM_ARRAY_TASK_MIN", least),
            ("SLURM_ARRAY_TASK_MAX", most),
            ("SLURM_ARRAY_TASK_STEP", step),
            ("SLURM_ARRAY_TASK_COUNT", of),
        ]
    }

    // Names and meaning of the variables: Slurm's documentation of job arrays (sbatch, "OUTPUT ENVIRONMENT VARIABLES") and
    // Kubernetes' of indexed jobs ("Completion mode"), both from memory.
    #[test]
    fn the_part_is_typed_or_told_by_the_environment() {
        for (typed, environment, expected) in [
            (None, &[][..], "1/1"),
            (Some("3/4"), &[], "3/4"),
            (Some("3/4"), &[(COMPLETION, "0")], "3/4"),
            (None, &slurm("3", "1", "8", "1", "8"), "3/8"),
            (None, &slurm("0", "0", "3", "1", "4"), "1/4"),
            (None, &slurm("30", "10", "40", "10", "4"), "3/4"),
            (Some("/8"), &[(COMPLETION, "0")], "1/8"),
            (Some("/8"), &[(COMPLETION, "7")], "8/8"),
            (Some("/8"), &slurm("8", "1", "8", "1", "8"), "8/8"),
        ] {
            assert_eq!(find(typed, environment).as_deref(), Ok(expected), "{typed:?} {environment:?}");
        }
    }

    #[test]
    fn half_a_part_is_none() {
        for (typed, environment, part_of_the_error) in [
            (Some("0/4"), &[][..], "K from 1 to N"),
            (Some("5/4"), &[], "K from 1 to N"),
            (Some("2"), &[], "K from 1 to N"),
            (Some("1/0"), &[], "K from 1 to N"),
            (Some("/4"), &[], "which of the 4 parts"),
            (None, &[(COMPLETION, "2")], "write --shard /N"),
            (Some("/2"), &[(COMPLETION, "2")], "`3/2` is no part"),
            (None, &[(COMPLETION, "two")], "JOB_COMPLETION_INDEX is `two`"),
            (None, &slurm("5", "1", "5", "1", "2"), "no row from the first to the last"),
        ] {
            let fault = find(typed, environment).unwrap_err();
            assert!(fault.contains(part_of_the_error), "{typed:?} {environment:?}: {fault}");
        }
    }

    #[test]
    fn every_content_belongs_to_one_part_and_the_parts_are_about_as_large() {
        use sha2::{Digest, Sha256};
        let marks: Vec<String> = (0..4000u32).map(|n| format!("{:x}", Sha256::digest(n.to_le_bytes()))).collect();
        for of in [1, 2, 3, 7, 64] {
            let mut sizes = vec![0usize; of as usize];
            for mark in &marks {
                let parts: Vec<u32> = (1..=of).filter(|part| Shard { part: *part, of }.holds(mark)).collect();
                assert_eq!(parts.len(), 1, "{mark} of {of}");
                sizes[parts[0] as usize - 1] += 1;
            }
            let even = marks.len() / of as usize;
            assert!(sizes.iter().all(|size| *size > even / 2 && *size < even * 2), "{sizes:?}");
        }
    }
}

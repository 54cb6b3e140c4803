//! Where results go.
//! Takes a finished text; writes it to standard output, or whole to a file. Leaves alone what it says.
//! A file appears under its name only once it is complete, and never over another unless asked to.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use anyhow::{Context, Result, bail};

/// Refuses early, before any work, what [`write`] would refuse late.
pub(super) fn check(file: Option<&Path>, force: bool) -> Result<()> {
    match file {
        Some(file) if file.is_dir() => bail!("cannot write {}: it is a folder; name a file", file.display()),
        Some(file) if file.exists() && !force => bail!("cannot write {}: {EXISTS}", file.display()),
        Some(file) if !folder_of(file).is_dir() => {
            bail!("cannot write {}: there is no folder {}; make it first", file.display(), folder_of(file).display())
        }
        _ => Ok(()),
    }
}

fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

const EXISTS: &str = "it exists already; add --force to write over it, or name another file";

/// Writes a text, or other bytes, to a file, or to standard output where there is none.
pub(super) fn write(bytes: impl AsRef<[u8]>, file: Option<&Path>, force: bool) -> Result<()> {
    let Some(file) = file else { return print_bytes(bytes.as_ref()) };
    let cannot = || format!("cannot write {}", file.display());
    let mut part = tempfile::Builder::new().prefix(".draft-").tempfile_in(folder_of(file)).with_context(cannot)?;
    part.write_all(bytes.as_ref()).and_then(|()| part.as_file().sync_all()).with_context(cannot)?;
    let kept = if force { part.persist(file) } else { part.persist_noclobber(file) };
    match kept {
        Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
            bail!("cannot write {}: {EXISTS}", file.display())
        }
        kept => kept.map(drop).map_err(|error| error.error).with_context(cannot),
    }
}

/// Prints a text to standard output.
pub(super) fn print(text: &str) -> Result<()> {
    print_bytes(text.as_bytes())
}

fn print_bytes(bytes: &[u8]) -> Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(bytes).and_then(|()| out.flush()).context("cannot write to standard output")
}

/// Says something beside the result: a line on standard error. If nobody listens there, nothing can be done about it.
pub(super) fn say(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{line}");
}

/// Whether standard error is read by a person at a terminal.
pub(super) fn watched() -> bool {
    io::stderr().is_terminal()
}

/// Whether an error is only that nobody reads the output any more, as with `| head`.
pub(super) fn reader_went_away(error: &anyhow::Error) -> bool {
    let broken = |cause: &(dyn std::error::Error + 'static)| {
        cause.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
    };
    error.chain().any(broken)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_never_written_over_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("draft.txt");
        write("one", Some(&file), false).unwrap();
        let error = write("two", Some(&file), false).unwrap_err().to_string();
        assert!(error.contains("it exists already; add --force"), "{error}");
        assert!(check(Some(&file), false).is_err() && check(Some(&file), true).is_ok());
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "one");
        write("two", Some(&file), true).unwrap();
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "two");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
        let nowhere = write("x", Some(&folder.path().join("no/draft.txt")), false).unwrap_err();
        assert!(nowhere.to_string().starts_with("cannot write "), "{nowhere}");
    }
}

//! Ctrl-C during long work.
//! Takes how long work may take to end tidily; gives a flag that Ctrl-C sets. Work that has not ended by then is ended
//! with the program, as it is at once by a second Ctrl-C. Leaves alone short work, which Ctrl-C ends as usual.
//!
//! A recogniser in the middle of a window may need half a minute to notice: after a second the program ends anyway

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, Result};

use super::{STOPPED, output};

/// A flag that Ctrl-C sets. To be asked for once in the life of the program.
pub(super) fn flag(patience: Duration) -> Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&flag);
    let end = || std::process::exit(i32::from(STOPPED));
    ctrlc::set_handler(move || {
        if set.swap(true, Ordering::Relaxed) {
            end();
        }
        // In a thread of its own, or a second Ctrl-C would have to wait behind this one.
        std::thread::spawn(move || {
            std::thread::sleep(patience);
            output::say("error: stopped");
            end();
        });
    })
    .context("cannot watch for Ctrl-C")?;
    Ok(flag)
}

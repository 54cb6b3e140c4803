//! Ctrl-C during long work.
//! Takes nothing; gives a flag that Ctrl-C sets, so that work can end tidily. A second Ctrl-C ends at once.
//! Leaves alone short work, which Ctrl-C ends as usual.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result};

/// A flag that Ctrl-C sets. To be asked for once in the life of the program.
pub(super) fn flag() -> Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&flag);
    ctrlc::set_handler(move || {
        if set.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(super::STOPPED));
        }
    })
    .context("cannot watch for Ctrl-C")?;
    Ok(flag)
}

//! Ctrl-C.
//! Takes what is to be done when it is pressed; long work gets a flag that it sets, and how long it may take to end tidily.
//! Work that has not ended by then is ended with the program, as it is at once by a second Ctrl-C. Leaves alone short work,
//! which Ctrl-C ends as usual.
//!
//! A recogniser in the middle of a window may need half a minute to notice: after a second the program ends anyway

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;

use anyhow::{Context, Result};

use super::{STOPPED, output};

type Action = Box<dyn FnMut() + Send>;

/// Does this at every Ctrl-C from now on, and nothing else.
pub(super) fn at_each(action: impl FnMut() + Send + 'static) -> Result<()> {
    static ACTION: OnceLock<Arc<Mutex<Action>>> = OnceLock::new();
    let action: Action = Box::new(action);
    if let Some(known) = ACTION.get() {
        *known.lock().unwrap_or_else(PoisonError::into_inner) = action;
        return Ok(());
    }
    let action = Arc::new(Mutex::new(action));
    let known = Arc::clone(&action);
    ctrlc::set_handler(move || known.lock().unwrap_or_else(PoisonError::into_inner)())
        .context("cannot watch for Ctrl-C")?;
    ACTION.set(action).map_err(|_| anyhow::anyhow!("cannot watch for Ctrl-C twice at once"))
}

/// Ends the program as it is.
pub(super) fn end() -> ! {
    std::process::exit(i32::from(STOPPED))
}

/// A flag that Ctrl-C sets.
pub(super) fn flag(patience: Duration) -> Result<Arc<AtomicBool>> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = Arc::clone(&flag);
    at_each(move || {
        if set.swap(true, Ordering::Relaxed) {
            end();
        }
        // In a thread of its own, or a second Ctrl-C would have to wait behind this one.
        std::thread::spawn(move || {
            std::thread::sleep(patience);
            output::say("error: stopped");
            end();
        });
    })?;
    Ok(flag)
}

//! The one place beside the command line where the time is read.
//! Takes nothing; gives the moment. Leaves alone what it is used for: everything else has times passed in.
//!
//! `now().to_string()` is "2023-11-14T22:13:20.120Z" at that moment

use std::time::{SystemTime, UNIX_EPOCH};

use crate::record::Moment;

/// The moment, by this machine's clock.
#[must_use]
pub fn now() -> Moment {
    #[allow(clippy::disallowed_methods, reason = "a store says when its rows were made; drafts know no time")]
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

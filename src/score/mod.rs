//! Findings against those of a careful colleague.
//! Takes a narration's findings and the rows that were annotated by hand; gives what agrees, what was missed, what was
//! added, and the silent errors: wrong among the clear ones, by kind.
//! Leaves alone how the findings were made. A `both` row is two findings; grams and kilograms are compared as one unit.
//!
//! predicted "scarf-sign left past-midline" against "scarf-sign right past-midline" is one missed, one extra, and, if it
//! was clear, a silent error of the kind "side swapped"

pub mod examples;
pub mod folder;
pub mod gold;
pub mod heard;
pub mod level;
pub mod predicted;
pub mod tally;

pub use examples::{Example, examples, given_instead};
pub use folder::{FolderError, Pair, pairs};
pub use gold::{GoldError, GoldRow, read_gold};
pub use heard::{HeardWords, compare_words};
pub use level::{Level, LevelError, read_levels};
pub use predicted::predicted;
pub use tally::{ErrorKind, Predicted, Tally, compare};

//! Draft record → text, JSON or rows.
//! Takes a draft; gives a text for people (`draft_table`), a promise for programs (`draft_json`, with its schema beside
//! it), or rows as the corpus has them (`draft_tsv`). Every form says that it is a draft. Leaves alone where it is written.
//!
//! The finding "scarf sign, both, to midline" is one line in each of them

pub mod draft_json;
pub mod draft_table;
pub mod draft_tsv;
pub mod words;

pub use draft_json::{SCHEMA, to_json};
pub use draft_table::to_table;
pub use draft_tsv::to_tsv;

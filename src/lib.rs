//! A clinician's spoken newborn neurological examination → a draft record, on their own machine.
//! The modules stand in the order of the flow; `flow` calls them in turn and is the first to read.
//!
//! ```
//! use spoken_exam::{flow, lexicon::Lexicon};
//! let lexicon = Lexicon::load(None)?;
//! let narration = flow::of_text(&lexicon, "No ankle clonus on the left.", "note.txt");
//! let finding = &narration.draft.findings[0];
//! assert_eq!((finding.item.as_str(), finding.side.name(), finding.value.as_str()), ("ankle-clonus", "left", "absent"));
//! assert!(finding.is_clear() && finding.proof.quote.text.contains("ankle clonus"));
//! # Ok::<(), spoken_exam::lexicon::LexiconError>(())
//! ```

/// A place in the words and in the sound.
pub mod span;

/// Sound file → recording.
pub mod audio;

/// Recording → utterances and words.
pub mod speech;

/// Words → mentions, by the trade's own files.
pub mod lexicon;

/// Mentions → statements → findings.
pub mod reading;

/// Findings → draft record → signed record.
pub mod record;

/// Record → what is reckoned from it.
pub mod computed;

/// Draft record → text, JSON or rows.
pub mod export;

/// The stages called in order.
pub mod flow;

/// Records on disk, with their recordings.
pub mod store;

/// Sound that is still coming in → a draft that grows.
pub mod live;

/// Recorded notes by the folder, or the bucket.
pub mod batch;

/// Findings against those of a careful colleague.
pub mod score;

/// The page for review, in a browser of this machine.
pub mod page;

/// A speech model, fetched and made ready.
pub mod setup;

/// The command line.
pub mod cli;

// Reading makes many small lists: a sixth of its time is spent in the system's allocator, half as much in this one.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

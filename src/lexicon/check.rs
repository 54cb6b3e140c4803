//! Faults of a lexicon that loading lets pass.

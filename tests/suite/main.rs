//! The one test program: its modules in reading order.
//! Takes the corpus, the lexicon and invented narrations; fails where the program does less than it did.
//! Leaves alone single functions, whose tests stand beside them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test may give up, and says why")]

mod corpus;
mod lexicon;
mod numbers;
mod properties;
mod draft_json;
mod cli;
mod faults;
mod sounds;
mod model;
mod tidy;

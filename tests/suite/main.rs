//! The one test program: its modules in reading order.
//! Takes the corpus, the lexicon and invented narrations; fails where the program does less than it did.
//! Leaves alone single functions, whose tests stand beside them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test may give up, and says why")]

mod cli;
mod commands;
mod corpus;
mod dictate;
mod draft_json;
mod exports;
mod faults;
mod foreign;
mod foreign_files;
mod growth;
mod hearing;
mod lexicon;
mod live;
mod live_sound;
mod microphone;
mod model;
mod numbers;
mod page;
mod page_dictation;
mod page_served;
mod phrases;
mod properties;
mod sounds;
mod store;
mod store_encrypted;
mod store_tampering;
mod takings;
mod tidy;
mod voice;

//! The one test program: its modules in reading order.
//! Takes the corpus, the lexicon and invented narrations; fails where the program does less than it did.
//! Leaves alone single functions, whose tests stand beside them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test may give up, and says why")]

mod batch;
mod chart;
mod cli;
mod commands;
mod corpus;
mod dictate;
mod draft_json;
mod exports;
mod faults;
mod fhir;
mod fhir_checker;
mod foreign;
mod foreign_files;
mod fuzzed;
mod growth;
mod hearing;
mod lexicon;
mod live;
mod live_sound;
mod long_sound;
mod microphone;
mod model;
mod numbers;
mod page;
mod page_dictation;
mod page_served;
mod pdf;
mod phrases;
mod properties;
mod sounds;
mod store;
mod store_encrypted;
mod store_tampering;
mod takings;
#[path = "../fuzz/targets/mod.rs"]
mod targets;
mod threats;
mod tidy;
mod unlogged;
mod voice;

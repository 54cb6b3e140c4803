//! The program: the command line, and nothing else.
//! Takes the arguments; gives the exit code. Leaves everything to `cli`.
//!
//! `spoken-exam draft no-such-file.txt` prints an error and ends with 2

use std::process::ExitCode;

fn main() -> ExitCode {
    spoken_exam::cli::main()
}

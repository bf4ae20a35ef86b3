//! The command line: arguments, files, progress and reports around the library.

// All output goes through `output` and `failure`, which remove control characters and do not panic on a closed terminal.
#![cfg_attr(not(test), deny(clippy::print_stdout, clippy::print_stderr))]
// A smaller build has parts that only the features use which it was built without.
#![cfg_attr(not(all(feature = "draw", feature = "preview")), allow(dead_code, unused_imports, unused_variables))]

mod args;
mod browser;
mod commands;
mod corrections;
mod disk;
mod drawing;
mod failure;
mod ffmpeg;
mod formats;
mod frame_input;
mod frames;
mod git;
mod markdown;
mod output;
mod page;
mod pdf;
mod picture;
#[cfg(feature = "preview")]
mod preview;
mod progress;
mod system;
mod table;
mod target;
mod text;
mod usage;

use clap::Parser;
use std::ffi::OsString;
use std::process::ExitCode;

fn main() -> ExitCode {
    if let Some(code) = ffmpeg::stand_by() {
        return code;
    }
    disk::tidy_up_when_interrupted(ffmpeg::end_running);
    let words: Vec<OsString> = std::env::args_os().map(plain_number).collect();
    let args = args::Args::try_parse_from(&words);
    match commands::run(args.unwrap_or_else(|error| usage::in_plain_words(error, &words).exit())) {
        Ok(code) => code,
        Err(failure) => {
            failure.report();
            ExitCode::from(failure::COULD_NOT_RUN)
        }
    }
}

/// A negative number with an exponent, such as -1e-6, without one: the parser of arguments takes it for an option.
fn plain_number(argument: OsString) -> OsString {
    let number = argument.to_str().filter(|a| a.starts_with('-')).and_then(|a| a.parse().ok());
    match number {
        Some(v) if f64::is_finite(v) => v.to_string().into(),
        _ => argument,
    }
}

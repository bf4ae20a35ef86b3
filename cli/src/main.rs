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

use clap::Parser;
use clap::error::ContextKind;
use std::error::Error;
use std::ffi::OsString;
use std::num::{IntErrorKind, ParseFloatError, ParseIntError};
use std::process::ExitCode;

fn main() -> ExitCode {
    if let Some(code) = ffmpeg::stand_by() {
        return code;
    }
    disk::tidy_up_when_interrupted(ffmpeg::end_running);
    let args = args::Args::try_parse_from(std::env::args_os().map(plain_number));
    match commands::run(args.unwrap_or_else(|error| in_plain_words(error).exit())) {
        Ok(code) => code,
        Err(failure) => {
            failure.report();
            ExitCode::from(failure::COULD_NOT_RUN)
        }
    }
}

/// The error of an argument that is no number, in the words of a user rather than of Rust's parsers.
fn in_plain_words(error: clap::Error) -> clap::Error {
    let number = error.source().and_then(|source| {
        let whole = source.downcast_ref::<ParseIntError>().map(|e| match e.kind() {
            IntErrorKind::PosOverflow | IntErrorKind::NegOverflow => "the number is too large",
            _ => "it must be a whole number",
        });
        whole.or(source.is::<ParseFloatError>().then_some("it must be a number"))
    });
    match (number, error.get(ContextKind::InvalidValue), error.get(ContextKind::InvalidArg)) {
        (Some(right), Some(value), Some(argument)) => clap::Error::raw(
            error.kind(),
            format!("invalid value '{value}' for '{argument}': {right}\n\nFor more information, try '--help'.\n"),
        ),
        _ => error,
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

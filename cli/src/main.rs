//! The command line: arguments, files, progress and reports around the library.

mod args;
mod commands;
mod disk;
mod failure;
mod output;
mod table;
mod target;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    match commands::run(args::Args::parse()) {
        Ok(code) => code,
        Err(failure) => {
            failure.report();
            ExitCode::from(failure::COULD_NOT_RUN)
        }
    }
}

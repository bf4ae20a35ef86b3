//! File formats: text to values and back, with line numbers in errors, and no paths.

// Whatever stands in a file, reading it ends in an error that says so. `expect` says why it cannot fail.
#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::unreachable, clippy::todo))]

pub mod amf;
pub mod cdl;
pub mod clf;
pub mod cube;
pub mod device;
pub mod fixed;
pub mod hald;
mod scan;
pub mod shot_list;
mod xml;

use std::fmt;

/// What is wrong with a file is listed up to here.
const MOST_ERRORS: usize = 100;

/// What is wrong with a file of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineError {
    /// The line, from 1.
    pub line: usize,
    /// What is there and what would be right.
    pub message: String,
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.message)
    }
}

impl std::error::Error for LineError {}

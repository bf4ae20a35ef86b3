//! File formats: text to values and back, with line numbers in errors, and no paths.

// Whatever stands in a file, reading it ends in an error that says so. `expect` says why it cannot fail.
#![deny(missing_docs)]
#![cfg_attr(not(test), deny(clippy::indexing_slicing, clippy::unwrap_used, clippy::unreachable, clippy::todo))]

pub mod amf;
pub mod cdl;
pub mod checksum;
pub mod clf;
pub mod cube;
pub mod device;
pub mod events;
pub mod fixed;
pub mod hald;
mod scan;
pub mod shot_list;
pub mod timecode;
mod xml;

use rushlight_colour::message::{LETTERS_OF_MESSAGE, beginning_of};
use std::fmt;
use std::ops::Deref;

/// What is wrong with a file is listed up to here.
pub const MOST_ERRORS: usize = 100;

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
        // Of bounded length, whatever of a file it repeats.
        write!(f, "line {}: {}", self.line, beginning_of(&self.message, LETTERS_OF_MESSAGE))
    }
}

impl std::error::Error for LineError {}

/// All that is wrong with a file of text, by line. As an error it is never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineErrors(Vec<LineError>);

impl fmt::Display for LineErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, error) in self.0.iter().enumerate() {
            write!(f, "{}{error}", if i == 0 { "" } else { "; " })?;
        }
        Ok(())
    }
}

impl std::error::Error for LineErrors {}

impl Deref for LineErrors {
    type Target = [LineError];

    fn deref(&self) -> &[LineError] {
        &self.0
    }
}

impl From<LineError> for LineErrors {
    fn from(error: LineError) -> Self {
        Self(vec![error])
    }
}

impl From<Vec<LineError>> for LineErrors {
    fn from(all: Vec<LineError>) -> Self {
        Self(all)
    }
}

impl<'e> IntoIterator for &'e LineErrors {
    type Item = &'e LineError;
    type IntoIter = std::slice::Iter<'e, LineError>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

impl IntoIterator for LineErrors {
    type Item = LineError;
    type IntoIter = std::vec::IntoIter<LineError>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

/// The line, from 1, on which the byte at `at` stands.
fn line_of(text: &[u8], at: usize) -> usize {
    1 + text.iter().take(at).filter(|b| **b == b'\n').count()
}

/// Two values for each channel, side by side.
fn zip<A, B>([a0, a1, a2]: [A; 3], [b0, b1, b2]: [B; 3]) -> [(A, B); 3] {
    [(a0, b0), (a1, b1), (a2, b2)]
}

//! Cube files: the Cube LUT Specification, version 1.0 (2013): 1D and 3D tables as text.
//!
//! [`read`] takes a file by the letter of the specification, or tolerantly as files are found in the wild, naming each
//! thing that it let pass. [`write()`] gives a file by the letter: ASCII, LF, lines of at most 250 bytes, keywords before
//! rows, red fastest.

mod read;
mod rule;
mod write;

pub use read::read;
pub use rule::Rule;
pub use write::{DEFAULT_DIGITS, WriteOptions, check_digits, clean_title, write, write_cube};

use rushlight_colour::cube::{Cube, Curves, Interpolation, Table};
use rushlight_colour::invalid::Invalid;
use rushlight_colour::transform::Interpolate;
use std::fmt;

/// Bytes that a line may have (specification, 5.3).
pub const LINE_LIMIT: usize = 250;
/// Magnitude that a number may have.
pub const NUMBER_LIMIT: f64 = 1e37;

/// How a file is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strictness {
    /// Every departure from the specification is an error.
    Strict,
    /// A departure that does not make the table ambiguous is a warning.
    Tolerant,
}

/// What a cube file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct CubeFile {
    /// The title, empty for none.
    pub title: String,
    /// Curves in front of the cube, which older writers put into the same file. The specification has no such thing.
    pub shaper: Option<Curves>,
    /// The table.
    pub table: Table,
    /// What was let pass, by line; empty for a file that is good by the letter.
    pub warnings: Vec<Warning>,
}

/// The curves in front, where there are any, and the table.
impl Interpolate for CubeFile {
    fn value(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
        self.table.at(self.shaper.as_ref().map_or(rgb, |curves| curves.at(rgb)), interpolation)
    }

    fn bounds(&self) -> [[f64; 3]; 2] {
        self.shaper.as_ref().map_or(self.table.domain(), Curves::domain)
    }
}

impl CubeFile {
    /// The file as one cube for a place that takes no curves.
    ///
    /// # Errors
    /// A 1D table, or a shaper in front of the cube.
    pub fn into_cube(self) -> Result<Cube, Invalid> {
        match (self.shaper, self.table) {
            (None, Table::Cube(cube)) => Ok(cube),
            (Some(_), _) => {
                Err(Invalid::plain("it has curves in front of its cube: convert it to a single cube first"))
            }
            (None, Table::Curves(_)) => Err(Invalid::plain("it holds a 1D table: a 3D table is needed here")),
        }
    }

    /// The tables in the order in which a colour passes them.
    pub fn tables(&self) -> Vec<Table> {
        self.shaper.iter().cloned().map(Table::Curves).chain([self.table.clone()]).collect()
    }
}

/// A departure from the specification that was let pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The first line of it, from 1.
    pub line: usize,
    /// Which rule.
    pub rule: Rule,
    /// What is there and what would be right.
    pub message: String,
    /// Lines that depart in this way.
    pub count: usize,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {} [rule {}]", self.line, self.message, self.rule)?;
        match self.count {
            1 => Ok(()),
            2 => f.write_str(", and another line"),
            more => write!(f, ", and {} more lines", more - 1),
        }
    }
}

/// What is wrong with a cube file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CubeError {
    /// The line, from 1.
    pub line: usize,
    /// Which rule.
    pub rule: Rule,
    /// What is there and what would be right.
    pub message: String,
}

impl fmt::Display for CubeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {} ({})", self.line, self.message, self.rule)
    }
}

impl std::error::Error for CubeError {}

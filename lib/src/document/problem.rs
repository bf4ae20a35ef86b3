//! What is wrong in a document, each with its place.

use crate::message::{LETTERS_OF_MESSAGE, beginning_of};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Range;

/// Letters of a key and of a message that are repeated.
const LETTERS_OF_KEY: usize = 200;

/// One thing that is wrong in a document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// The key path, such as `step[2].stops`; empty for a syntax error.
    pub key: String,
    /// What is wrong and what would be right.
    pub message: String,
    /// Bytes of the text that it concerns.
    pub span: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// All that is wrong in one document, in the order of the text. Never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problems {
    /// The name of the file, as the caller gave it.
    pub name: String,
    /// The text itself.
    pub text: String,
    /// The problems.
    pub list: Vec<Problem>,
}

impl Problem {
    /// Key and message in a line, of bounded length.
    pub fn words(&self) -> String {
        let message = beginning_of(&self.message, LETTERS_OF_MESSAGE);
        if self.key.is_empty() { message } else { format!("{}: {message}", beginning_of(&self.key, LETTERS_OF_KEY)) }
    }
}

impl fmt::Display for Problems {
    /// A line a problem: `file:line:column: key: message`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, p) in self.list.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{}:{}:{}: {}", self.name, p.line, p.column, p.words())?;
        }
        Ok(())
    }
}

impl std::error::Error for Problems {}

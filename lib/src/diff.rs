//! Compares two files: looks, shows, table files, or a mix of them.
//!
//! An [`Input`] is a file read together with the files that it names. [`pair`] compares two of them: the documents in words,
//! and the pictures, each under a [`Context`], which says whose camera signal goes in and whose display signal comes out.

mod context;
mod input;
mod pair;
#[cfg(test)]
mod tests;

pub use context::Context;
pub use input::{Content, Input, Origin};
pub use pair::{Compared, Outcome, SignalMap, pair};

use crate::document::Problems;
use crate::invalid::{Invalid, Refusals};
use crate::limit::Limit;
use crate::show::Show;
use std::fmt;

/// A look, a camera and a display, by name, where they are chosen.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pick {
    /// A look of the show.
    pub look: Option<String>,
    /// A camera of the show; `CURVE+GAMUT` where there is none.
    pub camera: Option<String>,
    /// A display of the show; a built-in one where there is none.
    pub display: Option<String>,
}

impl Pick {
    /// Whether nothing is chosen.
    pub const fn is_empty(&self) -> bool {
        self.look.is_none() && self.camera.is_none() && self.display.is_none()
    }
}

/// What is asked for beside the files.
#[derive(Debug, Clone, Default)]
pub struct Request {
    /// The show that supplies cameras and displays; by default one beside or above a look that names it.
    pub show: Option<Show>,
    /// What is compared of it.
    pub pick: Pick,
    /// Limits over those of the show.
    pub limits: Vec<Limit>,
    /// Whether looks are compared without a picture where no camera and display can be found for them.
    pub lenient: bool,
}

/// Why two files cannot be compared.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Error {
    /// Problems of a document.
    Documents(Vec<Problems>),
    /// Anything else; under `look`, `camera`, `display` or `show` where another choice of it is what would help.
    Refused(Refusals),
    /// A look that no show lists, and no camera and display are chosen for it.
    Standing {
        /// The look's file.
        look: String,
    },
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Documents(documents) => {
                let all: Vec<String> = documents.iter().map(ToString::to_string).collect();
                f.write_str(&all.join("\n"))
            }
            Self::Refused(refused) => refused.fmt(f),
            Self::Standing { look } => write!(
                f,
                "{look} is a look without a show: no show.toml in its folder or a parent folder lists it: name a show, or a \
                 camera and a display, such as slog3+sgamut3-cine and bt709"
            ),
        }
    }
}

impl std::error::Error for Error {}

impl From<Refusals> for Error {
    fn from(refused: Refusals) -> Self {
        Self::Refused(refused)
    }
}

impl From<Invalid> for Error {
    fn from(refused: Invalid) -> Self {
        Self::Refused(refused.into())
    }
}

/// A refusal that no other choice of a name would mend.
fn refuse(why: impl Into<String>) -> Error {
    Invalid::plain(why).into()
}

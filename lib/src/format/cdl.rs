//! Colour corrections by the ASC CDL, version 1.2 (American Society of Cinematographers, 2009), as XML: one correction
//! (`.cc`), a collection (`.ccc`), or a list of decisions with the media that they are of (`.cdl`).
//!
//! Two namespaces are in use, `urn:ASC:CDL:v1.01` and `urn:ASC:CDL:v1.2`, and files without any (common practice, no
//! source); the elements are the same. A file says neither in which space its numbers work nor whether before or after a
//! look: that is for whoever hands it on to say.

mod read;
#[cfg(test)]
mod tests;
mod write;

pub(super) use read::nodes;
pub use read::read;
pub use write::write;
pub(super) use write::write_nodes;

use super::xml::Dialect;
use crate::step::cdl::CdlNumbers;

/// A file of corrections, as XML.
const DIALECT: Dialect = Dialect { file: "CDL file", root: "ColorCorrection or a list of them", most: 200_000 };

/// What a file holds, which is what its root says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// One correction, `.cc`.
    Correction,
    /// Corrections with ids, `.ccc`.
    Collection,
    /// Decisions: corrections with the media that they are of, `.cdl`.
    Decisions,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Correction, Self::Collection, Self::Decisions];

    /// The file extension.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Correction => "cc",
            Self::Collection => "ccc",
            Self::Decisions => "cdl",
        }
    }

    /// The kind of that extension, in any case.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name().eq_ignore_ascii_case(name))
    }

    /// The root element.
    const fn root(self) -> &'static str {
        match self {
            Self::Correction => "ColorCorrection",
            Self::Collection => "ColorCorrectionCollection",
            Self::Decisions => "ColorDecisionList",
        }
    }
}

/// The namespace of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Namespace {
    /// `urn:ASC:CDL:v1.01`, that of the published schema.
    V101,
    /// `urn:ASC:CDL:v1.2`.
    #[default]
    V12,
    /// None.
    None,
}

impl Namespace {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::V101, Self::V12, Self::None];

    /// The name, empty where there is none.
    pub const fn uri(self) -> &'static str {
        match self {
            Self::V101 => "urn:ASC:CDL:v1.01",
            Self::V12 => "urn:ASC:CDL:v1.2",
            Self::None => "",
        }
    }
}

/// Remarks that a file or a correction carries.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Remarks {
    /// Anything.
    pub descriptions: Vec<String>,
    /// What goes in.
    pub input: Option<String>,
    /// How it is looked at.
    pub viewing: Option<String>,
}

/// A correction.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Correction {
    /// Names it; unique in its file.
    pub id: Option<String>,
    /// Slope, offset, power and saturation.
    pub numbers: CdlNumbers,
    /// Remarks.
    pub remarks: Remarks,
    /// Remarks in its SOPNode and its SatNode.
    pub node_descriptions: [Vec<String>; 2],
    /// What it is of, in a list of decisions.
    pub media: Vec<String>,
    /// Its line, from 1; 0 where it was not read from a file.
    pub line: usize,
}

/// A file.
#[derive(Debug, Clone, PartialEq)]
pub struct CdlFile {
    /// What its root is.
    pub kind: Kind,
    /// Its namespace.
    pub namespace: Namespace,
    /// Remarks.
    pub remarks: Remarks,
    /// The corrections, one at least, in their order.
    pub corrections: Vec<Correction>,
}

impl CdlFile {
    /// The correction of that id.
    pub fn get(&self, id: &str) -> Option<&Correction> {
        self.corrections.iter().find(|c| c.id.as_deref() == Some(id))
    }

    /// The ids, in order.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        self.corrections.iter().filter_map(|c| c.id.as_deref())
    }
}

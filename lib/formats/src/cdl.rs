//! Colour corrections by the ASC CDL, version 1.2 (American Society of Cinematographers, 2009), as XML: one correction
//! (`.cc`), a collection (`.ccc`), or a list of decisions with the media that they are of (`.cdl`).
//!
//! Two namespaces are in use, `urn:ASC:CDL:v1.01` and `urn:ASC:CDL:v1.2`, and files without any (common practice, no
//! source); the elements are the same. The ASC's schema, version 1.01 (2007), has `ASC_SOP`, `ASC_SAT` and `ASC_CC_XML` for
//! `SOPNode`, `SatNode` and `ColorCorrectionRef`; all of them are read, the nodes in any case and order (common practice, no
//! source). What is written holds to that schema, but for the newer namespace. A file says neither in which space its numbers work nor whether before or after a
//! look: the sender of the file has to state it.

mod enter;
mod ids;
mod read;
#[cfg(test)]
mod tests;
mod write;

pub use enter::{append, enter};
pub use ids::{copy, remove};
pub(super) use read::nodes;
pub use read::{read, read_each};
pub(super) use write::write_nodes;
pub use write::{write, write_made};

use super::LineError;
use super::xml::Dialect;
use rushlight_colour::message::beginning;
use rushlight_colour::step::cdl::CdlNumbers;

/// Corrections that a sentence names.
const LISTED: usize = 5;
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

rushlight_colour::named!(Kind, "kind of correction file", { Correction => "cc", Collection => "ccc", Decisions => "cdl" });

impl Kind {
    /// The kind of files that end so, in letters of either case.
    pub fn from_extension(extension: &str) -> Option<Self> {
        Self::from_name(&extension.to_ascii_lowercase())
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
    /// The corrections that can be used, in their order.
    pub corrections: Vec<Correction>,
    /// Those whose numbers are none of a correction, in their order; none in a file that [`read`] gave.
    pub refused: Vec<Refused>,
}

/// A correction of a file that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Its id.
    pub id: Option<String>,
    /// Its line, from 1.
    pub line: usize,
    /// All that is wrong with it, by line.
    pub wrong: Vec<LineError>,
}

impl CdlFile {
    /// The correction of that id.
    pub fn get(&self, id: &str) -> Option<&Correction> {
        self.corrections.iter().find(|c| c.id.as_deref() == Some(id))
    }

    /// The refused correction of that id.
    pub fn refused(&self, id: &str) -> Option<&Refused> {
        self.refused.iter().find(|c| c.id.as_deref() == Some(id))
    }

    /// The ids of those that can be used, in order.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        self.corrections.iter().filter_map(|c| c.id.as_deref())
    }

    /// In a sentence, which corrections cannot be used; none where all can.
    pub fn left(&self) -> Option<String> {
        let named = self.refused.iter().map(|c| match &c.id {
            Some(id) => format!("`{}` (line {})", beginning(id), c.line),
            None => format!("that on line {}", c.line),
        });
        let few = named.take(LISTED).collect::<Vec<_>>().join(", ");
        match self.refused.len().checked_sub(LISTED) {
            _ if self.refused.is_empty() => None,
            None | Some(0) => Some(format!("corrections that cannot be used: {few}")),
            Some(more) => Some(format!("corrections that cannot be used: {few} and {more} more")),
        }
    }
}

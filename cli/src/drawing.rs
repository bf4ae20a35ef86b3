//! Drawings: one SVG source, written as the kind of file that its name asks for.
//!
//! No font of the system is consulted and nothing depends on a clock, so a drawing has the same pixels everywhere.

pub(crate) mod chart;
mod font;
pub(crate) mod mosaic;
mod page;
#[cfg(feature = "draw")]
mod render;
mod save;
pub(crate) mod scope;
mod svg;
#[cfg(all(test, feature = "draw"))]
mod tests;
pub(crate) mod theme;

pub(crate) use page::{font_faces, policy};
pub(crate) use save::Format;
pub(crate) use svg::{Anchor, Canvas, Paint, Text, escape};

/// What the lengths of a drawing are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    /// CSS pixels, 96 to the inch.
    Px,
    /// Millimetres, for drawings to print.
    Mm,
}

impl Unit {
    /// CSS pixels in one of it.
    pub(crate) fn px(self) -> f64 {
        match self {
            Self::Px => 1.0,
            Self::Mm => 96.0 / 25.4,
        }
    }

    fn suffix(self) -> &'static str {
        match self {
            Self::Px => "",
            Self::Mm => "mm",
        }
    }
}

/// A finished drawing.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drawing {
    /// The whole SVG document; it stands in an HTML page as it is.
    pub(crate) svg: String,
    pub(crate) title: String,
    /// Whose it is, in the lines of a slate; empty within a page, which has its own.
    pub(crate) slate: String,
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) unit: Unit,
}

impl Drawing {
    /// With what its file says of where it comes from.
    pub(crate) fn with_slate(self, lines: &[String]) -> Self {
        Self { slate: lines.join("\n"), ..self }
    }
}

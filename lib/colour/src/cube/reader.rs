//! Who reads a cube.

use super::Interpolation;

/// The kind of reader that a cube is for. What stands on set between the nodes is seldom documented: ask, or measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reader {
    /// One that interpolates by tetrahedra.
    #[default]
    Tetrahedral,
    /// One that interpolates by all eight corners.
    Trilinear,
    /// Not known: either of them.
    Either,
}

impl Reader {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Tetrahedral, Self::Trilinear, Self::Either];

    /// The name on the command line and in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tetrahedral => "tetrahedral",
            Self::Trilinear => "trilinear",
            Self::Either => "either",
        }
    }

    /// The interpolations that it may use.
    pub const fn interpolations(self) -> &'static [Interpolation] {
        match self {
            Self::Tetrahedral => &[Interpolation::Tetrahedral],
            Self::Trilinear => &[Interpolation::Trilinear],
            Self::Either => &Interpolation::ALL,
        }
    }
}

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

crate::named!(Reader, "interpolation", { Tetrahedral => "tetrahedral", Trilinear => "trilinear", Either => "either" });

impl Reader {
    /// The interpolations that it may use.
    pub const fn interpolations(self) -> &'static [Interpolation] {
        match self {
            Self::Tetrahedral => &[Interpolation::Tetrahedral],
            Self::Trilinear => &[Interpolation::Trilinear],
            Self::Either => &Interpolation::ALL,
        }
    }
}

//! What a table file holds: curves or a cube.

use super::{Cube, Curves, Interpolation};

/// A table of either kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Table {
    /// One curve per channel.
    Curves(Curves),
    /// A cube.
    Cube(Cube),
}

impl Table {
    /// Entries of each curve, or nodes along each edge.
    pub fn size(&self) -> usize {
        match self {
            Self::Curves(curves) => curves.size(),
            Self::Cube(cube) => cube.size(),
        }
    }

    /// The lower and the upper bounds of the input.
    pub const fn domain(&self) -> [[f64; 3]; 2] {
        match self {
            Self::Curves(curves) => curves.domain(),
            Self::Cube(cube) => cube.domain(),
        }
    }

    /// The rows, in the order of a cube file.
    pub fn rows(&self) -> &[[f64; 3]] {
        match self {
            Self::Curves(curves) => curves.entries(),
            Self::Cube(cube) => cube.nodes(),
        }
    }

    /// The output for `rgb`, clamped to the domain; NaN goes to the low end. Curves are linear between their entries,
    /// whatever `interpolation` says.
    pub fn at(&self, rgb: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
        match self {
            Self::Curves(curves) => curves.at(rgb),
            Self::Cube(cube) => cube.at(rgb, interpolation),
        }
    }
}

impl From<Curves> for Table {
    fn from(curves: Curves) -> Self {
        Self::Curves(curves)
    }
}

impl From<Cube> for Table {
    fn from(cube: Cube) -> Self {
        Self::Cube(cube)
    }
}

//! A cube behind curves that spread its nodes to where they are needed.

use super::{Cube, Curves, Interpolation, UNIT};
use crate::invalid::Refusals;

/// A cube over 0..1, and the curves that lead to it. Without curves it is the cube alone.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapedCube {
    shaper: Option<Curves>,
    cube: Cube,
}

impl ShapedCube {
    /// From its parts.
    ///
    /// # Errors
    /// Curves that do not rise from entry to entry over 0..1 onto 0..1; a cube behind curves that is not over 0..1.
    pub fn new(shaper: Option<Curves>, cube: Cube) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if let Some(curves) = &shaper {
            if curves.domain() != UNIT || [curves.entries()[0], curves.entries()[curves.size() - 1]] != UNIT {
                refusals.push("shaper", "must lead from 0..1 to 0..1");
            }
            if !curves.rising() {
                refusals.push("shaper", "must rise from each entry to the next");
            }
            if cube.domain() != UNIT {
                refusals.push("domain", "must be 0..1 behind a shaper");
            }
        }
        refusals.finish(|| Self { shaper, cube })
    }

    /// Samples `f`, a function of the signal, at the nodes of a cube of `size` points behind `shaper`.
    ///
    /// # Errors
    /// As [`new`](Self::new), and a size that no cube has.
    pub fn sample(shaper: Curves, size: usize, f: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Result<Self, Refusals> {
        let cube = Cube::sample(size, |place| f(shaper.inverse(place)))?;
        Self::new(Some(shaper), cube)
    }

    /// The curves in front.
    pub const fn shaper(&self) -> Option<&Curves> {
        self.shaper.as_ref()
    }

    /// The cube.
    pub const fn cube(&self) -> &Cube {
        &self.cube
    }

    /// The value at a signal.
    pub fn at(&self, signal: [f64; 3], interpolation: Interpolation) -> [f64; 3] {
        self.cube.at(self.place(signal), interpolation)
    }

    /// Where a signal comes to lie in the cube.
    pub fn place(&self, signal: [f64; 3]) -> [f64; 3] {
        self.shaper.as_ref().map_or(signal, |curves| curves.at(signal))
    }

    /// The signal that comes to lie at a place in the cube.
    pub fn signal(&self, place: [f64; 3]) -> [f64; 3] {
        self.shaper.as_ref().map_or(place, |curves| curves.inverse(place))
    }
}

impl From<Cube> for ShapedCube {
    fn from(cube: Cube) -> Self {
        Self { shaper: None, cube }
    }
}

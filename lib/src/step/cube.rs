//! `cube`: a cube file of the crew's own as a step.
//!
//! The cube is given what it expects (its own log and gamut, or a display's signal), and what it gives is read in the
//! same terms. A cube that gives scene light is a step among others; one that gives display signal ends the look.

use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::cube::{Cube, Interpolation};
use crate::display::Display;
use crate::gamut::{AP1, Gamut};
use crate::invalid::{Invalid, Parameter};
use crate::math::bounded;
use crate::transfer::Transfer;
use nalgebra::{Matrix3, Vector3};
use std::sync::Arc;

/// How much of the cube is taken.
pub const STRENGTH: Parameter = Parameter {
    key: "strength",
    min: 0.0,
    max: 1.0,
    default: 1.0,
    unit: "",
    help: "0 leaves the light as it is, 1 takes the cube alone; between, a blend in the cube's own output log",
};

/// A log and a gamut: what a cube's input or output means.
#[derive(Debug, Clone)]
pub struct LogSpace {
    curve: Arc<dyn Transfer>,
    from_ap1: Matrix3<f64>,
    to_ap1: Matrix3<f64>,
}

/// The same curve, not merely an equal one: curves cannot be compared.
impl PartialEq for LogSpace {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.curve, &other.curve) && self.to_ap1 == other.to_ap1 && self.from_ap1 == other.from_ap1
    }
}

impl LogSpace {
    /// The space of a curve and a gamut, carried to and from AP1 by the gamut's own adaptation.
    pub fn new(curve: Arc<dyn Transfer>, gamut: &Gamut) -> Self {
        Self { curve, from_ap1: AP1.to(gamut, None), to_ap1: gamut.to(&AP1, None) }
    }

    /// Scene light (AP1) to signal.
    pub fn encode(&self, rgb: [f64; 3]) -> [f64; 3] {
        let light = self.from_ap1 * Vector3::from(rgb);
        std::array::from_fn(|i| self.curve.encode(light[i]))
    }

    /// Signal to scene light (AP1).
    pub fn decode(&self, signal: [f64; 3]) -> [f64; 3] {
        let light = Vector3::from(bounded(signal.map(|v| self.curve.decode(v))));
        (self.to_ap1 * light).into()
    }
}

/// A cube that gives scene light. Domain: scene light, clamped to the cube's own domain; range: what the cube holds.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneCube {
    cube: Arc<Cube>,
    interpolation: Interpolation,
    expects: LogSpace,
    gives: LogSpace,
    strength: f64,
}

impl SceneCube {
    /// A cube with what it expects and gives.
    ///
    /// # Errors
    /// `strength` out of [`STRENGTH`].
    pub fn new(
        cube: Arc<Cube>,
        interpolation: Interpolation,
        expects: LogSpace,
        gives: LogSpace,
        strength: f64,
    ) -> Result<Self, Invalid> {
        STRENGTH.check(strength).map(|strength| Self { cube, interpolation, expects, gives, strength })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        let after = self.cube.at(self.expects.encode(rgb), self.interpolation);
        if self.strength == 1.0 {
            return self.gives.decode(after);
        }
        let before = self.gives.encode(rgb);
        self.gives.decode(std::array::from_fn(|i| before[i] + self.strength * (after[i] - before[i])))
    }
}

/// A cube that gives the signal of a display.
#[derive(Debug, Clone)]
pub struct DisplayCube {
    cube: Arc<Cube>,
    interpolation: Interpolation,
    expects: LogSpace,
    gives: Box<Display>,
    to_xyz: Matrix3<f64>,
}

impl DisplayCube {
    /// A cube with what it expects and the display that it was made for.
    pub fn new(cube: Arc<Cube>, interpolation: Interpolation, expects: LogSpace, gives: Display) -> Self {
        let to_xyz = gives.gamut().to_xyz();
        Self { cube, interpolation, expects, gives: Box::new(gives), to_xyz }
    }

    /// The same cube, its light carried from its own display's white to `white` by Bradford.
    #[must_use]
    pub fn to_white(&self, white: Xy) -> Self {
        let gamut = self.gives.gamut();
        Self { to_xyz: Adaptation::Bradford.matrix(gamut.white, white) * gamut.to_xyz(), ..self.clone() }
    }

    /// Graded scene light (AP1) to XYZ under the white that was asked for, Y = 1 at diffuse white.
    pub fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        let signal = self.cube.at(self.expects.encode(rgb), self.interpolation);
        (self.to_xyz * Vector3::from(bounded(self.gives.decode(signal)))).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::named_gamut;
    use crate::transfer::encoding;

    fn space() -> LogSpace {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        LogSpace::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut)
    }

    #[test]
    fn an_identity_cube_changes_nothing_at_any_strength() {
        let cube = Arc::new(Cube::sample(9, |rgb| rgb).unwrap());
        for strength in [0.0, 0.4, 1.0] {
            let step = SceneCube::new(cube.clone(), Interpolation::default(), space(), space(), strength).unwrap();
            let out = step.apply([0.18, 0.3, 0.05]);
            for (got, want) in out.iter().zip([0.18, 0.3, 0.05]) {
                assert!((got - want).abs() < 1e-12, "{strength}: {got} for {want}");
            }
        }
    }

    #[test]
    fn strength_blends_in_the_cubes_log() {
        let cube = Arc::new(Cube::sample(2, |_| [0.5; 3]).unwrap());
        let half = SceneCube::new(cube, Interpolation::default(), space(), space(), 0.5).unwrap();
        let log = space();
        let before = log.encode([0.18; 3])[0];
        assert!((log.encode(half.apply([0.18; 3]))[0] - (before + 0.5) / 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_strength_out_of_bounds_is_refused() {
        let cube = Arc::new(Cube::sample(2, |rgb| rgb).unwrap());
        assert!(SceneCube::new(cube, Interpolation::default(), space(), space(), 1.1).is_err());
    }
}

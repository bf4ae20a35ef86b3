//! `cube`: a cube file of the crew's own as a step.
//!
//! The cube is given what it expects (its own log and gamut, or a display's signal), and what it gives is read in the
//! same terms. A cube that gives scene light is a step among others; one that gives display signal ends the look.

use super::space::{self, CurveName, GamutChoice, Space};
use super::words::percent;
use super::{
    Compiled, Context, Extremes, Maths, OnScene, Rendered, Renders, Role, StepSettings, both, extremes, within,
};
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::cube::{Cube, Interpolation};
use crate::display::{self, Display};
use crate::gamut::{AP1, Gamut};
use crate::invalid::{Invalid, Parameter, Refusals};
use crate::math::bounded;
use crate::message::unknown;
use crate::setting::settings;
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
    help: "0 leaves the light as it is, 1 takes the cube alone; between 0 and 1, a blend in the log of the cube's output",
};

settings! {
    "CubeDoc",
    /// A cube file that the crew supplies.
    pub struct CubeSettings {
        /// The cube file, relative to this document.
        file: String = String::new(), Text, required;
        /// How values between nodes are found.
        interpolation: Interpolation = Interpolation::default(), Choice(|| Interpolation::ALL.map(|i| i.name()).to_vec());
        /// How much of the cube is taken.
        strength: f64 = STRENGTH.default, Number(&STRENGTH);
        /// The log and gamut that the cube is given.
        expects: Space = Space::default(), Table(&Space::SHAPE), required;
        /// What it gives: a log and gamut, or a display, which makes this the last step.
        gives: Gives = Gives::default(), Table(&Gives::SHAPE), required;
    }
}

settings! {
    "GivesDoc",
    /// A log and a gamut, or a display.
    pub struct Gives {
        /// The log of what the cube gives, as in `expects`.
        curve: Option<CurveName> = Some(CurveName::default()), Curve(space::curves);
        /// EI, for a curve whose constants depend on it.
        ei: Option<u32> = None, Whole;
        /// The gamut of what the cube gives, as in `expects`.
        gamut: Option<GamutChoice> = Some(GamutChoice::default()), Gamut(space::gamuts);
        /// A built-in display, instead of a curve and a gamut.
        display: Option<String> = None, Choice(|| display::STANDARDS.map(|s| s.name).to_vec());
    }
}

/// What a cube gives.
enum Given {
    Light(LogSpace),
    Display(Box<Display>),
}

impl Gives {
    /// Scene light in the log and gamut of a space.
    pub fn scene(space: Space) -> Self {
        Self { curve: Some(space.curve), ei: space.ei, gamut: Some(space.gamut), display: None }
    }

    /// The signal of a built-in display.
    pub fn display(name: &str) -> Self {
        Self { curve: None, ei: None, gamut: None, display: Some(name.to_owned()) }
    }

    fn make(&self, with: &dyn Context) -> Result<Given, Refusals> {
        let refuse = |key: &str, why: String| Err(Invalid::new(key, why).into());
        match (&self.curve, &self.gamut, &self.display) {
            (None, None, Some(name)) => match display::standard(name) {
                Some(standard) => Ok(Given::Display(Box::new(Display::of(standard)))),
                None => refuse("display", unknown("display", name, display::STANDARDS.map(|s| s.name))),
            },
            (Some(curve), Some(gamut), None) => {
                let space = Space { curve: curve.clone(), ei: self.ei, gamut: gamut.clone() };
                space.make(with).map(Given::Light)
            }
            (_, _, Some(_)) => refuse("display", "stands alone: a display, or a curve and a gamut".to_owned()),
            (None, _, None) => refuse("", "needs `curve` and `gamut`, or `display`".to_owned()),
            (Some(_), None, None) => refuse("", "needs `gamut` beside `curve`".to_owned()),
        }
    }

    fn describe(&self) -> String {
        match (&self.display, &self.curve, &self.gamut) {
            (Some(display), ..) => format!("signal of the display {display}"),
            (None, Some(curve), Some(gamut)) => {
                Space { curve: curve.clone(), ei: self.ei, gamut: gamut.clone() }.describe()
            }
            _ => String::new(),
        }
    }
}

impl StepSettings for CubeSettings {
    const NAME: &'static str = "cube";
    const TITLE: &'static str = "Cube";
    const HELP: &'static str = "A cube file that the crew supplies.";
    const ROLE: Role = Role::Either;
    const EXAMPLE: &'static str = "file = \"own.cube\"\nstrength = 0.5\nexpects = { curve = \"acescct\", gamut = \"aces-ap1\" }\ngives = { curve = \"acescct\", gamut = \"aces-ap1\" }";
    const EXTREMES: &'static [Extremes] =
        &[extremes("strength", "little of the cube is seen", "all of the cube is seen, with its faults")];

    fn make(&self, with: &dyn Context) -> Result<Maths, Refusals> {
        let cube = within("file", with.cube(&self.file));
        let expects = within("expects", self.expects.make(with));
        let ((cube, expects), gives) = both(both(cube, expects), within("gives", self.gives.make(with)))?;
        match gives {
            Given::Light(gives) => SceneCube::new(cube, self.interpolation, expects, gives, self.strength)
                .map(Maths::scene)
                .map_err(Refusals::from),
            Given::Display(_) if self.strength != 1.0 => {
                let why = "only for a cube that gives scene light: display signal is taken whole";
                Err(Invalid::new("strength", why).into())
            }
            Given::Display(display) => {
                Ok(Maths::rendering(DisplayCube::new(cube, self.interpolation, expects, *display)))
            }
        }
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let part = match self.strength {
            1.0 => String::new(),
            strength => format!(", at {} of its strength", percent(strength)),
        };
        let (file, by) = (&self.file, self.interpolation.name());
        format!(
            "The file {file}{part}: takes {}, gives {}; {by} reading.",
            self.expects.describe(),
            self.gives.describe()
        )
    }

    fn is_rendering(&self) -> bool {
        self.gives.display.is_some()
    }
}

/// A log and a gamut: what a cube's input or output means.
#[derive(Debug, Clone)]
pub struct LogSpace {
    curve: Arc<dyn Transfer>,
    from_ap1: Matrix3<f64>,
    to_ap1: Matrix3<f64>,
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
#[derive(Debug, Clone)]
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
        (self.to_xyz * Vector3::from(bounded(self.gives.decode(signal).0))).into()
    }
}

impl OnScene for SceneCube {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

impl Renders for DisplayCube {
    fn compile(&self, white: Xy, _: f64) -> Result<Compiled, Refusals> {
        Ok(Compiled::new(self.to_white(white)))
    }
}

impl Rendered for DisplayCube {
    fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.render(rgb)
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

//! `balance`: the light on the scene carried from one white to another, as a camera's white balance does afterwards.
//!
//! Whites are as a camera balanced for D65 sees them: `from` 3200 K makes tungsten light neutral, `to` is D65 by default.

use super::words::{plain, signed};
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, Uncast, both, extremes, within};
use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::gamut::{AP1, NO_WHITE};
use crate::invalid::{Invalid, Refusals};
use crate::setting::settings;
use crate::spectrum::locus_white;
use nalgebra::{Matrix3, Vector3};

pub use crate::spectrum::locus::{KELVIN, TINT};

settings! {
    "WhiteDoc",
    /// A white: kelvin with a tint, or x and y.
    #[derive(Copy)]
    pub struct White {
        /// Its correlated colour temperature.
        kelvin: Option<f64> = Some(KELVIN.default), Number(&KELVIN);
        /// How far it lies beside the locus, with `kelvin`.
        tint: Option<f64> = None, Number(&TINT);
        /// CIE 1931 x and y, instead of kelvin.
        xy: Option<[f64; 2]> = None, Xy;
    }
}

settings! {
    "BalanceDoc",
    /// One white carried to another.
    #[derive(Copy)]
    pub struct BalanceSettings {
        /// The white of the light on the scene, as a camera balanced for D65 sees it.
        from: White = White::default(), Table(&White::SHAPE), required;
        /// The white that it becomes; default: D65.
        to: Option<White> = None, Table(&White::SHAPE);
        /// Chromatic adaptation.
        adaptation: Adaptation = Adaptation::Bradford, Choice(|| Adaptation::ALL.map(|a| a.name()).to_vec());
    }
}

impl White {
    /// By temperature.
    pub const fn kelvin(kelvin: f64) -> Self {
        Self { kelvin: Some(kelvin), tint: None, xy: None }
    }

    /// Its chromaticity.
    ///
    /// # Errors
    /// Neither kelvin nor x and y, or both; values out of [`KELVIN`] and [`TINT`].
    pub fn make(&self) -> Result<Xy, Refusals> {
        let refuse = |key: &str, why: &str| Err(Invalid::new(key, why).into());
        match (self.kelvin, self.xy) {
            (Some(kelvin), None) => white(kelvin, self.tint.unwrap_or(TINT.default)).map_err(Refusals::from),
            (None, Some(_)) if self.tint.is_some() => refuse("tint", "goes with `kelvin`, not with `xy`"),
            (None, Some(xy)) => Ok(Xy::new(xy[0], xy[1])),
            (None, None) => refuse("", "needs `kelvin` or `xy`"),
            (Some(_), Some(_)) => refuse("xy", "states the same as `kelvin`: give one of the two"),
        }
    }

    fn describe(&self) -> String {
        match (self.kelvin, self.xy) {
            (Some(kelvin), _) => {
                let tint = self.tint.filter(|tint| *tint != 0.0);
                let tint = tint.map(|tint| format!(" with a tint of {} {}", signed(tint), TINT.unit));
                format!("{} K{}", plain(kelvin), tint.unwrap_or_default())
            }
            (None, Some([x, y])) => format!("x {} y {}", plain(x), plain(y)),
            (None, None) => String::new(),
        }
    }
}

/// D65 as a colour temperature, where a balance leads when it says nothing else.
const D65_KELVIN: f64 = 6504.0;

impl StepSettings for BalanceSettings {
    const NAME: &'static str = "balance";
    const TITLE: &'static str = "White balance";
    const HELP: &'static str = "One white carried to another.";
    const ROLE: Role = Role::Scene;
    const EXAMPLE: &'static str = "from = { kelvin = 5400 }";
    const EXTREMES: &'static [Extremes] = &[
        extremes("from.kelvin", "the picture turns blue: the light was warmer than it is", "the picture turns orange"),
        extremes("from.tint", "the picture turns green", "the picture turns magenta"),
        extremes("to.kelvin", "the picture turns orange", "the picture turns blue"),
        extremes("to.tint", "the picture turns magenta", "the picture turns green"),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        let to = self.to.map_or(Ok(D65), |to| to.make());
        let (from, to) = both(within("from", self.from.make()), within("to", to))?;
        Balance::new(from, to, self.adaptation).map(Maths::scene)
    }

    fn describe(&self, stated: &dyn Fn(&str) -> bool) -> String {
        let to = self.to.map_or("neutral (D65)".to_owned(), |to| to.describe());
        let cold = self.to.map_or(Some(D65_KELVIN), |to| to.kelvin);
        let turns = match self.from.kelvin.zip(cold) {
            Some((from, to)) if from < to => "; the whole picture turns cooler",
            Some((from, to)) if from > to => "; the whole picture turns warmer",
            _ => "",
        };
        let by = if stated("adaptation") { format!(", by {}", self.adaptation.name()) } else { String::new() };
        format!("A light of {} becomes {to}{by}{turns}.", self.from.describe())
    }
}

/// One matrix on scene light. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    matrix: Matrix3<f64>,
}

/// A white by temperature and tint.
///
/// # Errors
/// Values out of [`KELVIN`] and [`TINT`].
pub fn white(kelvin: f64, tint: f64) -> Result<Xy, Invalid> {
    locus_white(kelvin, tint)
}

impl Balance {
    /// From one white to another through `adaptation`.
    ///
    /// # Errors
    /// A white that is no light, under `from` or `to`.
    pub fn new(from: Xy, to: Xy, adaptation: Adaptation) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        for (key, white) in [("from", from), ("to", to)] {
            if !(white.y > 0.01 && white.x > 0.0 && white.x + white.y < 1.0) {
                refusals.push(
                    key,
                    format!("x {}, y {} is not a white: x, y and 1 - x - y must be above 0", white.x, white.y),
                );
            } else if !adaptation.sees(white) {
                refusals.push(key, NO_WHITE);
            }
        }
        let to_d65 = Adaptation::Bradford.matrix(AP1.white, D65) * AP1.to_xyz();
        let from_d65 = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white);
        refusals.finish(|| Self { matrix: from_d65 * adaptation.matrix(from, to) * to_d65 })
    }

    /// Scene light before to scene light after, a column vector on its right.
    pub const fn matrix(&self) -> &Matrix3<f64> {
        &self.matrix
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        (self.matrix * Vector3::from(rgb)).into()
    }
}

impl OnScene for Balance {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }

    fn uncast(&self) -> Uncast {
        Uncast::Nothing
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chromaticity::A;

    #[test]
    fn the_light_of_from_becomes_neutral() {
        let tungsten = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white) * A.to_xyz(0.18);
        for adaptation in [Adaptation::Bradford, Adaptation::Cat02, Adaptation::Cat16, Adaptation::VonKries] {
            let out = Balance::new(A, D65, adaptation).unwrap().apply(tungsten.into());
            assert!(out.iter().all(|c| (c - 0.18).abs() < 1e-13), "{adaptation:?}: {out:?}");
        }
    }

    #[test]
    fn there_and_back_is_the_identity() {
        let warm = white(3200.0, 4.0).unwrap();
        let there = Balance::new(warm, D65, Adaptation::Bradford).unwrap();
        let back = Balance::new(D65, warm, Adaptation::Bradford).unwrap();
        let out = back.apply(there.apply([0.2, 0.5, 0.9]));
        assert!(out.iter().zip([0.2, 0.5, 0.9]).all(|(a, b)| (a - b).abs() < 1e-13));
    }

    #[test]
    fn no_white_is_refused() {
        assert_eq!(Balance::new(Xy::new(0.3, 0.0), D65, Adaptation::Bradford).unwrap_err()[0].key, "from");
        assert_eq!(Balance::new(D65, Xy::new(f64::NAN, 0.3), Adaptation::Bradford).unwrap_err()[0].key, "to");
        assert!(white(500.0, 0.0).is_err() && white(5600.0, 90.0).is_err());
    }
}

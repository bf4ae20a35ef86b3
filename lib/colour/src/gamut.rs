//! RGB gamuts: three primaries and a white, and the matrices that follow from them.
//!
//! Components are linear light red, green, blue, unbounded; 1, 1, 1 is the gamut's white at Y = 1. Every matrix is
//! derived here in f64 by SMPTE RP 177-1993; the rounded ones that documents print are what the tests compare with.
//! Each catalogue entry names the document of its primaries.

mod catalogue;

pub use catalogue::{
    ADOBE_RGB, AP0, AWG3, AWG4, CATALOGUE, CINEMA_GAMUT, DGAMUT, FGAMUT, NGAMUT, Named, REDWIDEGAMUT, SGAMUT, SGAMUT3,
    SGAMUT3_CINE, VGAMUT, named_gamut,
};

use crate::adaptation::Adaptation;
use crate::chromaticity::{ACES, D65, DCI, E, Xy};
use crate::invalid::Refusals;
use nalgebra::{Matrix3, Vector3};

/// Three primaries, a white, and the adaptation that carries this white to another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gamut {
    /// Chromaticities of red, green and blue.
    pub primaries: [Xy; 3],
    /// Chromaticity of 1, 1, 1.
    pub white: Xy,
    /// The adaptation used when another white is asked for and none is named: the one in the maker's own published
    /// matrices for a camera gamut, Bradford elsewhere.
    pub adaptation: Adaptation,
}

/// What to say of a white that [`Adaptation::sees`] refuses.
pub(crate) const NO_WHITE: &str = "is too far from any light's white to be adapted";

/// CIE XYZ itself, as a gamut. Conversions from and to it never adapt: XYZ has no white of its own.
pub const XYZ: Gamut = Gamut {
    primaries: [Xy::new(1.0, 0.0), Xy::new(0.0, 1.0), Xy::new(0.0, 0.0)],
    white: E,
    adaptation: Adaptation::None,
};

/// ACES AP1, the working gamut of scene light (Academy S-2014-004, "ACEScg", 2014).
pub const AP1: Gamut = Gamut {
    primaries: xy3([0.713, 0.293], [0.165, 0.830], [0.128, 0.044]),
    white: ACES,
    adaptation: Adaptation::Bradford,
};

/// ITU-R BT.709-6 (2015), items 1.3 and 1.4.
pub const BT709: Gamut = Gamut {
    primaries: xy3([0.640, 0.330], [0.300, 0.600], [0.150, 0.060]),
    white: D65,
    adaptation: Adaptation::Bradford,
};

/// ITU-R BT.2020-2 (2015), table 3; the same primaries in ITU-R BT.2100-2 (2018).
pub const BT2020: Gamut = Gamut {
    primaries: xy3([0.708, 0.292], [0.170, 0.797], [0.131, 0.046]),
    white: D65,
    adaptation: Adaptation::Bradford,
};

/// The primaries of SMPTE RP 431-2:2011 with D65, as SMPTE EG 432-1:2010 gives them.
pub const P3_D65: Gamut = Gamut {
    primaries: xy3([0.680, 0.320], [0.265, 0.690], [0.150, 0.060]),
    white: D65,
    adaptation: Adaptation::Bradford,
};

/// The primaries and the calibration white of SMPTE RP 431-2:2011.
pub const P3_DCI: Gamut = Gamut { white: DCI, ..P3_D65 };

const fn xy3(red: [f64; 2], green: [f64; 2], blue: [f64; 2]) -> [Xy; 3] {
    [Xy::new(red[0], red[1]), Xy::new(green[0], green[1]), Xy::new(blue[0], blue[1])]
}

impl Gamut {
    /// A gamut from a document: refuses a flat triangle, a white outside the triangle or without luminance.
    ///
    /// # Errors
    /// Each refusal under the key `primaries` or `white`.
    pub fn new(primaries: [Xy; 3], white: Xy, adaptation: Adaptation) -> Result<Self, Refusals> {
        let gamut = Self { primaries, white, adaptation };
        let mut refusals = Refusals::new();
        let all = primaries.iter().chain([&white]);
        if !all.clone().all(|c| c.x.is_finite() && c.y.is_finite()) {
            refusals.push("primaries", "must be finite numbers");
        } else if white.y <= 0.0 {
            refusals.push("white", "must have y above 0");
        } else {
            match gamut.chromaticities().try_inverse().filter(|i| i.iter().all(|v| v.abs() < 1e6)) {
                None => refusals.push("primaries", "red, green and blue lie on one line: they must span a triangle"),
                // Written so that what overflows is refused too.
                Some(inverse) if !(inverse * white.to_xyz(1.0)).iter().all(|w| *w > 0.0 && w.is_finite()) => {
                    refusals.push("white", "must lie inside the triangle of the primaries");
                }
                Some(_) if !adaptation.sees(white) => refusals.push("white", NO_WHITE),
                Some(_) => {}
            }
        }
        refusals.finish(|| gamut)
    }

    /// Columns x, y, z of the three primaries (RP 177-1993, 3.3.2).
    fn chromaticities(&self) -> Matrix3<f64> {
        Matrix3::from_columns(&self.primaries.map(|p| Vector3::new(p.x, p.y, 1.0 - p.x - p.y)))
    }

    /// The normalised primary matrix (RP 177-1993, 3.3): linear RGB to XYZ under this gamut's own white, Y of white 1.
    pub fn to_xyz(&self) -> Matrix3<f64> {
        let primaries = self.chromaticities();
        let inverse = primaries.try_inverse().expect("a gamut spans a triangle");
        primaries * Matrix3::from_diagonal(&(inverse * self.white.to_xyz(1.0)))
    }

    /// XYZ under this gamut's own white to linear RGB.
    pub fn from_xyz(&self) -> Matrix3<f64> {
        self.to_xyz().try_inverse().expect("a gamut spans a triangle")
    }

    /// Linear RGB of this gamut to linear RGB of `other`, white carried to white by `adaptation` (default: this
    /// gamut's own, or the other's where this one is a Bradford gamut). From or to [`XYZ`], no white is carried.
    pub fn to(&self, other: &Self, adaptation: Option<Adaptation>) -> Matrix3<f64> {
        if self == other {
            return Matrix3::identity();
        }
        other.from_xyz() * self.adaptation_to(other, adaptation).matrix(self.white, other.white) * self.to_xyz()
    }

    /// The adaptation that [`to`](Self::to) uses.
    pub fn adaptation_to(&self, other: &Self, adaptation: Option<Adaptation>) -> Adaptation {
        if *self == XYZ || *other == XYZ {
            return Adaptation::None;
        }
        adaptation.unwrap_or(match self.adaptation {
            Adaptation::Bradford => other.adaptation,
            own => own,
        })
    }

    /// The weights of red, green and blue in luminance Y: the second row of [`to_xyz`](Self::to_xyz).
    pub fn luminance_weights(&self) -> Vector3<f64> {
        self.to_xyz().row(1).transpose()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_primaries_come_back_from_the_matrix() {
        for entry in CATALOGUE {
            let matrix = entry.gamut.to_xyz();
            for (column, primary) in entry.gamut.primaries.iter().enumerate() {
                let got = Xy::from_xyz(&matrix.column(column).into_owned()).unwrap();
                assert!((got.x - primary.x).abs() < 1e-14 && (got.y - primary.y).abs() < 1e-14, "{}", entry.name);
            }
            let white = matrix * Vector3::new(1.0, 1.0, 1.0);
            assert!((white - entry.gamut.white.to_xyz(1.0)).norm() < 1e-14, "{}", entry.name);
        }
    }

    #[test]
    fn white_stays_white_between_any_two() {
        for a in CATALOGUE.iter().filter(|g| g.gamut != XYZ) {
            for b in CATALOGUE.iter().filter(|g| g.gamut != XYZ) {
                let white = a.gamut.to(&b.gamut, None) * Vector3::new(1.0, 1.0, 1.0);
                assert!((white - Vector3::new(1.0, 1.0, 1.0)).norm() < 2e-14, "{} to {}", a.name, b.name);
            }
        }
    }

    #[test]
    fn to_and_back_is_the_identity() {
        for a in CATALOGUE {
            for b in CATALOGUE {
                let there_and_back = b.gamut.to(&a.gamut, None) * a.gamut.to(&b.gamut, None);
                assert!((there_and_back - Matrix3::identity()).norm() < 1e-12, "{} to {}", a.name, b.name);
            }
        }
    }

    #[test]
    fn a_bad_triangle_is_refused_under_its_key() {
        let line = xy3([0.1, 0.1], [0.2, 0.2], [0.3, 0.3]);
        assert_eq!(Gamut::new(line, D65, Adaptation::Bradford).unwrap_err()[0].key, "primaries");
        assert_eq!(Gamut::new(BT709.primaries, Xy::new(0.7, 0.2), Adaptation::Bradford).unwrap_err()[0].key, "white");
        assert_eq!(Gamut::new(BT709.primaries, Xy::new(0.3, 0.0), Adaptation::Bradford).unwrap_err()[0].key, "white");
        let nan = xy3([f64::NAN, 0.1], [0.2, 0.2], [0.3, 0.3]);
        assert!(Gamut::new(nan, D65, Adaptation::Bradford).is_err());
        assert_eq!(Gamut::new(BT709.primaries, D65, Adaptation::Bradford).unwrap(), BT709);
    }

    #[test]
    fn names_are_unique() {
        for (i, entry) in CATALOGUE.iter().enumerate() {
            assert!(CATALOGUE[..i].iter().all(|other| other.name != entry.name));
            assert_eq!(named_gamut(entry.name).unwrap().name, entry.name);
        }
        assert!(named_gamut("bt710").is_none());
    }
}

//! Chromatic adaptation: how a colour under one white is carried to another white.
//!
//! Each method scales the responses of its own cones by the ratio of the two whites (von Kries' rule), as a 3x3 matrix
//! on XYZ. Domain and range: relative XYZ, unbounded.

use crate::chromaticity::Xy;
use nalgebra::Matrix3;

/// A method of chromatic adaptation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Adaptation {
    /// Bradford (ICC.1:2022 Annex E.3, the linear form).
    #[default]
    Bradford,
    /// CAT02 (CIE 159:2004, CIECAM02).
    Cat02,
    /// CAT16 (Li et al., "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS", 2017).
    Cat16,
    /// Von Kries on Hunt-Pointer-Estevez cones normalised to D65 (Fairchild, "Color Appearance Models", 2013).
    VonKries,
    /// No adaptation: XYZ is kept, and white changes.
    None,
}

#[rustfmt::skip]
mod cones {
    pub(super) const BRADFORD: [[f64; 3]; 3] = [
        [ 0.8951,  0.2664, -0.1614],
        [-0.7502,  1.7135,  0.0367],
        [ 0.0389, -0.0685,  1.0296],
    ];
    pub(super) const CAT02: [[f64; 3]; 3] = [
        [ 0.7328, 0.4296, -0.1624],
        [-0.7036, 1.6975,  0.0061],
        [ 0.0030, 0.0136,  0.9834],
    ];
    pub(super) const CAT16: [[f64; 3]; 3] = [
        [ 0.401288, 0.650173, -0.051461],
        [-0.250268, 1.204414,  0.045854],
        [-0.002079, 0.048952,  0.953127],
    ];
    pub(super) const VON_KRIES: [[f64; 3]; 3] = [
        [ 0.40024, 0.70760, -0.08081],
        [-0.22630, 1.16532,  0.04570],
        [ 0.00000, 0.00000,  0.91822],
    ];
}

crate::named!(Adaptation, "adaptation", { Bradford => "bradford", Cat02 => "cat02", Cat16 => "cat16", VonKries => "von-kries", None => "none" });

impl Adaptation {
    /// XYZ to the cones' responses; `None` where nothing is adapted.
    fn cones(self) -> Option<Matrix3<f64>> {
        match self {
            Self::None => None,
            Self::Bradford => Some(matrix_of(cones::BRADFORD)),
            Self::Cat02 => Some(matrix_of(cones::CAT02)),
            Self::Cat16 => Some(matrix_of(cones::CAT16)),
            Self::VonKries => Some(matrix_of(cones::VON_KRIES)),
        }
    }

    /// Whether every cone responds to `white`, so that there is a matrix from it and to it.
    pub fn sees(self, white: Xy) -> bool {
        let responds = |cone: Matrix3<f64>| (cone * white.to_xyz(1.0)).iter().all(|c| *c > 1e-3 && c.is_finite());
        self.cones().is_none_or(responds)
    }

    /// The matrix from XYZ under `from` to XYZ under `to`, a column vector on its right. The identity for equal whites.
    pub fn matrix(self, from: Xy, to: Xy) -> Matrix3<f64> {
        let Some(cone) = self.cones().filter(|_| from != to) else { return Matrix3::identity() };
        let inverse = cone.try_inverse().expect("every cone matrix above is invertible");
        let scale = (cone * to.to_xyz(1.0)).component_div(&(cone * from.to_xyz(1.0)));
        inverse * Matrix3::from_diagonal(&scale) * cone
    }
}

/// A matrix from its three rows.
pub(crate) fn matrix_of(rows: [[f64; 3]; 3]) -> Matrix3<f64> {
    Matrix3::from_fn(|r, c| rows[r][c])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chromaticity::{A, ACES, D50, D65};

    #[test]
    fn white_goes_to_white_and_back() {
        for method in Adaptation::ALL.into_iter().filter(|m| *m != Adaptation::None) {
            for (from, to) in [(D65, ACES), (A, D65), (D50, D65)] {
                let there = method.matrix(from, to);
                assert!((there * from.to_xyz(1.0) - to.to_xyz(1.0)).norm() < 1e-14, "{method:?}");
                assert!((method.matrix(to, from) * there - Matrix3::identity()).norm() < 1e-13, "{method:?}");
            }
        }
    }

    #[test]
    fn a_white_that_no_cone_sees_is_known() {
        for method in Adaptation::ALL {
            assert!([A, D65, D50, ACES].into_iter().all(|white| method.sees(white)));
            for none in [Xy::new(0.3, 1e-320), Xy::new(f64::NAN, 0.3), Xy::new(0.3, f64::INFINITY)] {
                assert_eq!(method.sees(none), method == Adaptation::None);
            }
        }
        assert!(!Adaptation::Bradford.sees(Xy::new(0.04, 0.95)));
    }

    #[test]
    fn names_are_unique_and_found() {
        for method in Adaptation::ALL {
            assert_eq!(Adaptation::from_name(method.name()), Some(method));
        }
        assert_eq!(Adaptation::from_name("bradfrod"), None);
    }
}

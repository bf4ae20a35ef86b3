//! The matrix of a camera whose colours no three primaries can state.

use crate::chromaticity::D65;
use crate::invalid::{Invalid, Refusals};
use nalgebra::{Matrix3, Vector3};

/// White may be off by this much in X, Y or Z where a matrix is stated in few decimals; the rest is shared among the row.
pub const WHITE_KEPT: f64 = 0.002;

/// Camera light to XYZ under D65, a column vector on its right: 1, 1, 1 gives the white of D65 at Y = 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightMatrix {
    to_xyz: Matrix3<f64>,
    from_xyz: Matrix3<f64>,
}

impl LightMatrix {
    /// From its numbers; what white lacks by rounding is shared among each row.
    ///
    /// # Errors
    /// Under no key: numbers that are not finite, a white that is not D65 within [`WHITE_KEPT`], a matrix without an inverse.
    pub fn new(to_xyz: Matrix3<f64>) -> Result<Self, Refusals> {
        let refuse = |why: String| Err(Invalid::new("", why).into());
        if !to_xyz.iter().all(|v| v.abs() < 1e3) {
            return refuse("must be numbers within -1000 to 1000".to_owned());
        }
        let white = D65.to_xyz(1.0);
        let lacks: Vector3<f64> = white - to_xyz * Vector3::repeat(1.0);
        if lacks.iter().any(|v| v.abs() > WHITE_KEPT) {
            return refuse(format!(
                "does not keep white: its rows must sum to the XYZ of D65, {:.4}, {:.4} and {:.4}",
                white.x, white.y, white.z
            ));
        }
        let to_xyz = Matrix3::from_fn(|r, c| to_xyz[(r, c)] + lacks[r] / 3.0);
        match to_xyz.try_inverse().filter(|i| i.iter().all(|v| v.abs() < 1e4)) {
            Some(from_xyz) => Ok(Self { to_xyz, from_xyz }),
            None => refuse("has no inverse: two of its channels see the same".to_owned()),
        }
    }

    /// Camera light to XYZ under D65.
    pub const fn to_xyz(&self) -> &Matrix3<f64> {
        &self.to_xyz
    }

    /// XYZ under D65 to camera light.
    pub const fn from_xyz(&self) -> &Matrix3<f64> {
        &self.from_xyz
    }
}

/// The matrix of a light between two, by reciprocal kelvin; beyond them, that of the nearer. Both keep white, and so does
/// what lies between.
pub fn between(one: (&Matrix3<f64>, f64), two: (&Matrix3<f64>, f64), kelvin: f64) -> Matrix3<f64> {
    let (a, b) = (1.0 / one.1, 1.0 / two.1);
    let share = if a == b { 0.0 } else { ((1.0 / kelvin - a) / (b - a)).clamp(0.0, 1.0) };
    one.0 + (two.0 - one.0) * share
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::BT2020;

    #[test]
    fn white_is_kept_exactly_and_what_does_not_keep_it_is_refused() {
        let rounded = BT2020.to_xyz().map(|v| (v * 1e3).round() / 1e3);
        let matrix = LightMatrix::new(rounded).unwrap();
        assert!((matrix.to_xyz() * Vector3::repeat(1.0) - D65.to_xyz(1.0)).norm() < 1e-15);
        assert!((matrix.from_xyz() * matrix.to_xyz() - Matrix3::identity()).norm() < 1e-12);
        for bad in [Matrix3::identity(), Matrix3::repeat(f64::NAN), Matrix3::from_fn(|r, _| D65.to_xyz(1.0)[r] / 3.0)] {
            assert!(LightMatrix::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn between_is_even_in_reciprocal_kelvin() {
        let (a, b) = (Matrix3::identity(), Matrix3::identity() * 3.0);
        let middle = 2.0 / (1.0 / 2856.0 + 1.0 / 6504.0);
        assert!((between((&a, 2856.0), (&b, 6504.0), middle) - a * 2.0).norm() < 1e-12);
        assert_eq!(between((&a, 2856.0), (&b, 6504.0), 2000.0), a);
        assert_eq!(between((&a, 2856.0), (&b, 6504.0), 9000.0), b);
    }
}

//! Oklab (Ottosson, "A perceptual color space for image processing", 2020): lightness, and two axes on which a hue is an
//! angle.
//!
//! A light keeps its hue in Oklab whatever its level, since cube roots keep ratios; mixed with white at a constant hue,
//! it looks of one hue far better than on a straight line of CIE x, y.

use crate::colour::{Oklab, Xyz};
use crate::math;
use nalgebra::Matrix3;

/// XYZ under D65 to LMS, as printed.
pub const XYZ_TO_LMS: [[f64; 3]; 3] = [
    [0.8189330101, 0.3618667424, -0.1288597137],
    [0.0329845436, 0.9293118715, 0.0361456387],
    [0.0482003018, 0.2643662691, 0.6338517070],
];

/// Cube roots of LMS to L, a, b, as printed.
pub const LMS_TO_LAB: [[f64; 3]; 3] = [
    [0.2104542553, 0.7936177850, -0.0040720468],
    [1.9779984951, -2.4285922050, 0.4505937099],
    [0.0259040371, 0.7827717662, -0.8086757660],
];

/// L, a, b to the cube roots of cone responses, as printed: rounded apart from [`LMS_TO_LAB`], whose inverse it is.
pub const LAB_TO_ROOTS: [[f64; 3]; 3] =
    [[1.0, 0.3963377774, 0.2158037573], [1.0, -0.1055613458, -0.0638541728], [1.0, -0.0894841775, -1.2914855480]];

/// Cone responses to linear light of BT.709, as printed.
pub const LMS_TO_BT709: [[f64; 3]; 3] = [
    [4.0767416621, -3.3077115913, 0.2309699292],
    [-1.2684380046, 2.6097574011, -0.3413193965],
    [-0.0041960863, -0.7034186147, 1.7076147010],
];

/// A printed matrix as one of nalgebra.
pub(crate) fn matrix(rows: &[[f64; 3]; 3]) -> Matrix3<f64> {
    Matrix3::from_fn(|r, c| rows[r][c])
}

/// L, a, b of XYZ under D65, Y = 1 at white. Domain: any finite XYZ. Range: L is 1 at white; a and b are 0 at grey to
/// within 4e-8, the rounding of the printed constants.
pub fn oklab(xyz: impl Into<Xyz>) -> Oklab {
    let times = |m: &[[f64; 3]; 3], v: [f64; 3]| m.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2]);
    Oklab(times(&LMS_TO_LAB, times(&XYZ_TO_LMS, xyz.into().0).map(math::cbrt)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The pairs that Ottosson prints with the space, rounded there to three decimals.
    #[test]
    fn the_published_pairs_are_met() {
        for (xyz, want) in [
            ([0.950, 1.000, 1.089], [1.000, 0.000, 0.000]),
            ([1.000, 0.000, 0.000], [0.450, 1.236, -0.019]),
            ([0.000, 1.000, 0.000], [0.922, -0.671, 0.263]),
            ([0.000, 0.000, 1.000], [0.153, -1.415, -0.449]),
        ] {
            let got = oklab(xyz);
            assert!((0..3).all(|i| (got[i] - want[i]).abs() < 6e-4), "{xyz:?}: {got:?}");
        }
    }

    #[test]
    fn the_printed_inverse_is_that_of_the_printed_matrix() {
        let product = matrix(&LAB_TO_ROOTS) * matrix(&LMS_TO_LAB);
        assert!((product - Matrix3::identity()).amax() < 2e-7, "{product}");
    }
}

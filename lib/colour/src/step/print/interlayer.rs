//! Interlayer effects: how the density of one layer holds back its neighbours, which gives colour its strength.
//!
//! The matrix works on the negative's densities about mid-grey. Its rows sum to one, so that greys stay. It undoes what
//! the crosstalk of the layers and the side absorptions of the dyes take from the chroma, so it depends on the
//! crosstalk: the table holds the off-diagonal elements that keep the hues and chromas of a published 24-patch chart, skin
//! first, while strong colours print no brighter than the neutral curve would make them on each channel by itself.
//!
//! The effects have a limit at both ends, so that a cube can follow them:
//!
//! - They are strongest a little over mid-grey and fade towards shadows and highlights, by the mean density `m` over
//!   grey: share = 0.05 + 0.95 / (1 + v²)², with v = (m - 0.1) / 0.5 above the peak and / 0.9 below it. In the shadows the
//!   contrast of the print gives chroma by itself, and what strengthens the chroma of a near-white has to be cut off by
//!   the display. (Without it a chart's dark skin has 1.25 of its chroma where light skin has 0.91.)
//! - They level off where the three densities `n` are far apart: share / (1 + (Σ (n - m)² / 0.25²)²)^(1/4). Otherwise the
//!   stronger a pure green becomes the more it darkens itself, and a stop more light makes no difference.

use super::density::hermite;
use super::{apply, rows};
use nalgebra::Matrix3;

/// From one row of the table to the next, in crosstalk.
const STEP: f64 = 0.01;

/// Off-diagonal elements at crosstalk 0.00, 0.01, ... 0.10: red from green and blue, green from red and blue, blue from
/// red and green. Fitted by `tests/reference/make/interlayer_fit.py`, which prints this table.
#[allow(clippy::approx_constant, reason = "fitted: an element lies near log10 of e by chance")]
#[rustfmt::skip]
const TABLE: [[f64; 6]; 11] = [
    [-0.5581,  0.0803, -1.2428, -0.1970, -0.2639, -0.4854],
    [-0.5788,  0.0629, -1.2745, -0.2209, -0.2792, -0.5171],
    [-0.6025,  0.0474, -1.3100, -0.2447, -0.2977, -0.5491],
    [-0.6291,  0.0334, -1.3494, -0.2688, -0.3192, -0.5816],
    [-0.6562,  0.0184, -1.3932, -0.2950, -0.3436, -0.6134],
    [-0.6774, -0.0032, -1.4430, -0.3282, -0.3713, -0.6397],
    [-0.7013, -0.0243, -1.4976, -0.3623, -0.4021, -0.6673],
    [-0.7278, -0.0454, -1.5576, -0.3977, -0.4362, -0.6967],
    [-0.7571, -0.0667, -1.6235, -0.4343, -0.4735, -0.7286],
    [-0.7903, -0.0883, -1.6949, -0.4720, -0.5136, -0.7644],
    [-0.8237, -0.1143, -1.7728, -0.5144, -0.5564, -0.8020],
];

/// The effects' peak, mean density over grey: 0.6 stop over mid-grey.
const PEAK: f64 = 0.1;
/// How far below and above the peak they have fallen to a quarter, in mean density.
const FALL: [f64; 2] = [0.9, 0.5];
/// What is left of them far from the peak.
const LEAST: f64 = 0.05;
/// The spread of densities at which they level off.
const LEVEL: f64 = 0.25;

/// The interlayer effects of a print: see the module.
#[derive(Debug, Clone)]
pub struct Interlayer {
    /// The full effect less the identity.
    effect: [[f64; 3]; 3],
}

impl Interlayer {
    /// Those at `crosstalk` (0 to 0.1) and `strength` (0 = none, 1 = as fitted).
    pub fn new(crosstalk: f64, strength: f64) -> Self {
        Self { effect: rows(&(interlayer_matrix(crosstalk, strength) - Matrix3::identity())) }
    }

    /// Densities of the negative over mid-grey to the same with the effects; equal densities stay.
    #[inline(always)]
    pub fn apply(&self, densities: [f64; 3]) -> [f64; 3] {
        let [red, green, blue] = densities;
        let mean = (red + green + blue) / 3.0;
        let fall = if mean < PEAK { FALL[0] } else { FALL[1] };
        let v = (mean - PEAK) / fall;
        let q = 1.0 + v * v;
        let (r, g, b) = (red - mean, green - mean, blue - mean);
        let spread = (r * r + g * g + b * b) / (LEVEL * LEVEL);
        let share = (LEAST + (1.0 - LEAST) / (q * q)) / (1.0 + spread * spread).sqrt().sqrt();
        let effect = apply(&self.effect, densities);
        [red + share * effect[0], green + share * effect[1], blue + share * effect[2]]
    }
}

/// The layers' crosstalk, a matrix on linear light: `crosstalk` of each neighbour, rows summing to one.
pub fn crosstalk_matrix(crosstalk: f64) -> Matrix3<f64> {
    Matrix3::from_fn(|r, c| if r == c { 1.0 - 2.0 * crosstalk } else { crosstalk })
}

/// The interlayer matrix on densities over mid-grey, for `crosstalk` (0 to 0.1) at `strength` (0 = none, 1 = as fitted).
pub fn interlayer_matrix(crosstalk: f64, strength: f64) -> Matrix3<f64> {
    let [rg, rb, gr, gb, br, bg] = off_diagonal(crosstalk).map(|k| k * strength);
    Matrix3::new(1.0 - rg - rb, rg, rb, gr, 1.0 - gr - gb, gb, br, bg, 1.0 - br - bg)
}

/// The table between its rows: cubic Hermite with central differences, smooth in value and slope.
fn off_diagonal(crosstalk: f64) -> [f64; 6] {
    let position = (crosstalk / STEP).clamp(0.0, (TABLE.len() - 1) as f64);
    let i = (position as usize).min(TABLE.len() - 2);
    let t = position - i as f64;
    std::array::from_fn(|k| {
        let value = |row: usize| TABLE[row][k];
        let slope = |row: usize| match row {
            0 => value(1) - value(0),
            r if r == TABLE.len() - 1 => value(r) - value(r - 1),
            r => 0.5 * (value(r + 1) - value(r - 1)),
        };
        hermite(t, [value(i), value(i + 1)], [slope(i), slope(i + 1)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;

    #[test]
    fn greys_stay() {
        for i in 0..=50 {
            let crosstalk = f64::from(i) * 0.002;
            for strength in [0.0, 0.5, 1.0, 1.5] {
                let ones = Vector3::repeat(1.0);
                assert!((interlayer_matrix(crosstalk, strength) * ones - ones).norm() < 1e-15);
                assert!((crosstalk_matrix(crosstalk) * ones - ones).norm() < 1e-15);
            }
        }
        assert_eq!(interlayer_matrix(0.04, 0.0), Matrix3::identity());
    }

    #[test]
    fn the_table_is_met_and_joined_smoothly() {
        for (i, row) in TABLE.iter().enumerate() {
            let at = off_diagonal(i as f64 * STEP);
            assert!(at.iter().zip(row).all(|(a, b)| (a - b).abs() < 1e-12));
        }
        for i in 1..100 {
            let at = |j: f64| off_diagonal(j * 0.001);
            let (a, b, c) = (at(f64::from(i) - 1.0), at(f64::from(i)), at(f64::from(i) + 1.0));
            for k in 0..6 {
                assert!((a[k] - 2.0 * b[k] + c[k]).abs() < 5e-4, "a bend at {i}");
            }
        }
    }
}

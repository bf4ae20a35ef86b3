//! Interlayer effects: how the density of one layer holds back its neighbours, which gives colour its strength.
//!
//! The matrix works on the negative's densities about mid-grey. Its rows sum to one, so that greys stay. It undoes what
//! the crosstalk of the layers and the side absorptions of the dyes take from the chroma, so it depends on the
//! crosstalk: the table holds the off-diagonal elements that keep the hues and chromas of a published 24-patch chart while
//! strong colours print no brighter than the neutral curve would make them on each channel by itself.

use super::density::hermite;
use nalgebra::Matrix3;

/// From one row of the table to the next, in crosstalk.
const STEP: f64 = 0.01;

/// Off-diagonal elements at crosstalk 0.00, 0.01, ... 0.10: red from green and blue, green from red and blue, blue from
/// red and green. Fitted by `tests/reference/interlayer_fit.py`, which prints this table.
#[rustfmt::skip]
const TABLE: [[f64; 6]; 11] = [
[-0.3085, -0.0009, -0.7951, -0.2053, -0.0663, -0.3033],
    [-0.3248, -0.0186, -0.8291, -0.2297, -0.0733, -0.3273],
    [-0.3442, -0.0318, -0.8675, -0.2499, -0.0841, -0.3546],
    [-0.3654, -0.0447, -0.9087, -0.2702, -0.0964, -0.3839],
    [-0.3883, -0.0577, -0.9528, -0.2907, -0.1102, -0.4153],
    [-0.4126, -0.0713, -1.0001, -0.3124, -0.1255, -0.4483],
    [-0.4378, -0.0858, -1.0514, -0.3353, -0.1429, -0.4825],
    [-0.4648, -0.1015, -1.1063, -0.3598, -0.1618, -0.5189],
    [-0.4940, -0.1182, -1.1653, -0.3859, -0.1824, -0.5579],
    [-0.5253, -0.1365, -1.2287, -0.4140, -0.2048, -0.5997],
    [-0.5593, -0.1566, -1.2971, -0.4444, -0.2292, -0.6446],
];

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

//! Interlayer effects: how the density of one layer holds back its neighbours, which gives colour its strength.
//!
//! The matrix works on the negative's densities about mid-grey. Its rows sum to one, so that greys stay. It undoes what
//! the crosstalk of the layers and the side absorptions of the dyes take from the chroma, so it depends on the
//! crosstalk: the table holds the off-diagonal elements that keep the hues and chromas of a published 24-patch chart.

use nalgebra::Matrix3;

/// From one row of the table to the next, in crosstalk.
const STEP: f64 = 0.01;

/// Off-diagonal elements at crosstalk 0.00, 0.01, ... 0.10: red from green and blue, green from red and blue, blue from
/// red and green. Fitted by `tests/reference/interlayer_fit.py`, which prints this table.
#[rustfmt::skip]
const TABLE: [[f64; 6]; 11] = [
[-0.5343,  0.0787, -0.6580, -0.1337,  0.0609, -0.5009],
    [-0.5528,  0.0562, -0.6855, -0.1617,  0.0602, -0.5260],
    [-0.5732,  0.0338, -0.7158, -0.1901,  0.0580, -0.5532],
    [-0.5955,  0.0116, -0.7491, -0.2187,  0.0545, -0.5826],
    [-0.6199, -0.0105, -0.7856, -0.2477,  0.0494, -0.6141],
    [-0.6463, -0.0328, -0.8256, -0.2773,  0.0427, -0.6480],
    [-0.6749, -0.0552, -0.8692, -0.3076,  0.0342, -0.6845],
    [-0.7059, -0.0779, -0.9170, -0.3387,  0.0239, -0.7236],
    [-0.7396, -0.1010, -0.9693, -0.3708,  0.0115, -0.7658],
    [-0.7762, -0.1247, -1.0265, -0.4041, -0.0031, -0.8113],
    [-0.8160, -0.1492, -1.0892, -0.4389, -0.0200, -0.8606],
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

/// Cubic Hermite on one cell: values and slopes (per cell) at its ends, `t` from 0 to 1.
#[inline]
pub fn hermite(t: f64, values: [f64; 2], slopes: [f64; 2]) -> f64 {
    let s = 1.0 - t;
    let from = s * s * ((1.0 + 2.0 * t) * values[0] + t * slopes[0]);
    let to = t * t * ((3.0 - 2.0 * t) * values[1] - s * slopes[1]);
    from + to
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

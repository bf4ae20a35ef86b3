//! Middles of numbers, and planes of numbers without their slow changes.

use nalgebra::{SMatrix, SVector};

/// The middle of numbers; none of none.
pub(crate) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    match n {
        0 => None,
        n if n % 2 == 1 => Some(sorted[n / 2]),
        n => Some((sorted[n / 2 - 1] + sorted[n / 2]) / 2.0),
    }
}

/// A plane of rows of `width` numbers less the quadratic surface that fits it best by least squares.
pub(crate) fn without_surface(plane: &[f64], width: usize) -> Vec<f64> {
    let height = plane.len() / width;
    let along = |at: usize, length: usize| 2.0 * at as f64 / (length.max(2) - 1) as f64 - 1.0;
    let terms = |i: usize| {
        let (x, y) = (along(i % width, width), along(i / width, height));
        SVector::<f64, 6>::from([1.0, x, y, x * x, x * y, y * y])
    };
    let (mut normal, mut right) = (SMatrix::<f64, 6, 6>::zeros(), SVector::<f64, 6>::zeros());
    for (i, v) in plane.iter().enumerate() {
        let t = terms(i);
        normal += t * t.transpose();
        right += t * *v;
    }
    let Some(found) = normal.cholesky().map(|c| c.solve(&right)) else { return plane.to_vec() };
    plane.iter().enumerate().map(|(i, v)| v - terms(i).dot(&found)).collect()
}

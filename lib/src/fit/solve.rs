//! Conjugate gradients for the normal equations, preconditioned by each node's own block.

use super::normal::{Field, Normal};

/// Steps at most.
const STEPS: usize = 60;
/// The residual, in the preconditioner's norm, over that of the start, at which the solution is good enough: far below
/// what the samples determine.
const ENOUGH: f64 = 1e-3;

/// Changes `solution` towards the least of the quadratic form that `normal` is the derivative of, where `free` is 1;
/// where it is 0, `solution` stays.
pub(super) fn solve(normal: &Normal, size: usize, free: &Field, solution: &mut Field) {
    let inverses = normal.inverses();
    let mut product = Field::zero(size);
    normal.times(solution, &mut product);
    let mut residual = Field::zero(size);
    residual.each_plane(|blue, plane| {
        let (right, product, free) = (normal.right(blue), product.plane(blue), free.plane(blue));
        for i in 0..plane.len() {
            plane[i] = free[i] * (right[i] - product[i]);
        }
        0.0
    });
    let mut scaled = Field::zero(size);
    let mut left = inverses.times(&residual, free, &mut scaled);
    let mut direction = scaled.clone();
    let goal = ENOUGH * ENOUGH * left;
    for _ in 0..STEPS {
        if left <= goal || !left.is_normal() {
            return;
        }
        let length = left / normal.times(&direction, &mut product);
        if !length.is_finite() {
            return;
        }
        solution.add(length, &direction);
        residual.each_plane(|blue, plane| {
            let (product, free) = (product.plane(blue), free.plane(blue));
            for i in 0..plane.len() {
                plane[i] -= length * free[i] * product[i];
            }
            0.0
        });
        let before = left;
        left = inverses.times(&residual, free, &mut scaled);
        let share = left / before;
        direction.each_plane(|blue, plane| {
            for (value, scaled) in plane.iter_mut().zip(scaled.plane(blue)) {
                *value = scaled + share * *value;
            }
            0.0
        });
    }
}

//! Folds: two different lights become the same colour, and colours turn inside out between them.
//!
//! The Jacobian of camera signal to the place of a colour has the same sign of determinant wherever neighbouring colours
//! stay in their order. Where the sign is the other one, the picture is turned inside out. Where a channel is cut off it
//! is zero: that is clipping. The depth is the rate along the direction that runs backwards, per code of signal: the
//! inverse of the Frobenius norm of the inverse, which lies between the smallest singular value and its root of a third.

use super::figures::{FOLDS_DEPTH, FOLDS_SHARE};
use super::path::{CODES, Path};
use super::rays::Sweep;
use super::search::{Axis, largest};
use super::{Found, Point, Reading, Run};
use crate::cube::Cube;
use crate::test_colours;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

/// The step of signal over which a derivative is taken.
const STEP: f64 = 1e-5;
/// A shallower depth is rounding.
const SHALLOW: f64 = 1e-4;
/// From this depth on a turned colour counts in the share: over a cell of a 33-point cube it comes to a third of a unit.
const SEEN: f64 = 0.01;
/// Signals over which the share is counted.
const COUNT: usize = 4096;
/// Cells of the cube that a search may begin from.
const SEEDS: usize = 128;

/// How fast colours run backwards at a signal, per code; zero or below where they do not.
fn depth(path: &Path<'_>, signal: [f64; 3]) -> f64 {
    // A kink between the two sides of a difference could look like a fold: both sides must agree.
    let one = depth_towards(path, signal, STEP);
    if one <= 0.0 { one } else { one.min(depth_towards(path, signal, -STEP)) }
}

fn depth_towards(path: &Path<'_>, signal: [f64; 3], step: f64) -> f64 {
    // Red, green, blue and L*, a*, b* are the same way round; I, T, P are too.
    let place = |signal| Vector3::from(path.metric(path.place(signal)));
    let here = place(signal);
    let columns: [Vector3<f64>; 3] = std::array::from_fn(|channel| {
        let mut moved = signal;
        moved[channel] += step;
        (place(moved) - here) / (step * CODES)
    });
    let jacobian = Matrix3::from_columns(&columns);
    // The rows of the adjugate are the cross products of the columns.
    let [r, g, b] = columns;
    let size = (g.cross(&b).norm_squared() + b.cross(&r).norm_squared() + r.cross(&g).norm_squared()).sqrt();
    if size > 0.0 { -jacobian.determinant() / size } else { 0.0 }
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, _sweep: &Sweep<'_>, found: &mut Found) {
    let black = run.rays.black;
    let edge = 1.0 / (run.cube.size() - 1) as f64;
    // Within the domain on both sides of every difference.
    let axis = Axis::new(black + STEP, run.rays.high - STEP, edge.min(0.02));
    let inside = |p: [f64; 3]| p.map(|v| axis.low + (axis.high - axis.low) * v);
    let signals: Vec<[f64; 3]> = test_colours::uniform(1, COUNT).into_iter().map(inside).collect();
    let depths: Vec<f64> = signals.par_iter().map(|signal| depth(path, *signal)).collect();
    let depths = &depths;
    let folded = |least: f64| (0..COUNT).filter(move |i| depths[*i] > least);
    let share = 100.0 * folded(SEEN).count() as f64 / COUNT as f64;

    let mut seeds = turned_cells(run.cube, axis.low, axis.high);
    seeds.extend(folded(0.0).map(|i| signals[i]));
    let worst = largest(&|signal| depth(path, signal), &[axis; 3], &seeds).filter(|w| w.1 > SHALLOW);
    let at = worst.map(|(signal, _)| Point::of_signal(path, &run.rays, signal));
    let place = at.clone().filter(|_| share > 0.0);
    found.add(&FOLDS_DEPTH, Reading::new(worst.map_or(0.0, |w| w.1), at, None));
    found.add(&FOLDS_SHARE, Reading::new(share, place, None));
}

/// The six tetrahedra of a cell: the order in which the channels are raised.
const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

/// Centroids of the tetrahedra of a cube that are turned inside out, the deepest first.
fn turned_cells(cube: &Cube, low: f64, high: f64) -> Vec<[f64; 3]> {
    let cells = cube.size() - 1;
    let mut turned: Vec<(f64, [f64; 3])> = (0..cells * cells * cells)
        .into_par_iter()
        .flat_map_iter(|i| {
            let cell = [i % cells, i / cells % cells, i / (cells * cells)];
            ORDERS.iter().filter_map(move |order| {
                let mut at = cell;
                let mut last = Vector3::from(cube.node(at[0], at[1], at[2]));
                let mut centroid = cube.input(at[0], at[1], at[2]).map(|v| v / 4.0);
                let mut jacobian = Matrix3::zeros();
                for channel in order {
                    at[*channel] += 1;
                    let node = Vector3::from(cube.node(at[0], at[1], at[2]));
                    jacobian.set_column(*channel, &(node - last));
                    last = node;
                    let input = cube.input(at[0], at[1], at[2]);
                    centroid = std::array::from_fn(|c| centroid[c] + input[c] / 4.0);
                }
                let determinant = jacobian.determinant();
                let met = centroid.iter().all(|v| (low..=high).contains(v));
                (determinant < 0.0 && met).then_some((determinant, centroid))
            })
        })
        .collect();
    turned.sort_by(|a, b| a.0.total_cmp(&b.0));
    turned.into_iter().take(SEEDS).map(|t| t.1).collect()
}

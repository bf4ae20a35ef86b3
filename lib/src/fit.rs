//! Nodes chosen so that the interpolated cube has the least error against the exact function.
//!
//! Sampled nodes are exact, and everything between them is off to the same side wherever the function bends. A fit moves
//! each node a little, so that the differences of a whole neighbourhood are least in the sum of their squares, as the eye
//! sees them.
//!
//! | part | how |
//! | --- | --- |
//! | the whole domain | the exact function at every half step, and the square of the difference integrated over each cell |
//! | plausible colours | samples of [`crate::test_colours::plausible`], weighed in |
//! | the metric | the tensor of the display's difference ([`Difference::tensor`]) |
//! | neutrals | the grey diagonal first, by itself: it stays neutral where it was, and never falls where it never fell |
//! | range | no node leaves the range of the exact function |
//! | maximum | where a difference would be larger than before, and near the largest, nodes go back to the sampled ones |
//!
//! Sums run in a fixed order, in f64: nodes do not depend on the thread count. Of the points of an audit
//! ([`crate::audit`]) a fit sees the centres of cells, and no other.

mod cells;
mod diagonal;
mod guard;
mod normal;
mod objective;
mod samples;
mod solve;
mod tensors;

use crate::cube::{Cube, Curves, Interpolation, Reader, ShapedCube, UNIT};
use crate::difference::Difference;
use crate::invalid::{Invalid, Refusals};
use crate::pipeline::Pipeline;
use crate::test_colours;
use crate::transform::ColourTransform;
use normal::{Field, Normal, Reach};
use objective::Objective;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The most points that a cube may have to be fitted: beyond, time and memory are better spent on a larger cube.
pub const MOST_POINTS: usize = 65;

/// Plausible colours that a fit looks at: some to each node, within bounds.
const PLAUSIBLE: [usize; 2] = [20_000, 80_000];
/// What all of them count together, as a share of the whole domain.
const PLAUSIBLE_WEIGHT: f64 = 0.25;
/// Pull towards the sampled nodes, where a cell counts 1.
const RIDGE: f64 = 0.004;
/// Times that nodes which leave the range are held at its edge and the others found anew.
const CLIPS: usize = 2;

/// What a fit approximates.
#[derive(Clone, Copy)]
pub struct Target<'a> {
    /// The exact function over 0..1.
    pub exact: &'a dyn ColourTransform,
    /// How two of its values differ.
    pub difference: &'a Difference,
    /// Inputs that matter more than others.
    pub plausible: &'a [[f64; 3]],
    /// Curves in front of the cube, as [`ShapedCube`] takes them.
    pub shaper: Option<&'a Curves>,
}

/// A fitted table.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The table.
    pub table: ShapedCube,
    /// What was done.
    pub report: Report,
}

/// What a fit did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Report {
    /// The kind of reader that the nodes are for.
    #[serde(with = "crate::by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Reader>")]
    pub reader: Reader,
    /// Nodes of the cube.
    pub nodes: usize,
    /// Nodes that went back towards the sampled ones, because the maximum would have risen.
    pub held_back: usize,
    /// Largest change of a component of a node, in signal.
    pub largest_change: f64,
}

/// Fits a cube of `size` points to a pipeline, behind `shaper` where one is given.
///
/// # Errors
/// As [`fit_to`].
pub fn fit(pipeline: &Pipeline, size: usize, reader: Reader, shaper: Option<&Curves>) -> Result<Fitted, Refusals> {
    let [least, most] = PLAUSIBLE;
    let plausible = size.min(MOST_POINTS).pow(3).saturating_mul(3).clamp(least, most);
    let target = Target {
        exact: pipeline,
        difference: &Difference::on(pipeline.display()),
        plausible: &test_colours::plausible(pipeline.camera(), 1, plausible),
        shaper,
    };
    fit_to(&target, size, reader)
}

/// Fits a cube of `size` points to any function.
///
/// # Errors
/// A size that no cube has or beyond [`MOST_POINTS`], curves that [`ShapedCube`] refuses, values that are not finite.
pub fn fit_to(target: &Target<'_>, size: usize, reader: Reader) -> Result<Fitted, Refusals> {
    crate::cube::check_points("points", size).map_err(Refusals::from)?;
    if size > MOST_POINTS {
        let message = format!("{size} are too many for a fit, which takes {MOST_POINTS} at most: bake without it");
        return Err(Invalid::new("points", message).into());
    }
    let kinds = reader.interpolations();
    let seen = Objective::of(target, size)?;
    let mut nodes = least_squares(&seen, kinds);
    let held_back = seen.hold(target.difference, kinds, &mut nodes);
    let changes = nodes.iter().zip(seen.sampled.nodes());
    let largest_change = changes.flat_map(|(a, b)| (0..3).map(|c| (a[c] - b[c]).abs())).fold(0.0, f64::max);
    let report = Report { reader, nodes: nodes.len(), held_back, largest_change };
    let table = ShapedCube::new(target.shaper.cloned(), Cube::new(size, UNIT, nodes)?)?;
    Ok(Fitted { table, report })
}

/// The nodes with the least sum of squares, within the range of the exact function, the diagonal pinned.
fn least_squares(seen: &Objective, kinds: &[Interpolation]) -> Vec<[f64; 3]> {
    let sampled = seen.sampled.nodes();
    let size = seen.sampled.size();
    let mut free = Field::zero(size);
    (0..sampled.len()).for_each(|node| free.set(node, [1.0; 3]));
    let mut change = Field::zero(size);
    for (step, grey) in seen.grey.iter().enumerate() {
        let node = step * objective::diagonal_step(size);
        change.set(node, std::array::from_fn(|c| grey[c] - sampled[node][c]));
        free.set(node, [0.0; 3]);
    }
    let reach = if kinds == [Interpolation::Tetrahedral] { Reach::Tetrahedral } else { Reach::Trilinear };
    let cells = (size - 1) * (size - 1) * (size - 1);
    let weight = PLAUSIBLE_WEIGHT * cells as f64 / seen.plausible.list().len().max(1) as f64;
    let mut normal = Normal::zero(size, reach);
    normal.each_layer(|layer| {
        cells::add(layer, &seen.fine, &seen.tensors, kinds, RIDGE);
        seen.plausible.add(layer, &seen.sampled, &seen.tensors, kinds, weight);
    });
    let [low, high] = seen.range;
    for _ in 0..=CLIPS {
        solve::solve(&normal, size, &free, &mut change);
        let mut clipped = false;
        for (node, exact) in sampled.iter().enumerate() {
            let (mut moved, mut loose) = (change.get(node), free.get(node));
            for c in 0..3 {
                let value = exact[c] + moved[c];
                if value < low[c] || value > high[c] {
                    moved[c] = value.clamp(low[c], high[c]) - exact[c];
                    loose[c] = 0.0;
                    clipped = true;
                }
            }
            change.set(node, moved);
            free.set(node, loose);
        }
        if !clipped {
            break;
        }
    }
    let node = |(node, exact): (usize, &[f64; 3])| {
        let change = change.get(node);
        std::array::from_fn(|c| (exact[c] + change[c]).clamp(low[c], high[c]))
    };
    sampled.iter().enumerate().map(node).collect()
}

#[cfg(test)]
mod tests;

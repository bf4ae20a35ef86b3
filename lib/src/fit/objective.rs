//! What a fit sees of the exact function.

use super::guard::{Group, Guard};
use super::samples::{Sample, Samples};
use super::tensors::Tensors;
use super::{Target, diagonal};
use crate::cube::{Cube, Interpolation, ShapedCube, UNIT};
use crate::difference::Difference;
use crate::invalid::Refusals;
use crate::test_colours::{self, MANY};
use rayon::prelude::*;

/// The exact function, seen from the cube that is fitted.
pub(super) struct Objective {
    /// At every half step.
    pub(super) fine: Cube,
    /// At the nodes.
    pub(super) sampled: Cube,
    /// The metric at the nodes.
    pub(super) tensors: Tensors,
    /// The least and the most of each channel.
    pub(super) range: [[f64; 3]; 2],
    /// The fitted diagonal.
    pub(super) grey: Vec<[f64; 3]>,
    /// Greys between the nodes.
    ramp: Vec<Sample>,
    /// Plausible colours, by their cells.
    pub(super) plausible: Samples,
    /// The first of them, and places all over the domain, which give the largest error of the sampled nodes.
    first_plausible: Vec<Sample>,
    uniform: Vec<Sample>,
}

/// Steps in the node list between the nodes of the grey diagonal.
pub(super) const fn diagonal_step(size: usize) -> usize {
    1 + size + size * size
}

impl Objective {
    pub(super) fn of(target: &Target<'_>, size: usize) -> Result<Self, Refusals> {
        // The cube is not known yet; the curves in front of it are.
        let shape = ShapedCube::new(target.shaper.cloned(), Cube::sample(2, |rgb| rgb)?)?;
        let behind = |place| target.exact.transform(shape.signal(place));
        let fine = Cube::sample(2 * size - 1, behind)?;
        let sampled = every_second(&fine)?;
        let mut range = [fine.nodes()[0]; 2];
        for node in fine.nodes() {
            for c in 0..3 {
                range[0][c] = range[0][c].min(node[c]);
                range[1][c] = range[1][c].max(node[c]);
            }
        }
        let tensors = Tensors::at_nodes(target.difference, &sampled, &range);
        let last = (size - 1) * diagonal::PARTS;
        let greys: Vec<([f64; 3], [f64; 3])> = (0..=last)
            .into_par_iter()
            .map(|i| [i as f64 / last as f64; 3])
            .map(|place| (place, behind(place)))
            .collect();
        let weights: Vec<f64> = greys.par_iter().map(|(_, y)| target.difference.tensor(*y).sum()).collect();
        let grey = diagonal::fit(&greys.iter().map(|(_, y)| *y).collect::<Vec<_>>(), &weights);
        let ramp = greys.iter().map(|(place, want)| Sample::new(size, *place, *want)).collect();
        let samples = |signals: &[[f64; 3]]| -> Vec<Sample> {
            signals.par_iter().map(|s| Sample::new(size, shape.place(*s), target.exact.transform(*s))).collect()
        };
        let plausible = samples(target.plausible);
        let first_plausible = plausible.iter().take(MANY).copied().collect();
        let uniform = samples(&test_colours::uniform(1, MANY));
        let plausible = Samples::sorted(size, plausible);
        Ok(Self { fine, sampled, tensors, range, grey, ramp, plausible, first_plausible, uniform })
    }

    /// Brings `nodes` back where their maximum would be above that of the sampled ones; gives how many of them.
    pub(super) fn hold(&self, difference: &Difference, kinds: &[Interpolation], nodes: &mut [[f64; 3]]) -> usize {
        let size = self.sampled.size();
        let f = self.fine.size();
        let at = |i: usize| [i % f, i / f % f, i / (f * f)];
        let sample = |i: usize| {
            let [r, g, b] = at(i);
            Sample::new(size, self.fine.input(r, g, b), self.fine.nodes()[i])
        };
        let halves: Vec<Sample> = (0..f * f * f).into_par_iter().map(sample).collect();
        let is_centre = |i: usize| at(i).iter().all(|step| step % 2 == 1);
        let centres: Vec<Sample> = (0..f * f * f).filter(|i| is_centre(*i)).map(|i| halves[i]).collect();
        let step = |v: f64| (v * (f - 1) as f64 + 0.5) as usize;
        let audited: Vec<Sample> = test_colours::centres(size, MANY)
            .iter()
            .map(|place| halves[step(place[0]) + f * (step(place[1]) + f * step(place[2]))])
            .collect();
        let guard = Guard { difference, sampled: &self.sampled, tensors: &self.tensors, kinds };
        let held = guard.hold(
            &[
                Group { bound_by: &self.uniform, kept_by: &self.uniform },
                Group { bound_by: &self.uniform, kept_by: &halves },
                Group { bound_by: &audited, kept_by: &centres },
                Group { bound_by: &self.first_plausible, kept_by: self.plausible.list() },
                Group { bound_by: &self.ramp, kept_by: &self.ramp },
            ],
            nodes,
        );
        let exact: Vec<[f64; 3]> = self.ramp.iter().map(|s| s.want).collect();
        diagonal::keep_order(&exact, nodes.iter_mut().step_by(diagonal_step(size)));
        held
    }
}

/// The cube of every second node.
fn every_second(fine: &Cube) -> Result<Cube, Refusals> {
    let size = fine.size() / 2 + 1;
    let nodes =
        (0..size * size * size).map(|i| fine.node(2 * (i % size), 2 * (i / size % size), 2 * (i / (size * size))));
    Cube::new(size, UNIT, nodes.collect())
}

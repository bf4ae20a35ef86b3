//! Holds a fit back where its error would exceed the largest error of the sampled nodes.
//!
//! A least sum of squares may raise single differences, most of all where the exact function has edges. The guard looks at
//! every half step, at fresh samples all over the domain and at plausible colours; where a difference is larger than the
//! sampled nodes give there, and larger than most of their maximum over the same set, the nodes about it go back towards
//! the sampled ones, step by step.

use super::samples::Sample;
use super::tensors::{Tensors, square};
use crate::cube::{Cube, Interpolation, offset};
use crate::difference::Difference;
use rayon::prelude::*;

/// Share of the sampled nodes' maximum up to which nothing is held back: no set of samples finds the very maximum.
const SHARE: f64 = 0.9;
/// Below this share of a bound, the tensors' word is taken for it.
const SURE: f64 = 0.6;
/// A step of signal for which it is not.
const LARGE: f64 = 0.02;
/// How far a node that is held back goes at a time.
const BACK: f64 = 0.7;
/// Times that it goes, before it goes all the way.
const ROUNDS: usize = 10;

/// Samples with one bound: those that set it, and those that must keep it.
pub(super) struct Group<'a> {
    pub(super) bound_by: &'a [Sample],
    pub(super) kept_by: &'a [Sample],
}

/// What a fit is guarded with.
pub(super) struct Guard<'a> {
    pub(super) difference: &'a Difference,
    pub(super) sampled: &'a Cube,
    pub(super) tensors: &'a Tensors,
    pub(super) kinds: &'a [Interpolation],
}

impl Guard<'_> {
    /// By the tensors: good for small differences, and quick.
    fn rough(&self, sample: &Sample, nodes: &[[f64; 3]], kind: Interpolation) -> f64 {
        sample.read(kind, |shares| {
            let away = sample.away(self.sampled.size(), nodes, shares);
            square(&self.tensors.mixed(sample.cell.step, shares), away).sqrt()
        })
    }

    /// Whether it is worth a closer look: the tensors are no good for large steps.
    fn may_exceed(&self, sample: &Sample, nodes: &[[f64; 3]], kind: Interpolation, bound: f64) -> bool {
        sample.read(kind, |shares| {
            let away = sample.away(self.sampled.size(), nodes, shares);
            away.iter().any(|v| v.abs() > LARGE)
                || square(&self.tensors.mixed(sample.cell.step, shares), away) > SURE * bound * SURE * bound
        })
    }

    fn true_difference(&self, sample: &Sample, nodes: &[[f64; 3]], kind: Interpolation) -> f64 {
        let away = sample.read(kind, |shares| sample.away(self.sampled.size(), nodes, shares));
        let got = std::array::from_fn(|c| sample.want[c] - away[c]);
        self.difference.between(self.difference.place(sample.want), self.difference.place(got))
    }

    /// The largest difference of the sampled nodes.
    fn maximum(&self, samples: &[Sample], kind: Interpolation) -> f64 {
        let nodes = self.sampled.nodes();
        let rough: Vec<f64> = samples.par_iter().map(|s| self.rough(s, nodes, kind)).collect();
        let most = rough.iter().fold(0.0, |m: f64, r| m.max(*r));
        let high = samples.par_iter().zip(rough).filter(|(_, rough)| *rough >= 0.5 * most);
        high.map(|(s, _)| self.true_difference(s, nodes, kind)).reduce(|| 0.0, f64::max)
    }

    /// Brings `nodes` back where their error exceeds that; gives how many of them.
    pub(super) fn hold(&self, groups: &[Group<'_>], nodes: &mut [[f64; 3]]) -> usize {
        let n = self.sampled.size();
        let fitted = nodes.to_vec();
        let mut scales = vec![1.0; nodes.len()];
        // Cells with a node that has moved since they were last looked at.
        let mut stale = vec![true; nodes.len()];
        let bounds: Vec<Vec<f64>> =
            groups.iter().map(|g| self.kinds.iter().map(|k| SHARE * self.maximum(g.bound_by, *k)).collect()).collect();
        for round in 0..=ROUNDS {
            let mut hit = vec![false; nodes.len()];
            for (group, bounds) in groups.iter().zip(&bounds) {
                let strays = |sample: &&Sample| {
                    let base = base(n, sample);
                    (0..8).any(|c| stale[base + offset(n, c)])
                        && self.kinds.iter().zip(bounds).any(|(kind, bound)| {
                            self.may_exceed(sample, nodes, *kind, *bound) && {
                                let now = self.true_difference(sample, nodes, *kind);
                                now > *bound && now > self.true_difference(sample, self.sampled.nodes(), *kind)
                            }
                        })
                };
                for sample in group.kept_by.par_iter().filter(strays).collect::<Vec<_>>() {
                    for kind in self.kinds {
                        sample.read(*kind, |shares| {
                            for (corner, share) in shares {
                                hit[base(n, sample) + offset(n, *corner)] |= *share > 0.0;
                            }
                        });
                    }
                }
            }
            if !hit.contains(&true) {
                break;
            }
            for (node, _) in hit.iter().enumerate().filter(|(_, hit)| **hit) {
                scales[node] *= if round < ROUNDS { BACK } else { 0.0 };
                let (from, to) = (self.sampled.nodes()[node], fitted[node]);
                nodes[node] = std::array::from_fn(|c| from[c] + scales[node] * (to[c] - from[c]));
            }
            stale = hit;
        }
        scales.iter().filter(|s| **s < 1.0).count()
    }
}

fn base(size: usize, sample: &Sample) -> usize {
    let [r, g, b] = sample.cell.step;
    r + size * (g + size * b)
}

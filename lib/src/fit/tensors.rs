//! The metric of the difference, at the nodes of a cube and mixed between them.

use super::normal::{Block, times};
use crate::cube::{Cube, Share, offset};
use crate::difference::Difference;
use rayon::prelude::*;

/// Share of the mean tensor that every tensor holds at least, so that none is singular.
const LEAST: f64 = 1e-6;
/// Share of a channel's range that a tensor keeps from its ends. At the very end of a curve a small step is not seen, but
/// nodes move further than that.
const MARGIN: f64 = 0.03;

/// One tensor for each node.
pub(super) struct Tensors {
    pub(super) size: usize,
    blocks: Vec<Block>,
}

impl Tensors {
    /// Where the exact function gives the nodes of `sampled` and has the range `range`.
    pub(super) fn at_nodes(difference: &Difference, sampled: &Cube, range: &[[f64; 3]; 2]) -> Self {
        let [low, high] = range;
        let tensor = |signal: &[f64; 3]| {
            let inside = std::array::from_fn(|c| {
                let margin = MARGIN * (high[c] - low[c]);
                signal[c].clamp(low[c] + margin, high[c] - margin)
            });
            let t = difference.tensor(inside);
            [t[(0, 0)], t[(1, 1)], t[(2, 2)], t[(0, 1)], t[(0, 2)], t[(1, 2)]]
        };
        let mut blocks: Vec<Block> = sampled.nodes().par_iter().map(tensor).collect();
        let least = LEAST * blocks.iter().map(|b| (b[0] + b[1] + b[2]) / 3.0).sum::<f64>() / blocks.len() as f64;
        for block in &mut blocks {
            block[..3].iter_mut().for_each(|v| *v += least);
        }
        Self { size: sampled.size(), blocks }
    }

    fn base(&self, [r, g, b]: [usize; 3]) -> usize {
        r + self.size * (g + self.size * b)
    }

    /// Those at the corners of the cell at `step`.
    pub(super) fn corners(&self, step: [usize; 3]) -> [&Block; 8] {
        let base = self.base(step);
        std::array::from_fn(|corner| &self.blocks[base + offset(self.size, corner)])
    }

    /// That of a place that mixes `shares` of the corners of the cell at `step`.
    pub(super) fn mixed(&self, step: [usize; 3], shares: &[Share]) -> Block {
        let base = self.base(step);
        let mut mixed = [0.0; 6];
        for (corner, share) in shares {
            for (sum, value) in mixed.iter_mut().zip(&self.blocks[base + offset(self.size, *corner)]) {
                *sum += share * value;
            }
        }
        mixed
    }
}

/// The square of a small step under a tensor.
pub(super) fn square(tensor: &Block, step: [f64; 3]) -> f64 {
    let t = times(tensor, step);
    t[0] * step[0] + t[1] * step[1] + t[2] * step[2]
}

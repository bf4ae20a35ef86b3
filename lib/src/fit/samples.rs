//! Places at which a fit looks at the exact function, sorted by the cells that hold them.

use super::normal::Layer;
use super::tensors::Tensors;
use crate::cube::{Cell, Cube, Interpolation, Share, UNIT, offset};
use rayon::prelude::*;
use std::ops::Range;

/// A place in a cube and what the exact function gives there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) cell: Cell,
    pub(super) want: [f64; 3],
}

impl Sample {
    pub(super) fn new(size: usize, at: [f64; 3], want: [f64; 3]) -> Self {
        Self { cell: Cell::of(size, &UNIT, at), want }
    }

    /// Calls `read` with what a reader of `kind` mixes here.
    pub(super) fn read<T>(&self, kind: Interpolation, read: impl FnOnce(&[Share]) -> T) -> T {
        match kind {
            Interpolation::Tetrahedral => read(&self.cell.tetrahedral()),
            Interpolation::Trilinear => read(&self.cell.trilinear()),
        }
    }

    /// How far the exact value is from that mixed of `nodes`.
    pub(super) fn away(&self, size: usize, nodes: &[[f64; 3]], shares: &[Share]) -> [f64; 3] {
        let [r, g, b] = self.cell.step;
        let base = r + size * (g + size * b);
        let mut away = self.want;
        for (corner, share) in shares {
            let node = nodes[base + offset(size, *corner)];
            for c in 0..3 {
                away[c] -= share * node[c];
            }
        }
        away
    }
}

/// Samples in the order of their cells.
pub(super) struct Samples {
    list: Vec<Sample>,
    /// Those of each layer of cells.
    layers: Vec<Range<usize>>,
}

impl Samples {
    pub(super) fn sorted(size: usize, mut list: Vec<Sample>) -> Self {
        let key = |s: &Sample| {
            let [r, g, b] = s.cell.step;
            r + size * (g + size * b)
        };
        // A stable sort: the order is the same always.
        list.par_sort_by_key(key);
        let start = |b: usize| list.partition_point(|s| s.cell.step[2] < b);
        let layers = (0..size - 1).map(|b| start(b)..start(b + 1)).collect();
        Self { list, layers }
    }

    /// Adds those of a layer, `weight` each, as readers of `kinds` see them.
    pub(super) fn add(
        &self,
        layer: &mut Layer<'_>,
        sampled: &Cube,
        tensors: &Tensors,
        kinds: &[Interpolation],
        weight: f64,
    ) {
        let share = weight / kinds.len() as f64;
        for sample in &self.list[self.layers[layer.blue()].clone()] {
            for kind in kinds {
                sample.read(*kind, |shares| {
                    let step = sample.cell.step;
                    let tensor = tensors.mixed(step, shares).map(|v| v * share);
                    layer.add_sample(step, shares, sample.away(sampled.size(), sampled.nodes(), shares), &tensor);
                });
            }
        }
    }

    pub(super) fn list(&self) -> &[Sample] {
        &self.list
    }
}

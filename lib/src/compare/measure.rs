//! The differences of many pairs of signals, in blocks.

use crate::difference::quick::Quick;
use crate::difference::{Difference, Formula, Statistics};
use rayon::prelude::*;

/// What the pairs come to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Measured {
    pub(super) mean: f64,
    pub(super) p95: f64,
    pub(super) max: f64,
    /// The first pair with the largest difference.
    pub(super) worst: usize,
    /// Mean of new less old: lightness, chroma, warmth, magenta.
    pub(super) moved: [f64; 4],
    /// Each difference.
    pub(super) each: Vec<f64>,
}

/// Pairs that one thread takes at a time. Sums run over a block, then over the blocks in order, so that they do not depend
/// on the thread count.
const BLOCK: usize = 1024;

/// Pairs from which on places are taken from tables.
const QUICK: usize = 1 << 16;

/// Measures `new` against `old`, as many of the one as of the other.
pub(super) fn pairs(difference: &Difference, old: &[[f64; 3]], new: &[[f64; 3]]) -> Measured {
    let quick = if old.len() < QUICK { None } else { Quick::new(difference) };
    let place = |signal| quick.as_ref().map_or_else(|| difference.place(signal), |quick| quick.place(signal));
    let mut each = vec![0.0; old.len()];
    let sums: Vec<[f64; 4]> = each
        .par_chunks_mut(BLOCK)
        .zip(old.par_chunks(BLOCK).zip(new.par_chunks(BLOCK)))
        .map(|(each, (old, new))| {
            let mut moved = [0.0; 4];
            for ((one, old), new) in each.iter_mut().zip(old).zip(new) {
                // Equal signals are no distance apart, whatever their colour.
                if old == new {
                    continue;
                }
                let (a, b) = (place(*old), place(*new));
                *one = difference.between(a, b);
                let (a, b) = (coordinates(difference.formula(), a), coordinates(difference.formula(), b));
                for i in 0..4 {
                    moved[i] += b[i] - a[i];
                }
            }
            moved
        })
        .collect();
    let mut moved = [0.0; 4];
    for block in &sums {
        for i in 0..4 {
            moved[i] += block[i];
        }
    }
    let count = old.len().max(1) as f64;
    let Statistics { mean, p95, max, worst, .. } = Statistics::of(&each);
    Measured { mean, p95, max, worst, moved: moved.map(|sum| sum / count), each }
}

/// Lightness, chroma, warmth and magenta of a place.
fn coordinates(formula: Formula, place: [f64; 3]) -> [f64; 4] {
    let [lightness, magenta, warmth] = match formula {
        Formula::Ciede2000 => place,
        Formula::DeltaEItp => {
            let [i, t, p] = crate::difference::itp(place);
            [i, p, -t]
        }
    };
    [lightness, (magenta * magenta + warmth * warmth).sqrt(), warmth, magenta]
}

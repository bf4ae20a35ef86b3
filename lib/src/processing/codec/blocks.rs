//! Edges of blocks: steps between neighbouring pixels that stand out, or are missing, every 8 or 16 pixels.
//!
//! The steps across each column border are averaged over all rows, and compared with those across the three borders on
//! either side, so that the picture itself cancels. A block codec makes the steps at the borders of its blocks larger, or
//! smaller where it smooths them afterwards, along both axes; a picture without blocks has no such period.

use super::super::Plane;
use crate::math::{exp, ln};
use crate::statistics::median;
use schemars::JsonSchema;
use serde::Serialize;

/// Borders that each one is compared with, on either side.
const BESIDE: usize = 3;
/// Blocks are found where both axes stand out by so many standard deviations.
const SURE: f64 = 6.0;
/// And by this factor, or its inverse.
const LARGE: f64 = 1.08;
/// The fewest blocks along an axis.
const FEWEST: usize = 6;

/// The findings on blocks.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Blocks {
    /// Pixels along the edge of a block; `None` if there are no blocks.
    pub size: Option<usize>,
    /// Steps at the borders of blocks over those elsewhere, across and down: 1 is no difference.
    pub steps: [f64; 2],
}

impl Blocks {
    /// The steps that differ the most from 1, as a factor of 1 or more.
    pub fn strength(&self) -> f64 {
        if self.size.is_none() {
            return 1.0;
        }
        self.steps.iter().map(|s| s.max(1.0 / s.max(1e-3))).fold(1.0, f64::max)
    }
}

/// Mean steps across the borders of columns and of rows.
#[derive(Debug, Clone)]
pub(super) struct Steps {
    width: usize,
    height: usize,
    across: Vec<f64>,
    down: Vec<f64>,
}

impl Steps {
    pub(super) fn of(plane: &Plane) -> Self {
        let (width, height) = (plane.width, plane.height());
        let zeros = |n: usize| vec![0.0; n.saturating_sub(1)];
        let mut steps = Self { width, height, across: zeros(width), down: zeros(height) };
        steps.add(plane);
        steps
    }

    pub(super) fn add(&mut self, plane: &Plane) {
        if (plane.width, plane.height()) != (self.width, self.height) {
            return;
        }
        for row in plane.values.chunks_exact(self.width) {
            for (sum, pair) in self.across.iter_mut().zip(row.windows(2)) {
                *sum += (pair[1] - pair[0]).abs() / self.height as f64;
            }
        }
        for (y, sum) in self.down.iter_mut().enumerate() {
            let (upper, lower) = plane.values[y * self.width..].split_at(self.width);
            *sum += upper.iter().zip(lower).map(|(a, b)| (b - a).abs()).sum::<f64>() / self.width as f64;
        }
    }

    /// The findings on blocks; `None` if the picture is too small.
    pub(super) fn blocks(&self) -> Option<Blocks> {
        let axes = [stand_out(&self.across)?, stand_out(&self.down)?];
        let at = |period: usize| axes.each_ref().map(|axis| strongest(axis, period));
        let [eight, sixteen] = [at(8), at(16)];
        let sure = |both: &[Period; 2]| both.iter().all(|p| p.sure >= SURE && p.ratio.max(1.0 / p.ratio) >= LARGE);
        // Blocks of 8 have every second of their borders at the same places as blocks of 16.
        let only = axes.iter().zip(&sixteen).all(|(axis, p)| {
            let other = of_phase(axis, 16, (p.phase + 8) % 16).map_or(1.0, |(_, ratio)| ratio);
            (ln(p.ratio) - ln(other)).abs() > ln(LARGE)
        });
        let (size, found) = match (sure(&eight), sure(&sixteen)) {
            (_, true) if only => (Some(16), sixteen),
            (true, _) => (Some(8), eight),
            _ => (None, eight),
        };
        Some(Blocks { size, steps: found.map(|p| p.ratio) })
    }
}

/// The logarithm of each step over those beside it; `None` where there is no step.
fn stand_out(steps: &[f64]) -> Option<Vec<(usize, f64)>> {
    let mean = steps.iter().sum::<f64>() / steps.len().max(1) as f64;
    if steps.len() < 16 * FEWEST / 2 || mean <= 0.0 {
        return None;
    }
    // What is far less than the mean counts as nothing, so that a smooth sky does not outvote the rest.
    let least = 0.02 * mean;
    let places = BESIDE..steps.len() - BESIDE;
    Some(
        places
            .map(|i| {
                let beside: f64 = (1..=BESIDE).map(|d| steps[i - d] + steps[i + d]).sum();
                (i + 1, ln((steps[i] + least) / (beside / (2 * BESIDE) as f64 + least)))
            })
            .collect(),
    )
}

#[derive(Debug, Clone, Copy)]
struct Period {
    /// How far it stands out, in standard deviations.
    sure: f64,
    ratio: f64,
    /// Pixels from the left, or top, to the first border.
    phase: usize,
}

/// By how many standard deviations, and by what factor, the borders of one phase differ from the others.
fn of_phase(axis: &[(usize, f64)], period: usize, phase: usize) -> Option<(f64, f64)> {
    let part =
        |at: bool| -> Vec<f64> { axis.iter().filter(|(i, _)| (i % period == phase) == at).map(|p| p.1).collect() };
    let (own, others) = (part(true), part(false));
    let count = own.len();
    if count < FEWEST / 2 {
        return None;
    }
    let (middle, rest) = (median(&own)?, median(&others)?);
    // The standard deviation by the median of distances, for normal numbers.
    let spread = 1.4826 * median(&others.iter().map(|v| (v - rest).abs()).collect::<Vec<_>>())?;
    let sure = (middle - rest).abs() / (spread.max(0.005) / (count as f64).sqrt());
    Some((sure, exp(middle - rest)))
}

fn strongest(axis: &[(usize, f64)], period: usize) -> Period {
    let phases =
        (0..period).filter_map(|phase| of_phase(axis, period, phase).map(|(sure, ratio)| (sure, ratio, phase)));
    let best = phases.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 1.0, 0));
    Period { sure: best.0, ratio: best.1, phase: best.2 }
}

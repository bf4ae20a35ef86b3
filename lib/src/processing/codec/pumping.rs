//! Detail that comes and goes with the key frames of a clip, and noise that stands still between them.
//!
//! A codec that spends its bits on key frames renews detail and noise there. Some lose it until the next; others copy it from
//! frame to frame, so that noise stands still and jumps. The detail of each frame, the mean square of what stands out of its
//! neighbours, and the mean square of its change from the frame before are each folded by every period; the one whose frames
//! differ the most for their own spread is the distance of key frames.

use super::super::Plane;
use crate::math::{exp, ln};
use crate::statistics::median;
use schemars::JsonSchema;
use serde::Serialize;

/// Frames that are needed.
pub const FEWEST: usize = 12;
/// Frames within a period differ so many times more than frames of one phase do.
const SURE: f64 = 8.0;
/// Less is not seen, per cent of the detail.
const SEEN: f64 = 4.0;
/// Less is not seen: the most change within a period over the middle one.
const JUMPS: f64 = 1.5;

/// What was found of key frames.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Pumping {
    /// Frames from one to the next; none where nothing comes and goes.
    pub period_frames: Option<usize>,
    /// From the least to the most detail within a period, per cent of the middle.
    pub detail_percent: f64,
    /// Detail of each frame over the middle of all.
    pub detail: Vec<f64>,
    /// Frames from one jump of noise to the next; none where noise changes alike from every frame to the next.
    pub still_period_frames: Option<usize>,
    /// Change at the jumps over that of the frames between them, as amplitudes; 1 where there are none.
    pub jump_times: f64,
}

/// Detail of frames, one after another.
#[derive(Debug, Clone, Default)]
pub(super) struct Series {
    detail: Vec<f64>,
    /// Mean square of the change from the frame before, from the second frame on.
    change: Vec<f64>,
    before: Option<Plane>,
}

impl Series {
    pub(super) fn add(&mut self, luma: &Plane) {
        let (width, height) = (luma.width, luma.height());
        if width < 3 || height < 3 {
            return;
        }
        let mut sum = 0.0;
        for y in 1..height - 1 {
            let rows = [y - 1, y, y + 1].map(|y| &luma.values[y * width..][..width]);
            for x in 1..width - 1 {
                let stands = rows[1][x] - (rows[0][x] + rows[2][x] + rows[1][x - 1] + rows[1][x + 1]) / 4.0;
                sum += stands * stands;
            }
        }
        self.detail.push(sum / ((width - 2) * (height - 2)) as f64);
        if let Some(before) = self.before.as_ref().filter(|b| (b.width, b.height()) == (width, height)) {
            let squares = luma.values.iter().zip(&before.values).map(|(a, b)| (a - b) * (a - b));
            self.change.push(squares.sum::<f64>() / luma.values.len() as f64);
        }
        self.before = Some(luma.clone());
    }

    /// None for too few frames.
    pub(super) fn pumping(self) -> Option<Pumping> {
        let count = self.detail.len();
        let middle = median(&self.detail).filter(|m| *m > 0.0)?;
        if count < FEWEST {
            return None;
        }
        let detail: Vec<f64> = self.detail.iter().map(|d| d / middle).collect();
        let percent = |f: &Folded| 100.0 * (exp(f.most - f.least) - 1.0);
        let pumps = period(&detail).filter(|f| percent(f) >= SEEN);
        // A change is a power; that of a clip whose frames are all alike is none.
        let jumps = |f: &Folded| exp((f.most - f.middle) / 2.0);
        let largest = self.change.iter().copied().fold(0.0, f64::max);
        let change: Vec<f64> = self.change.iter().map(|c| c / largest.max(f64::MIN_POSITIVE)).collect();
        let still = period(&change).filter(|f| largest > 0.0 && jumps(f) >= JUMPS);
        Some(Pumping {
            period_frames: pumps.as_ref().map(|f| f.period),
            detail_percent: pumps.as_ref().map_or(0.0, percent),
            detail,
            still_period_frames: still.as_ref().map(|f| f.period),
            jump_times: still.as_ref().map_or(1.0, jumps),
        })
    }
}

/// The period that numbers above 0 follow; none where they follow none.
fn period(values: &[f64]) -> Option<Folded> {
    let logs: Vec<f64> = values.iter().map(|v| ln(v.max(1e-6))).collect();
    let level = steady(&logs);
    let periods: Vec<Folded> = (2..=values.len() / 2).map(|p| folded(&level, p)).collect();
    let most = periods.iter().map(|f| f.ratio).fold(0.0, f64::max);
    // Of a period and its multiples the shortest.
    periods.into_iter().find(|f| f.ratio >= 0.7 * most).filter(|f| f.ratio >= SURE)
}

/// Numbers less the straight line through them: a scene that changes slowly does not pump.
fn steady(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = values.iter().sum::<f64>() / n;
    let over: f64 = values.iter().enumerate().map(|(i, v)| (i as f64 - middle) * (v - mean)).sum();
    let under: f64 = (0..values.len()).map(|i| (i as f64 - middle) * (i as f64 - middle)).sum();
    values.iter().enumerate().map(|(i, v)| v - mean - over / under * (i as f64 - middle)).collect()
}

/// Numbers folded by a period.
#[derive(Debug, Clone, Copy)]
struct Folded {
    period: usize,
    /// How much its phases differ for their own spread: the ratio F of an analysis of variance.
    ratio: f64,
    /// Of the means of its phases.
    least: f64,
    middle: f64,
    most: f64,
}

fn folded(values: &[f64], period: usize) -> Folded {
    let phases: Vec<Vec<f64>> = (0..period).map(|p| values.iter().skip(p).step_by(period).copied().collect()).collect();
    let means: Vec<f64> = phases.iter().map(|p| p.iter().sum::<f64>() / p.len() as f64).collect();
    let all = values.iter().sum::<f64>() / values.len() as f64;
    let between: f64 = phases.iter().zip(&means).map(|(p, m)| p.len() as f64 * (m - all) * (m - all)).sum();
    let within: f64 = phases.iter().zip(&means).flat_map(|(p, m)| p.iter().map(move |v| (v - m) * (v - m))).sum();
    let (free, left) = ((period - 1) as f64, (values.len() - period) as f64);
    // The spread of a clip without noise is that of rounding.
    let ratio = (between / free) / (within / left).max(1e-9);
    let (least, most) = means.iter().fold((f64::MAX, f64::MIN), |(a, b), m| (a.min(*m), b.max(*m)));
    Folded { period, ratio, least, middle: median(&means).unwrap_or(all), most }
}

//! Resolution of chroma against luma.
//!
//! Where chroma was recorded at half the resolution along an axis and filled up again, it has next to no power at the high
//! frequencies of that axis, which luma has. The power of both from 0.3 cycles per pixel on is compared with that from 0.08 to
//! 0.2. Both noise and detail serve for this.

use super::super::Plane;
use super::super::spectrum::along_rows;
use schemars::JsonSchema;
use serde::Serialize;

/// Chroma with less than this part of luma's share of high frequencies is halved.
const HALVED: f64 = 0.3;
/// Chroma needs this many times the power of its code steps to be judged.
const ABOVE: f64 = 4.0;

/// Resolution of chroma.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Chroma {
    /// Share of high frequencies in chroma over that in luma, across and down: about 1 at full resolution, towards 0 at half.
    pub share: [f64; 2],
    /// Recorded at half the resolution, across and down.
    pub halved: [bool; 2],
}

impl Chroma {
    /// Finds it from luma and both colour differences, in signal; `step` is the step between codes. `None` if there is too
    /// little colour.
    pub(super) fn of(luma: &Plane, differences: &[Plane; 2], step: f64) -> Option<Self> {
        let axis = |turn: bool| -> Option<f64> {
            let along = |p: &Plane| if turn { along_rows(&p.turned()) } else { along_rows(p) };
            let light = share(&along(luma)?, 0.0, step)?;
            let both: Vec<f64> = differences.iter().filter_map(|p| share(&along(p)?, ABOVE, step)).collect();
            let colour = both.iter().copied().reduce(f64::max)?;
            (light > 0.0).then_some(colour / light)
        };
        let share = [axis(false)?, axis(true)?];
        Some(Self { share, halved: share.map(|s| s < HALVED) })
    }

    /// Its usual notation, such as 4:2:2.
    pub fn name(&self) -> &'static str {
        match self.halved {
            [false, false] => "4:4:4",
            [true, false] => "4:2:2",
            [true, true] => "4:2:0",
            [false, true] => "4:4:0",
        }
    }
}

/// Power at high frequencies over that at low ones, without that of the steps of the codes.
fn share(power: &[f64], above: f64, step: f64) -> Option<f64> {
    // Frequencies are k / 32.
    let mean = |from: f64, to: f64| {
        let part: Vec<f64> =
            (1..=power.len()).filter(|k| (from..=to).contains(&(*k as f64 / 32.0))).map(|k| power[k - 1]).collect();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    let white = step * step / 12.0;
    let (low, high) = (mean(0.08, 0.2), mean(0.3, 0.5));
    (low > above * white && low > 0.0).then(|| (high - white).max(0.0) / (low - white).max(f64::MIN_POSITIVE))
}

//! Finds the card in the frames of a bracket.
//!
//! The card is large and even, it lies near the middle of the frame and does not run out of it on all sides as a surround
//! does, and its signal follows the stops of the bracket along a curve. Each even region is given a score by these. Where a
//! second region scores nearly as well, and would give another mid-grey by more than [`AGREE`], nothing is chosen: both are
//! named instead.

use super::grid::{Grid, Region, regions};
use super::identify::{Samples, published};
use super::patch::Patch;
use super::{Claim, MeasureError, curve};
use crate::math::{exp, log2};
use crate::statistics::median;
use crate::transfer::MID_GREY;

/// Two patches that differ by less than this, in stops, give the same result.
pub const AGREE: f64 = 0.1;
/// A runner-up with more than this part of the best score is a rival.
const RIVAL: f64 = 0.3;
/// The most regions that are tried, the largest first.
const MOST: usize = 12;
/// Least part of the frame that a patch covers.
const LEAST: f64 = 0.002;

/// A patch that could be the card.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Where it is.
    pub patch: Patch,
    /// Its score, 0 to 1; comparable among candidates of one bracket.
    pub score: f64,
    /// Stops by which it is brighter than the chosen patch, by the bracket's own response.
    pub stops: f64,
    /// Root mean square of its deviation from the curve that fits it best, in stops; none where it could not be found.
    pub deviation: Option<f64>,
    /// Part of the frame that it covers.
    pub share: f64,
    /// Mean signal in each exposure, dark to bright.
    signals: Vec<[f64; 3]>,
}

impl Candidate {
    fn greys(&self) -> Vec<f64> {
        self.signals.iter().map(|s| s.iter().sum::<f64>() / 3.0).collect()
    }

    /// Mean signal of the three channels in each exposure, dark to bright.
    pub fn signals(&self) -> &[[f64; 3]] {
        &self.signals
    }
}

/// The patch that is measured, and the next best.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The patch that is measured.
    pub best: Candidate,
    /// The next best, where there is one.
    pub runner_up: Option<Candidate>,
}

/// The patch of a bracket, from its grids in the order of their stops.
///
/// # Errors
/// No even region; two that are as likely and differ by more than [`AGREE`].
pub fn choose(grids: &[Grid], claim: Option<&Claim>) -> Result<Choice, MeasureError> {
    let none = || {
        MeasureError::Patch(
            "no even patch is found in these frames: fill the middle of the frame with the card, or give --patch X,Y,W,H"
                .to_owned(),
        )
    };
    let first = grids.first().filter(|g| g.columns > 0 && g.rows > 0).ok_or_else(none)?;
    let pixels = (first.size[0] * first.size[1]) as f64;
    let mut candidates: Vec<(Candidate, f64)> = regions(grids)
        .into_iter()
        .filter(|r| (r.patch.width * r.patch.height) as f64 >= LEAST * pixels)
        .take(MOST)
        .map(|region| candidate(grids, &region, claim))
        .collect();
    // What is darker than another candidate is more likely to be the surround.
    let brightest = candidates
        .iter()
        .map(|c| c.0.clone())
        .max_by(|a, b| a.greys().iter().sum::<f64>().total_cmp(&b.greys().iter().sum::<f64>()));
    let brightest = brightest.ok_or_else(none)?;
    let stops: Vec<f64> = grids.iter().map(|g| g.stops).collect();
    for (candidate, place) in &mut candidates {
        let under = shift(&stops, &brightest.greys(), &candidate.greys()).map_or(0.0, |s| (-s).clamp(0.0, 6.0));
        candidate.score = *place * crate::math::exp2(-0.4 * under);
    }
    let mut candidates: Vec<Candidate> = candidates.into_iter().map(|c| c.0).collect();
    candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
    let best = candidates.first().cloned().ok_or_else(none)?;
    for candidate in &mut candidates {
        candidate.stops = shift(&stops, &best.greys(), &candidate.greys()).unwrap_or(f64::NAN);
    }
    let differs = |c: &&Candidate| c.stops.is_nan() || c.stops.abs() > AGREE;
    // A patch of the same light gives the same result, wherever it lies.
    let rival = candidates[1..].iter().find(differs);
    if let Some(rival) = rival.filter(|r| r.score > RIVAL * best.score) {
        let by = if rival.stops.is_nan() {
            "they follow different exposures".to_owned()
        } else {
            format!(
                "the second is {:.2} stops {}",
                rival.stops.abs(),
                if rival.stops > 0.0 { "brighter" } else { "darker" }
            )
        };
        return Err(MeasureError::Patch(format!(
            "two patches could be the card, and {by}: give the right one by --patch {} or --patch {}",
            best.patch, rival.patch
        )));
    }
    let runner_up = rival.or(candidates.get(1)).cloned();
    Ok(Choice { best, runner_up })
}

/// A candidate, and its score before it is compared with others.
fn candidate(grids: &[Grid], region: &Region, claim: Option<&Claim>) -> (Candidate, f64) {
    let patch = region.patch;
    let [width, height] = grids[0].size.map(|v| v as f64);
    let cells = grids[0].cells(&patch);
    let signals: Vec<[f64; 3]> = grids.iter().map(|g| g.signal(&cells)).collect();
    let share = (patch.width * patch.height) as f64 / (width * height);
    let off = [
        patch.x as f64 + patch.width as f64 / 2.0 - width / 2.0,
        patch.y as f64 + patch.height as f64 / 2.0 - height / 2.0,
    ];
    let away = (off[0] * off[0] + off[1] * off[1]) / (width * width + height * height) * 4.0;
    let near = exp(-away / (0.35 * 0.35));
    let middle = off[0].abs() < patch.width as f64 / 2.0 && off[1].abs() < patch.height as f64 / 2.0;
    let size = (share.min(0.2) / 0.2).sqrt();
    // A surround runs out of the frame on all sides, and the card stands in its middle.
    let around = if region.edges >= 3 && !middle { 0.3 } else { 1.0 };
    let (deviation, offset) = following(grids, &signals, claim);
    let like = |value: f64, scale: f64| 1.0 / (1.0 + (value / scale) * (value / scale));
    let follows = deviation.map_or(0.5, |d| like(d, 0.1));
    let placed = offset.map_or(1.0, |o| like(o, 0.5));
    let score = near * if middle { 1.0 } else { 0.5 } * size * around * follows * placed;
    (Candidate { patch, score, stops: 0.0, deviation, share, signals }, score)
}

/// How well signals follow the stops: root mean square about the best curve, and by a claimed curve the offset too.
fn following(grids: &[Grid], signals: &[[f64; 3]], claim: Option<&Claim>) -> (Option<f64>, Option<f64>) {
    let grey = |s: &[f64; 3]| s.iter().sum::<f64>() / 3.0;
    let (least, most) = signals.iter().map(grey).fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
    let (low, high) = (least + 0.1 * (most - least), most - 0.03 * (most - least));
    let used: Vec<usize> = (0..signals.len()).filter(|i| (low..high).contains(&grey(&signals[*i]))).collect();
    if used.len() < 3 {
        return (None, None);
    }
    if let Some(claim) = claim {
        let apart: Vec<f64> = used
            .iter()
            .map(|i| (grids[*i].stops, signals[*i].iter().map(|s| claim.decode(*s)).sum::<f64>() / 3.0))
            .filter(|(_, light)| *light > 0.0)
            .map(|(stops, light)| log2(light / MID_GREY) - stops)
            .collect();
        let Some(offset) = median(&apart) else { return (None, None) };
        let squares = apart.iter().map(|d| (d - offset) * (d - offset)).sum::<f64>();
        return (Some((squares / apart.len() as f64).sqrt()), Some(offset));
    }
    let samples: Vec<Samples> = used
        .iter()
        .map(|i| Samples { stops: grids[*i].stops, step: 1e-4, channels: signals[*i].map(|s| vec![(s, 1)]) })
        .collect();
    let best = published(&samples).iter().map(|m| m.rms).fold(f64::INFINITY, f64::min);
    let points: Vec<curve::Point> =
        used.iter().map(|i| curve::Point { stops: grids[*i].stops, signal: grey(&signals[*i]), error: 1e-3 }).collect();
    let fitted = curve::fit(&points).map_or(f64::INFINITY, |f| f.rms);
    let least = best.min(fitted);
    (least.is_finite().then_some(least), None)
}

/// Stops by which `other` is brighter than `one`: how far its signals lie along the response of the first. None where the
/// two share no level.
pub(super) fn shift(stops: &[f64], one: &[f64], other: &[f64]) -> Option<f64> {
    let (least, most) = one.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    let (low, high) = (least + 0.05 * (most - least), most - 0.05 * (most - least));
    let mut shifts = Vec::new();
    for (at, signal) in stops.iter().zip(other).filter(|(_, s)| (low..=high).contains(*s)) {
        let pair =
            one.windows(2).zip(stops.windows(2)).find(|(s, _)| s[0] <= *signal && *signal <= s[1] && s[0] < s[1]);
        if let Some((s, x)) = pair {
            shifts.push(x[0] + (x[1] - x[0]) * (signal - s[0]) / (s[1] - s[0]) - at);
        }
    }
    median(&shifts)
}

//! Finds the order, code steps, clip and black of a bracket.

use super::patch::Level;
use super::{Exposure, FEWEST, MeasureError, Shot, State};
use crate::math::exp2;

/// The shots, dark to bright, when they belong together.
pub(super) fn in_order(shots: &[Shot]) -> Result<Vec<&Shot>, MeasureError> {
    let mut order: Vec<&Shot> = shots.iter().collect();
    order.sort_by(|a, b| a.stops.total_cmp(&b.stops));
    let mut different: Vec<f64> = order.iter().map(|s| s.stops).collect();
    different.dedup();
    if different.len() < order.len() {
        let twice = order.windows(2).find(|w| w[0].stops == w[1].stops).map(|w| (&w[0].name, &w[1].name, w[0].stops));
        let (a, b, stops) = twice.unwrap_or_else(|| unreachable!("two have the same stops"));
        return Err(MeasureError::Mismatch(format!(
            "{a} and {b} are both given {stops:+} stops: each exposure needs a different value"
        )));
    }
    if order.len() < FEWEST {
        let frames = if order.len() == 1 { "one exposure".to_owned() } else { format!("{} exposures", order.len()) };
        return Err(MeasureError::TooFew(format!(
            "{frames}: a bracket needs at least {FEWEST} of one card, best from black to clipped"
        )));
    }
    let size = |s: &Shot| s.patches.first().map(|p| (p.width(), p.height()));
    for shot in &order {
        if let Some(bad) = shot.patches.iter().find(|p| Some((p.width(), p.height())) != size(order[0])) {
            return Err(MeasureError::Mismatch(format!(
                "{}: a patch of {} x {} pixels, where others have another size",
                shot.name,
                bad.width(),
                bad.height()
            )));
        }
        if shot.patches.is_empty() || shot.patches.iter().any(|p| p.pixels().flatten().any(|v| !v.is_finite())) {
            return Err(MeasureError::Patch(format!("{}: the patch has samples that are not numbers", shot.name)));
        }
    }
    Ok(order)
}

/// The step between neighbouring codes: the smallest difference between samples, of whatever bits the file has.
pub(super) fn quantum(shots: &[&Shot]) -> f64 {
    const ENOUGH: usize = 20_000;
    let mut least = f64::INFINITY;
    for shot in shots {
        let patch = &shot.patches[0];
        let every = (patch.width() * patch.height()).div_ceil(ENOUGH);
        for c in 0..3 {
            let mut values: Vec<f32> = patch.pixels().step_by(every).map(|rgb| rgb[c]).collect();
            values.sort_by(f32::total_cmp);
            for pair in values.windows(2) {
                let apart = f64::from(pair[1]) - f64::from(pair[0]);
                // Codes in f32 are exact to 2^-25.
                if apart > 1e-7 && apart < least {
                    least = apart;
                }
            }
        }
    }
    let depth = shots[0].patches[0].info.depth.step();
    if least.is_finite() && least < 0.01 { least.max(depth) } else { depth }
}

/// Refuses shots that do not get brighter with their stops.
pub(super) fn check_rise(shots: &[&Shot], signals: &[[Level; 3]], step: f64) -> Result<(), MeasureError> {
    let mean = |i: usize| signals[i].iter().map(|l| l.mean).sum::<f64>() / 3.0;
    let error = |i: usize| (signals[i].iter().map(|l| l.variance / l.count as f64).sum::<f64>() / 9.0).sqrt();
    let (first, last) = (mean(0), mean(shots.len() - 1));
    let all: Vec<f64> = (0..shots.len()).map(mean).collect();
    let (least, most) = all.iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    let noise = signals.iter().flatten().map(|l| l.variance.sqrt()).fold(0.0, f64::max);
    if most - least < (4.0 * step).max(0.01) {
        let what = if most > 0.5 {
            "every exposure is clipped: shoot the bracket darker"
        } else if noise < 0.25 {
            "every exposure is black: is the lens capped, or the light off?"
        } else {
            "every exposure is the same"
        };
        return Err(MeasureError::Flat(format!("the signal is {least:.4} to {most:.4} in every frame: {what}")));
    }
    let falls: Vec<usize> = (0..shots.len() - 1)
        .filter(|i| mean(*i) - mean(i + 1) > (2.0 * step + 4.0 * (error(*i) + error(i + 1))).max(0.002))
        .collect();
    let Some(at) = falls.first().copied() else { return Ok(()) };
    let (a, b) = (shots[at], shots[at + 1]);
    let hint = if first > last && falls.len() + 1 >= shots.len() / 2 {
        "they get darker as their stops rise: are the frames in the other order?"
    } else if falls.len() > 1 {
        "are the frames in the order of their stops?"
    } else {
        "are the frames in order, and did the card or the light change?"
    };
    Err(MeasureError::Order(format!(
        "{} at {:+} stops has a signal of {:.4}, but {} at {:+} stops only {:.4}: {hint}",
        a.name,
        a.stops,
        mean(at),
        b.name,
        b.stops,
        mean(at + 1)
    )))
}

/// The top of a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Plateau {
    /// The signal of the clip, or the highest mean.
    pub(super) signal: f64,
    /// The first shot at the clip; `None` if there is none.
    pub(super) from: Option<usize>,
    /// Samples at or above this are clipped.
    pub(super) touches: f64,
}

/// Share of a shot's samples in channel `c` at or above `bound`.
pub(super) fn share_above(shot: &Shot, c: usize, bound: f64) -> f64 {
    let (mut over, mut all) = (0usize, 0usize);
    for rgb in shot.patches.iter().flat_map(|p| p.pixels()) {
        (over, all) = (over + usize::from(f64::from(rgb[c]) >= bound), all + 1);
    }
    over as f64 / all.max(1) as f64
}

/// Finds where a channel stops rising.
pub(super) fn clip(shots: &[&Shot], c: usize, stops: &[f64], levels: &[Level], step: f64) -> Plateau {
    let last = levels.len() - 1;
    let rise = |i: usize| (levels[i + 1].mean - levels[i].mean) / (stops[i + 1] - stops[i]);
    let steepest = (0..last).map(rise).fold(0.0, f64::max);
    let top = levels[last].mean;
    let flat = (1.5 * step).max(0.01 * steepest);
    let from = (0..=last).rev().take_while(|i| (top - levels[*i].mean).abs() <= flat).last().unwrap_or(last);
    let deviation = |i: usize| levels[i].variance.sqrt();
    let highest = shots[last].patches.iter().flat_map(|p| p.pixels()).map(|rgb| f64::from(rgb[c]));
    let highest = highest.fold(f64::MIN, f64::max);
    let mut signal = top;
    let seen = if stops[last] - stops[from] >= 0.25 {
        true
    } else {
        // One shot alone at the top: samples heap up at its highest, and noise is gone that was there before.
        let share = share_above(shots[last], c, highest - 1.5 * step);
        let (before, now) = (deviation(last - 1), deviation(last));
        let still = now <= 0.5 * before && rise(last - 1) < 0.95 * steepest || rise(last - 1) < 0.5 * steepest;
        let heaped = share >= 0.2 && now.min(before) >= 3.0 * step;
        if heaped {
            signal = highest;
        }
        share >= 0.9 && still || heaped
    };
    let touches = signal - 1.5 * step - if signal == top { 2.0 * deviation(last) } else { 0.0 };
    Plateau { signal, from: seen.then_some(from), touches }
}

/// The light without exposure, by weighted least squares of light = gain 2^stops + black over the shots that do not clip.
/// The weight of a shot is its noise and 1 % besides, the precision of curves and shutters.
pub(super) fn black(exposures: &[Exposure], c: usize, grey: f64) -> f64 {
    let rows: Vec<[f64; 3]> = exposures
        .iter()
        .filter(|s| s.channels[c].state == State::Good)
        .map(|s| {
            let r = &s.channels[c];
            let exposed = grey * exp2(s.stops);
            // The mean of a patch is far surer than one sample of it.
            let error = 0.05 * r.noise + 0.01 * exposed;
            [exposed, r.light, 1.0 / (error * error).max(f64::MIN_POSITIVE)]
        })
        .collect();
    let sum = |of: &dyn Fn(&[f64; 3]) -> f64| rows.iter().map(of).sum::<f64>();
    let (w, x, y) = (sum(&|r| r[2]), sum(&|r| r[2] * r[0]), sum(&|r| r[2] * r[1]));
    let (xx, xy) = (sum(&|r| r[2] * r[0] * r[0]), sum(&|r| r[2] * r[0] * r[1]));
    let determinant = w * xx - x * x;
    if determinant > 0.0 { (xx * y - x * xy) / determinant } else { 0.0 }
}

/// Linear interpolation at `at` of rising (x, value); `None` outside.
pub(super) fn between(points: &[(f64, f64)], at: f64) -> Option<f64> {
    points
        .windows(2)
        .find(|w| w[0].0 <= at && at <= w[1].0)
        .map(|w| w[0].1 + (w[1].1 - w[0].1) * (at - w[0].0) / (w[1].0 - w[0].0))
}

//! Finds the published curve that a bracket follows, within its noise.
//!
//! Each sample is decoded by the curve that is tried, and then the mean is taken: the mean of log signals lies under the
//! log of the mean light wherever there is noise, by half a stop in the deepest shadows, so that the true curve itself would
//! seem to deviate there. What is left between light and exposure is weighed by the error of each mean. Two curves that
//! differ by less than three standard deviations of that cannot be told apart.

use super::Claim;
use crate::camera::Range;
use crate::frame::Frame;
use crate::math::{exp2, log2};
use crate::statistics::median;
use crate::transfer::{Light, MID_GREY, Role, encodings};
use std::collections::BTreeMap;
use std::f64::consts::LN_2;

/// The samples of one exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Samples {
    /// Stops from mid-grey.
    pub stops: f64,
    /// The step between neighbouring codes, in signal.
    pub step: f64,
    /// Red, green, blue: each signal, and how many samples have it.
    pub channels: [Vec<(f64, u32)>; 3],
}

impl Samples {
    /// Those of patches.
    pub fn of(stops: f64, patches: &[Frame], step: f64) -> Self {
        let channels = std::array::from_fn(|c| {
            // Numbers of one sign sort as their bits do; what is below 0 comes in another order, which does not matter.
            let mut counts: BTreeMap<u32, u32> = BTreeMap::new();
            for rgb in patches.iter().flat_map(Frame::pixels) {
                *counts.entry(rgb[c].to_bits()).or_default() += 1;
            }
            counts.into_iter().map(|(bits, count)| (f64::from(f32::from_bits(bits)), count)).collect()
        });
        Self { stops, step, channels }
    }

    /// The mean light by a curve, and its standard error: of the mean of the three channels.
    fn light(&self, claim: &Claim) -> (f64, f64) {
        let (mut light, mut variance) = (0.0, 0.0);
        for samples in &self.channels {
            let mut sums = [0.0; 4];
            for &(signal, count) in samples {
                let (light, count) = (claim.decode(signal), f64::from(count));
                let of = [count, count * signal, count * light, count * light * light];
                sums.iter_mut().zip(of).for_each(|(sum, v)| *sum += v);
            }
            let [count, signal, sum, squares] = sums;
            let (mean, at) = (sum / count.max(1.0), signal / count.max(1.0));
            light += mean / 3.0;
            variance += (squares / count.max(1.0) - mean * mean).max(0.0) / count.max(1.0) / 9.0;
            // The steps of the codes, beside noise.
            let rounding = (claim.decode(at + self.step / 4.0) - claim.decode(at - self.step / 4.0)) / 2.0;
            variance += rounding * rounding / 9.0;
        }
        (light, variance.sqrt())
    }
}

/// A published curve against the bracket.
#[derive(Debug, Clone)]
pub struct Match {
    /// The curve.
    pub claim: Claim,
    /// Stops by which all points lie over the curve.
    pub offset: f64,
    /// Root mean square of what is left, in stops.
    pub rms: f64,
    /// Whether the bracket cannot tell it from the one that fits best; true for that one too.
    pub alike: bool,
    /// Sum of the squares of what is left over their errors.
    left: f64,
}

/// Published curves that are kept, the best; and those that fit alike.
const KEPT: usize = 3;
const KEPT_ALIKE: usize = 6;
/// Uncertainty of an exposure beside its noise, in stops: the steps of a shutter.
const TRUSTED: f64 = 0.005;
/// A sum of squares that is larger by this, in errors of the best fit, tells two curves apart: three standard deviations.
const APART: f64 = 9.0;

/// The published camera curves that fit a bracket best, at full and at legal range: first those that fit alike, the one
/// that needs the least offset first, then the others, the best first.
pub fn published(bracket: &[Samples]) -> Vec<Match> {
    let mut matches: Vec<Match> = Vec::new();
    let cameras = encodings().iter().filter(|e| e.role == Role::Camera && e.light == Light::SceneReflectance);
    for encoding in cameras {
        let eis: Vec<Option<u32>> =
            if encoding.ratings.is_empty() { vec![None] } else { encoding.ratings.iter().copied().map(Some).collect() };
        for ei in eis {
            let Ok(curve) = encoding.build(ei) else { continue };
            for range in Range::ALL {
                let at = ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
                let name = match range {
                    Range::Full => format!("{}{at}", encoding.name),
                    Range::Legal => format!("{}{at}, legal range", encoding.name),
                };
                matches.extend(tried(Claim { name, curve: curve.clone(), range }, bracket));
            }
        }
    }
    matches.sort_by(|a, b| a.left.total_cmp(&b.left));
    if let Some(best) = matches.first().map(|m| m.left) {
        // If even the best curve does not fit within its errors, the errors were estimated too small.
        let error = (best / bracket.len().saturating_sub(1).max(1) as f64).max(1.0);
        matches.iter_mut().for_each(|m| m.alike = m.left - best < APART * error);
    }
    let alike = matches.iter().take_while(|m| m.alike).count();
    matches[..alike].sort_by(|a, b| a.offset.abs().total_cmp(&b.offset.abs()));
    matches.truncate(alike.clamp(KEPT, KEPT_ALIKE));
    matches
}

/// Tries a curve on a bracket. `None` if half of the exposures are in the noise by it.
fn tried(claim: Claim, bracket: &[Samples]) -> Option<Match> {
    let points: Vec<(f64, f64, f64)> = bracket
        .iter()
        .map(|samples| {
            let (light, error) = samples.light(&claim);
            (samples.stops, light, error)
        })
        .filter(|(_, light, error)| light.is_finite() && error.is_finite())
        .collect();
    let told: Vec<(f64, f64)> = points
        .iter()
        .filter(|(_, light, error)| *light > 5.0 * error)
        .map(|(stops, light, error)| (log2(light / MID_GREY) - stops, error / light / LN_2))
        .collect();
    if points.len() < bracket.len() || told.len() < 3 || told.len() * 2 < points.len() {
        return None;
    }
    // In light, where the errors are even: light within the noise has no logarithm.
    let mut offset = median(&told.iter().map(|t| t.0).collect::<Vec<_>>())?;
    let weighed = |offset: f64| {
        points.iter().map(move |(stops, light, error)| {
            let due = MID_GREY * exp2(stops + offset);
            let trusted = TRUSTED * LN_2 * due;
            (due, light - due, 1.0 / (error * error + trusted * trusted).max(f64::MIN_POSITIVE))
        })
    };
    for _ in 0..30 {
        let (mut up, mut down) = (0.0, 0.0);
        for (due, apart, weight) in weighed(offset) {
            let slope = LN_2 * due;
            up += weight * slope * apart;
            down += weight * slope * slope;
        }
        let step = (up / down).clamp(-0.5, 0.5);
        if !step.is_finite() {
            return None;
        }
        offset += step;
        if step.abs() < 1e-9 {
            break;
        }
    }
    let left = weighed(offset).map(|(_, apart, weight)| weight * apart * apart).sum();
    let weight = |t: &(f64, f64)| 1.0 / (0.01 * 0.01 + t.1 * t.1);
    let all: f64 = told.iter().map(weight).sum();
    let squares: f64 = told.iter().map(|t| weight(t) * (t.0 - offset) * (t.0 - offset)).sum();
    Some(Match { claim, offset, rms: (squares / all).sqrt(), alike: false, left })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transfer::Transfer;

    fn bracket(curve: &dyn Transfer, range: Range, offset: f64) -> Vec<Samples> {
        (-8..=6)
            .map(|stops| {
                let stops = f64::from(stops);
                let signal = range.encode(curve.encode(MID_GREY * exp2(stops + offset)));
                Samples {
                    stops,
                    step: 1e-5,
                    channels: [vec![(signal, 1000)], vec![(signal, 1000)], vec![(signal, 1000)]],
                }
            })
            .collect()
    }

    #[test]
    fn every_published_curve_is_known_again() {
        for encoding in encodings().iter().filter(|e| e.role == Role::Camera && e.light == Light::SceneReflectance) {
            let curve = encoding.build(None).unwrap();
            for range in Range::ALL {
                for offset in [-1.0, -0.5, 0.1, 0.7] {
                    let found = published(&bracket(curve.as_ref(), range, offset));
                    let of = |m: &&Match| {
                        m.claim.name.split([' ', ',']).next() == Some(encoding.name) && m.claim.range == range
                    };
                    let same = found.iter().filter(|m| m.alike).find(of);
                    let same = same.unwrap_or_else(|| panic!("{} {offset}: {found:?}", encoding.name));
                    assert!((same.offset - offset).abs() < 2e-2, "{}: {}", encoding.name, same.offset);
                    // Some makers publish one curve under two names, or two that are almost the same.
                    assert!(
                        found.iter().filter(|m| m.alike).all(|m| m.rms < 1e-2),
                        "{} {offset}: {found:?}",
                        encoding.name
                    );
                }
            }
        }
    }
}

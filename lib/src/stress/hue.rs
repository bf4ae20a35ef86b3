//! Hue: a light keeps its hue as it gets brighter, and hues keep their order.

use super::clipping::{SATURATED, saturated};
use super::figures::{HUE_ORDER, HUE_SKEW};
use super::path::{Path, turned};
use super::rays::{HUE_STEP, HUES, Sweep};
use super::search::{Axis, largest};
use super::{Found, Reading, Run};
use crate::chromaticity::D65;
use crate::oklab::oklab;
use schemars::JsonSchema;
use serde::Serialize;

/// Chroma of Oklab below which a colour has no hue to speak of: a fifth of that of BT.709's primaries, about.
pub(super) const LEAST: f64 = 0.05;
/// The same in Delta E ITP.
pub(super) const LEAST_ITP: f64 = 20.0;
/// Stops on either side of mid-grey.
const REACH: f64 = 6.0;
/// Every so many codes of a ray a hue is looked at.
const EVERY: usize = 4;
/// Degrees of hue over which order is judged, at most.
const WIDEST: f64 = 30.0;
/// Turns below this are rounding.
const ROUNDING: f64 = 1e-6;

/// a and b of Oklab of a CIELAB colour: the same ratios to white, under D65.
pub(super) fn oklab_of_lab([l, a, b]: [f64; 3]) -> [f64; 2] {
    const EDGE: f64 = 6.0 / 29.0;
    let y = (l + 16.0) / 116.0;
    let ratios = [y + a / 500.0, y, y - b / 200.0]
        .map(|f| if f > EDGE { f * f * f } else { 3.0 * EDGE * EDGE * (f - 4.0 / 29.0) });
    let white: [f64; 3] = D65.to_xyz(1.0).into();
    let [_, a, b] = oklab(std::array::from_fn(|i| ratios[i] * white[i]));
    [a, b]
}

/// What becomes of the saturated lights of one hue.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct HueRow {
    /// Hue over the camera's primaries, degrees.
    pub hue: f64,
    /// Degrees that the hue on the display spans from -6 to +6 stops; none where there is no colour to see.
    pub span: Option<f64>,
    /// Stops from grey at which a channel first clips; none: never.
    pub clips: Option<f64>,
}

/// The hues along a ray, unwound, each with its signal.
fn along(path: &Path<'_>, places: impl Iterator<Item = (f64, [f64; 3])>) -> Vec<(f64, f64)> {
    let mut hues: Vec<(f64, f64)> = Vec::new();
    for (v, place) in places {
        if let Some(hue) = path.hue(place) {
            let hue = hues.last().map_or(hue, |(_, last)| last + turned(hue - last));
            hues.push((v, hue));
        }
    }
    hues
}

/// The signals of the least and the greatest hue of a ray, the darker first.
fn ends(hues: &[(f64, f64)]) -> Option<[(f64, f64); 2]> {
    let least = hues.iter().copied().reduce(|a, b| if b.1 < a.1 { b } else { a })?;
    let most = hues.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    Some(if least.0 <= most.0 { [least, most] } else { [most, least] })
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>, found: &mut Found) {
    let rays = &run.rays;
    let (low, high) = (rays.at_stops(-REACH), rays.at_stops(REACH));
    let within = |v: &f64| (low..=high).contains(v);
    let exposure = Axis { low, high, ..rays.axis() };
    let hues = Axis::round(0.0, 360.0, HUE_STEP);
    // Paler lights have too little hue of their own.
    let saturations = Axis::new(0.25, 1.0, 0.25);

    let seeds: Vec<[f64; 4]> = sweep
        .rays()
        .filter_map(|(hue, saturation, seen)| {
            let codes = sweep.codes.iter().zip(seen).filter(|(v, _)| within(v)).step_by(EVERY);
            let [from, to] = ends(&along(path, codes.map(|(v, s)| (*v, *s))))?;
            Some([hue, saturation, from.0, to.0])
        })
        .collect();
    let hue_at = |hue, saturation, v| path.hue(path.place(rays.signal(hue, saturation, v)));
    let skew = |[hue, saturation, from, to]: [f64; 4]| {
        let seen = (hue_at(hue, saturation, from), hue_at(hue, saturation, to));
        if let (Some(a), Some(b)) = seen { turned(b - a).abs() } else { f64::NEG_INFINITY }
    };
    let worst = largest(&skew, &[hues, saturations, exposure, exposure], &seeds).filter(|w| w.1 > ROUNDING);
    found.add(
        &HUE_SKEW,
        match worst {
            Some(([hue, saturation, from, to], value)) => {
                let point = |v| Some(rays.point(path, hue, saturation, v));
                Reading { value, at: point(from.min(to)), to: point(from.max(to)) }
            }
            None => Reading::nowhere(0.0),
        },
    );

    // The ray of the next hue stands as many places on as there are saturations.
    let all: Vec<_> = sweep.rays().collect();
    let next = all.len() / HUES;
    let mut seeds: Vec<[f64; 4]> = Vec::new();
    for (i, (hue, saturation, seen)) in all.iter().enumerate() {
        let other = all[(i + next) % all.len()].2;
        let backwards = |k: &usize| match (path.hue(seen[*k]), path.hue(other[*k])) {
            (Some(a), Some(b)) => -turned(b - a),
            _ => f64::NEG_INFINITY,
        };
        let codes = (0..seen.len()).step_by(EVERY).filter(|k| within(&sweep.codes[*k]));
        let worst = codes.max_by(|a, b| backwards(a).total_cmp(&backwards(b)));
        seeds.extend(
            worst.into_iter().flat_map(|k| [HUE_STEP, 1.0].map(|width| [*hue, *saturation, sweep.codes[k], width])),
        );
    }
    let backwards = |[hue, saturation, v, width]: [f64; 4]| {
        let seen = (hue_at(hue, saturation, v), hue_at(hue + width, saturation, v));
        if let (Some(a), Some(b)) = seen { -turned(b - a) } else { f64::NEG_INFINITY }
    };
    let axes = [hues, saturations, exposure, Axis::new(0.1, WIDEST, HUE_STEP / 2.0)];
    let worst = largest(&backwards, &axes, &seeds).filter(|w| w.1 > ROUNDING);
    found.add(
        &HUE_ORDER,
        match worst {
            Some(([hue, saturation, v, width], value)) => {
                let point = |hue| Some(rays.point(path, hue, saturation, v));
                Reading { value, at: point(hue), to: point(hue + width) }
            }
            None => Reading::nowhere(0.0),
        },
    );
}

/// Saturated lights, hue by hue.
pub(super) fn rows(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>) -> Vec<HueRow> {
    let rays = &run.rays;
    let (low, high) = (rays.at_stops(-REACH), rays.at_stops(REACH));
    (0..HUES)
        .map(|i| {
            let hue = i as f64 * HUE_STEP;
            let codes = sweep.codes.iter().filter(|v| (low..=high).contains(*v)).step_by(EVERY);
            let seen = codes.map(|v| (*v, path.place(rays.signal(hue, SATURATED, *v))));
            let span = ends(&along(path, seen)).map(|[a, b]| (b.1 - a.1).abs());
            HueRow { hue, span, clips: saturated(run, path, hue) }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::difference::lab;

    #[test]
    fn a_colour_has_the_same_hue_by_way_of_cielab() {
        let white: [f64; 3] = D65.to_xyz(1.0).into();
        for xyz in [[0.2, 0.1, 0.6], [0.4, 0.5, 0.001], [0.001, 0.002, 0.0005]] {
            let [a, b] = oklab_of_lab(lab(xyz, white));
            let [_, wa, wb] = oklab(xyz);
            assert!((a - wa).abs() < 1e-12 && (b - wb).abs() < 1e-12);
        }
    }
}

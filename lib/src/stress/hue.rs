//! Hue: a light keeps its hue as it gets brighter, and hues keep their order.
//!
//! Lights that there are and signals that no light makes are searched apart: the saturation of each hue is counted from
//! grey to the last that is real, or from there to a channel without light.

use super::clipping::{SATURATED, saturated};
use super::figures::{HUE_ORDER, HUE_SKEW, HUE_UNREAL, HUE_WARM};
use super::path::{Path, turned};
use super::rays::{HUE_STEP, HUES, Rays, Sweep, hexagon};
use super::search::{Axis, CLIMBS, largest, largest_of};
use super::turn::{self, Turn};
use super::{Found, Point, Reading, Run};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use std::borrow::Cow;
use std::sync::OnceLock;

/// Stops on either side of mid-grey.
const REACH: f64 = 6.0;
/// Degrees of hue over which order is judged, at most.
const WIDEST: f64 = 30.0;
/// Turns below this are rounding.
const ROUNDING: f64 = 1e-6;

/// What becomes of the saturated lights of one hue.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct HueRow {
    /// Hue over the camera's primaries, degrees.
    pub hue: f64,
    /// Saturation over the camera's primaries: 0.95, or the most that a light of this hue has.
    pub saturation: f64,
    /// Degrees that the hue on the display spans from -6 to +6 stops without what the look asks for, its tints and its
    /// balance; none where there is no colour to see.
    pub span: Option<f64>,
    /// The same with what the look asks for.
    pub total: Option<f64>,
    /// Stops from grey at which a channel first clips; none: never.
    pub clips: Option<f64>,
}

/// One search: over lights that there are, or over signals that no light makes.
struct Lights<'l, 'r> {
    run: &'l Run<'r>,
    real: bool,
}

impl Lights<'_, '_> {
    /// The saturation of a hue at `t`: from 0 to 1 over those that are real, or over those that are not.
    fn saturation(&self, hue: f64, t: f64) -> f64 {
        let most = self.run.real.most_saturated(hexagon(hue));
        if self.real { most * t } else { most + (1.0 - most) * t }
    }

    /// Whether a hue has such lights.
    fn has(&self, hue: f64) -> bool {
        self.real || self.run.real.most_saturated(hexagon(hue)) < 1.0 - ROUNDING
    }

    fn signal(&self, hue: f64, t: f64, v: f64) -> [f64; 3] {
        self.run.rays.signal(hue, self.saturation(hue, t), v)
    }

    /// The hues and saturations of the grid.
    fn grid(&self) -> Vec<[f64; 2]> {
        let saturations = self.axis().values();
        let hues = (0..HUES).map(|i| i as f64 * HUE_STEP).filter(|hue| self.has(*hue));
        hues.flat_map(|hue| saturations.iter().map(move |t| [hue, *t])).collect()
    }

    fn axis(&self) -> Axis {
        // Paler lights have too little hue of their own.
        if self.real { Axis::new(0.25, 1.0, 0.25) } else { Axis::new(0.0, 1.0, 0.5) }
    }

    fn point(&self, path: &Path<'_>, hue: f64, t: f64, v: f64) -> Option<Point> {
        Some(self.run.rays.point(path, hue, self.saturation(hue, t), v))
    }
}

/// Hues along every light of a grid, code by code; none where there is too little chroma.
type Hues = Vec<Vec<Option<f64>>>;

/// What is seen of the grids of [`Lights`] on the paths that every other is compared with, once it is asked for: real
/// lights on the exact path and on the bare one, and the same of signals that no light makes.
#[derive(Default)]
pub(super) struct Seen([[OnceLock<Hues>; 2]; 2]);

impl Lights<'_, '_> {
    fn along(&self, path: &Path<'_>, codes: &[f64]) -> Hues {
        let ray = |[hue, t]: &[f64; 2]| codes.iter().map(|v| path.hue_of(self.signal(*hue, *t, *v))).collect();
        self.grid().par_iter().map(ray).collect()
    }

    /// The hues of the grid on a path, and those without what the look asks for.
    fn seen(&self, path: &Path<'_>, codes: &[f64]) -> [Cow<'_, Hues>; 2] {
        let run = self.run;
        let [exact, bare] = &run.seen.0[usize::from(self.real)];
        let exact = || Cow::Borrowed(exact.get_or_init(|| self.along(&run.exact, codes)));
        let here = if path.is_exact() { exact() } else { Cow::Owned(self.along(path, codes)) };
        if !run.asks {
            return [here.clone(), here];
        }
        let bare = Cow::Borrowed(bare.get_or_init(|| self.along(&run.untinted, codes)));
        if path.is_exact() {
            return [here, bare];
        }
        let (exact, mut unasked) = (exact(), bare.into_owned());
        for (ray, (here, exact)) in unasked.iter_mut().zip(here.iter().zip(exact.iter())) {
            for (bare, (here, exact)) in ray.iter_mut().zip(here.iter().zip(exact)) {
                *bare = turn::unasked(*bare, *here, *exact);
            }
        }
        [here, Cow::Owned(unasked)]
    }

    /// The widest turns: but for those of warm lights to yellow, and those; or of any kind where the two are one figure.
    fn widest(&self, path: &Path<'_>, codes: &[f64], exposure: Axis, unasked: &Hues) -> [Reading; 2] {
        let run = self.run;
        let seeds: Vec<[Option<[f64; 4]>; 2]> = self
            .grid()
            .iter()
            .zip(unasked)
            .map(|([hue, t], hues)| {
                let along: Vec<_> = codes.iter().zip(hues).filter_map(|(v, hue)| Some((*v, (*hue)?))).collect();
                turn::widest(&along).map(|ends| ends.map(|[from, to]| [*hue, *t, from, to]))
            })
            .collect();
        let of = |kinds: &[bool], climbs: usize| {
            let seeds: Vec<[f64; 4]> =
                kinds.iter().flat_map(|kind| seeds.iter().filter_map(|s| s[usize::from(*kind)])).collect();
            let hue = |hue, t, v| turn::hue(run, path, self.signal(hue, t, v));
            let value = |[h, t, from, to]: [f64; 4]| {
                let Some(darker) = hue(h, t, from.min(to)).filter(|_| self.has(h)) else { return f64::NEG_INFINITY };
                let Some(brighter) = hue(h, t, from.max(to)) else { return f64::NEG_INFINITY };
                let turn = Turn::between(darker, brighter);
                kinds.iter().map(|kind| turn.of_kind(*kind)).fold(f64::NEG_INFINITY, f64::max)
            };
            let hues = Axis::round(0.0, 360.0, HUE_STEP);
            let worst = largest_of(climbs, &value, &[hues, self.axis(), exposure, exposure], &seeds);
            worst.filter(|w| w.1 > ROUNDING).map_or(Reading::nowhere(0.0), |([hue, t, from, to], value)| {
                let [from, to] = [from.min(to), from.max(to)];
                let point = |v| self.point(path, hue, t, v);
                let total = turn::total(run, path, [from, to], |v| self.signal(hue, t, v));
                Reading { total, ..Reading::new(value, point(from), point(to)) }
            })
        };
        // A figure that breaks nothing is not worth as many climbs.
        if self.real {
            [of(&[false], turn::climbs(run, path)), of(&[true], CLIMBS / 3)]
        } else {
            [of(&[false, true], CLIMBS / 3), Reading::nowhere(0.0)]
        }
    }
}

/// Signals of the brightest channel that are searched, and those of the grid.
fn exposures(rays: &Rays<'_>) -> (Axis, Vec<f64>) {
    let axis = Axis { low: rays.at_stops(-REACH), high: rays.at_stops(REACH), ..rays.axis() };
    // The last step of the grid may go past the end of the signal.
    let codes = axis.values().into_iter().step_by(2).chain([axis.high]).map(|v| v.min(axis.high)).collect();
    (axis, codes)
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, _sweep: &Sweep<'_>, found: &mut Found) {
    let (exposure, codes) = exposures(&run.rays);
    let real = Lights { run, real: true };
    let [here, unasked] = real.seen(path, &codes);
    let [skew, warm] = real.widest(path, &codes, exposure, &unasked);
    found.add(&HUE_SKEW, skew);
    found.add(&HUE_WARM, warm);
    let unreal = Lights { run, real: false };
    let [_, unasked] = unreal.seen(path, &codes);
    let [any, _] = unreal.widest(path, &codes, exposure, &unasked);
    found.add(&HUE_UNREAL, any);
    found.add(&HUE_ORDER, order(&real, path, &codes, exposure, &here));
}

/// Hues that run backwards, of lights side by side, as saturated as their hue can be or as pale.
fn order(lights: &Lights<'_, '_>, path: &Path<'_>, codes: &[f64], exposure: Axis, along: &Hues) -> Reading {
    let seen = |hue: f64, t: f64, v: f64| path.hue_of(lights.signal(hue, t, v));
    let grid = lights.grid();
    // The ray of the next hue stands as many places on as there are saturations.
    let next = grid.len() / HUES;
    let mut seeds: Vec<[f64; 4]> = Vec::new();
    for (i, [hue, t]) in grid.iter().enumerate() {
        let (here, other) = (&along[i], &along[(i + next) % grid.len()]);
        let backwards = |k: &usize| match (here[*k], other[*k]) {
            (Some(a), Some(b)) => -turned(b - a),
            _ => f64::NEG_INFINITY,
        };
        let worst = (0..codes.len()).max_by(|a, b| backwards(a).total_cmp(&backwards(b)));
        seeds.extend(worst.into_iter().flat_map(|k| [HUE_STEP, 1.0].map(|width| [*hue, *t, codes[k], width])));
    }
    let backwards = |[hue, t, v, width]: [f64; 4]| {
        let seen = (seen(hue, t, v), seen(hue + width, t, v));
        if let (Some(a), Some(b)) = seen { -turned(b - a) } else { f64::NEG_INFINITY }
    };
    let hues = Axis::round(0.0, 360.0, HUE_STEP);
    let axes = [hues, lights.axis(), exposure, Axis::new(0.1, WIDEST, HUE_STEP / 2.0)];
    match largest(&backwards, &axes, &seeds).filter(|w| w.1 > ROUNDING) {
        Some(([hue, t, v, width], value)) => {
            Reading::new(value, lights.point(path, hue, t, v), lights.point(path, hue + width, t, v))
        }
        None => Reading::nowhere(0.0),
    }
}

/// Saturated lights, hue by hue.
pub(super) fn rows(run: &Run<'_>, path: &Path<'_>) -> Vec<HueRow> {
    let rays = &run.rays;
    let (_, codes) = exposures(rays);
    (0..HUES)
        .into_par_iter()
        .map(|i| {
            let hue = i as f64 * HUE_STEP;
            let saturation = SATURATED.min(run.real.most_saturated(hexagon(hue)));
            let signals: Vec<_> = codes.iter().map(|v| rays.signal(hue, saturation, *v)).collect();
            let span = turn::span(signals.iter().filter_map(|signal| turn::hue(run, path, *signal)));
            let total =
                if run.asks { turn::span(signals.iter().filter_map(|signal| path.hue_of(*signal))) } else { span };
            HueRow { hue, saturation, span, total, clips: saturated(run, path, hue) }
        })
        .collect()
}

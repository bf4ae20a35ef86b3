//! Clipping: where white, black, each channel and saturated lights reach the display's ends.

use super::figures::{CLIPPING_BLACK, CLIPPING_SATURATED, CLIPPING_SHARE, CLIPPING_WHITE};
use super::path::{CODES, Path};
use super::rays::{HUE_STEP, Sweep, hue_name};
use super::search::{Axis, largest, turn};
use super::{Found, Light, Reading, Run};
use crate::display::Display;
use crate::test_colours;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// A channel is at an end within half a code value of 10 bits.
pub(super) const HALF: f64 = 0.5 / CODES;
/// Colours of a camera over which the share is counted.
const COUNT: usize = 4096;
/// Saturation of a saturated light: all but no light in its darkest channel.
pub(super) const SATURATED: f64 = 0.95;

/// Where greys reach the display's ends, in stops from mid-grey. None: never within the camera's signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Ends {
    /// All channels at the top.
    pub white: Option<f64>,
    /// Each channel at the top: red, green, blue.
    pub channels: [Option<f64>; 3],
    /// Below, all that is left to black is less than one code value of 10 bits; stops from mid-grey, below zero.
    pub black: Option<f64>,
    /// The brightest grey of the camera's signal.
    pub top: f64,
}

/// Where a camera's colours lie at the display's boundary: within half a code value of 10 bits of an end, in any channel.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Boundary {
    /// Percent of the camera's colours with a channel at the top.
    pub top: f64,
    /// Percent with a channel at the bottom.
    pub bottom: f64,
    /// Percent by hue over the camera's primaries, the most first; greys are of no hue.
    pub hues: Vec<HueShare>,
}

/// How many of a camera's colours are of one hue and at the boundary.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HueShare {
    /// The hue, in a word.
    pub hue: String,
    /// Percent of the camera's colours.
    pub percent: f64,
}

/// The display's signal at both ends.
#[derive(Clone, Copy)]
pub(super) struct Range {
    low: [f64; 3],
    high: [f64; 3],
}

impl Range {
    pub(super) fn of(display: &Display) -> Self {
        let end = |light: f64| display.encode(display.map([light; 3])).0;
        Self { low: end(0.0), high: end(10.0 * display.peak_ratio()) }
    }

    fn is_at_top(&self, out: [f64; 3], channel: usize) -> bool {
        out[channel] >= self.high[channel] - HALF
    }

    fn is_white(&self, out: [f64; 3]) -> bool {
        (0..3).all(|i| self.is_at_top(out, i))
    }

    fn has_clipped(&self, out: [f64; 3]) -> bool {
        (0..3).any(|i| self.is_at_top(out, i))
    }

    fn is_crushed(&self, out: [f64; 3]) -> bool {
        (0..3).any(|i| out[i] <= self.low[i] + HALF)
    }
}

/// The first signal of a ray of which something is true, halved to its place; none where it never is.
fn first(codes: &[f64], holds: impl Fn(f64) -> bool) -> Option<f64> {
    let k = codes.iter().position(|v| holds(*v))?;
    Some(if k == 0 { codes[0] } else { turn(codes[k], codes[k - 1], holds) })
}

/// As [`first`], of what a brighter light keeps: between the codes of a coarse ray.
fn first_of_ray(run: &Run<'_>, path: &Path<'_>, range: Range, hue: f64) -> Option<f64> {
    let rays = &run.rays;
    let steps = 64;
    let codes: Vec<f64> =
        (0..=steps).map(|i| rays.low + (rays.high - rays.low) * f64::from(i) / f64::from(steps)).collect();
    first(&codes, |v| range.has_clipped(path.at(rays.signal(hue, SATURATED, v))))
}

/// Stops from grey at which saturated lights of a hue first clip.
pub(super) fn saturated(run: &Run<'_>, path: &Path<'_>, hue: f64) -> Option<f64> {
    first_of_ray(run, path, Range::of(run.display), hue).map(|v| run.rays.stops(v))
}

pub(super) fn ends(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>) -> Ends {
    let range = Range::of(run.display);
    let stops = |v: f64| run.rays.stops(v);
    let out = |v: f64| path.at([v; 3]);
    let black = out(run.rays.black);
    // The brightest grey within a code of black.
    let crushed = |v: f64| (0..3).all(|i| (out(v)[i] - black[i]).abs() < 1.0 / CODES);
    Ends {
        white: first(&sweep.codes, |v| range.is_white(out(v))).map(stops),
        channels: std::array::from_fn(|i| first(&sweep.codes, |v| range.is_at_top(out(v), i)).map(stops)),
        black: crushed(sweep.codes[0]).then(|| first(&sweep.codes, |v| !crushed(v)).map(stops)).flatten(),
        top: stops(run.rays.high),
    }
}

/// [`boundary`] of the exact path, found once.
pub(super) fn exact_boundary<'r>(run: &'r Run<'_>) -> &'r (f64, Boundary) {
    run.boundary.get_or_init(|| boundary(run, &run.exact))
}

/// The camera's colours at the display's boundary.
fn boundary(run: &Run<'_>, path: &Path<'_>) -> (f64, Boundary) {
    let range = Range::of(run.display);
    let colours = test_colours::plausible(run.rays.camera, 1, COUNT);
    let ends: Vec<[bool; 2]> = colours
        .par_iter()
        .map(|signal| {
            let out = path.at(*signal);
            [range.has_clipped(out), range.is_crushed(out)]
        })
        .collect();
    let percent = |count: usize| 100.0 * count as f64 / COUNT as f64;
    let count = |holds: fn(&[bool; 2]) -> bool| percent(ends.iter().filter(|e| holds(e)).count());
    let mut hues: BTreeMap<&str, usize> = BTreeMap::new();
    for (signal, _) in colours.iter().zip(&ends).filter(|(_, ends)| ends[0] || ends[1]) {
        if let Some(name) = Light::of_signal(&run.rays, *signal).0.hue.map(hue_name) {
            *hues.entry(name).or_default() += 1;
        }
    }
    let mut hues: Vec<HueShare> =
        hues.into_iter().map(|(hue, n)| HueShare { hue: hue.to_owned(), percent: percent(n) }).collect();
    hues.sort_by(|a, b| b.percent.total_cmp(&a.percent));
    (count(|e| e[0] || e[1]), Boundary { top: count(|e| e[0]), bottom: count(|e| e[1]), hues })
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>, found: &mut Found) {
    let rays = &run.rays;
    let range = Range::of(run.display);
    let ends = ends(run, path, sweep);
    let grey = |stops: Option<f64>| stops.map(|s| rays.grey(path, rays.at_stops(s)));
    found.add(&CLIPPING_WHITE, Reading::new(ends.white.unwrap_or(ends.top), grey(ends.white), None));
    let darkest = -rays.stops(rays.low);
    let black = ends.black.map_or(darkest, |stops| -stops);
    found.add(&CLIPPING_BLACK, Reading::new(black, grey(ends.black), None));

    let share = if path.is_exact() { exact_boundary(run).0 } else { boundary(run, path).0 };
    found.add(&CLIPPING_SHARE, Reading::nowhere(share));

    let seeds: Vec<[f64; 1]> = (0..24).map(|i| [HUE_STEP * f64::from(i)]).collect();
    let earliest = |[hue]: [f64; 1]| first_of_ray(run, path, range, hue).map_or(f64::NEG_INFINITY, |v| -v);
    let worst = largest(&earliest, &[Axis::round(0.0, 360.0, HUE_STEP)], &seeds);
    found.add(
        &CLIPPING_SATURATED,
        match worst {
            Some(([hue], v)) => Reading::new(rays.stops(-v), Some(rays.point(path, hue, SATURATED, -v)), None),
            None => Reading::nowhere(ends.top),
        },
    );
}

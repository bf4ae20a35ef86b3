//! Banding: how far the picture moves for one code value of signal, and how suddenly that changes.

use super::figures::{BANDING_COLOUR_JUMP, BANDING_COLOUR_STEP, BANDING_NEUTRAL_JUMP, BANDING_NEUTRAL_STEP, Figure};
use super::path::{CODES, Path};
use super::rays::{HUE_STEP, Sweep};
use super::search::{Axis, largest};
use super::{Found, Point, Reading, Run};
use crate::cube::Cube;
use rayon::prelude::*;

/// One code value of 10 bits.
const CODE: f64 = 1.0 / CODES;
/// Steepest edges of the cube that a search may begin from.
const SEEDS: usize = 128;
/// Codes of every ray, the suddenest, that a search may begin from.
const PER_RAY: usize = 2;

/// The largest step of any channel between two outputs, in codes.
fn step(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|i| (b[i] - a[i]).abs() * CODES).fold(0.0, f64::max)
}

/// How far the third of three places lies from where the first two lead.
fn jump(path: &Path<'_>, [a, b, c]: [[f64; 3]; 3]) -> f64 {
    path.difference.between(std::array::from_fn(|i| 2.0 * b[i] - a[i]), c)
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>, found: &mut Found) {
    let rays = &run.rays;
    let (low, high) = (rays.low, rays.high);
    let codes = Axis::new(low, high - CODE, 2.0 * CODE);
    let inner = Axis::new(low + CODE, high - CODE, 2.0 * CODE);
    let none = || Reading::nowhere(0.0);

    let seeds: Vec<[f64; 1]> = sweep.codes.iter().map(|v| [v.min(codes.high)]).collect();
    let grey_step = |[v]: [f64; 1]| step(path.at([v; 3]), path.at([v + CODE; 3]));
    let worst = largest(&grey_step, &[codes], &seeds);
    let reading = worst.map(|([v], value)| Reading::new(value, Some(rays.grey(path, v)), None));
    found.add(&BANDING_NEUTRAL_STEP, reading.unwrap_or_else(none));

    let signals = Axis::new(rays.black, high - CODE, 4.0 * CODE);
    let one_channel = |signal: [f64; 3]| {
        let here = path.at(signal);
        let moved = |channel: usize| {
            let mut moved = signal;
            moved[channel] += CODE;
            step(here, path.at(moved))
        };
        moved(0).max(moved(1)).max(moved(2))
    };
    let worst = largest(&one_channel, &[signals; 3], &steepest(run.cube, signals.low, signals.high));
    found.add(&BANDING_COLOUR_STEP, at_signal(run, path, worst));

    let grey_jump = |[v]: [f64; 1]| jump(path, [v - CODE, v, v + CODE].map(|v| path.place([v; 3])));
    let seeds: Vec<[f64; 1]> = suddenest(path, sweep, &sweep.greys, 12).map(|v| [v]).collect();
    let worst = largest(&grey_jump, &[inner], &seeds);
    let reading = worst.map(|([v], value)| Reading::new(value, Some(rays.grey(path, v)), None));
    found.add(&BANDING_NEUTRAL_JUMP, reading.unwrap_or_else(none));

    let ray_jump = |[hue, saturation, v]: [f64; 3]| {
        jump(path, [v - CODE, v, v + CODE].map(|v| path.place(rays.signal(hue, saturation, v))))
    };
    let seeds: Vec<[f64; 3]> = sweep
        .rays()
        .flat_map(|(hue, saturation, seen)| {
            suddenest(path, sweep, seen, PER_RAY).map(move |v| [hue, saturation, v]).collect::<Vec<_>>()
        })
        .collect();
    let axes = [Axis::round(0.0, 360.0, HUE_STEP), Axis::new(0.0, 1.0, 0.25), inner];
    let worst = largest(&ray_jump, &axes, &seeds);
    let reading = worst
        .map(|([hue, saturation, v], value)| Reading::new(value, Some(rays.point(path, hue, saturation, v)), None));
    found.add(&BANDING_COLOUR_JUMP, reading.unwrap_or_else(none));
}

fn at_signal(run: &Run<'_>, path: &Path<'_>, worst: Option<([f64; 3], f64)>) -> Reading {
    match worst {
        Some((signal, value)) => Reading::new(value, Some(Point::of_signal(path, &run.rays, signal)), None),
        None => Reading::nowhere(0.0),
    }
}

/// The signals of a ray where its step changes most.
fn suddenest(path: &Path<'_>, sweep: &Sweep<'_>, seen: &[[f64; 3]], count: usize) -> impl Iterator<Item = f64> {
    let mut all: Vec<(f64, f64)> = seen
        .windows(3)
        .zip(&sweep.codes[1..])
        .map(|(three, v)| (jump(path, [three[0], three[1], three[2]]), *v))
        .collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().take(count).map(|(_, v)| v)
}

/// Middles of the cube's steepest edges.
fn steepest(cube: &Cube, low: f64, high: f64) -> Vec<[f64; 3]> {
    let size = cube.size();
    let mut edges: Vec<(f64, [f64; 3])> = (0..size * size * size)
        .into_par_iter()
        .flat_map_iter(|i| {
            let at = [i % size, i / size % size, i / (size * size)];
            (0..3).filter_map(move |channel| {
                let mut next = at;
                next[channel] += 1;
                if next[channel] == size {
                    return None;
                }
                let [from, to] = [at, next].map(|[r, g, b]| cube.input(r, g, b));
                let middle = std::array::from_fn(|c| (from[c] + to[c]) / 2.0);
                let met = middle.iter().all(|v| (low..=high).contains(v));
                let [a, b] = [at, next].map(|[r, g, b]| cube.node(r, g, b));
                met.then(|| (step(a, b), middle))
            })
        })
        .collect();
    edges.sort_by(|a, b| b.0.total_cmp(&a.0));
    edges.into_iter().take(SEEDS).map(|e| e.1).collect()
}

/// The figures of this property, for its hints.
pub(super) const STEPS: [&Figure; 2] = [&BANDING_NEUTRAL_STEP, &BANDING_COLOUR_STEP];

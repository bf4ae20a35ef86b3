//! Order: more light never comes out darker.

use super::figures::{ORDER_COLOURS, ORDER_NEUTRAL};
use super::path::{CODES, Path};
use super::rays::{HUE_STEP, Sweep};
use super::search::{Axis, largest};
use super::{Found, Reading, Run};

/// Falls below this are rounding.
const ROUNDING: f64 = 1e-9;
/// How near two signals are for the sign of the derivative.
const NEAR: f64 = 1e-6;
/// The longest fall that a climb can reach, as a share of a ray.
const LONGEST: f64 = 0.5;

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>, found: &mut Found) {
    let rays = &run.rays;
    let lightness = |signal| path.lightness(path.place(signal));
    let fall_of = |signal: &dyn Fn(f64) -> [f64; 3], v: f64, w: f64| {
        // Beyond the ray's end there is nothing to compare with.
        lightness(signal(v)) - lightness(signal((v + w).min(rays.high)))
    };
    let width = Axis::new(NEAR, LONGEST * (rays.high - rays.low), 4.0 / CODES);

    let grey = |v: f64| [v; 3];
    let mut seeds: Vec<[f64; 2]> = deepest(path, &sweep.codes, &sweep.greys).into_iter().collect();
    // Where the slope falls between two codes that do not.
    seeds.extend(sweep.codes.iter().filter(|v| fall_of(&grey, **v, NEAR) > 0.0).map(|v| [*v, 0.5 / CODES]));
    let neutral = largest(&|[v, w]: [f64; 2]| fall_of(&grey, v, w), &[rays.axis(), width], &seeds);
    found.add(
        &ORDER_NEUTRAL,
        match neutral.filter(|n| n.1 > ROUNDING) {
            Some(([v, w], value)) => {
                let (at, to) = (rays.grey(path, v), rays.grey(path, (v + w).min(rays.high)));
                Reading::new(value, Some(at), Some(to))
            }
            None => Reading::nowhere(0.0),
        },
    );

    let seeds: Vec<[f64; 4]> = sweep
        .rays()
        .filter_map(|(hue, saturation, seen)| deepest(path, &sweep.codes, seen).map(|[v, w]| [hue, saturation, v, w]))
        .collect();
    let fall = |[hue, saturation, v, w]: [f64; 4]| fall_of(&|v| rays.signal(hue, saturation, v), v, w);
    let axes = [Axis::round(0.0, 360.0, HUE_STEP), Axis::new(0.0, 1.0, 0.25), rays.axis(), width];
    found.add(
        &ORDER_COLOURS,
        match largest(&fall, &axes, &seeds).filter(|n| n.1 > ROUNDING) {
            Some(([hue, saturation, v, w], value)) => {
                let point = |v| rays.point(path, hue, saturation, v);
                Reading::new(value, Some(point(v)), Some(point((v + w).min(rays.high))))
            }
            None => Reading::nowhere(0.0),
        },
    );
}

/// Where the deepest fall of a ray begins and how long it is, if lightness falls at all.
fn deepest(path: &Path<'_>, codes: &[f64], seen: &[[f64; 3]]) -> Option<[f64; 2]> {
    let (mut top, mut deepest) = (0, (ROUNDING, None));
    let lightness = |k: usize| path.lightness(seen[k]);
    for k in 1..seen.len() {
        if lightness(k) >= lightness(top) {
            top = k;
        }
        let fall = lightness(top) - lightness(k);
        if fall > deepest.0 {
            deepest = (fall, Some([codes[top], codes[k] - codes[top]]));
        }
    }
    deepest.1
}

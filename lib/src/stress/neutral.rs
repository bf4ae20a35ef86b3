//! Neutral: grey has the cast that was asked for, and no other.
//!
//! What asks for a cast is `balance`, `cdl`, `printer`, `tint`, and the lights and the lamp of a `print`. The same look
//! without them is the measure: a cast that it still has is not asked for.

use super::figures::{NEUTRAL_CAST, NEUTRAL_UNASKED};
use super::path::{CODES, Path, length};
use super::rays::Sweep;
use super::search::{Axis, largest};
use super::{Found, Reading, Run};
use crate::look::Look;
use crate::step::Uncast;
use schemars::JsonSchema;
use serde::Serialize;

/// Stops on either side of mid-grey.
const REACH: f64 = 6.0;

/// The cast of one grey: a* and b*, or half of Ct and Cp times 720 as Delta E ITP counts them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct NeutralRow {
    /// Stops from mid-grey.
    pub stops: f64,
    /// On the exact path.
    pub cast: [f64; 2],
    /// Of it, what no step asks for.
    pub unasked: [f64; 2],
    /// On the cube.
    pub cube: [f64; 2],
}

/// The look without the steps and the numbers that ask for a cast; none where nothing asks for one. What a step does to
/// all channels alike stays: it moves exposure and contrast, and with them what the rendering does.
pub(super) fn untinted(look: &Look) -> Option<Look> {
    let mut asks = false;
    let mut steps = Vec::new();
    for step in look.steps() {
        match step.uncast() {
            Uncast::Same => {
                steps.push(step.clone());
                continue;
            }
            Uncast::Less(maths) => steps.push(step.with_maths(maths)),
            Uncast::Nothing => {}
        }
        asks = true;
    }
    let bare = look.rendering().uncast().map(|maths| look.rendering().with_maths(maths));
    asks |= bare.is_some();
    let rendering = bare.unwrap_or_else(|| look.rendering().clone());
    asks.then(|| Look::new(look.title(), look.revision(), steps, rendering))
}

/// The cast of a grey on a path, and what no step asks for of it.
fn cast(run: &Run<'_>, path: &Path<'_>, v: f64) -> [[f64; 2]; 2] {
    let of = |path: &Path<'_>| path.plane(path.place([v; 3]));
    let (all, exact, unasked) = (of(path), of(&run.exact), of(&run.untinted));
    // A cube's error is asked for by no step.
    [all, std::array::from_fn(|i| unasked[i] + all[i] - exact[i])]
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>, found: &mut Found) {
    let rays = &run.rays;
    let (low, high) = (rays.at_stops(-REACH), rays.at_stops(REACH));
    let seeds: Vec<[f64; 1]> =
        sweep.codes.iter().filter(|v| (low..=high).contains(*v)).step_by(4).map(|v| [*v]).collect();
    let axis = Axis::new(low, high, 8.0 / CODES);
    for (figure, which) in [(&NEUTRAL_CAST, 0), (&NEUTRAL_UNASKED, 1)] {
        let worst = largest(&|[v]: [f64; 1]| length(cast(run, path, v)[which]), &[axis], &seeds);
        let reading = worst.map(|([v], value)| Reading::new(value, Some(rays.grey(path, v)), None));
        found.add(figure, reading.unwrap_or(Reading::nowhere(0.0)));
    }
}

/// Stop by stop; `read` is the cube.
pub(super) fn rows(run: &Run<'_>, read: &Path<'_>) -> Vec<NeutralRow> {
    let rays = &run.rays;
    let stops = (-6..=6).map(f64::from).filter(|s| (rays.stops(rays.at_stops(*s)) - s).abs() < 1e-6);
    stops
        .map(|stops| {
            let v = rays.at_stops(stops);
            let [cast_of, unasked] = cast(run, &run.exact, v);
            NeutralRow { stops, cast: cast_of, unasked, cube: cast(run, read, v)[0] }
        })
        .collect()
}

//! Neutral: grey has the cast that was asked for, and no other.
//!
//! What asks for a cast is `balance`, `cdl`, `printer`, `tint`, and the lights and the lamp of a `print`. The same look
//! without them is the measure: a cast that it still has, nobody asked for.

use super::figures::{NEUTRAL_CAST, NEUTRAL_UNASKED};
use super::path::{CODES, Path, length};
use super::rays::Sweep;
use super::search::{Axis, largest};
use super::{Found, Reading, Run};
use crate::look::Look;
use crate::step::print::PrintSettings;
use crate::step::{Rendering, Step};
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

/// The look without the steps and the numbers that ask for a cast.
pub(super) fn untinted(look: &Look) -> Look {
    let asks = |step: &&Step| !matches!(step, Step::Balance(_) | Step::Cdl(_) | Step::Printer(_) | Step::Tint(_));
    let rendering = match look.rendering() {
        Rendering::Print(settings) => {
            let PrintSettings { lights, kelvin, .. } = PrintSettings::NEUTRAL;
            Rendering::Print(PrintSettings { lights, kelvin, ..*settings })
        }
        other => other.clone(),
    };
    Look::new(look.title(), look.revision(), look.steps().iter().filter(asks).cloned().collect(), rendering)
}

/// The cast of a grey on a path, and what no step asks for of it.
fn cast(run: &Run<'_>, path: &Path<'_>, v: f64) -> [[f64; 2]; 2] {
    let of = |path: &Path<'_>| path.plane(path.place([v; 3]));
    let (all, exact, unasked) = (of(path), of(&run.exact), of(&run.untinted));
    // What a cube strays by is asked for by nobody.
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
        let reading = worst.map(|([v], value)| Reading { value, at: Some(rays.grey(path, v)), to: None });
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

//! What becomes of each light: those that people call by name, and lines and bands all along the spectrum.

use super::{Family, Kind, Lights, exposures, families, is_outside};
use crate::camera::Camera;
use crate::stress::{Run, turn};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// A stop of exposure that makes less difference than this is not seen.
const SEEN: f64 = 1.0;
/// Widths of the rows along the spectrum, nm; 0 is a line.
const WIDTHS: [f64; 2] = [0.0, 40.0];

/// A light of the table of lights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NamedLight {
    /// The label for reports.
    pub name: &'static str,
    /// Its spectrum in words.
    pub words: &'static str,
    pub(super) kind: Kind,
}

const fn light(name: &'static str, words: &'static str, kind: Kind) -> NamedLight {
    NamedLight { name, words, kind }
}

/// The lights that every report shows. Widths and shares are our own choice; the lines of neon and sodium are those of
/// tables of atomic spectra (from memory).
pub const NAMED: [NamedLight; 13] = [
    light("neon blue", "band at 465 nm, 20 nm wide", Kind::Band(465.0, 20.0)),
    light("blue line", "line at 455 nm", Kind::Line(455.0)),
    light("blue LED", "band at 450 nm, 20 nm wide", Kind::Band(450.0, 20.0)),
    light("cyan LED", "band at 500 nm, 30 nm wide", Kind::Band(500.0, 30.0)),
    light("green LED", "band at 525 nm, 35 nm wide", Kind::Band(525.0, 35.0)),
    light("amber LED", "band at 592 nm, 15 nm wide", Kind::Band(592.0, 15.0)),
    light("sodium lamp", "line at 589 nm", Kind::Line(589.3)),
    light(
        "neon red",
        "lines at 640, 614, 585 and 703 nm",
        Kind::Lines([(640.2, 1.0), (614.3, 0.5), (585.2, 0.35), (703.2, 0.5)]),
    ),
    light("red LED", "band at 630 nm, 20 nm wide", Kind::Band(630.0, 20.0)),
    light(
        "magenta LEDs",
        "lines at 450 and 630 nm",
        Kind::Lines([(450.0, 1.0), (455.0, 1.0), (625.0, 1.0), (635.0, 1.0)]),
    ),
    light("tungsten", "black body of 3200 K", Kind::Lamp(3200.0)),
    light("skin, daylight", "skin under D65", Kind::Skin(465.0, 0.0)),
    light("skin, neon blue", "skin, half D65 and half neon blue", Kind::Skin(465.0, 0.5)),
];

/// Camera signals of the lights by name, each at every stop from -2 to +5 over mid-grey that the signal carries: name, stops,
/// signal.
pub fn named_signals(camera: &Camera) -> Vec<(&'static str, f64, [f64; 3])> {
    let lights = Lights::without_grid(camera);
    let units = NAMED.iter().filter_map(|named| Some((named.name, lights.of_kind(named.kind)?)));
    let stops = exposures(lights.most, 1.0);
    units
        .flat_map(|(name, unit)| stops.iter().map(move |s| (name, *s, unit)))
        .map(|(name, s, unit)| (name, s, lights.signal(unit, s)))
        .collect()
}

/// What is left of a light on the display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LightOutcome {
    /// Stops over mid-grey from which it lies outside the display's gamut; none: never. At the start of the sweep, it
    /// always does.
    pub outside: Option<f64>,
    /// Stops over mid-grey from which a stop more makes a difference of less than 1; none: never.
    pub flat: Option<f64>,
    /// The least difference that a stop makes.
    pub least: f64,
    /// Degrees that its hue spans without what the look asks for, its tints and its balance; none where there is no
    /// colour to see.
    pub span: Option<f64>,
    /// The same with what the look asks for.
    pub total: Option<f64>,
    /// Display signal from -2 to +5 stops in quarters, as far as the camera's signal goes.
    #[serde(skip)]
    pub strip: Vec<[f64; 3]>,
}

impl LightOutcome {
    /// Of a light, on the exact path.
    fn of(run: &Run<'_>, unit: [f64; 3]) -> Self {
        let (lights, path) = (run.lights, &run.exact);
        // Quarters of a stop, to the end of the sweep.
        let stops = exposures(lights.most, super::SWEEP.2);
        let signals: Vec<[f64; 3]> = stops.iter().map(|s| lights.signal(unit, *s)).collect();
        let strip: Vec<[f64; 3]> = signals.iter().map(|signal| path.at(*signal)).collect();
        let places: Vec<[f64; 3]> = strip.iter().map(|out| path.difference.place(*out)).collect();
        let a_stop = (1.0 / super::SWEEP.2) as usize;
        let shapes: Vec<f64> =
            places.iter().zip(places.iter().skip(a_stop)).map(|(a, b)| path.difference.between(*a, *b)).collect();
        let total = turn::span(strip.iter().filter_map(|out| path.hue(*out)));
        let unasked = if run.asks {
            turn::span(signals.iter().filter_map(|signal| turn::hue(run, path, *signal)))
        } else {
            total
        };
        Self {
            outside: stops.iter().zip(&signals).find(|(_, signal)| is_outside(run, **signal)).map(|(stops, _)| *stops),
            flat: stops.iter().zip(&shapes).find(|(_, shape)| **shape < SEEN).map(|(stops, _)| *stops),
            // A camera with no stop to raise has no shape to lose.
            least: shapes.iter().copied().reduce(f64::min).unwrap_or(0.0),
            span: unasked,
            total,
            strip,
        }
    }
}

/// What becomes of one light by name.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LightRow {
    /// The label for reports.
    pub name: String,
    /// Its spectrum in words.
    pub spectrum: String,
    /// What is left of it.
    #[serde(flatten)]
    pub kept: LightOutcome,
}

/// The lights by name.
pub(in crate::stress) fn named(run: &Run<'_>) -> Vec<LightRow> {
    let row = |named: &NamedLight| {
        let kept = LightOutcome::of(run, run.lights.of_kind(named.kind)?);
        Some(LightRow { name: named.name.to_owned(), spectrum: named.words.to_owned(), kept })
    };
    NAMED.par_iter().filter_map(row).collect()
}

/// What becomes of a line or a band.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SpectrumRow {
    /// Wavelength, nm.
    pub nm: f64,
    /// Full width at half of the peak, nm; 0 is a single line.
    pub width: f64,
    /// What is left of it.
    #[serde(flatten)]
    pub kept: LightOutcome,
}

/// Lines and bands of 40 nm, every 5 nm from 380 to 780.
pub(in crate::stress) fn spectrum(run: &Run<'_>) -> Vec<SpectrumRow> {
    let [bands, lines, _] = families();
    let all: Vec<(f64, f64, Kind)> = WIDTHS
        .into_iter()
        .flat_map(|width| {
            let Family { axes, kind, .. } = if width > 0.0 { bands } else { lines };
            axes[0].values().into_iter().map(move |nm| (nm, width, kind(nm, width)))
        })
        .collect();
    let row = |(nm, width, kind): &(f64, f64, Kind)| {
        let kept = LightOutcome::of(run, run.lights.of_kind(*kind)?);
        Some(SpectrumRow { nm: *nm, width: *width, kept })
    };
    all.par_iter().filter_map(row).collect()
}

//! The look sheet as data: greys and colours of a look, stop by stop, measured on the exact path, and everything that
//! identifies the look.
//!
//! | figure | what it is |
//! | --- | --- |
//! | signal, nits | what a grey of so many stops from mid-grey comes to on the display |
//! | cast | CIELAB a*, b* of that grey under the display's diffuse white |
//! | chroma | mean C*ab of samples 1 to 8 of CIE 13.3-1995 under D65, so exposed that an 18 % grey lies at that stop |
//! | saturation | that chroma over the one which the plain rendering gives ([`plain`]) |
//!
//! Samples 1 to 8 go once round the hues at one lightness and moderate chroma, as the things before a camera do. CIELAB
//! serves HDR displays too, so that figures can be set side by side; above diffuse white L* goes beyond 100.

mod scope_summary;
mod shot_notes;
mod stress_summary;

pub use scope_summary::{ScopeOf, ScopeSummary, ends_at};
pub use shot_notes::ShotNotes;
pub use stress_summary::{PropertySheet, StressSummary};

use crate::audit::Audit;
use crate::camera::Camera;
use crate::cube::Reader;
use crate::difference::{Difference, Formula};
use crate::display::Display;
use crate::exposure::{Level, Limit, Settings, StopTable};
use crate::files::{Source, sha256};
use crate::invalid::Refusals;
use crate::look::Look;
use crate::math;
use crate::pipeline::Pipeline;
use crate::shot::{Grading, Shot};
use crate::show::{Entry, Job, Measured};
use crate::spectrum::{illuminant_d65, samples::test_colours};
use crate::step::cdl::CdlNumbers;
use crate::step::tone::ToneSettings;
use crate::step::{Rendering, Sentence};
use crate::test_colours::named::under;
use crate::transfer::MID_GREY;
use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// Stops on either side of mid-grey that are measured, and steps of them in a stop.
const REACH: i32 = 8;
const STEPS: i32 = 4;
/// Stops on either side of mid-grey that are in the stop table.
pub const TABLE: i32 = 7;
/// Samples of CIE 13.3-1995 of which chroma is the mean: those of the general index.
const SAMPLES: usize = 8;
/// C*ab under which a grey is called neutral: about what a careful eye sees side by side.
const NEUTRAL: f64 = 1.0;
/// C*ab of the plain rendering under which a ratio to it is meaningless: it fades to white or to black there, and a look
/// that fades a little later would have twice its saturation.
const LEAST_CHROMA: f64 = 10.0;

/// A look sheet.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight look sheet")]
pub struct Report {
    /// The version of this shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    pub schema: u32,
    /// Version of the program.
    pub version: &'static str,
    /// The show's title.
    pub show: String,
    /// The page.
    pub page: String,
    /// The page as PDF, if that was asked for.
    pub pdf: Option<String>,
    /// Every look.
    pub looks: Vec<LookSheet>,
}

/// The sheet of one look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LookSheet {
    /// Its name in the show.
    pub name: String,
    /// Its title.
    pub title: String,
    /// Its revision.
    pub revision: u32,
    /// Its document, with the checksum that identifies it.
    pub document: Source,
    /// Every file that it and the show were made from.
    pub sources: Vec<Source>,
    /// Its steps in words, in order.
    pub steps: Vec<Sentence>,
    /// The cameras that it is for.
    pub cameras: Vec<CameraSheet>,
    /// The displays that it is for.
    pub displays: Vec<DisplaySheet>,
    /// Its cubes.
    pub cubes: Vec<CubeSheet>,
    /// The verdicts of the stress test, if that was asked for.
    pub stress: Vec<StressSummary>,
    /// The shots that use it.
    pub shots: Vec<ShotSheet>,
    /// The scopes of the frames that were given, and of those that the show has of its shots.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(default)]
    pub scopes: Vec<ScopeSummary>,
}

/// A shot and its correction.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ShotSheet {
    /// Its name in the show.
    pub name: String,
    /// The only camera that it was shot with, if it names one.
    pub camera: Option<String>,
    /// The id of its correction, and the file that contains it.
    pub correction: [String; 2],
    /// Slope of red, green, blue.
    pub slope: [f64; 3],
    /// Offset.
    pub offset: [f64; 3],
    /// Power.
    pub power: [f64; 3],
    /// Saturation.
    pub saturation: f64,
    /// The order and the space of the correction, in words.
    pub order: String,
    /// What was noted of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notes: Option<ShotNotes>,
}

impl ShotSheet {
    /// Of a shot of a show that means its corrections by `grading`.
    pub fn of(name: &str, shot: &Shot, grading: &Grading) -> Self {
        let CdlNumbers { slope, offset, power, saturation } = shot.numbers;
        Self {
            name: name.to_owned(),
            camera: shot.camera.clone(),
            correction: [shot.id.clone(), shot.file.clone()],
            slope,
            offset,
            power,
            saturation,
            order: grading.words(),
            notes: ShotNotes::of(&shot.notes),
        }
    }
}

/// A camera of a look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CameraSheet {
    /// Its name in the show.
    pub name: String,
    /// The label for reports.
    pub label: String,
    /// Its parameters, as the show states them.
    pub terms: String,
    /// Greys in its signal, stop by stop.
    pub levels: Vec<CameraLevel>,
    /// Its floor and its clip at each exposure index.
    pub ratings: Vec<RatingSheet>,
    /// Measurements: what was measured, when, and by which frames.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(default)]
    pub measured: Vec<Measured>,
}

/// A grey in a camera's signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct CameraLevel {
    /// Stops from mid-grey.
    pub stops: f64,
    /// Code value over 1023.
    pub signal: f64,
    /// Code value of 10 bits.
    pub code_10: f64,
}

/// The ends of a camera at one exposure index.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct RatingSheet {
    /// The exposure index; null for a camera without ratings.
    pub ei: Option<f64>,
    /// The lowest usable stop, from mid-grey.
    pub floor: f64,
    /// The stop of the clip, from mid-grey.
    pub clip: f64,
    /// The clip as a code value of 10 bits.
    pub clip_code_10: f64,
    /// Whether both come from a rating of the show, not from the end of the curve.
    pub measured: bool,
}

/// A display of a look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DisplaySheet {
    /// Its name in the show.
    pub name: String,
    /// The label for reports.
    pub label: String,
    /// Its parameters, as the show states them.
    pub terms: String,
    /// Whether it is PQ or HLG.
    pub hdr: bool,
    /// Nits of diffuse white.
    pub white: f64,
    /// Nits of the brightest white.
    pub peak: f64,
    /// Greys and colours, a quarter stop apart.
    pub levels: Vec<DisplayLevel>,
}

/// A grey on a display, and colours exposed like it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DisplayLevel {
    /// Stops from mid-grey.
    pub stops: f64,
    /// Display signal, code value over 1023.
    pub signal: [f64; 3],
    /// Code values of 10 bits.
    pub code_10: [f64; 3],
    /// Luminance in nits.
    pub nits: f64,
    /// CIELAB of the grey under diffuse white.
    pub lab: [f64; 3],
    /// The cast of the grey in a word: `neutral`, `blue`, `orange`.
    pub cast: &'static str,
    /// Mean C*ab of the samples.
    pub chroma: f64,
    /// The same by the plain rendering.
    pub plain_chroma: f64,
    /// The ratio of both; null if there is almost no colour.
    pub saturation: Option<f64>,
}

impl DisplayLevel {
    /// C*ab of the grey.
    pub fn cast_chroma(&self) -> f64 {
        let [_, a, b] = self.lab;
        (a * a + b * b).sqrt()
    }

    /// Whether it is in the stop table.
    pub fn in_table(&self) -> bool {
        self.stops.fract() == 0.0 && self.stops.abs() <= f64::from(TABLE)
    }
}

/// A cube of a look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CubeSheet {
    /// Its file.
    pub file: String,
    /// Name of its camera.
    pub camera: String,
    /// Name of its display.
    pub display: String,
    /// Points along each edge.
    pub points: usize,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Its error against the exact path on colours that a camera meets, if it was measured.
    pub error: Option<ErrorFigures>,
}

impl CubeSheet {
    /// Of the bytes of `file`, which hold the cube of a job.
    pub fn of(job: &Job<'_>, file: &str, bytes: &[u8], error: Option<ErrorFigures>) -> Self {
        Self {
            file: file.to_owned(),
            camera: job.camera().name.to_owned(),
            display: job.display().name.to_owned(),
            points: job.points(),
            sha256: sha256(bytes),
            error,
        }
    }
}

/// The error of a cube.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ErrorFigures {
    /// The formula: `ciede2000` or `delta-e-itp`.
    pub difference: String,
    /// The interpolation: tetrahedral, trilinear, or either, of which the worse counts.
    pub reader: String,
    /// The mean.
    pub mean: f64,
    /// The error that 99 of 100 colours do not exceed.
    pub p99: f64,
    /// The largest.
    pub max: f64,
}

impl ErrorFigures {
    /// The formula's name in sentences.
    pub fn formula(&self) -> &'static str {
        if self.difference == Formula::Ciede2000.name() {
            Formula::Ciede2000.title()
        } else {
            Formula::DeltaEItp.title()
        }
    }

    /// The figures of an audit for one interpolation.
    pub fn of(audit: &Audit, reader: Reader) -> Self {
        let worst = |name: &str| {
            let all = reader.interpolations().iter().filter_map(|kind| audit.plausible.by(*kind).get(name));
            all.fold(0.0, f64::max)
        };
        Self {
            difference: audit.difference.name().to_owned(),
            reader: reader.name().to_owned(),
            mean: worst("mean"),
            p99: worst("p99"),
            max: worst("max"),
        }
    }
}

/// The JSON Schema of a report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

/// The rendering with which looks are compared: the plain tone curve at its defaults, and no other step.
pub fn plain() -> Look {
    let tone = Rendering::new(ToneSettings::default()).expect("the defaults are in bounds");
    Look::new("Plain", 1, Vec::new(), tone)
}

/// The stops of the table.
pub fn table_stops() -> impl Iterator<Item = f64> {
    (-TABLE..=TABLE).map(f64::from)
}

impl CameraSheet {
    /// The sheet of a camera; `measured` is what the show notes of its measurements.
    ///
    /// # Errors
    /// As [`StopTable::all`].
    pub fn of(name: &str, entry: &Entry<Camera>, measured: &[Measured]) -> Result<Self, Refusals> {
        let Entry { label, id, item: camera } = entry;
        let level = |stops: f64| {
            let signal = camera.encode(grey(stops))[1];
            CameraLevel { stops, signal, code_10: camera.range().code(signal, 10) }
        };
        let rating = |table: StopTable| {
            let measured = [table.floor_from, table.clip_from].iter().all(|limit| *limit != Limit::Curve);
            let Level { stops: floor, .. } = table.floor;
            let Level { stops: clip, code_10, .. } = table.clip;
            RatingSheet { ei: table.ei, floor, clip, clip_code_10: code_10, measured }
        };
        Ok(Self {
            name: name.to_owned(),
            label: label.clone(),
            terms: id.to_string(),
            levels: table_stops().map(level).collect(),
            ratings: StopTable::all(camera, &Settings::default())?.into_iter().map(rating).collect(),
            measured: measured.to_vec(),
        })
    }
}

/// Scene light of a grey.
fn grey(stops: f64) -> [f64; 3] {
    [MID_GREY * math::exp2(stops); 3]
}

impl DisplaySheet {
    /// The levels of `look` on a display. Any camera of the show serves, because greys and samples go in as scene light.
    ///
    /// # Errors
    /// A look that does not fit the display.
    pub fn of(name: &str, entry: &Entry<Display>, look: &Look, camera: &Camera) -> Result<Self, Refusals> {
        let Entry { label, id, item: display } = entry;
        let (path, base) = (Pipeline::new(camera, look, display)?, Pipeline::new(camera, &plain(), display)?);
        let lab = Difference::lab_on(display);
        let d65 = illuminant_d65();
        let samples: Vec<Vector3<f64>> = test_colours().take(SAMPLES).map(|t| under(&t.reflectance, &d65)).collect();
        let chroma = |path: &Pipeline, stops: f64| {
            let each = samples.iter().map(|light| {
                let [_, a, b] = lab.place(path.apply_to_light(light * math::exp2(stops)));
                (a * a + b * b).sqrt()
            });
            each.sum::<f64>() / samples.len() as f64
        };
        let level = |stops: f64| {
            let signal = path.apply_to_light(grey(stops));
            let place = lab.place(signal);
            let (chroma, plain_chroma) = (chroma(&path, stops), chroma(&base, stops));
            DisplayLevel {
                stops,
                signal: signal.0,
                code_10: signal.map(|v| display.settings().range.code(v, 10)),
                nits: display.nits(signal),
                lab: place,
                cast: cast(place),
                chroma,
                plain_chroma,
                saturation: (plain_chroma >= LEAST_CHROMA).then(|| chroma / plain_chroma),
            }
        };
        let s = display.settings();
        Ok(Self {
            name: name.to_owned(),
            label: label.clone(),
            terms: id.to_string(),
            hdr: s.eotf.is_hdr(),
            white: s.diffuse_white,
            peak: s.peak,
            levels: (-REACH * STEPS..=REACH * STEPS).map(|i| level(f64::from(i) / f64::from(STEPS))).collect(),
        })
    }

    /// The level of mid-grey.
    pub fn mid_grey(&self) -> &DisplayLevel {
        &self.levels[self.levels.len() / 2]
    }

    /// The level at whole stops of the table.
    pub fn at(&self, stops: f64) -> Option<&DisplayLevel> {
        self.levels.iter().find(|l| l.stops == stops)
    }
}

/// Names of CIELAB hues, each with the angle in degrees at which it ends: our own, about the hues of sRGB's primaries
/// (red at 40, yellow at 103, green at 136, blue at 306) and their mixtures.
const HUES: [(f64, &str); 9] = [
    (20.0, "pink"),
    (50.0, "red"),
    (80.0, "orange"),
    (110.0, "yellow"),
    (160.0, "green"),
    (230.0, "blue-green"),
    (312.0, "blue"),
    (345.0, "magenta"),
    (360.0, "pink"),
];

/// The cast of a grey in a word.
fn cast([_, a, b]: [f64; 3]) -> &'static str {
    if (a * a + b * b).sqrt() < NEUTRAL {
        return "neutral";
    }
    let angle = math::atan2(b, a).to_degrees().rem_euclid(360.0);
    HUES.iter().find(|(end, _)| angle < *end).map_or("pink", |(_, name)| name)
}

#[cfg(test)]
mod tests;

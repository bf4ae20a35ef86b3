//! Looking for what breaks a look before the shoot: by search, on the exact path and on the cube of it.
//!
//! | property | asks |
//! | --- | --- |
//! | `order` | whether lightness ever falls as light rises, of greys and of lights of constant chromaticity |
//! | `folds` | whether two lights change places: the sign of the Jacobian determinant of signal to signal |
//! | `clipping` | where white, each channel, black and saturated lights reach the display's ends |
//! | `banding` | the largest step of output for one code of input, and the largest change of such a step |
//! | `hue` | how far a light's hue turns as it gets brighter, and whether hues ever run backwards |
//! | `neutral` | the cast of greys, and how much of it no step asks for |
//! | `lights` | narrow and mixed spectra: out of gamut, without shape, turned in hue |
//!
//! Differences and casts are those of [`crate::difference`]: CIELAB and CIEDE2000, or ICtCp and Delta E ITP for PQ and
//! HLG. Lightness is of luminance alone: L*, or the intensity of a grey as luminous. Hues are Oklab's
//! (Ottosson, 2020) of light over diffuse white, on every display. Every figure but a share is the largest value that a
//! search from the worst points of a grid climbs to (or the smallest, where less is worse); a share is counted over a
//! fixed set. Nothing depends on the thread count.
//!
//! # Errors of the figures
//! A search proves what it finds, never that there is nothing else: a fault smaller than the grid (a code of signal
//! along a ray, 15 degrees of hue, a quarter of saturation, a cell of the cube) can be missed. Lights with a spectrum are
//! seen by the CIE 1931 observer; a sensor sees them otherwise: film them with your own camera.

mod banding;
mod clipping;
pub mod figures;
mod folds;
mod hints;
mod hue;
mod lights;
pub(crate) mod limits;
mod neutral;
mod order;
mod path;
mod rays;
mod real;
mod report;
mod search;
mod turn;

pub use clipping::{Boundary, Ends, HueShare};
pub use figures::{Bounds, FIGURES, Figure, Grade, PROPERTIES};
pub use hue::HueRow;
pub use lights::{LightOutcome, LightRow, NAMED, NamedLight, SWEEP, SpectrumRow, named_signals};
pub use limits::{GivenBounds, Limits};
pub use neutral::NeutralRow;
pub use rays::hue_name;
pub use report::{CaseGrades, CaseReport, FindingReport, Names, Report, SCHEMA, schema};

use crate::camera::Camera;
use crate::cube::{Cube, Reader};
use crate::difference::Difference;
use crate::display::Display;
use crate::invalid::{Invalid, Refusals};
use crate::look::Look;
use crate::math;
use crate::pipeline::Pipeline;
use crate::shot::Correction;
use crate::step::saturation::{AMOUNT, SaturationSettings};
use crate::step::{Step, compress::CompressSettings};
use crate::transform::Interpolate;
use path::Path;
use rays::{Rays, Sweep};
use real::RealLights;
use schemars::JsonSchema;
use serde::Serialize;
use std::str::FromStr;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

/// The subject of a stress test: a look through a camera to a display, and the cube that will be on the monitor.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'s> {
    /// The look.
    pub look: &'s Look,
    /// The camera.
    pub camera: &'s Camera,
    /// The display.
    pub display: &'s Display,
    /// A shot's correction.
    pub correction: Option<&'s Correction>,
    /// Points along each edge of the cube.
    pub points: usize,
    /// Who reads the cube.
    pub reader: Reader,
}

/// A light of a finding: in the camera's own primaries, or by name.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Light {
    /// Hue of the hexagon over the camera's primaries, degrees: 0 red, 120 green, 240 blue.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hue: Option<f64>,
    /// Saturation over the camera's primaries: 0 grey, 1 a channel without light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saturation: Option<f64>,
    /// The name of a light with a spectrum.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
}

impl Light {
    const fn grey() -> Self {
        Self { hue: None, saturation: None, name: None }
    }

    /// A signal by itself, in the camera's terms.
    fn of_signal(rays: &Rays<'_>, signal: [f64; 3]) -> (Self, Option<f64>) {
        let light = rays.camera.linearise(signal).map(|c| c.max(0.0));
        let (most, least) = (light[0].max(light[1]).max(light[2]), light[0].min(light[1]).min(light[2]));
        let stops = (most > 0.0).then(|| math::log2(most / crate::transfer::MID_GREY));
        if most <= least {
            return (Self::grey(), stops);
        }
        let [r, g, b] = light.map(|c| (c - least) / (most - least));
        let hue = if r >= 1.0 {
            60.0 * (g - b)
        } else if g >= 1.0 {
            120.0 + 60.0 * (b - r)
        } else {
            240.0 + 60.0 * (r - g)
        };
        let light = Self { hue: Some(hue.rem_euclid(360.0)), saturation: Some((most - least) / most), name: None };
        (light, stops)
    }
}

/// An input of the path and what comes of it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Point {
    /// Camera signal, code value over 1023.
    pub signal: [f64; 3],
    /// Display signal, code value over 1023.
    pub out: [f64; 3],
    /// Hue and saturation of the light; omitted for a neutral.
    #[serde(flatten)]
    pub light: Light,
    /// Stops of the brightest camera channel over mid-grey, none for no light at all.
    pub stops: Option<f64>,
}

impl Point {
    fn new(path: &Path<'_>, signal: [f64; 3], light: Light, stops: Option<f64>) -> Self {
        Self { signal, out: path.at(signal), light, stops }
    }

    fn of_signal(path: &Path<'_>, rays: &Rays<'_>, signal: [f64; 3]) -> Self {
        let (light, stops) = Light::of_signal(rays, signal);
        Self::new(path, signal, light, stops)
    }

    /// In words: `camera hue 243 (blue), saturation 0.98, +3.1 stops`; the hue is that of the camera's red, green and blue.
    pub fn words(&self) -> String {
        let what = match (&self.light.name, self.light.hue, self.light.saturation) {
            (Some(name), _, _) => name.clone(),
            (None, Some(hue), Some(saturation)) => {
                format!("camera hue {hue:.0} ({}), saturation {saturation:.2}", rays::hue_name(hue))
            }
            _ => "grey".to_owned(),
        };
        match self.stops.filter(|s| *s > -30.0) {
            Some(stops) => format!("{what}, {stops:+.1} stops"),
            None => format!("{what}, black"),
        }
    }
}

/// A figure on one path.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Reading {
    /// Its value.
    pub value: f64,
    /// Its place, if it has one.
    pub at: Option<Point>,
    /// Where it ends, for what lies between two inputs.
    pub to: Option<Point>,
    /// Of a turn of hue, the turn between the same two inputs with what the look asks for: its tints, its balance, a
    /// shot's correction. None where it asks for nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub total: Option<f64>,
}

impl Reading {
    const fn nowhere(value: f64) -> Self {
        Self { value, at: None, to: None, total: None }
    }

    const fn new(value: f64, at: Option<Point>, to: Option<Point>) -> Self {
        Self { value, at, to, total: None }
    }
}

/// A figure on the exact path and on its cube.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What it is of.
    pub figure: &'static Figure,
    /// The limits, if it has any.
    pub bounds: Option<Bounds>,
    /// On the exact path.
    pub exact: Reading,
    /// On the cube, as its reader reads it: the worse, where that may be either way.
    pub cube: Reading,
    /// The worse grade of both.
    pub grade: Grade,
    /// What one could change, if it does not hold.
    pub hint: Option<String>,
}

impl Finding {
    /// What the cube adds to the value.
    pub fn cube_adds(&self) -> f64 {
        self.cube.value - self.exact.value
    }

    /// Whichever path is worse.
    pub fn worse(&self) -> &Reading {
        let cube_is_worse =
            if self.figure.most { self.cube.value > self.exact.value } else { self.cube.value < self.exact.value };
        if cube_is_worse { &self.cube } else { &self.exact }
    }
}

/// All that the search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Stress {
    /// Whether the display is PQ or HLG.
    pub hdr: bool,
    /// Every figure, in the order of [`FIGURES`].
    pub findings: Vec<Finding>,
    /// The stops at which greys reach the display's ends.
    pub ends: Ends,
    /// The camera's colours at the display's boundary.
    pub boundary: Boundary,
    /// The hues of saturated lights.
    pub hues: Vec<HueRow>,
    /// The cast of greys by stop.
    pub neutral: Vec<NeutralRow>,
    /// Lights by name.
    pub lights: Vec<LightRow>,
    /// Lines and bands along the spectrum.
    pub spectrum: Vec<SpectrumRow>,
}

impl Stress {
    /// The worst grade.
    pub fn grade(&self) -> Grade {
        self.findings.iter().map(|f| f.grade).max().unwrap_or(Grade::Holds)
    }

    /// The worst grade of a property.
    pub fn grade_of(&self, property: &str) -> Grade {
        self.findings.iter().filter(|f| f.figure.property == property).map(|f| f.grade).max().unwrap_or(Grade::Holds)
    }

    /// The finding of a figure.
    pub fn finding(&self, figure: &Figure) -> Option<&Finding> {
        self.findings.iter().find(|f| f.figure == figure)
    }
}

/// The input of every property's search.
struct Run<'r> {
    rays: Rays<'r>,
    display: &'r Display,
    exact: Path<'r>,
    /// The exact path itself, for its stages.
    pipeline: &'r Pipeline,
    /// The path without what tints, and whether anything does.
    untinted: Path<'r>,
    asks: bool,
    /// The camera's signals that a light can make.
    real: RealLights,
    /// The cube, for its nodes: where to begin.
    cube: &'r Cube,
    lights: &'r lights::Lights,
    seen: hue::Seen,
    /// The share of narrow lights outside the display's gamut, the same on every path, once it is asked for.
    outside: OnceLock<f64>,
    /// The camera's colours at the display's boundary on the exact path, once they are asked for.
    boundary: OnceLock<(f64, Boundary)>,
}

/// The figures of one path as they are found.
#[derive(Default)]
struct Found(Vec<(&'static Figure, Reading)>);

impl Found {
    fn add(&mut self, figure: &'static Figure, reading: Reading) {
        self.0.push((figure, reading));
    }

    fn of(&self, figure: &Figure) -> Option<&Reading> {
        self.0.iter().find(|f| f.0 == figure).map(|f| &f.1)
    }
}

/// Stresses a look.
///
/// # Errors
/// A look that does not fit the display, a size that no cube has.
pub fn stress(subject: &Subject<'_>, limits: &Limits) -> Result<Stress, Refusals> {
    static NEVER: AtomicBool = AtomicBool::new(false);
    Ok(stress_until(subject, limits, &NEVER)?.expect("nothing stops it"))
}

/// [`stress`] that ends early, with nothing, once `stop` is true.
///
/// # Errors
/// Those of [`stress`].
pub fn stress_until(subject: &Subject<'_>, limits: &Limits, stop: &AtomicBool) -> Result<Option<Stress>, Refusals> {
    search_for(&PROPERTIES.map(|p| p.0), subject, limits, stop)
}

/// [`stress_until`] for some properties alone.
fn search_for(
    properties: &[&str],
    subject: &Subject<'_>,
    limits: &Limits,
    stop: &AtomicBool,
) -> Result<Option<Stress>, Refusals> {
    let Subject { look, display, reader, .. } = *subject;
    with_run(subject, stop, |run| {
        let (exact, sweep) = (&run.exact, Sweep::of(&run.rays, &run.exact));
        let of_exact = measure(properties, run, exact, &sweep);
        let cubes: Vec<_> = reader.interpolations().iter().map(|kind| run.cube.by(*kind)).collect();
        let paths = cubes.iter().map(|cube| exact.of_cube(cube));
        let of_cubes = paths.map(|path| measure(properties, run, &path, &Sweep::of(&run.rays, &path)));
        let of_cube = of_cubes.reduce(worse).unwrap_or_default();
        if exact.is_stopped() {
            return None;
        }
        let context = hints::Context::of(look, display);
        let findings = FIGURES
            .iter()
            .filter_map(|figure| {
                let (exact, cube) = (of_exact.of(figure)?.clone(), of_cube.of(figure)?.clone());
                let bounds = limits.of(figure);
                let grades = [exact.value, cube.value].map(|v| figure.grade(v, bounds));
                let grade = grades[0].max(grades[1]);
                let hint = (grade != Grade::Holds).then(|| context.hint(figure, grades[0] == Grade::Holds, &exact));
                Some(Finding { figure, bounds, exact, cube, grade, hint })
            })
            .collect();
        let first = run.cube.by(reader.interpolations().first().copied().unwrap_or_default());
        let stress = Stress {
            hdr: exact.is_hdr(),
            findings,
            ends: clipping::ends(run, exact, &sweep),
            boundary: clipping::exact_boundary(run).1.clone(),
            hues: hue::rows(run, exact),
            neutral: neutral::rows(run, &exact.of_cube(&first)),
            lights: lights::named(run),
            spectrum: lights::spectrum(run),
        };
        (!exact.is_stopped()).then_some(stress)
    })
}

/// Makes all that a search needs of a subject.
fn with_run<R>(subject: &Subject<'_>, stop: &AtomicBool, search: impl FnOnce(&Run<'_>) -> R) -> Result<R, Refusals> {
    let Subject { look, camera, display, correction, points, .. } = *subject;
    let pipeline = Pipeline::new(camera, look, display)?.with_correction(correction.cloned());
    let (bare, even) = (neutral::untinted(look), correction.and_then(Correction::even));
    let asks = bare.is_some() || even.is_some();
    let untinted = Pipeline::new(camera, bare.as_ref().unwrap_or(look), display)?;
    let untinted = untinted.with_correction(even.or_else(|| correction.cloned()));
    let cube = pipeline.cube(points)?;
    let difference = Difference::on(display);
    let lights = lights::Lights::of(camera);
    Ok(search(&Run {
        rays: Rays::of(camera),
        display,
        exact: Path::exact(&pipeline, &difference, stop),
        pipeline: &pipeline,
        untinted: Path::exact(&untinted, &difference, stop),
        asks,
        real: RealLights::of(camera),
        cube: &cube,
        lights: &lights,
        seen: hue::Seen::default(),
        outside: OnceLock::new(),
        boundary: OnceLock::new(),
    }))
}

/// What finds the figures of a property.
type Measure = fn(&Run<'_>, &Path<'_>, &Sweep<'_>, &mut Found);

/// In the order of [`PROPERTIES`].
const MEASURES: [Measure; PROPERTIES.len()] = [
    order::measure,
    folds::measure,
    clipping::measure,
    banding::measure,
    hue::measure,
    neutral::measure,
    lights::measure,
];

fn measure(properties: &[&str], run: &Run<'_>, path: &Path<'_>, sweep: &Sweep<'_>) -> Found {
    let mut found = Found::default();
    for ((name, _), measure) in PROPERTIES.iter().zip(MEASURES) {
        if properties.contains(name) && !path.is_stopped() {
            measure(run, path, sweep, &mut found);
        }
    }
    found
}

/// The worse of two readings of every figure.
fn worse(one: Found, two: Found) -> Found {
    let pick = |((figure, a), (_, b)): ((&'static Figure, Reading), (&'static Figure, Reading))| {
        let b_is_worse = if figure.most { b.value > a.value } else { b.value < a.value };
        (figure, if b_is_worse { b } else { a })
    };
    Found(one.0.into_iter().zip(two.0).map(pick).collect())
}

/// A step to try: what it would do to the findings.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Try {
    /// `compress` at the start, with its published numbers.
    Compress,
    /// `saturation` before the rendering.
    Saturation(f64),
}

impl Try {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            Self::Compress => "a compress step at the start".to_owned(),
            Self::Saturation(amount) => format!("saturation {amount} before the last step"),
        }
    }

    /// The look with the step in it; none where it begins with a `compress` step already.
    ///
    /// # Errors
    /// An amount that the step refuses.
    pub fn on(&self, look: &Look) -> Result<Option<Look>, Refusals> {
        let mut steps = look.steps().to_vec();
        match self {
            Self::Compress if look.begins_with_compress() => return Ok(None),
            Self::Compress => steps.insert(0, Step::new(CompressSettings::default())?),
            Self::Saturation(amount) => steps.push(Step::new(SaturationSettings { amount: *amount })?),
        }
        Ok(Some(look.with_steps(steps)))
    }
}

impl FromStr for Try {
    type Err = Invalid;

    /// Reads `compress`, or `saturation=AMOUNT`.
    ///
    /// # Errors
    /// What has no such form, or an amount that the step refuses.
    fn from_str(text: &str) -> Result<Self, Invalid> {
        let refuse = |why: String| Invalid::plain(why);
        match text.split_once('=') {
            None if text == "compress" => Ok(Self::Compress),
            Some(("saturation", amount)) => {
                let amount = amount.trim().parse().map_err(|_| refuse(format!("`{amount}` is not a number")))?;
                AMOUNT.check(amount).map(Self::Saturation).map_err(|r| refuse(r.to_string()))
            }
            _ => Err(refuse(format!("`{text}`: it is compress, or saturation=AMOUNT such as saturation=0.9"))),
        }
    }
}

#[cfg(test)]
mod tests;

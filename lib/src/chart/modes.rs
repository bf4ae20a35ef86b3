//! Compares the colours of two camera modes: by a chart in both modes, or by the matrices of both.
//!
//! The second mode's patches go through the first mode's matrix, as they would in a show that does not state the second. Its
//! exposure and its white balance are taken off first, and said by themselves. What then differs is its colour, in CIEDE2000
//! patch by patch, and what a matrix of its own would leave of that.

use super::fit::{Seen, differences, every, with_matrix};
use super::measure::{Shot, matched};
use super::{Chart, ChartError};
use crate::difference::{Statistics, lab};
use crate::math::{atan2, exp2};
use nalgebra::{Matrix3, Vector3};
use schemars::JsonSchema;
use serde::Serialize;
use std::f64::consts::PI;

/// Modes that differ by less than this in the mean and [`ALIKE_MOST`] at most have the same colours: about what a careful eye
/// just sees side by side (common practice, no source).
pub const ALIKE_MEAN: f64 = 1.0;
/// See [`ALIKE_MEAN`].
pub const ALIKE_MOST: f64 = 2.5;
/// A difference of white or exposure beyond this is reported, in stops.
const SAID_STOPS: f64 = 0.03;
/// Chroma of less than this is grey: it has no hue.
const GREY: f64 = 5.0;

/// One patch in both modes, without exposure and white.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Patch {
    /// Its name.
    pub name: String,
    /// CIEDE2000 of the second mode's through the first's matrix.
    pub through_first: f64,
    /// CIEDE2000 with a matrix of its own.
    pub by_its_own: f64,
    /// By how much the second is lighter, CIELAB L*.
    pub lightness: f64,
    /// Its chroma over the first's, CIELAB C*; none for a grey.
    pub chroma_ratio: Option<f64>,
    /// By how much its hue is turned, degrees of CIELAB, above 0 from red towards yellow; none for a grey.
    pub hue_degrees: Option<f64>,
}

/// Colours of a second mode against the first.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Modes {
    /// How it was found: frames of a chart, or matrices.
    pub by: By,
    /// Stops by which the second is brighter.
    pub stops: f64,
    /// Stops by which red and blue of its greys lie over green, against the first's.
    pub cast_stops: [f64; 2],
    /// CIEDE2000 through the first mode's matrix: mean, 95 %, largest.
    pub through_first: [f64; 3],
    /// CIEDE2000 with a matrix of its own: mean, 95 %, largest.
    pub by_its_own: [f64; 3],
    /// Chroma of all patches over the first's.
    pub saturation: f64,
    /// By how much all hues turn, degrees of CIELAB, above 0 from red towards yellow.
    pub hue_degrees: f64,
    /// The second mode's light to XYZ under D65, three rows; 1, 1, 1 goes to white.
    pub matrix: [[f64; 3]; 3],
    /// Every patch.
    pub patches: Vec<Patch>,
}

/// How the colours of two modes were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum By {
    /// One chart in both.
    Frames,
    /// The matrices or gamuts that a show states.
    Matrices,
}

/// By frames of one chart in one light; `matrix` takes the first mode's light to XYZ under D65.
///
/// # Errors
/// As [`matched`].
pub fn by_frames(chart: &Chart, first: &Shot, second: &Shot, matrix: &Matrix3<f64>) -> Result<Modes, ChartError> {
    let found = matched(chart, std::slice::from_ref(second), std::slice::from_ref(first), matrix, Some(matrix))?;
    let frame = &found.frames[0];
    let inverse = found.matrix.try_inverse().ok_or_else(|| ChartError::Fit("no matrix is found".to_owned()))?;
    let [reference, light] = [
        frame.colours.iter().map(|c| c[0]).collect(),
        frame.colours.iter().map(|c| (inverse * Vector3::from(c[1])).into()).collect(),
    ];
    let seen = Seen { light, reference, used: frame.used.clone() };
    let modes = set_side_by_side(chart, &seen, matrix, &found.matrix);
    Ok(Modes { by: By::Frames, stops: -frame.under, cast_stops: frame.cast, ..modes })
}

/// By the matrices of both modes from light to XYZ under D65, for surfaces of these XYZ, as [`Chart::reference`] gives them.
///
/// # Errors
/// A matrix without an inverse.
pub fn by_matrices(
    chart: &Chart,
    reference: &[[f64; 3]],
    first: &Matrix3<f64>,
    second: &Matrix3<f64>,
) -> Result<Modes, ChartError> {
    let inverse = second.try_inverse().ok_or_else(|| ChartError::Fit("the matrix has no inverse".to_owned()))?;
    let light = reference.iter().map(|xyz| (inverse * Vector3::from(*xyz)).into()).collect();
    let seen = Seen { light, reference: reference.to_vec(), used: vec![true; reference.len()] };
    Ok(set_side_by_side(chart, &seen, first, second))
}

/// The light of the second mode through both matrices. Exposure is free.
fn set_side_by_side(chart: &Chart, seen: &Seen, first: &Matrix3<f64>, second: &Matrix3<f64>) -> Modes {
    let frames = std::slice::from_ref(seen);
    let [through, own] = [first, second].map(|matrix| with_matrix(frames, matrix));
    let [each, each_own] = [&through, &own].map(|fit| differences(seen, &fit.matrix, fit.stops[0]));
    let figures = |fit| {
        let s = Statistics::of(&every(frames, fit));
        [s.mean, s.p95, s.max]
    };
    let white: [f64; 3] = crate::chromaticity::D65.to_xyz(1.0).into();
    let gain = exp2(through.stops[0]);
    let places: Vec<[[f64; 3]; 2]> = seen
        .reference
        .iter()
        .zip(&seen.light)
        .map(|(xyz, light)| [lab(*xyz, white).0, lab(first * Vector3::from(*light) * gain, white).0])
        .collect();
    let patch = |i: usize| {
        let [one, two] = places[i];
        let chroma = |p: [f64; 3]| (p[1] * p[1] + p[2] * p[2]).sqrt();
        let coloured = chroma(one) > GREY && chroma(two) > GREY;
        Patch {
            name: chart.patches[i].name.clone(),
            through_first: each[i],
            by_its_own: each_own[i],
            lightness: two[0] - one[0],
            chroma_ratio: coloured.then(|| chroma(two) / chroma(one)),
            hue_degrees: coloured.then(|| turn(&[places[i]]).1),
        }
    };
    let used: Vec<[[f64; 3]; 2]> = places.iter().zip(&seen.used).filter(|(_, used)| **used).map(|(p, _)| *p).collect();
    let (saturation, hue_degrees) = turn(&used);
    Modes {
        by: By::Matrices,
        stops: 0.0,
        cast_stops: [0.0; 2],
        through_first: figures(&through),
        by_its_own: figures(&own),
        saturation,
        hue_degrees,
        matrix: std::array::from_fn(|r| std::array::from_fn(|c| second[(r, c)])),
        patches: (0..places.len()).map(patch).collect(),
    }
}

/// The factor and the turn in degrees that take the first a* and b* to the second, by least squares.
fn turn(places: &[[[f64; 3]; 2]]) -> (f64, f64) {
    let (mut real, mut imaginary, mut square) = (0.0, 0.0, 0.0);
    for [one, two] in places {
        real += one[1] * two[1] + one[2] * two[2];
        imaginary += one[1] * two[2] - one[2] * two[1];
        square += one[1] * one[1] + one[2] * one[2];
    }
    let size = (real * real + imaginary * imaginary).sqrt();
    if square > 0.0 { (size / square, atan2(imaginary, real) * 180.0 / PI) } else { (1.0, 0.0) }
}

impl Modes {
    /// Whether one matrix serves both.
    pub fn alike(&self) -> bool {
        self.through_first[0] <= ALIKE_MEAN && self.through_first[2] <= ALIKE_MOST
    }

    /// The findings in sentences: the verdict first.
    pub fn words(&self) -> Vec<String> {
        let [mean, _, most] = self.through_first;
        let figures = format!("CIEDE2000 {mean:.2} in the mean, {most:.2} at most, through the first mode's matrix");
        let mut said = vec![if self.alike() {
            format!("colours are the same: {figures}: one gamut serves both modes")
        } else {
            format!(
                "colours differ: {figures}: state the second mode as a camera of its own; with its own matrix the mean error is {:.2}",
                self.by_its_own[0]
            )
        }];
        if !self.alike() {
            let by = 100.0 * (self.saturation - 1.0);
            let mut all = Vec::new();
            if by.abs() >= 1.0 {
                all.push(format!("{:.0} % {} saturated", by.abs(), if by > 0.0 { "more" } else { "less" }));
            }
            if self.hue_degrees.abs() >= 0.5 {
                all.push(format!("hues turn by {:.1} degrees {}", self.hue_degrees.abs(), towards(self.hue_degrees)));
            }
            if !all.is_empty() {
                said.push(format!("as a whole the second is {}", all.join("; ")));
            }
            let mut worst: Vec<&Patch> = self.patches.iter().collect();
            worst.sort_by(|a, b| b.through_first.total_cmp(&a.through_first));
            let worst: Vec<String> = worst.into_iter().take(3).map(of_patch).collect();
            said.push(format!("furthest apart: {}", worst.join("; ")));
        }
        if self.by == By::Frames {
            let [red, blue] = self.cast_stops;
            if red.abs().max(blue.abs()) > SAID_STOPS {
                said.push(format!(
                    "white differs: greys have {red:+.2} stops in red and {blue:+.2} in blue against green"
                ));
            }
            if self.stops.abs() > SAID_STOPS {
                let way = if self.stops > 0.0 { "brighter" } else { "darker" };
                said.push(format!("the second is {:.2} stops {way} by this curve", self.stops.abs()));
            }
        }
        said
    }
}

fn towards(degrees: f64) -> &'static str {
    if degrees > 0.0 { "from red towards yellow" } else { "from red towards magenta" }
}

/// A patch with its difference and a description of it.
fn of_patch(patch: &Patch) -> String {
    let mut all = Vec::new();
    if let Some(ratio) = patch.chroma_ratio.filter(|r| (r - 1.0).abs() >= 0.02) {
        all.push(format!("{:+.0} % chroma", 100.0 * (ratio - 1.0)));
    }
    if let Some(degrees) = patch.hue_degrees.filter(|d| d.abs() >= 1.0) {
        all.push(format!("hue {degrees:+.0} degrees"));
    }
    if patch.lightness.abs() >= 1.0 {
        all.push(format!("{:+.0} lightness", patch.lightness));
    }
    let what = if all.is_empty() { String::new() } else { format!(" ({})", all.join(", ")) };
    format!("{} {:.1}{what}", patch.name, patch.through_first)
}

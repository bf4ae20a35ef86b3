//! The cameras of a show document.

use super::measured::MeasuredDoc;
use super::{CameraId, Entry};
use crate::camera::{self, Camera, LightMatrix, Range, Rating, between};
use crate::document::Document;
use crate::files::Recorder;
use crate::invalid::{Invalid, Refusals};
use crate::look::document::{WhiteSchema, bounded};
use crate::look::names::{AdaptationName, CurveSchema, GamutSchema, RangeName, resolve_curve};
use crate::spectrum::locus::KELVIN;
use crate::step::balance::White;
use crate::step::space::{CurveName, GamutChoice};
use crate::step::{both, within};
use crate::transfer::{Transfer, encoding};
use nalgebra::Matrix3;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// What is wrong with a camera that states neither.
const NO_COLOURS: &str = "missing key `gamut`: it needs `gamut`, or `matrix`";

/// Notes cameras without colours in which something else is wrong too; a camera of its own says it of itself.
pub(super) fn check_colours(document: &mut Document<'_>, names: impl Iterator<Item = String>) {
    for path in names.map(|name| format!("cameras.{name}")) {
        let has = |key: &str| document.has(&format!("{path}.{key}"));
        if document.is_wrong_within(&path) && !has("gamut") && !has("matrix") {
            document.refuse(Invalid::new(path, NO_COLOURS));
        }
    }
}

/// A camera.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CameraDoc {
    /// The label for reports.
    pub(super) label: Option<String>,
    #[schemars(with = "CurveSchema")]
    pub(super) curve: CurveName,
    /// EI, for a curve whose constants depend on it.
    pub(super) ei: Option<u32>,
    /// Needed without `matrix`.
    #[schemars(with = "Option<GamutSchema>")]
    pub(super) gamut: Option<GamutChoice>,
    /// Instead of `gamut`: the camera's colours as a matrix for the light of the set, or as two, for two lights.
    #[serde(default)]
    #[schemars(length(max = 2))]
    pub(super) matrix: Vec<MatrixDoc>,
    /// With two matrices: correlated colour temperature of the light on the set; between the two by reciprocal kelvin.
    #[schemars(range(min = KELVIN.min, max = KELVIN.max))]
    pub(super) kelvin: Option<f64>,
    /// White of the light that becomes neutral before the look, as the camera sees it where its own neutral is D65; default:
    /// as the camera balanced it itself.
    #[schemars(with = "Option<WhiteSchema>")]
    pub(super) white: Option<White>,
    /// How the camera's white is carried to the working white; default: as the maker's own matrix does.
    pub(super) adaptation: Option<AdaptationName>,
    /// Range of the signal that enters the cube; default: full.
    pub(super) range: Option<RangeName>,
    /// What the camera does at each EI, as measured.
    #[serde(default)]
    pub(super) rating: Vec<RatingDoc>,
    /// What was measured of it, when, and by which frames.
    #[serde(default)]
    pub(super) measured: Vec<MeasuredDoc>,
}

/// What the camera does at one EI.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RatingDoc {
    #[schemars(transform = bounded(camera::EI))]
    pub(super) ei: f64,
    #[schemars(transform = bounded(camera::CLIP))]
    pub(super) clip: Option<f64>,
    #[schemars(transform = bounded(camera::FLOOR_STOPS))]
    pub(super) floor_stops: Option<f64>,
}

/// A matrix that was found for one light.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MatrixDoc {
    /// Camera light to XYZ under D65, three rows of three; each row sums to that of white.
    #[serde(deserialize_with = "crate::document::numbers::lists_of_numbers::<_, 3>")]
    #[schemars(length(min = 3, max = 3))]
    pub(super) to_xyz: Vec<[f64; 3]>,
    /// The light that it is for, such as D55.
    #[schemars(length(min = 1))]
    pub(super) illuminant: String,
    /// Correlated colour temperature of that light; needed of each of two.
    #[schemars(range(min = KELVIN.min, max = KELVIN.max))]
    pub(super) kelvin: Option<f64>,
    /// Where it comes from.
    #[schemars(length(min = 1))]
    pub(super) source: String,
    /// The day it was found, YYYY-MM-DD.
    pub(super) date: String,
}

/// What the colours of a camera are by, in the document's terms.
struct Colours {
    gamut: Option<String>,
    matrix: Option<String>,
}

/// A camera of the document `name`.
pub(super) fn camera(d: &CameraDoc, name: &str, files: &Recorder<'_>) -> Result<Entry<Camera>, Refusals> {
    let range = d.range.map_or(Range::Full, |r| r.0);
    let ratings: Vec<Rating> =
        d.rating.iter().map(|r| Rating { ei: r.ei, clip: r.clip, floor_stops: r.floor_stops }).collect();
    let white = d.white.as_ref().map(|white| within("white", white.make())).transpose();
    let measured = super::measured::check(&d.measured);
    let curve = both(resolve_curve(&d.curve, d.ei, name, files), both(white, measured));
    // What needs the curve is checked without it as well, so that every problem is reported in one go.
    let (curve, white) = match curve {
        Ok((curve, (white, ()))) => (curve, white),
        Err(refused) => {
            let ratings = Camera::check_ratings(&ratings, None).err();
            let colours = colours(d).err();
            return Err([Some(refused), colours, ratings].into_iter().flatten().flatten().collect());
        }
    };
    let (made, by) = match colours(d) {
        Ok((Made::Gamut(gamut), by)) => (Camera::new(curve, &gamut, d.adaptation.map(|a| a.0), range, ratings)?, by),
        Ok((Made::Matrix(matrix), by)) => (Camera::of_matrix(curve, &matrix, range, ratings)?, by),
        Err(refused) => {
            let ratings = Camera::check_ratings(&ratings, None).err();
            return Err([Some(refused), ratings].into_iter().flatten().flatten().collect());
        }
    };
    let camera = match white {
        Some(white) => made.balanced(white)?,
        None => made,
    };
    let item = curves_by_ei(&d.curve.0).into_iter().fold(camera, |camera, (ei, curve)| camera.with_curve_at(ei, curve));
    let Colours { gamut, matrix } = by;
    // A curve of constants by EI is that of its base rating where the show states none: reports say which.
    let ei = d.ei.or_else(|| encoding(&d.curve.0)?.base_rating);
    let id = CameraId { curve: d.curve.0.clone(), ei, gamut, matrix, range, white: d.white };
    Ok(Entry { label: d.label.clone().unwrap_or_default(), id, item })
}

enum Made {
    Gamut(crate::gamut::Gamut),
    Matrix(LightMatrix),
}

fn colours(d: &CameraDoc) -> Result<(Made, Colours), Refusals> {
    let refuse = |key: &str, why: &str| Err(Invalid::new(key, why).into());
    match (&d.gamut, d.matrix.as_slice()) {
        (None, []) => refuse("", NO_COLOURS),
        (Some(_), [_, ..]) => refuse("matrix", "states the camera's colours as `gamut` does: give one of the two"),
        (Some(_), []) if d.kelvin.is_some() => {
            refuse("kelvin", "goes with two matrices: `gamut` holds for every light")
        }
        (Some(gamut), []) => {
            let name = match gamut {
                GamutChoice::Name(name) => Some(name.clone()),
                GamutChoice::Custom(_) => None,
            };
            Ok((Made::Gamut(gamut.make("gamut")?), Colours { gamut: name, matrix: None }))
        }
        (None, _) if d.adaptation.is_some() => {
            refuse("adaptation", "goes with `gamut`: a matrix leads to XYZ under D65 already")
        }
        (None, [_]) if d.kelvin.is_some() => refuse("kelvin", "goes with two matrices, and there is one"),
        (None, [one]) => {
            let matrix = matrix(one, 0)?;
            Ok((Made::Matrix(matrix), Colours { gamut: None, matrix: Some(one.illuminant.clone()) }))
        }
        (None, [one, two]) => {
            let (a, b) = both(matrix(one, 0), matrix(two, 1))?;
            let (Some(from), Some(to), Some(kelvin)) = (one.kelvin, two.kelvin, d.kelvin) else {
                return refuse("kelvin", "two matrices need `kelvin` of the light on the set, and each its own");
            };
            if from == to {
                return refuse("matrix[1].kelvin", "is that of the first matrix: two matrices are for two lights");
            }
            if !(from.min(to)..=from.max(to)).contains(&kelvin) {
                let why = format!("{kelvin} lies outside the two lights, {} to {} K", from.min(to), from.max(to));
                return refuse("kelvin", &why);
            }
            let mixed = between((a.to_xyz(), from), (b.to_xyz(), to), kelvin);
            let made = within("matrix", LightMatrix::new(mixed))?;
            let words = format!("{} and {} at {kelvin} K", one.illuminant, two.illuminant);
            Ok((Made::Matrix(made), Colours { gamut: None, matrix: Some(words) }))
        }
        (None, more) => refuse("matrix", &format!("{} matrices: two at most", more.len())),
    }
}

fn matrix(doc: &MatrixDoc, at: usize) -> Result<LightMatrix, Refusals> {
    let mut refused = Refusals::new();
    let rows: Option<[[f64; 3]; 3]> = doc.to_xyz.clone().try_into().ok();
    let made = rows.map(|rows| LightMatrix::new(Matrix3::from_fn(|r, c| rows[r][c])));
    if made.is_none() {
        refused.push("to_xyz", format!("{} rows: it must be three rows of three numbers", doc.to_xyz.len()));
    }
    for (key, text) in [("illuminant", &doc.illuminant), ("source", &doc.source)] {
        if text.trim().is_empty() || text.chars().any(char::is_control) {
            refused.push(key, "must be one line that says what it is");
        }
    }
    // It is part of the sentence that states the camera.
    if doc.illuminant.contains(',') {
        refused.push("illuminant", "must have no comma");
    }
    if let Some(kelvin) = doc.kelvin {
        refused.bound(&KELVIN, kelvin);
    }
    if let Err(why) = super::measured::day(&doc.date) {
        refused.push("date", why.message);
    }
    let made = made.map(|made| within("to_xyz", made)).transpose();
    let made = both(made, refused.finish(|| ()));
    within(&format!("matrix[{at}]"), made)?.0.ok_or_else(Refusals::new)
}

/// The curve at every exposure index that the encoding of that name is published for.
fn curves_by_ei(name: &str) -> Vec<(f64, Arc<dyn Transfer>)> {
    let Some(encoding) = encoding(name).filter(|e| !e.ratings.is_empty()) else {
        return Vec::new();
    };
    encoding.ratings.iter().filter_map(|ei| Some((f64::from(*ei), encoding.build(Some(*ei)).ok()?))).collect()
}

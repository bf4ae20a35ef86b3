//! The report as data: what `--json` prints.

use super::{
    Boundary, Bounds, Ends, Finding, Grade, HueRow, LightRow, NeutralRow, PROPERTIES, Point, Reading, SpectrumRow,
    Stress, Try,
};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The version of the report's shape.
pub const SCHEMA: u32 = 2;

/// What was stressed, and what was found.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight stress report")]
pub struct Report {
    /// The version of this report's shape: 2.
    #[schemars(extend("const" = SCHEMA))]
    pub schema: u32,
    /// The show's title.
    pub show: String,
    /// The worst verdict of all: `holds`, `marginal` or `breaks`.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// The step that was tried, in words.
    pub tried: Option<String>,
    /// Every look, camera and display.
    pub cases: Vec<CaseReport>,
}

/// One look through one camera to one display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CaseReport {
    /// Name of the shot whose correction is on the path, if one is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shot: Option<String>,
    /// Name of the look.
    pub look: String,
    /// Its revision.
    pub revision: u32,
    /// Name of the camera.
    pub camera: String,
    /// Name of the display.
    pub display: String,
    /// Points along each edge of the cube.
    pub points: usize,
    /// Who reads the cube: tetrahedral, trilinear, either.
    pub reader: String,
    /// The worst verdict.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// Every figure.
    pub findings: Vec<FindingReport>,
    /// Where greys reach the display's ends.
    pub ends: Ends,
    /// The camera's colours at the display's boundary.
    pub boundary: Boundary,
    /// Saturated lights by hue.
    pub hues: Vec<HueRow>,
    /// The cast of greys by stop.
    pub neutral: Vec<NeutralRow>,
    /// Lights by name.
    pub lights: Vec<LightRow>,
    /// Lines and bands along the spectrum.
    pub spectrum: Vec<SpectrumRow>,
    /// The same lights with the step that was tried.
    #[serde(skip)]
    pub tried_lights: Vec<LightRow>,
}

/// The grades of one path, without its figures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CaseGrades {
    /// Name of the look.
    pub look: String,
    /// Its revision.
    pub revision: u32,
    /// Name of the camera.
    pub camera: String,
    /// Name of the display.
    pub display: String,
    /// Points along each edge of the cube.
    pub points: usize,
    /// Who reads the cube.
    pub reader: String,
    /// The worst verdict.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// The worst grade of each property, by its name.
    pub properties: BTreeMap<&'static str, Grade>,
}

impl From<&CaseReport> for CaseGrades {
    fn from(case: &CaseReport) -> Self {
        Self {
            look: case.look.clone(),
            revision: case.revision,
            camera: case.camera.clone(),
            display: case.display.clone(),
            points: case.points,
            reader: case.reader.clone(),
            grade: case.grade,
            properties: PROPERTIES.map(|(name, _)| (name, case.grade_of(name))).into(),
        }
    }
}

/// What is stressed, by its names in the show.
#[derive(Debug, Clone, Copy)]
pub struct Names<'n> {
    /// The shot, if the path has a correction.
    pub shot: Option<&'n str>,
    /// The look.
    pub look: &'n str,
    /// The camera.
    pub camera: &'n str,
    /// The display.
    pub display: &'n str,
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FindingReport {
    /// The property.
    pub property: String,
    /// The figure within it.
    pub figure: String,
    /// What it is, in words.
    pub title: String,
    /// What one sees on the monitor where it does not hold.
    pub means: String,
    /// What it counts.
    pub unit: String,
    /// Whether more of it is worse.
    pub more_is_worse: bool,
    /// The limits; without, the figure is reported, not graded.
    pub limits: Option<Bounds>,
    /// The worse verdict of the exact path and the cube.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// On the exact path.
    pub exact: Reading,
    /// On the cube.
    pub cube: Reading,
    /// What the cube adds.
    pub cube_adds: f64,
    /// What one could change, where it does not hold.
    pub hint: Option<String>,
    /// With the step that was tried.
    pub tried: Option<Tried>,
}

/// A figure with a step that was tried.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Tried {
    /// The verdict with it.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// On the exact path.
    pub exact: f64,
    /// On the cube.
    pub cube: f64,
}

impl FindingReport {
    fn of(finding: &Finding, hdr: bool, tried: Option<&Finding>) -> Self {
        let figure = finding.figure;
        Self {
            property: figure.property.to_owned(),
            figure: figure.name.to_owned(),
            title: figure.title.to_owned(),
            means: figure.means.to_owned(),
            unit: figure.unit.name(hdr).to_owned(),
            more_is_worse: figure.most,
            limits: finding.bounds,
            grade: finding.grade,
            exact: finding.exact.clone(),
            cube: finding.cube.clone(),
            cube_adds: finding.cube_adds(),
            hint: finding.hint.clone(),
            tried: tried.map(|t| Tried { grade: t.grade, exact: t.exact.value, cube: t.cube.value }),
        }
    }

    /// Where the worse of both paths is.
    pub fn worse(&self) -> &Reading {
        let cube = if self.more_is_worse { self.cube_adds > 0.0 } else { self.cube_adds < 0.0 };
        if cube { &self.cube } else { &self.exact }
    }

    /// Where the worst is, in words: one input, or from one to another.
    pub fn place(&self) -> Option<String> {
        let Reading { at, to, .. } = self.worse();
        let at = at.as_ref()?.words();
        Some(match to.as_ref() {
            Some(to) => between(&at, to),
            None => at,
        })
    }
}

/// From one input to another, without saying twice what they share.
fn between(at: &str, to: &Point) -> String {
    let to = to.words();
    match (at.rsplit_once(", "), to.rsplit_once(", ")) {
        (Some((one, _)), Some((other, end))) if one == other => format!("{at} to {end}"),
        _ => format!("{at} to {to}"),
    }
}

impl CaseReport {
    /// From what was found, and from what was found with a step that was tried.
    pub fn new(
        names: Names<'_>,
        revision: u32,
        (points, reader): (usize, &str),
        found: &Stress,
        tried: Option<&Stress>,
    ) -> Self {
        let finding = |f: &Finding| FindingReport::of(f, found.hdr, tried.and_then(|t| t.finding(f.figure)));
        Self {
            shot: names.shot.map(str::to_owned),
            look: names.look.to_owned(),
            revision,
            camera: names.camera.to_owned(),
            display: names.display.to_owned(),
            points,
            reader: reader.to_owned(),
            grade: found.grade(),
            findings: found.findings.iter().map(finding).collect(),
            ends: found.ends,
            boundary: found.boundary.clone(),
            hues: found.hues.clone(),
            neutral: found.neutral.clone(),
            lights: found.lights.clone(),
            spectrum: found.spectrum.clone(),
            tried_lights: tried.map(|t| t.lights.clone()).unwrap_or_default(),
        }
    }

    /// Look, camera and display, with the shot in front where there is one.
    pub fn name(&self) -> String {
        let shot = self.shot.as_ref().map(|shot| format!("{shot} ")).unwrap_or_default();
        format!("{shot}{} {} {}", self.look, self.camera, self.display)
    }

    /// The worst grade of a property.
    pub fn grade_of(&self, property: &str) -> Grade {
        self.findings.iter().filter(|f| f.property == property).map(|f| f.grade).max().unwrap_or(Grade::Holds)
    }
}

impl Report {
    /// Of a show.
    pub fn new(show: &str, tried: Option<Try>, cases: Vec<CaseReport>) -> Self {
        Self {
            schema: SCHEMA,
            show: show.to_owned(),
            grade: cases.iter().map(|c| c.grade).max().unwrap_or(Grade::Holds),
            tried: tried.map(|t| t.words()),
            cases,
        }
    }
}

/// The JSON Schema of a report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

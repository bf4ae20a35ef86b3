//! The verdicts of a stress test for a sheet: a grade for each property, and the figures that do not hold.

use crate::stress::{CaseReport, FindingReport, Grade, PROPERTIES};
use schemars::JsonSchema;
use serde::Serialize;

/// The verdicts for a look through one camera on one display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StressSummary {
    /// Name of the camera.
    pub camera: String,
    /// Name of the display.
    pub display: String,
    /// Points along each edge of the cube that was searched beside the exact path.
    pub points: usize,
    /// The worst verdict.
    #[serde(rename = "verdict")]
    pub grade: Grade,
    /// The worst grade of each property, in the order of a stress test.
    pub properties: Vec<PropertySheet>,
    /// Every figure that does not hold.
    pub findings: Vec<FindingReport>,
}

/// A property and its grade.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PropertySheet {
    /// The property.
    pub property: String,
    /// Its worst grade.
    #[serde(rename = "verdict")]
    pub grade: Grade,
}

impl StressSummary {
    /// Makes the summary of a stress test.
    pub fn of(case: &CaseReport) -> Self {
        let property =
            |(name, _): (&str, &str)| PropertySheet { property: name.to_owned(), grade: case.grade_of(name) };
        Self {
            camera: case.camera.clone(),
            display: case.display.clone(),
            points: case.points,
            grade: case.grade,
            properties: PROPERTIES.map(property).to_vec(),
            findings: case.findings.iter().filter(|f| f.grade != Grade::Holds).cloned().collect(),
        }
    }
}

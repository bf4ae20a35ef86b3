//! How a look holds under stress, as a sheet tells it: a grade for each property, and what does not hold.

use crate::cube::Reader;
use crate::invalid::Invalid;
use crate::show::{Job, Show};
use crate::stress::{CaseReport, FindingReport, Grade, PROPERTIES, Subject, stress};
use schemars::JsonSchema;
use serde::Serialize;

/// How a look holds through one camera on one display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HeldSheet {
    /// Name of the camera.
    pub camera: String,
    /// Name of the display.
    pub display: String,
    /// Points along each edge of the cube that was searched beside the exact path.
    pub points: usize,
    /// The worst grade.
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
    pub grade: Grade,
}

impl HeldSheet {
    /// Searches the path of a job of `show`, and the cube of it as a tetrahedral reader reads it.
    ///
    /// # Errors
    /// As [`stress`].
    pub fn of(show: &Show, job: &Job) -> Result<Self, Vec<Invalid>> {
        // Shots apart: what is searched is the look.
        let Job { look, camera, display, points, shot: _ } = job;
        let subject = Subject {
            look: &show.looks()[look].item,
            camera: &show.cameras()[camera].item,
            display: &show.displays()[display].item,
            points: *points,
            reader: Reader::Tetrahedral,
        };
        let found = stress(&subject, show.stress_limits())?;
        let names = [look.as_str(), camera, display];
        let case = CaseReport::new(names, subject.look.revision(), (*points, subject.reader.name()), &found, None);
        let property =
            |(name, _): (&str, &str)| PropertySheet { property: name.to_owned(), grade: case.grade_of(name) };
        Ok(Self {
            camera: camera.clone(),
            display: display.clone(),
            points: *points,
            grade: case.grade,
            properties: PROPERTIES.map(property).to_vec(),
            findings: case.findings.into_iter().filter(|f| f.grade != Grade::Holds).collect(),
        })
    }
}

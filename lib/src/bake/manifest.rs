//! The manifest of a bake: what each cube is, and what it was made from.

use super::{Baked, BakedFile, Options};
use crate::audit::Audit;
use crate::cube::Curves;
use crate::files::{Source, sha256};
use crate::fit::Report;
use crate::look::GENERATION;
use crate::show::Show;
use crate::step::cdl::CdlNumbers;
use serde::Serialize;

/// The version of the manifest's shape.
pub const SCHEMA: u32 = 1;

/// The manifest of a bake: what each cube is, and what it was made from.
#[derive(Debug, Clone, Serialize)]
pub struct Manifest {
    schema: u32,
    tool: Tool,
    show: String,
    sources: Vec<Source>,
    cubes: Vec<CubeRecord>,
}

#[derive(Debug, Clone, Serialize)]
struct Tool {
    name: &'static str,
    version: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct CubeRecord {
    file: String,
    format: &'static str,
    sha256: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    shot: Option<ShotRecord>,
    look: String,
    look_title: String,
    revision: u32,
    /// The generation of the picture.
    generation: u32,
    camera: String,
    camera_terms: String,
    range_in: &'static str,
    display: String,
    display_terms: String,
    range_out: &'static str,
    points: usize,
    /// Entries of the curves in front.
    #[serde(skip_serializing_if = "Option::is_none")]
    shaper: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fit: Option<Report>,
    #[serde(skip_serializing_if = "Option::is_none")]
    device: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    audit: Option<AuditRecord>,
}

/// A shot, its correction, and how that is meant.
#[derive(Debug, Clone, Serialize)]
struct ShotRecord {
    name: String,
    id: String,
    file: String,
    #[serde(flatten)]
    numbers: CdlNumbers,
    order: &'static str,
    space: String,
    clamp: bool,
}

/// The audit of a cube, and the interpolations that its reader may use.
#[derive(Debug, Clone, Serialize)]
struct AuditRecord {
    reader: &'static str,
    #[serde(flatten)]
    figures: Audit,
}

fn shot(show: &Show, name: &str) -> Option<ShotRecord> {
    let (shot, grading) = (show.shots().get(name)?, show.grading());
    Some(ShotRecord {
        name: name.to_owned(),
        id: shot.id.clone(),
        file: shot.file.clone(),
        numbers: shot.numbers,
        order: grading.order().name(),
        space: grading.space().name().to_owned(),
        clamp: grading.clamps(),
    })
}

impl Manifest {
    /// A manifest of no cubes yet.
    pub fn new(show: &Show) -> Self {
        Self {
            schema: SCHEMA,
            tool: Tool { name: "rushlight", version: env!("CARGO_PKG_VERSION") },
            show: show.title().to_owned(),
            sources: show.sources().to_vec(),
            cubes: Vec::new(),
        }
    }

    /// Adds a file of a cube.
    pub fn add(&mut self, show: &Show, baked: &Baked, file: &BakedFile, options: &Options<'_>) {
        let job = &baked.job;
        let (look, camera, display) =
            (&show.looks()[&job.look], &show.cameras()[&job.camera], &show.displays()[&job.display]);
        self.cubes.push(CubeRecord {
            file: file.name.clone(),
            format: file.format.name(),
            sha256: sha256(file.text.as_bytes()),
            shot: job.shot.as_ref().and_then(|name| shot(show, name)),
            look: job.look.clone(),
            look_title: look.item.title().to_owned(),
            revision: look.item.revision(),
            generation: GENERATION,
            camera: job.camera.clone(),
            camera_terms: camera.terms.clone(),
            range_in: camera.item.range().name(),
            display: job.display.clone(),
            display_terms: display.terms.clone(),
            range_out: display.item.settings().range.name(),
            points: job.points,
            shaper: baked.table.shaper().map(Curves::size),
            fit: baked.fit,
            device: options.device.map(|(name, _)| name.to_owned()),
            audit: baked.audit.map(|figures| AuditRecord { reader: options.reader.name(), figures }),
        });
    }

    /// The record of each cube, in the order in which they were added.
    pub fn into_records(self) -> Vec<serde_json::Value> {
        let value = |cube: &CubeRecord| serde_json::to_value(cube).expect("a record has only strings and numbers");
        self.cubes.iter().map(value).collect()
    }

    /// As JSON text.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("a manifest has only strings and numbers");
        text.push('\n');
        text
    }
}

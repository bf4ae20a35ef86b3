//! Baking: compiled pipelines sampled into cubes, and the manifest that says what they are.
//!
//! Nothing here touches a disk: a cube and the manifest are text, the same bytes on every run, thread count and machine.

use crate::cube::Cube;
use crate::files::{Source, sha256};
use crate::format::{self, cube::WriteOptions};
use crate::invalid::Invalid;
use crate::show::{Job, Show};
use serde::Serialize;

/// The version of the manifest's shape.
pub const SCHEMA: u32 = 1;

/// A baked cube.
#[derive(Debug, Clone)]
pub struct Baked {
    /// The file's name.
    pub file: String,
    /// The table.
    pub cube: Cube,
    /// The file's text.
    pub text: String,
}

/// Bakes one cube of a show.
///
/// # Errors
/// A job that the show does not have, a look that does not fit its display, a size that no cube has.
pub fn bake(show: &Show, job: &Job) -> Result<Baked, Vec<Invalid>> {
    let pipeline = show.pipeline(&job.look, &job.camera, &job.display)?;
    let cube = Cube::sample(job.points, |signal| pipeline.apply(signal))?;
    let (title, comments) = (title(show, job), comments(show, job));
    let options = WriteOptions { title: &title, comments: &comments, ..WriteOptions::default() };
    let text = format::cube::write_cube(&cube, &options)?;
    Ok(Baked { file: show.file_name(job), cube, text })
}

/// The title in a cube's file.
fn title(show: &Show, job: &Job) -> String {
    let look = &show.looks()[&job.look].item;
    format!("{}, {} r{}, {} to {}", show.title(), job.look, look.revision(), job.camera, job.display)
}

/// What a cube's file says of where it comes from.
fn comments(show: &Show, job: &Job) -> Vec<String> {
    let look = &show.looks()[&job.look];
    let (camera, display) = (&show.cameras()[&job.camera], &show.displays()[&job.display]);
    let mut lines = vec![
        format!("made by rushlight {}", env!("CARGO_PKG_VERSION")),
        format!("show: {}", show.title()),
        format!("look: {}, revision {}", look.item.title(), look.item.revision()),
        format!("camera: {} ({})", camera.label, camera.terms),
        format!("display: {} ({})", display.label, display.terms),
    ];
    lines.extend(look.item.sources().iter().map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines
}

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
    sha256: String,
    look: String,
    look_title: String,
    revision: u32,
    camera: String,
    camera_terms: String,
    range_in: &'static str,
    display: String,
    display_terms: String,
    range_out: &'static str,
    points: usize,
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

    /// Adds a cube.
    pub fn add(&mut self, show: &Show, job: &Job, baked: &Baked) {
        let (look, camera, display) =
            (&show.looks()[&job.look], &show.cameras()[&job.camera], &show.displays()[&job.display]);
        self.cubes.push(CubeRecord {
            file: baked.file.clone(),
            sha256: sha256(baked.text.as_bytes()),
            look: job.look.clone(),
            look_title: look.item.title().to_owned(),
            revision: look.item.revision(),
            camera: job.camera.clone(),
            camera_terms: camera.terms.clone(),
            range_in: camera.item.range().name(),
            display: job.display.clone(),
            display_terms: display.terms.clone(),
            range_out: display.item.settings().range.name(),
            points: job.points,
        });
    }

    /// As JSON text.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("a manifest has only strings and numbers");
        text.push('\n');
        text
    }
}

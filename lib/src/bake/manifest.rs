//! The manifest of a bake: what each cube is, and what it was made from; written, and read back.

use super::{Baked, BakedFile, Format};
use crate::audit::Audit;
use crate::by_name;
use crate::cube::{Curves, Reader};
use crate::files::{Source, sha256};
use crate::fit::Report;
use crate::invalid::Invalid;
use crate::look::GENERATION;
use crate::shot::Order;
use crate::show::{CameraId, DisplayId, Job, Show};
use crate::step::cdl::CdlNumbers;
use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt::Display;
use std::str::FromStr;

/// The version of the manifest's shape that is written.
///
/// Version 1 has `camera_terms` and `range_in` in place of `camera_id`, and `display_terms` and `range_out` in place of
/// `display_id`; it is read, too.
pub const SCHEMA: u32 = 2;

/// The file's name in the folder of the cubes.
pub const MANIFEST: &str = "manifest.json";

/// The versions that are read.
const READ: std::ops::RangeInclusive<u32> = 1..=SCHEMA;

/// The manifest of a bake: what each cube is, and what it was made from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Rushlight manifest")]
pub struct Manifest {
    /// The version of its shape.
    pub schema: u32,
    /// What made the cubes.
    pub tool: Tool,
    /// The title of the show.
    pub show: String,
    /// Every file that the show was read from.
    pub sources: Vec<Source>,
    /// The cubes, in the order in which they were added.
    pub cubes: Vec<CubeRecord>,
}

/// The program that made a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// A file of a cube.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CubeRecord {
    /// Its name.
    pub file: String,
    /// Its format.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Format>")]
    pub format: Format,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// The shot whose correction is in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shot: Option<ShotRecord>,
    /// Name of its look in the show.
    pub look: String,
    /// Title of the look.
    pub look_title: String,
    /// Revision of the look.
    pub revision: u32,
    /// The generation of the picture.
    pub generation: u32,
    /// Name of its camera in the show.
    pub camera: String,
    /// What that camera is.
    #[serde(alias = "camera_terms", deserialize_with = "id_or_sentence")]
    pub camera_id: CameraId,
    /// Name of its display in the show.
    pub display: String,
    /// What that display is.
    #[serde(alias = "display_terms", deserialize_with = "id_or_sentence")]
    pub display_id: DisplayId,
    /// Points along each edge.
    pub points: usize,
    /// Entries of the curves in front.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shaper: Option<usize>,
    /// What the fit did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<Report>,
    /// The device whose limits it keeps, by its name in the show.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Its error against the exact path.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub audit: Option<AuditRecord>,
}

/// A shot, its correction, and how that is meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShotRecord {
    /// Name of the shot in the show.
    pub name: String,
    /// Id of the correction in its file.
    pub id: String,
    /// The file of the correction.
    pub file: String,
    /// The correction.
    #[serde(flatten)]
    pub numbers: CdlNumbers,
    /// Whether it comes before the look, after its `compress`, or after the look.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Order>")]
    pub order: Order,
    /// The space that it works in.
    pub space: String,
    /// Whether values are clamped, as the specification of the ASC CDL says.
    pub clamp: bool,
}

/// The audit of a cube, and the interpolations that its reader may use.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AuditRecord {
    /// Who reads the cube.
    #[serde(with = "by_name")]
    #[schemars(schema_with = "crate::by_name::schema::<Reader>")]
    pub reader: Reader,
    /// The error.
    #[serde(flatten)]
    pub figures: Audit,
}

/// What a file of a cube is for.
#[derive(Debug, Clone, PartialEq)]
pub struct MadeFor {
    /// The camera whose signal it takes.
    pub camera: CameraId,
    /// The display whose signal it gives.
    pub display: DisplayId,
    /// The names of its look, camera and display in their show, where these are known.
    pub names: Option<[String; 3]>,
}

by_name::by_name_of! {
    Format: Format::ALL;
    Order: Order::ALL;
}

/// Fields, or the sentence that version 1 has of them.
fn id_or_sentence<'de, T, D>(deserializer: D) -> Result<T, D::Error>
where
    T: Deserialize<'de> + FromStr,
    T::Err: Display,
    D: Deserializer<'de>,
{
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Stated<T> {
        Sentence(String),
        Id(T),
    }
    match Stated::deserialize(deserializer)? {
        Stated::Id(id) => Ok(id),
        Stated::Sentence(text) => text.parse().map_err(serde::de::Error::custom),
    }
}

impl CubeRecord {
    /// The record of a baked cube's file.
    pub fn of(baked: &Baked<'_>, file: &BakedFile) -> Self {
        let (job, options) = (baked.job(), baked.options());
        let look = job.look().item();
        let [look_name, camera, display] = job.names().map(str::to_owned);
        Self {
            file: file.name.clone(),
            format: file.format,
            sha256: sha256(file.text.as_bytes()),
            shot: ShotRecord::of(job),
            look: look_name,
            look_title: look.title().to_owned(),
            revision: look.revision(),
            generation: GENERATION,
            camera,
            camera_id: job.camera().entry.id.clone(),
            display,
            display_id: job.display().entry.id.clone(),
            points: job.points(),
            shaper: baked.table().shaper().map(Curves::size),
            fit: baked.fit(),
            device: options.device.map(|device| device.name.to_owned()),
            audit: baked.audit().map(|figures| AuditRecord { reader: options.reader, figures: *figures }),
        }
    }

    /// What the file is for.
    pub fn made_for(&self) -> MadeFor {
        MadeFor {
            camera: self.camera_id.clone(),
            display: self.display_id.clone(),
            names: Some([&self.look, &self.camera, &self.display].map(String::clone)),
        }
    }
}

impl ShotRecord {
    fn of(job: &Job<'_>) -> Option<Self> {
        let (name, shot) = job.shot().zip(job.correction())?;
        let grading = job.show().grading();
        Some(Self {
            name: name.to_owned(),
            id: shot.id.clone(),
            file: shot.file.clone(),
            numbers: shot.numbers,
            order: grading.order(),
            space: grading.space().name().to_owned(),
            clamp: grading.clamps(),
        })
    }
}

impl Tool {
    /// This program, of this version.
    pub fn this() -> Self {
        Self { name: "rushlight".to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() }
    }
}

/// The JSON Schema of a manifest, of the version that is written.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Manifest).to_value()
}

impl Manifest {
    /// A manifest of no cubes yet.
    pub fn new(show: &Show) -> Self {
        Self {
            schema: SCHEMA,
            tool: Tool::this(),
            show: show.title().to_owned(),
            sources: show.sources().to_vec(),
            cubes: Vec::new(),
        }
    }

    /// Adds a file of a cube.
    pub fn add(&mut self, baked: &Baked<'_>, file: &BakedFile) {
        self.cubes.push(CubeRecord::of(baked, file));
    }

    /// Reads a manifest, of this version or of version 1.
    ///
    /// # Errors
    /// What is no manifest of a bake, or one of another version.
    pub fn parse(bytes: &[u8]) -> Result<Self, Invalid> {
        #[derive(Deserialize)]
        struct Version {
            schema: u32,
        }
        let fail = |e: serde_json::Error| Invalid::plain(crate::message::beginning(&e.to_string()));
        // The version first: of a later one the rest cannot be judged.
        let Version { schema } = serde_json::from_slice(bytes).map_err(fail)?;
        if !READ.contains(&schema) {
            let message = format!("{schema} is not known: this version reads {} to {}", READ.start(), READ.end());
            return Err(Invalid::new("schema", message));
        }
        serde_json::from_slice(bytes).map_err(fail)
    }

    /// As JSON text.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("a manifest has only strings and numbers");
        text.push('\n');
        text
    }
}

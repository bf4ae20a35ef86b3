//! The manifest of a bake as it lies beside its cubes, read back.

use rushlight::files::Source;
use serde::Deserialize;

/// The file's name in the folder of the cubes.
pub(crate) const NAME: &str = "manifest.json";

/// What the manifest says.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Manifest {
    pub(crate) schema: u32,
    pub(crate) sources: Vec<Source>,
    pub(crate) cubes: Vec<Record>,
}

/// What it says of one cube.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Record {
    pub(crate) file: String,
    pub(crate) sha256: String,
    pub(crate) look: String,
    pub(crate) camera: String,
    pub(crate) camera_terms: String,
    pub(crate) display: String,
    pub(crate) display_terms: String,
    pub(crate) points: usize,
    pub(crate) audit: Option<Audit>,
}

/// How far the cube strays, on colours that a camera meets.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Audit {
    pub(crate) reader: String,
    pub(crate) difference: String,
    pub(crate) plausible: Set,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Set {
    pub(crate) tetrahedral: Figures,
    pub(crate) trilinear: Figures,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(crate) struct Figures {
    pub(crate) mean: f64,
    pub(crate) p99: f64,
    pub(crate) max: f64,
}

impl Manifest {
    /// Of a manifest's bytes.
    pub(crate) fn parse(bytes: &[u8]) -> Result<Self, String> {
        let manifest: Self = serde_json::from_slice(bytes).map_err(|e| e.to_string())?;
        if manifest.schema == rushlight::bake::SCHEMA {
            return Ok(manifest);
        }
        Err(format!("schema {}: {} is read", manifest.schema, rushlight::bake::SCHEMA))
    }
}

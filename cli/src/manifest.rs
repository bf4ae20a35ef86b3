//! The manifest of a bake as it lies beside its cubes, read back.

use rushlight::files::Source;
use serde::Deserialize;

/// The file's name in the folder of the cubes.
pub(crate) const NAME: &str = "manifest.json";

/// Lines at the start of a cube among which its header is looked for.
const HEADER: usize = 64;

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

/// The error of the cube, on colours that a camera meets.
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

impl Record {
    /// What the header of a cube says of camera and display, if a bake wrote it; names of a show it has none.
    pub(crate) fn of_header(bytes: &[u8]) -> Option<Self> {
        let lines = bytes.split(|b| *b == b'\n').take(HEADER).filter_map(|line| std::str::from_utf8(line).ok());
        let comments: Vec<&str> = lines.filter_map(|line| line.strip_prefix("# ")).map(str::trim_end).collect();
        if !comments.first()?.starts_with("made by rushlight ") {
            return None;
        }
        // A label may have brackets too; the terms stand in the last.
        let terms = |what: &str| {
            let said = comments.iter().find_map(|line| line.strip_prefix(what))?.strip_suffix(')')?;
            said.rsplit_once(" (").map(|(_, terms)| terms.to_owned())
        };
        Some(Self {
            file: String::new(),
            sha256: String::new(),
            look: String::new(),
            camera: String::new(),
            camera_terms: terms("camera: ")?,
            display: String::new(),
            display_terms: terms("display: ")?,
            points: 0,
            audit: None,
        })
    }
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

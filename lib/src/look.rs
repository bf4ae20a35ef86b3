//! A look: an ordered list of steps, the same for every camera and every display.
//!
//! Read from TOML by [`Look::parse`]; the shape of the document is given by [`schema`].

pub(crate) mod corrections;
pub(crate) mod document;
mod generation;
pub(crate) mod names;
pub(crate) mod parameters;
pub(crate) mod resolve;
pub(crate) mod settings;
mod words;

pub use document::STEPS;
pub use generation::{FIRST_GENERATION, GENERATION};
pub(crate) use names::{AdaptationName, CurveName, GamutDoc, InterpolationName, resolve_curve, resolve_gamut};
pub use parameters::{parameter, parameters};
pub(crate) use resolve::space;
pub use settings::{Setting, StepSettings, settings};
pub use words::{Sentence, sentences};

use crate::document::Problems;
use crate::files::{Files, Recorder, Source};
use crate::step::{Rendering, Step};

/// The version of the document's shape that is read.
pub const SCHEMA: u32 = 1;

/// A look, read and validated.
#[derive(Debug, Clone)]
pub struct Look {
    title: String,
    revision: u32,
    steps: Vec<Step>,
    rendering: Rendering,
    sources: Vec<Source>,
}

impl Look {
    /// A look from its parts, for programs that do not start from a document.
    pub fn new(title: impl Into<String>, revision: u32, steps: Vec<Step>, rendering: Rendering) -> Self {
        Self { title: title.into(), revision, steps, rendering, sources: Vec::new() }
    }

    /// Reads the document `text`, whose file is `name`; files that it names come from `files`.
    ///
    /// # Errors
    /// Every problem of the document.
    pub fn parse(name: &str, text: &str, files: &dyn Files) -> Result<Self, Problems> {
        let recorder = Recorder::new(files);
        recorder.note(name, text.as_bytes());
        let mut look = resolve::read(name, text, &recorder)?;
        look.sources = recorder.sources();
        Ok(look)
    }

    /// The same look, read from `sources`.
    pub(crate) fn with_sources(self, sources: Vec<Source>) -> Self {
        Self { sources, ..self }
    }

    /// The title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The revision, from 1.
    pub const fn revision(&self) -> u32 {
        self.revision
    }

    /// The steps on scene light, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The last step, which gives display light.
    pub const fn rendering(&self) -> &Rendering {
        &self.rendering
    }

    /// The files that it was read from: the document itself and those that it names.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }
}

/// The JSON Schema of a look document.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(document::LookDoc).to_value()
}

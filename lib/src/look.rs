//! A look as a document: TOML to a [`Look`] and back.
//!
//! A look is a value: [`Look::new`] makes one of steps, [`parse`] reads one from TOML, [`to_toml`] writes it. The shape of the
//! document is given by [`schema`].
//!
//! ```
//! use rushlight::look::{self, Look};
//! use rushlight::step::{Rendering, Settings, Step, exposure::ExposureSettings, print::PrintSettings};
//! use std::collections::BTreeMap;
//!
//! let darker = Step::new(ExposureSettings::stops(-0.5)).unwrap();
//! let print = Rendering::new(PrintSettings { toe: 1.2, ..PrintSettings::default() }).unwrap();
//! let night = Look::new("Night", 1, vec![darker], print);
//! assert_eq!(look::parse("night.toml", &look::to_toml(&night), &BTreeMap::new()).unwrap(), night);
//! assert!(matches!(night.rendering().settings(), Settings::Print(print) if print.toe == 1.2));
//! assert_eq!(night.sentences()[0].words, "0.5 stops darker.");
//! ```

pub(crate) mod corrections;
pub(crate) mod document;
mod draft;
mod files;
mod generation;
pub(crate) mod names;
pub(crate) mod read;
mod write;

pub use draft::{Draft, DraftStep};
pub use files::Named;
pub use generation::FIRST_GENERATION;
pub use rushlight_colour::look::{GENERATION, Look};
pub use write::{note_line, notes, step_to_toml, to_toml};

use crate::document::{Document, Problems};
use crate::files::{Files, Recorder};

/// The version of the document's shape that is read.
pub const SCHEMA: u32 = 1;

/// Reads the document `text`, whose file is `name`; files that it names come from `files`.
///
/// # Errors
/// Every problem of the document.
pub fn parse(name: &str, text: &str, files: &dyn Files) -> Result<Look, Problems> {
    read(name, text, files).1
}

/// As [`parse`], with the content of the document, valid or not.
pub fn read(name: &str, text: &str, files: &dyn Files) -> (Draft, Result<Look, Problems>) {
    let recorder = Recorder::new(files);
    recorder.note(name, text.as_bytes());
    let (draft, look) = read::read(name, text, &recorder);
    (draft, look.map(|look| look.with_sources(recorder.sources())))
}

/// Whether a document is a look, and not a show.
pub fn is_look(document: &mut Document<'_>) -> bool {
    document.count("step") > 0 && document.keys("cameras").is_empty()
}

/// The JSON Schema of a look document.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(document::LookDoc).to_value()
}

#[cfg(test)]
mod step_tests;
#[cfg(test)]
mod tests;

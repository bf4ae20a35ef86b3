//! A look: an ordered list of steps, the same for every camera and every display.
//!
//! A look is a value: [`Look::new`] makes one of steps, [`Look::parse`] reads one from TOML, [`Look::to_toml`] writes it. The
//! shape of the document is given by [`schema`].
//!
//! ```
//! use rushlight::look::Look;
//! use rushlight::step::{Rendering, Settings, Step, exposure::ExposureSettings, print::PrintSettings};
//! use std::collections::BTreeMap;
//!
//! let darker = Step::new(ExposureSettings::stops(-0.5)).unwrap();
//! let print = Rendering::new(PrintSettings { toe: 1.2, ..PrintSettings::default() }).unwrap();
//! let look = Look::new("Night", 1, vec![darker], print);
//! assert_eq!(Look::parse("night.toml", &look.to_toml(), &BTreeMap::new()).unwrap(), look);
//! assert!(matches!(look.rendering().settings(), Settings::Print(print) if print.toe == 1.2));
//! assert_eq!(look.sentences()[0].words, "0.5 stops darker.");
//! ```

pub(crate) mod corrections;
pub(crate) mod document;
mod draft;
mod files;
mod generation;
mod make;
pub(crate) mod names;
pub(crate) mod read;

pub use draft::{Draft, DraftStep};
pub(crate) use files::Named;
pub use generation::{FIRST_GENERATION, GENERATION};

use crate::document::Problems;
use crate::files::{Files, Recorder, Source};
use crate::step::{Rendering, Sentence, Step, Written};
use std::fmt::Write as _;

/// The version of the document's shape that is read.
pub const SCHEMA: u32 = 1;

/// A look, sound in all its steps.
#[derive(Debug, Clone)]
pub struct Look {
    title: String,
    revision: u32,
    note: String,
    steps: Vec<Step>,
    rendering: Rendering,
    sources: Vec<Source>,
}

/// The same title, revision, note and steps, and the same contents of the files that they name.
impl PartialEq for Look {
    fn eq(&self, other: &Self) -> bool {
        (&self.title, self.revision, &self.note) == (&other.title, other.revision, &other.note)
            && self.steps == other.steps
            && self.rendering == other.rendering
    }
}

impl Look {
    /// A look from its parts, for programs that do not start from a document.
    pub fn new(title: impl Into<String>, revision: u32, steps: Vec<Step>, rendering: Rendering) -> Self {
        let (title, note, sources) = (title.into(), String::new(), Vec::new());
        Self { title, revision, note, steps, rendering, sources }
    }

    /// Reads the document `text`, whose file is `name`; files that it names come from `files`.
    ///
    /// # Errors
    /// Every problem of the document.
    pub fn parse(name: &str, text: &str, files: &dyn Files) -> Result<Self, Problems> {
        Self::read(name, text, files).1
    }

    /// As [`parse`](Self::parse), and what the document says, sound or not.
    pub fn read(name: &str, text: &str, files: &dyn Files) -> (Draft, Result<Self, Problems>) {
        let recorder = Recorder::new(files);
        recorder.note(name, text.as_bytes());
        let (draft, look) = read::read(name, text, &recorder);
        (draft, look.map(|look| look.with_sources(recorder.sources())))
    }

    /// The same look, read from `sources`.
    pub(crate) fn with_sources(self, sources: Vec<Source>) -> Self {
        Self { sources, ..self }
    }

    /// The same look with a note on its revision, in one line.
    #[must_use]
    pub fn with_note(self, note: &str) -> Self {
        Self { note: one_line(note), ..self }
    }

    /// The same look with other steps.
    #[must_use]
    pub fn with_steps(&self, steps: Vec<Step>) -> Self {
        Self { steps, ..self.clone() }
    }

    /// The title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The revision, from 1.
    pub const fn revision(&self) -> u32 {
        self.revision
    }

    /// The generation of the picture that it is of: the one that this library makes.
    pub const fn generation(&self) -> u32 {
        GENERATION
    }

    /// The note on its revision; empty where there is none.
    pub fn note(&self) -> &str {
        &self.note
    }

    /// The steps on scene light, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Whether its first step is a gamut compression.
    pub fn begins_with_compress(&self) -> bool {
        self.steps.first().is_some_and(|step| step.compress().is_some())
    }

    /// The last step, which gives display light.
    pub const fn rendering(&self) -> &Rendering {
        &self.rendering
    }

    /// The files that it was read from: the document itself and those that it names.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// Every step as a document writes it, the rendering last.
    fn written(&self) -> impl Iterator<Item = &Written> {
        self.steps.iter().map(Step::written).chain([self.rendering.written()])
    }

    /// The steps in sentences, for people who light and expose by the look.
    pub fn sentences(&self) -> Vec<Sentence> {
        self.written().map(Written::sentence).collect()
    }

    /// What its document says.
    pub fn draft(&self) -> Draft {
        let step =
            |written: &Written| DraftStep { name: written.kind().name.to_owned(), written: Some(written.clone()) };
        Draft {
            title: Some(self.title.clone()),
            revision: Some(self.revision),
            generation: Some(GENERATION),
            steps: self.written().map(step).collect(),
        }
    }

    /// The look as a document, which [`parse`](Self::parse) reads back as the same look.
    pub fn to_toml(&self) -> String {
        let title = toml::Value::from(self.title.as_str());
        let mut text = format!("schema = {SCHEMA}\ngeneration = {GENERATION}\ntitle = {title}\n");
        if !self.note.is_empty() {
            let _ = writeln!(text, "{}", note_line(self.revision, &self.note));
        }
        let _ = writeln!(text, "revision = {}", self.revision);
        for written in self.written() {
            let _ = write!(text, "\n[[step]]\n{}", written.to_toml());
        }
        text
    }
}

/// The comment that a note on a revision stands in, above the revision.
pub fn note_line(revision: u32, note: &str) -> String {
    format!("# Revision {revision}: {}", one_line(note))
}

/// A note without line ends and other control characters.
fn one_line(note: &str) -> String {
    let note = note.split_whitespace().collect::<Vec<_>>().join(" ");
    note.chars().filter(|c| !c.is_control()).collect()
}

/// The JSON Schema of a look document.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(document::LookDoc).to_value()
}

#[cfg(test)]
mod tests;

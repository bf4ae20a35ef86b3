//! A look: an ordered list of steps, the same for every camera and every display.

use crate::message::one_line;
use crate::source::Source;
use crate::step::{Rendering, Sentence, Step, Written};

/// The generation of the picture that this library makes, and the only one that it reads.
///
/// Raised by one whenever the cube of any look changes by more than rounding: a step's or a rendering's formula, its
/// constants, a default, an encoding. Not raised for what adds to looks without changing those that were sound before. A
/// look of another generation is refused, since its colours would not be the ones that were approved.
pub const GENERATION: u32 = 2;

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

    /// The same look, read from `sources`.
    #[must_use]
    pub fn with_sources(self, sources: Vec<Source>) -> Self {
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
    pub fn written(&self) -> impl Iterator<Item = &Written> {
        self.steps.iter().map(Step::written).chain([self.rendering.written()])
    }

    /// The steps in sentences, for people who light and expose by the look.
    pub fn sentences(&self) -> Vec<Sentence> {
        self.written().map(Written::sentence).collect()
    }
}

//! The content of a look's document, valid or not: for editing, and for the changes between two documents.

use super::{GENERATION, Look, read};
use crate::document::Document;
use crate::step::{Kind, Role, Written};

/// The content of a look's document.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Draft {
    /// The title, if it is a text.
    pub title: Option<String>,
    /// The revision, if it is a whole number.
    pub revision: Option<u32>,
    /// The generation of the picture, if it is a whole number.
    pub generation: Option<u32>,
    /// The steps, the rendering among them.
    pub steps: Vec<DraftStep>,
}

/// A step of a document.
#[derive(Debug, Clone, PartialEq)]
pub struct DraftStep {
    /// The name in `do`; empty where there is none.
    pub name: String,
    /// Its settings, of which any may be out of range; none where there is no such step. What is of another type counts as
    /// not set.
    pub written: Option<Written>,
}

impl Draft {
    /// Reads the content of the document `text`; empty if it is not TOML.
    pub fn of(text: &str) -> Self {
        Document::parse("", text).map(|mut document| read::draft(&mut document)).unwrap_or_default()
    }
}

/// The content of the look's document.
impl From<&Look> for Draft {
    fn from(look: &Look) -> Self {
        let step =
            |written: &Written| DraftStep { name: written.kind().name.to_owned(), written: Some(written.clone()) };
        Self {
            title: Some(look.title().to_owned()),
            revision: Some(look.revision()),
            generation: Some(GENERATION),
            steps: look.written().map(step).collect(),
        }
    }
}

impl DraftStep {
    /// What the document states of it, such as `: -0.4 stops`; empty where it states nothing.
    pub fn said(&self) -> String {
        self.written.as_ref().map(Written::said).unwrap_or_default()
    }

    /// Whether it gives display light.
    pub fn is_rendering(&self) -> bool {
        match &self.written {
            Some(written) => written.settings().is_rendering(),
            None => Kind::named(&self.name).is_some_and(|kind| kind.role == Role::Rendering),
        }
    }
}

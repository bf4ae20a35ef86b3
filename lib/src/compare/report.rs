//! The report of a comparison of documents and pictures, for people and for programs.

use super::Comparison;
use super::document::Change;
use super::limits::Check;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// The whole report of `diff`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight diff")]
pub struct Report {
    /// The version of this shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    pub schema: u32,
    /// Version of the program.
    pub version: &'static str,
    /// The older side: a file, or a revision.
    pub old: String,
    /// The newer side.
    pub new: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The compared files, pair by pair.
    pub items: Vec<Item>,
}

/// The verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Neither documents nor pictures differ.
    Identical,
    /// Of two pictures: no pixel differs by as much as a careful eye just sees, and no limits were given.
    Alike,
    /// Something differs, and no limits were given.
    Different,
    /// Something differs, within every limit.
    Within,
    /// A limit is exceeded, or could not be measured.
    Beyond,
}

impl Verdict {
    /// Whether a build that checks it may go on.
    pub const fn passes(self) -> bool {
        matches!(self, Self::Identical | Self::Alike | Self::Within)
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Identical => "identical",
            Self::Alike => "the same to the eye",
            Self::Different => "different",
            Self::Within => "within the limits",
            Self::Beyond => "beyond the limits",
        })
    }
}

/// The kind of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A look document.
    Look,
    /// A show document.
    Show,
    /// A table file: a cube, CLF or Hald image.
    Cube,
    /// Another document, of which only the text is compared.
    Document,
}

/// The state of a file, or of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// The same on both sides.
    Identical,
    /// On both sides, and different.
    Changed,
    /// Only on the newer side.
    Added,
    /// Only on the older side.
    Removed,
    /// On both sides, but with outputs of different meaning, which cannot be compared.
    Incomparable,
}

/// Two files that were compared.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Item {
    /// The newer file, or the older one if it is gone.
    pub name: String,
    /// The kind of the newer file, or of the older one if it is gone.
    pub kind: Kind,
    /// Its state.
    pub state: State,
    /// Notes: what was assumed, and what to be aware of.
    pub notes: Vec<String>,
    /// Changes in documents.
    pub documents: Vec<Document>,
    /// Changes in pictures.
    pub pictures: Vec<Picture>,
    /// The limits that were set: `neutral.max=0.3`.
    pub limits: Vec<String>,
}

/// Changes in one document.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Document {
    /// Its name: `show`, `look night`.
    pub name: String,
    /// The changes, in the order of the document.
    pub changes: Vec<Change>,
}

/// One look through one camera on one display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Picture {
    /// The look's name.
    pub look: Option<String>,
    /// The camera's name, if it is known.
    pub camera: Option<String>,
    /// The camera, as a show states it.
    pub camera_terms: Option<String>,
    /// The display's name.
    pub display: String,
    /// The display, as a show states it.
    pub display_terms: String,
    /// Its state.
    pub state: State,
    /// Why it was not measured, or what to be aware of.
    pub note: Option<String>,
    /// The measured differences; null if the picture is identical or only on one side.
    pub comparison: Option<Comparison>,
    /// Whether the limits hold.
    pub checks: Vec<Check>,
}

impl Picture {
    /// Its parts in a line: `night, a, onset`.
    pub fn title(&self) -> String {
        let parts = [self.look.as_deref(), self.camera.as_deref(), Some(self.display.as_str())];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    /// Whether every limit holds.
    pub fn holds(&self) -> bool {
        self.checks.iter().all(|c| c.holds)
    }
}

impl Item {
    /// Whether nothing differs.
    pub fn is_identical(&self) -> bool {
        self.state == State::Identical
            && self.documents.iter().all(|d| d.changes.is_empty())
            && self.pictures.iter().all(|p| p.state == State::Identical)
    }

    /// Whether every limit holds; where there are some, nothing that changed may go without a comparison.
    pub fn holds(&self) -> bool {
        self.limits.is_empty()
            || !self.is_unmeasured() && self.pictures.iter().all(|p| p.holds() && p.state != State::Incomparable)
    }

    /// Whether a build that checks it may go on: nothing differs, or there are limits and all of them hold.
    pub fn passes(&self) -> bool {
        self.is_identical() || !self.limits.is_empty() && self.holds()
    }

    /// Whether it changed and no picture of it was compared, as of a look without a camera and a display.
    fn is_unmeasured(&self) -> bool {
        let has_pictures = matches!(self.kind, Kind::Look | Kind::Cube);
        has_pictures && self.pictures.is_empty() && self.documents.iter().any(|d| !d.changes.is_empty())
    }
}

impl Report {
    /// Makes the report of compared files.
    pub fn new(old: String, new: String, items: Vec<Item>) -> Self {
        let verdict = if items.iter().all(Item::is_identical) {
            Verdict::Identical
        } else if !items.iter().all(Item::holds) {
            Verdict::Beyond
        } else if items.iter().any(|i| !i.is_identical() && i.limits.is_empty()) {
            Verdict::Different
        } else {
            Verdict::Within
        };
        Self { schema: SCHEMA, version: env!("CARGO_PKG_VERSION"), old, new, verdict, items }
    }

    /// Whether a build that checks it may go on.
    pub const fn passes(&self) -> bool {
        self.verdict.passes()
    }
}

/// The JSON Schema of a report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

//! A look for the page.

use super::Session;
use super::held::HeldReport;
use rushlight::files::sha256;
use rushlight::step::Written;
use serde::Serialize;
use serde_json::{Map, Value as Json, json};

/// A look for the page.
#[derive(Debug, Serialize)]
pub(in crate::preview) struct Report {
    name: String,
    file: String,
    /// The show does not have it any more.
    away: bool,
    title: String,
    revision: u32,
    version: u64,
    saved_version: u64,
    unsaved: bool,
    undo: bool,
    redo: bool,
    /// The note of the last save of this session.
    note: String,
    /// What is wrong with the document; the picture is then of the last version that was sound.
    problems: Vec<String>,
    /// What changed on the disk under unsaved edits, in words; null where nothing did.
    outside: Option<Vec<String>>,
    /// Edits that an earlier server left; null where there are none.
    left: Option<LeftReport>,
    /// Versions that are held beside it.
    held: Vec<HeldReport>,
    steps: Vec<StepReport>,
}

#[derive(Debug, Serialize)]
struct LeftReport {
    /// They were made on the document that is on the disk.
    same: bool,
    /// What they change of it, in words.
    changes: Vec<String>,
    /// Where they are kept.
    file: String,
}

#[derive(Debug, Serialize)]
struct StepReport {
    index: usize,
    r#do: String,
    bypassed: bool,
    /// Every setting by its key path, those that the document leaves out among them.
    values: Map<String, Json>,
    /// Those that the document says.
    given: Vec<String>,
    says: String,
}

impl Session {
    pub(in crate::preview) fn report(&self) -> Report {
        let steps = self.draft.steps.iter().enumerate().map(|(index, step)| {
            let values = step.written.as_ref().map(Written::values).unwrap_or_default();
            StepReport {
                index,
                bypassed: self.now.bypassed.get(index).copied().unwrap_or_default(),
                given: values.iter().filter(|set| set.stated).map(|set| set.key.clone()).collect(),
                says: format!("{}{}", step.name, step.said()),
                r#do: step.name.clone(),
                values: values.into_iter().map(|set| (set.key, json!(set.value))).collect(),
            }
        });
        let outside = self.outside.as_ref().map(|o| self.words(&o.text));
        let left = self.left.as_ref().map(|left| LeftReport {
            same: left.began == sha256(self.disk.as_bytes()),
            changes: self.words(&left.text),
            file: left.path.display().to_string(),
        });
        Report {
            name: self.name.clone(),
            file: self.file.clone(),
            away: self.away,
            title: self.draft.title.clone().unwrap_or_else(|| self.good.title().to_owned()),
            revision: self.draft.revision.unwrap_or_else(|| self.good.revision()),
            version: self.version,
            saved_version: self.saved_version,
            unsaved: self.is_unsaved(),
            undo: self.history.can_undo(),
            redo: self.history.can_redo(),
            note: self.note.clone(),
            problems: self.problems.clone(),
            outside,
            left,
            held: self.held_reports(),
            steps: steps.collect(),
        }
    }
}

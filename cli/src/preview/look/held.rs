//! Versions of a look that are held beside it, to be seen together: copies of it, or copies with one setting in steps. They stay
//! as they were when they were held, whatever is edited since, as long as the server lives.

use super::past::Said;
use super::{Session, without};
use crate::preview::edit::{self, Edit};
use crate::preview::history::State;
use rushlight::files::Files;
use rushlight::look::{self, Draft, Look};
use serde::Serialize;
use serde_json::Value as Json;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Versions of one look that are held at once.
const MOST: usize = 8;

/// The number of the next version.
static NEXT: AtomicU64 = AtomicU64::new(1);

/// A version that is held.
#[derive(Debug, Clone)]
pub(super) struct Held {
    id: u64,
    state: Arc<State>,
    draft: Arc<Draft>,
    /// Without its bypassed steps.
    look: Arc<Look>,
}

/// The same for a page.
#[derive(Debug, Serialize)]
pub(super) struct HeldReport {
    id: u64,
    /// What it changes of the look as it is now, in words.
    changes: Vec<String>,
}

impl Held {
    fn new(state: Arc<State>, draft: Arc<Draft>, look: Arc<Look>) -> Self {
        Self { id: NEXT.fetch_add(1, Ordering::Relaxed), state, draft, look }
    }

    fn said(&self) -> Said<'_> {
        Said { draft: &self.draft, bypassed: &self.state.bypassed }
    }
}

impl Session {
    /// Holds the look as it is now.
    pub(in crate::preview) fn hold(&mut self) -> Result<(), String> {
        self.check_holds(1)?;
        if self.held.iter().any(|held| held.state == self.now) {
            return Err("the look as it is now is held already".to_owned());
        }
        self.held.push(Held::new(self.now.clone(), self.draft.clone(), self.good.clone()));
        self.version_rises();
        Ok(())
    }

    /// Holds copies of the look as it is now, with each of these values for one setting of a step; not those that are the look as it
    /// is now, or are held already. All of them or none.
    pub(in crate::preview) fn hold_steps(
        &mut self,
        step: usize,
        key: &str,
        values: Vec<Json>,
        files: &dyn Files,
    ) -> Result<(), String> {
        if values.is_empty() {
            return Err("values: there must be at least one".to_owned());
        }
        // More than could ever be held are not made.
        self.check_holds(if values.len() > MOST { values.len() } else { 0 })?;
        let now = Said { draft: &self.draft, bypassed: &self.now.bypassed };
        let mut made: Vec<Held> = Vec::new();
        for value in values {
            let edit = Edit::Set { step, key: key.to_owned(), value };
            let mut document = edit::parse(&self.now.text)?;
            edit::apply(&mut document, &self.draft, &edit)?;
            let state = State::new(document.to_string(), self.now.bypassed.clone());
            let (draft, look) = look::read(&self.file, &state.text, files);
            let look = look.map_err(|problems| problems.to_string().lines().next().unwrap_or_default().to_owned())?;
            // The look as it is now is seen beside them, and what is held already is not held twice.
            let said = Said { draft: &draft, bypassed: &state.bypassed };
            let is_there = |held: &Held| held.said().changes(&said).is_empty();
            if now.changes(&said).is_empty() || self.held.iter().chain(&made).any(is_there) {
                continue;
            }
            let look = Arc::new(without(&look, &state.bypassed));
            made.push(Held::new(Arc::new(state), Arc::new(draft), look));
        }
        self.check_holds(made.len())?;
        self.held.extend(made);
        self.version_rises();
        Ok(())
    }

    /// The look becomes a version that was held, which can be undone; all of them go.
    pub(in crate::preview) fn take_held(&mut self, id: u64, files: &dyn Files) -> Result<(), String> {
        let held = self.find(id).ok_or_else(|| gone(id))?.state.clone();
        self.held.clear();
        if held != self.now {
            self.enter(State::new(held.text.clone(), held.bypassed.clone()));
        }
        self.changed(files);
        Ok(())
    }

    /// Lets go of a version, or of all of them.
    pub(in crate::preview) fn drop_held(&mut self, id: Option<u64>) -> Result<(), String> {
        match id {
            Some(id) if self.find(id).is_none() => return Err(gone(id)),
            Some(id) => self.held.retain(|held| held.id != id),
            None => self.held.clear(),
        }
        self.version_rises();
        Ok(())
    }

    /// A version that is held, and what its document says.
    pub(in crate::preview) fn held(&self, id: u64) -> Result<(Arc<Look>, Arc<Draft>), String> {
        self.find(id).map(|held| (held.look.clone(), held.draft.clone())).ok_or_else(|| gone(id))
    }

    pub(super) fn held_reports(&self) -> Vec<HeldReport> {
        let now = Said { draft: &self.draft, bypassed: &self.now.bypassed };
        let report = |held: &Held| HeldReport { id: held.id, changes: now.changes(&held.said()) };
        self.held.iter().map(report).collect()
    }

    fn find(&self, id: u64) -> Option<&Held> {
        self.held.iter().find(|held| held.id == id)
    }

    fn check_holds(&self, more: usize) -> Result<(), String> {
        if !self.problems.is_empty() {
            return Err(format!("the look has errors, and is not held: {}", self.problems.join("; ")));
        }
        let count = self.held.len();
        if count + more > MOST {
            return Err(format!("{count} versions are held, and {more} more are over {MOST}: let some go first"));
        }
        Ok(())
    }

    /// Pages ask anew, though the picture of the look is the same.
    fn version_rises(&mut self) {
        self.version += 1;
        if !self.is_unsaved() {
            self.saved_version = self.version;
        }
    }
}

fn gone(id: u64) -> String {
    format!("version {id} is not held any more")
}

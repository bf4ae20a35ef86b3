//! What was done to a look since the server started, in words, and the way back to any moment of it.

use super::Session;
use crate::preview::history::State;
use rushlight::compare::document::look_changes;
use rushlight::files::Files;
use rushlight::look::{self, Draft};
use serde::Serialize;
use std::sync::Arc;
use std::time::UNIX_EPOCH;

/// Entries that a page is given.
const MOST: usize = 100;

/// What is said of a look at one moment.
pub(super) struct Said<'s> {
    pub(super) draft: &'s Draft,
    pub(super) bypassed: &'s [bool],
}

impl Said<'_> {
    /// What a later moment changes of this one, in words.
    pub(super) fn changes(&self, later: &Said<'_>) -> Vec<String> {
        let mut words: Vec<String> =
            look_changes(self.draft, later.draft).into_iter().map(|change| change.words).collect();
        // By their places: after steps came, went or moved, those words say what is to be said.
        let same = self.draft.steps.iter().map(|s| &s.name).eq(later.draft.steps.iter().map(|s| &s.name));
        if same {
            let steps = later.draft.steps.iter().zip(self.bypassed.iter().zip(later.bypassed));
            words.extend(steps.filter(|(_, (was, is))| was != is).map(|(step, (_, is))| {
                let does = if *is { "bypassed" } else { "not bypassed any more" };
                format!("{} {does}", step.name)
            }));
        }
        words
    }
}

/// The changes of a look, newest first.
#[derive(Debug, Serialize)]
pub(in crate::preview) struct Past {
    version: u64,
    entries: Vec<Entry>,
    /// Entries before these, which are not listed.
    more: usize,
    /// Notes on the revisions that the document has, newest first.
    notes: Vec<Note>,
}

/// A moment.
#[derive(Debug, Serialize)]
struct Entry {
    id: u64,
    /// Milliseconds since 1970, UTC.
    when: u64,
    /// What was done then, in words; empty for the first, and where comments or layout alone changed.
    words: Vec<String>,
    /// The revision that was saved then, and what for.
    saved: Option<Note>,
    /// The look is as it was then.
    is_now: bool,
    /// It was undone, and can be done again.
    is_undone: bool,
    /// The look as it was before the first change that is remembered.
    is_first: bool,
}

#[derive(Debug, Clone, Serialize)]
struct Note {
    revision: u32,
    note: String,
}

impl Session {
    pub(in crate::preview) fn past(&self) -> Past {
        let (states, now) = self.history.all(&self.now);
        let from = states.len().saturating_sub(MOST);
        let drafts: Vec<Draft> = states[from..].iter().map(|state| Draft::of(&state.text)).collect();
        let said = |i: usize| Said { draft: &drafts[i], bypassed: &states[from + i].bypassed };
        let entry = |(i, state): (usize, &Arc<State>)| Entry {
            id: state.id,
            when: state.when.duration_since(UNIX_EPOCH).map_or(0, |d| u64::try_from(d.as_millis()).unwrap_or(u64::MAX)),
            words: match &state.saved {
                None if i > 0 => said(i - 1).changes(&said(i)),
                _ => Vec::new(),
            },
            saved: state.saved.clone().map(|(revision, note)| Note { revision, note }),
            is_now: from + i == now,
            is_undone: from + i > now,
            is_first: i == 0,
        };
        let mut entries: Vec<Entry> = states[from..].iter().enumerate().map(entry).collect();
        entries.reverse();
        let mut notes: Vec<Note> =
            look::notes(&self.now.text).into_iter().map(|(revision, note)| Note { revision, note }).collect();
        notes.sort_by_key(|note| std::cmp::Reverse(note.revision));
        Past { version: self.version, entries, more: from, notes }
    }

    /// Goes to a moment that is remembered. What lies between can be undone or done again as before.
    pub(in crate::preview) fn go_to(&mut self, id: u64, files: &dyn Files) -> Result<(), String> {
        let (states, now) = self.history.all(&self.now);
        let to = states.iter().position(|state| state.id == id);
        let to = to.ok_or_else(|| format!("the change {id} is not remembered any more"))?;
        for _ in to..now {
            if let Some(before) = self.history.undo(&self.now) {
                self.now = before;
            }
        }
        for _ in now..to {
            if let Some(after) = self.history.redo(&self.now) {
                self.now = after;
            }
        }
        self.drag = None;
        self.changed(files);
        Ok(())
    }

    /// What another text changes of that of the disk, in words.
    pub(super) fn words(&self, text: &str) -> Vec<String> {
        let changes = look_changes(&self.disk_draft, &Draft::of(text));
        let changes: Vec<String> = changes.into_iter().map(|change| change.words).collect();
        if changes.is_empty() && *text != self.disk { vec!["comments or layout".to_owned()] } else { changes }
    }
}

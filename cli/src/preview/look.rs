//! One look as it is worked on: its text with undo and redo, what stands on the disk, and the last sound look of it.

mod held;
mod past;
mod report;

use super::edit::{self, Edit};
use super::history::{History, State};
use super::left::{self, Left};
use super::refusal::Refusal;
use crate::disk::{self, Folder};
use crate::failure::Failure;
use held::Held;
use rushlight::document::Problems;
use rushlight::files::Files;
use rushlight::look::{self, Draft, Look};
use serde_json::{Value as Json, json};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use toml_edit::DocumentMut;

/// Bytes of a look that is edited.
const MOST: usize = 1 << 20;

/// The number of the next look.
static NEXT: AtomicU64 = AtomicU64::new(1);

/// What was found on the disk and is not what was last read or written there.
#[derive(Debug, Clone)]
pub(super) struct Outside {
    pub(super) text: String,
}

/// One look.
#[derive(Debug, Clone)]
pub(super) struct Session {
    /// What it is known by as long as the server lives, whatever the show calls it.
    pub(super) id: u64,
    /// Who changes it holds this, and works on a copy: files are read meanwhile without blocking others.
    pub(super) turn: Arc<Mutex<()>>,
    pub(super) name: String,
    /// The file, as the show names it, and where that is.
    pub(super) file: String,
    pub(super) place: PathBuf,
    /// The show does not have it any more; it is here for the edits that were not saved.
    pub(super) away: bool,
    /// The text on the disk, as last read or written.
    disk: String,
    /// Counts what was last read or written.
    disk_version: u64,
    /// What that text says.
    disk_draft: Arc<Draft>,
    now: Arc<State>,
    /// What the text says that is worked on.
    draft: Arc<Draft>,
    /// The text as it was edited last, with its layout, and the state that it is of.
    edited: Option<(Arc<State>, Arc<DocumentMut>)>,
    history: History,
    /// The drag that the newest entry to undo is of.
    drag: Option<String>,
    pub(super) version: u64,
    saved_version: u64,
    note: String,
    /// The last sound look without its bypassed steps, and the last sound one on the disk.
    good: Arc<Look>,
    saved: Arc<Look>,
    problems: Vec<String>,
    /// Names of the files that the last sound look rests on.
    pub(super) files: Vec<String>,
    pub(super) outside: Option<Outside>,
    /// Edits that an earlier server left.
    left: Option<Left>,
    /// Versions that are held beside it.
    held: Vec<Held>,
}

impl Session {
    pub(super) fn new(name: &str, file: &str, text: String, files: &Folder) -> Result<Self, Problems> {
        let (draft, look) = look::read(file, &text, files);
        let (draft, look) = (Arc::new(draft), Arc::new(look?));
        let steps = draft.steps.len();
        Ok(Self {
            id: NEXT.fetch_add(1, Ordering::Relaxed),
            turn: Arc::default(),
            name: name.to_owned(),
            file: file.to_owned(),
            place: files.place(file),
            away: false,
            disk: text.clone(),
            disk_version: 1,
            disk_draft: draft.clone(),
            now: Arc::new(State::new(text, vec![false; steps])),
            draft,
            edited: None,
            history: History::default(),
            drag: None,
            version: 1,
            saved_version: 1,
            note: String::new(),
            problems: Vec::new(),
            files: files_of(&look),
            good: look.clone(),
            saved: look,
            outside: None,
            left: None,
            held: Vec::new(),
        })
    }

    /// A look that the show does not have, for edits of it that an earlier server left.
    pub(super) fn of_left(name: String, left: Left, files: &Folder) -> Option<Self> {
        let file = left.of.display().to_string();
        let disk = disk::read_document(&left.of).unwrap_or_default();
        // What cannot be read any more is shown as it was edited.
        let sound = Self::new(&name, &file, disk.clone(), files);
        let mut look = sound.or_else(|_| Self::new(&name, &file, left.text.clone(), files)).ok()?;
        if look.disk != disk {
            look.enter(State::new(disk.clone(), Vec::new()));
            look.disk_draft = Arc::new(Draft::of(&disk));
            look.draft = look.disk_draft.clone();
            look.disk = disk;
        }
        look.away = true;
        look.offer(Some(left));
        Some(look)
    }

    /// The same where the show has `other` now.
    pub(super) fn seated(self, other: &Self) -> Self {
        let (name, file, place) = (other.name.clone(), other.file.clone(), other.place.clone());
        Self { name, file, place, away: other.away, ..self }
    }

    /// The same under another name, where the show has it no more.
    pub(super) fn aside(self, name: String) -> Self {
        Self { name, away: true, ..self }
    }

    /// Whether something is lost if it goes.
    pub(super) fn is_wanted(&self) -> bool {
        let held = !self.held.is_empty();
        held || self.is_unsaved() || self.left.is_some() || self.history.can_undo() || self.history.can_redo()
    }

    /// The look of the picture.
    pub(super) fn good(&self) -> Arc<Look> {
        self.good.clone()
    }

    /// The look on the disk, and a number that rises with each of them.
    pub(super) fn saved(&self) -> (Arc<Look>, u64) {
        (self.saved.clone(), self.disk_version)
    }

    pub(super) fn text(&self) -> &str {
        &self.now.text
    }

    pub(super) fn disk(&self) -> &str {
        &self.disk
    }

    /// What the text says that is worked on, and what that of the disk says.
    pub(super) fn draft(&self) -> &Arc<Draft> {
        &self.draft
    }

    pub(super) fn disk_draft(&self) -> &Arc<Draft> {
        &self.disk_draft
    }

    pub(super) fn is_unsaved(&self) -> bool {
        self.now.text != self.disk
    }

    /// Edits the document. `drag`: edits of the same drag are undone together.
    pub(super) fn edit(&mut self, edit: &Edit, drag: Option<&str>, files: &dyn Files) -> Result<(), String> {
        let mut document = match &self.edited {
            Some((state, document)) if Arc::ptr_eq(state, &self.now) => DocumentMut::clone(document),
            _ => edit::parse(&self.now.text)?,
        };
        let place = edit::apply(&mut document, &self.draft, edit)?;
        let text = document.to_string();
        let mut bypassed = self.now.bypassed.clone();
        match *edit {
            Edit::Move { from, .. } if from < bypassed.len() => {
                let was = bypassed.remove(from);
                bypassed.insert(place.min(bypassed.len()), was);
            }
            Edit::Remove { step } if step < bypassed.len() => {
                bypassed.remove(step);
            }
            // A new rendering takes the place of the old.
            Edit::Add { .. } if edit::count(&document) > bypassed.len() => {
                bypassed.insert(place.min(bypassed.len()), false);
            }
            _ => {}
        }
        if text.len() > MOST && text.len() > self.now.text.len() {
            return Err(format!("a look of more than {MOST} bytes cannot be edited"));
        }
        let next = State::new(text, bypassed);
        if next == *self.now {
            return Ok(());
        }
        let same_drag = drag.is_some() && drag == self.drag.as_deref() && self.history.can_undo();
        if same_drag {
            self.now = Arc::new(next);
            self.history.forget_redo();
        } else {
            self.enter(next);
        }
        self.edited = Some((self.now.clone(), Arc::new(document)));
        self.drag = drag.map(str::to_owned);
        self.changed(files);
        Ok(())
    }

    /// Raises the light by `stops`, as one entry of the history.
    pub(super) fn raise(&mut self, stops: f64, files: &dyn Files) -> Result<(), String> {
        let whole = Some("raise");
        self.drag = None;
        for edit in edit::raise(&self.draft, &self.now.bypassed, stops) {
            self.edit(&edit, whole, files)?;
        }
        self.drag = None;
        Ok(())
    }

    /// Leaves a step out of the picture, or takes it in again.
    pub(super) fn bypass(&mut self, step: usize, on: bool, files: &dyn Files) -> Result<(), String> {
        let count = self.now.bypassed.len();
        if step >= count {
            return Err(format!("there is no step {step}: the look has {count}"));
        }
        if step + 1 == count {
            return Err("the last step gives display light: without it there is no picture".to_owned());
        }
        let mut bypassed = self.now.bypassed.clone();
        bypassed[step] = on;
        let next = State::new(self.now.text.clone(), bypassed);
        if next != *self.now {
            self.enter(next);
            self.changed(files);
        }
        Ok(())
    }

    pub(super) fn undo(&mut self, files: &dyn Files) {
        if let Some(before) = self.history.undo(&self.now) {
            self.now = before;
            self.changed(files);
        }
        self.drag = None;
    }

    pub(super) fn redo(&mut self, files: &dyn Files) {
        if let Some(after) = self.history.redo(&self.now) {
            self.now = after;
            self.changed(files);
        }
        self.drag = None;
    }

    /// Takes what stands on the disk; the edits can be had back by undoing.
    pub(super) fn revert(&mut self, files: &dyn Files) {
        if let Some(Outside { text }) = self.outside.take() {
            self.read(text, files);
        }
        let next = State::new(self.disk.clone(), vec![false; self.disk_draft.steps.len()]);
        if next != *self.now {
            self.enter(next);
        }
        self.changed(files);
    }

    /// Takes note of edits that an earlier server left, unless the document has them.
    pub(super) fn offer(&mut self, left: Option<Left>) {
        self.left = left.filter(|left| {
            let news = left.text != self.disk;
            if !news {
                left::take_away(&left.path);
            }
            news
        });
    }

    pub(super) const fn left(&self) -> Option<&Left> {
        self.left.as_ref()
    }

    /// Takes edits up that an earlier server left, or lets them go. What is given is where they were kept.
    pub(super) fn take_left(&mut self, up: bool, files: &dyn Files) -> Option<PathBuf> {
        let left = self.left.take()?;
        if up {
            let steps = Draft::of(&left.text).steps.len();
            self.enter(State::new(left.text, vec![false; steps]));
        }
        self.changed(files);
        Some(left.path)
    }

    /// That a page knows the newest version.
    pub(super) fn check_newest(&self, version: u64) -> Result<(), Refusal> {
        if self.version == version {
            return Ok(());
        }
        let report = serde_json::to_value(self.report()).unwrap_or_default();
        Err(Refusal::conflict("the look has been edited in the meantime", "look", report))
    }

    /// Why it cannot be written as it is: the disk has another text than was read, or none.
    pub(super) fn conflict(&self, there: Option<&str>) -> Option<Refusal> {
        let Some(text) = there else {
            return Some(Refusal::conflict("the file is gone from the disk", "disk", Json::Null));
        };
        self.outside.as_ref()?;
        let Draft { title, revision, .. } = Draft::of(text);
        let disk = json!({ "title": title, "revision": revision, "changes": self.words(text) });
        Some(Refusal::conflict("another program has changed the file: it was not overwritten", "disk", disk))
    }

    /// What is to be written, with its revision: one more than here and on the disk.
    pub(super) fn to_save(&self, note: &str) -> Result<String, String> {
        if !self.problems.is_empty() {
            return Err(format!("the look has errors, and nothing was written: {}", self.problems.join("; ")));
        }
        let outside = self.outside.as_ref().map(|o| Draft::of(&o.text).revision);
        let on_disk = outside.unwrap_or(self.disk_draft.revision);
        let revision = self.draft.revision.unwrap_or(1).max(on_disk.unwrap_or(1));
        let revision = revision.checked_add(1).ok_or("the revision cannot be raised any more")?;
        // Who went back to before a save keeps what was noted on that one.
        let there = look::notes(&self.now.text);
        let earlier = look::notes(&self.disk).into_iter().filter(|note| !there.contains(note)).collect();
        edit::with_revision(&self.now.text, revision, note, earlier)
    }

    /// What was written.
    pub(super) fn saved_as(&mut self, text: String, note: &str, files: &dyn Files) {
        self.outside = None;
        self.note = note.to_owned();
        self.read(text.clone(), files);
        let revision = self.disk_draft.revision.unwrap_or(1);
        self.enter(State::new(text, self.now.bypassed.clone()).saved(revision, note));
        self.changed(files);
    }

    /// Reads what stands on the disk now. Within the look's turn: text that was read before could be what a save has replaced
    /// since.
    pub(super) fn look_at_disk(&mut self, files: &dyn Files) -> Result<Option<Vec<String>>, Failure> {
        let text = disk::read_document(&self.place)?;
        Ok(self.found(text, files))
    }

    /// What stands on the disk now; whether it is news, and in words what it changes.
    pub(super) fn found(&mut self, text: String, files: &dyn Files) -> Option<Vec<String>> {
        if text == self.disk {
            self.outside = None;
            return None;
        }
        if self.outside.as_ref().is_some_and(|o| o.text == text) {
            return None;
        }
        let changes = self.words(&text);
        if self.is_unsaved() && text != self.now.text {
            self.outside = Some(Outside { text });
            return Some(changes);
        }
        self.outside = None;
        self.read(text.clone(), files);
        let count = self.disk_draft.steps.len();
        let same = count == self.now.bypassed.len();
        let bypassed = if same { self.now.bypassed.clone() } else { vec![false; count] };
        self.enter(State::new(text, bypassed));
        self.changed(files);
        Some(changes)
    }

    /// Reads the document again, since a file that it names may have changed. Where none has, a page that is at work on the
    /// look is not overtaken.
    pub(super) fn read_again(&mut self, files: &dyn Files) {
        let [disk, now] = [&self.disk, &self.now.text].map(|text| look::parse(&self.file, text, files));
        let stands = |new: &Result<Look, _>, old: &Look| new.as_ref().is_ok_and(|new| new.sources() == old.sources());
        if self.problems.is_empty() && stands(&disk, &self.saved) && stands(&now, &self.good) {
            return;
        }
        if let Ok(look) = disk {
            (self.saved, self.disk_version) = (Arc::new(look), self.disk_version + 1);
        }
        self.changed(files);
    }

    fn read(&mut self, text: String, files: &dyn Files) {
        let (draft, look) = look::read(&self.file, &text, files);
        if let Ok(look) = look {
            self.saved = Arc::new(look);
        }
        self.disk_draft = Arc::new(draft);
        self.disk = text;
        self.disk_version += 1;
    }

    fn enter(&mut self, next: State) {
        self.history.enter(std::mem::replace(&mut self.now, Arc::new(next)));
        self.drag = None;
    }

    /// Makes the look of the text as it is now.
    fn changed(&mut self, files: &dyn Files) {
        self.version += 1;
        let (draft, look) = look::read(&self.file, &self.now.text, files);
        self.draft = Arc::new(draft);
        match look {
            Ok(look) => {
                self.files = files_of(&look);
                self.good = Arc::new(without(&look, &self.now.bypassed));
                self.problems.clear();
            }
            Err(problems) => self.problems = problems.to_string().lines().map(str::to_owned).collect(),
        }
        if !self.is_unsaved() {
            self.saved_version = self.version;
        }
    }
}

/// A look without the steps that are bypassed.
fn without(look: &Look, bypassed: &[bool]) -> Look {
    let kept = look.steps().iter().zip(bypassed).filter(|(_, out)| !**out);
    let steps = kept.map(|(step, _)| step.clone()).collect();
    look.with_steps(steps)
}

fn files_of(look: &Look) -> Vec<String> {
    look.sources().iter().map(|s| s.file.clone()).collect()
}

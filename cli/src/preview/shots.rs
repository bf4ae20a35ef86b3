//! The shots of the show as they are corrected: each with its versions, which outlive the server, written back into the very
//! file that has its correction.

mod change;
mod cubes;
mod document;
mod entry;
mod journal;
mod manage;
mod notes;
mod pins;
pub(super) mod routes;
mod save;
mod session;
mod stills;

use super::refusal::Refusal;
use super::studio::Studio;
use crate::output;
use journal::{Entry, Journal};
use rushlight::message::unknown;
use rushlight::shot::Shot;
use rushlight::show::Show;
use rushlight::step::cdl::CdlNumbers;
use serde_json::{Value as Json, json};
use session::{Became, Session};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// A shot's correction for a path: its numbers are what tells it from every other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Corrected {
    pub(super) shot: String,
    pub(super) numbers: CdlNumbers,
}

/// Every shot of one server.
#[derive(Debug)]
pub(super) struct Shots {
    inner: Mutex<Inner>,
    /// Where the cube of a shot that is saved is baked, for a box that reads it there.
    out: Option<PathBuf>,
    /// One shot at a time is written.
    turn: Mutex<()>,
}

#[derive(Debug)]
struct Inner {
    all: BTreeMap<String, Session>,
    journal: Journal,
    /// Drags of which the journal does not have the newest yet.
    waiting: BTreeMap<String, Entry>,
    /// The show that the sessions are of.
    seen: Option<Arc<Show>>,
    /// That nothing can be stored has been said.
    said: bool,
}

impl Shots {
    pub(super) fn new(studio: &Studio, out: Option<PathBuf>) -> Self {
        let (journal, all) = Journal::open(&studio.title(), studio.place());
        let inner = Inner { all, journal, waiting: BTreeMap::new(), seen: None, said: false };
        Self { inner: Mutex::new(inner), out, turn: Mutex::default() }
    }

    /// The sessions, of the show as it is now.
    fn lock(&self, show: &Arc<Show>) -> MutexGuard<'_, Inner> {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        if !inner.seen.as_ref().is_some_and(|seen| Arc::ptr_eq(seen, show)) {
            inner.seat(show);
        }
        inner
    }

    /// Writes what waits. For when time has passed, and for the end.
    pub(super) fn keep(&self) {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let waiting: Vec<Entry> = std::mem::take(&mut inner.waiting).into_values().collect();
        inner.note(waiting);
    }

    /// For when the server is ended: which shots have edits that are not in their files.
    pub(super) fn at_the_end(&self) -> Vec<String> {
        self.keep();
        let inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let unsaved = inner.all.iter().filter(|(_, session)| session.here && session.is_unsaved());
        let what = if inner.said {
            "its correction is lost"
        } else {
            "its correction is stored, and there when it is opened again"
        };
        unsaved.map(|(name, _)| format!("the shot {name} was not saved: {what}")).collect()
    }

    /// The correction of a shot for a path: as it is edited, or, `at` saved, as its file has it.
    pub(super) fn corrected(&self, studio: &Studio, shot: &str, at: &str) -> Result<Corrected, Refusal> {
        let show = studio.show();
        let inner = self.lock(&show);
        let session = inner.session(&show, shot)?;
        let numbers = match at {
            "" | "now" => session.numbers(),
            "saved" => session.saved(),
            other => return Err(Refusal::bad(format!("shot_at: `{other}`: it must be now or saved"))),
        };
        Ok(Corrected { shot: shot.to_owned(), numbers })
    }

    /// Every shot, in the order of their names.
    pub(super) fn report(&self, studio: &Studio) -> Json {
        let show = studio.show();
        let inner = self.lock(&show);
        let document = document::document(studio);
        let entries = document.as_ref().map(|(_, document)| document::entries(document)).unwrap_or_default();
        let all = show.shots().iter().filter_map(|(name, shot)| {
            let mut report = one(name, shot, inner.all.get(name)?);
            // It comes from a list, and has no entry of its own for notes.
            report["of_list"] = json!(document.is_some() && !entries.contains(name.as_str()));
            Some(report)
        });
        json!({
            "shots": all.collect::<Vec<_>>(), "grading": show.grading().words(), "space": show.grading().space().name(),
            "out": self.out.as_ref().map(|out| out.display().to_string()), "into": document::files(document.as_ref().map(|(_, document)| document)),
        })
    }

    /// One shot with its versions.
    fn report_of(&self, show: &Arc<Show>, name: &str) -> Result<Json, Refusal> {
        let shot = found(show, name)?;
        let inner = self.lock(show);
        let session = inner.session(show, name)?;
        let mut report = one(name, shot, session);
        report["versions"] = json!(session.versions());
        report["at"] = json!(session.at());
        Ok(report)
    }

    /// Does something to a shot; what it becomes is in the journal before this is answered, but for what a drag will change
    /// again at once.
    fn with<T>(
        &self,
        show: &Arc<Show>,
        name: &str,
        act: impl FnOnce(&mut Session) -> Result<(T, Became), Refusal>,
    ) -> Result<(T, u64), Refusal> {
        found(show, name)?;
        let mut inner = self.lock(show);
        let session = inner.all.get_mut(name).ok_or_else(|| Refusal::not_found(format!("there is no shot {name}")))?;
        let (made, became) = act(session)?;
        let version = session.version;
        let entry = Entry::of(name, session, became);
        if became == Became::Dragged {
            inner.waiting.extend(entry.map(|entry| (name.to_owned(), entry)));
        } else if let Some(entry) = entry {
            let before = inner.waiting.remove(name);
            inner.note(before.into_iter().chain([entry]).collect());
        }
        Ok((made, version))
    }
}

impl Inner {
    fn session(&self, show: &Show, name: &str) -> Result<&Session, Refusal> {
        found(show, name)?;
        self.all.get(name).ok_or_else(|| Refusal::not_found(format!("there is no shot {name}")))
    }

    /// Takes the show as it is now: new shots, others gone, other numbers in their files.
    fn seat(&mut self, show: &Arc<Show>) {
        self.all.values_mut().for_each(|session| session.here = false);
        let mut entries = Vec::new();
        for (name, shot) in show.shots() {
            let session = self.all.entry(name.clone()).or_insert_with(|| Session::new(shot.numbers));
            let before = session.saved();
            let became = session.found(shot.numbers);
            if before != shot.numbers {
                entries.extend(Entry::of(name, session, became));
                entries.push(Entry::file(name, session));
            }
        }
        self.seen = Some(show.clone());
        self.note(entries);
    }

    /// Writes into the journal; that it cannot be written is said once.
    fn note(&mut self, entries: Vec<Entry>) {
        if entries.is_empty() {
            return;
        }
        match self.journal.add(&entries) {
            Ok(()) if self.said => {
                output::say("rushlight: corrections of shots are stored again");
                self.said = false;
            }
            Err(failure) if !self.said => {
                let why = failure.words();
                output::say(&format!(
                    "rushlight: corrections of shots are lost if this is ended before they are saved: {why}"
                ));
                self.said = true;
            }
            _ => {}
        }
    }
}

fn found<'s>(show: &'s Show, name: &str) -> Result<&'s Shot, Refusal> {
    let shots = show.shots();
    shots.get(name).ok_or_else(|| Refusal::not_found(unknown("shot", name, shots.keys().map(String::as_str))))
}

/// A shot for the page.
fn one(name: &str, shot: &Shot, session: &Session) -> Json {
    let notes = &shot.notes;
    json!({
        "name": name, "id": shot.id, "file": shot.file, "look": shot.look, "camera": shot.camera,
        "frame": notes.frame, "scene": notes.scene, "take": notes.take, "ei": notes.ei, "white": notes.white, "reel": notes.reel, "timecode": notes.timecode,
        "note": notes.note, "numbers": session.numbers(), "saved": session.saved(), "words": session.now().words,
        "unsaved": session.is_unsaved(), "outside": session.is_outside(), "version": session.version,
        "undo": session.can_undo(), "redo": session.can_redo(), "pins": session.pins,
    })
}

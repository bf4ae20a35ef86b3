//! A shot into its file, and its cube into the folder that a box reads.

use super::entry::{self, FileKind};
use super::journal::Entry;
use super::{Shots, found};
use crate::disk::{self, Batch, Expected, Replaced};
use crate::failure::Failure;
use crate::preview::refusal::Refusal;
use crate::preview::studio::Studio;
use rushlight::bake::{self, BakedFile, Format, MANIFEST, Options};
use rushlight::shot::Shot;
use rushlight::show::{Job, Show};
use rushlight::step::cdl::CdlNumbers;
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::{Arc, PoisonError};
use std::time::Instant;

/// How often a file that another program writes at the same moment is read again.
const TRIES: usize = 5;

/// What the page asks to be saved, and through which look and display its cube goes. A shot that names its look or its camera is
/// baked for that, whatever the page shows.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Question {
    version: u64,
    look: String,
    camera: String,
    display: String,
    /// Also over what another program wrote.
    #[serde(default)]
    anyway: bool,
}

impl Question {
    /// For a cube of a look, a camera and a display.
    pub(super) fn of([look, camera, display]: [&str; 3]) -> Self {
        let [look, camera, display] = [look, camera, display].map(str::to_owned);
        Self { version: 0, look, camera, display, anyway: false }
    }

    fn names<'n>(&'n self, shot: &'n Shot) -> [&'n str; 3] {
        let [look, camera] = [(&shot.look, &self.look), (&shot.camera, &self.camera)]
            .map(|(of_shot, shown)| of_shot.as_deref().unwrap_or(shown));
        [look, camera, &self.display]
    }
}

impl Shots {
    /// Writes the numbers of a shot into its file, in which all else stays as it is; then its cube.
    pub(super) fn save(&self, studio: &Studio, name: &str, question: &Question) -> Result<Json, Refusal> {
        let start = Instant::now();
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        let shot = found(&show, name)?;
        let (numbers, saved) = {
            let inner = self.lock(&show);
            let session = inner.session(&show, name)?;
            if session.version != question.version {
                return Err(Refusal::conflict(
                    "the shot has been edited in the meantime",
                    "shot",
                    json!(session.version),
                ));
            }
            (session.numbers(), session.saved())
        };
        write(studio, shot, numbers, Some(saved).filter(|_| !question.anyway))?;
        self.written(&show, name, numbers);
        // So that sources, warnings and names are of what is on the disk now.
        let read_again = studio.read_show_again();
        let show = studio.show();
        let baked = match read_again {
            Ok(()) => found(&show, name).and_then(|shot| self.baked(&show, name, question.names(shot))),
            Err(failure) => Err(failure.into()),
        };
        studio.tell(&json!({ "kind": "shots" }));
        let mut report = self.report_of(&show, name)?;
        note(&mut report, baked);
        report["millis"] = json!(start.elapsed().as_secs_f64() * 1e3);
        Ok(report)
    }

    fn written(&self, show: &Arc<Show>, name: &str, numbers: CdlNumbers) {
        let mut inner = self.lock(show);
        let before = inner.waiting.remove(name);
        if let Some(session) = inner.all.get_mut(name) {
            session.written(numbers);
            let entry = Entry::file(name, session);
            inner.note(before.into_iter().chain([entry]).collect());
        }
    }

    /// Bakes the cubes of a shot into the folder that a box reads, of every size that the show asks for; their names, and what is
    /// to be said of them.
    pub(super) fn baked(
        &self,
        show: &Show,
        name: &str,
        names: [&str; 3],
    ) -> Result<(Vec<String>, Vec<String>), Refusal> {
        let Some(out) = &self.out else { return Ok((Vec::new(), Vec::new())) };
        let jobs = jobs(show, name, names)?;
        let files = cubes(&jobs, false)?;
        put(out, &files)?;
        Ok((files.into_iter().map(|file| file.name).collect(), show.order_warnings(&jobs)))
    }

    /// Bakes them again with their errors, unless the show or the shot has changed since. For when no page waits.
    pub(super) fn audit(
        &self,
        studio: &Studio,
        name: &str,
        question: &Question,
        numbers: CdlNumbers,
    ) -> Result<(), Refusal> {
        let Some(out) = &self.out else { return Ok(()) };
        let show = studio.show();
        let same = |show: &Show| show.shots().get(name).is_some_and(|shot| shot.numbers == numbers);
        if !same(&show) {
            return Ok(());
        }
        let names = question.names(found(&show, name)?);
        // The next save does not wait for this.
        let files = cubes(&jobs(&show, name, names)?, true)?;
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let now = studio.show();
        let revision = |show: &Show| show.looks().get(names[0]).map(|look| look.item.revision());
        if same(&now) && revision(&now) == revision(&show) { put(out, &files) } else { Ok(()) }
    }
}

/// What became of the cubes, into the report of a shot.
pub(super) fn note(report: &mut Json, baked: Result<(Vec<String>, Vec<String>), Refusal>) {
    match baked {
        Ok((files, warnings)) => {
            report["baked"] = json!(files);
            report["warnings"] = json!(warnings);
        }
        Err(refusal) => report["not_baked"] = refusal.body["error"].clone(),
    }
}

/// The files of some cubes. With `audited` their errors are measured and stand in them.
fn cubes(jobs: &[Job<'_>], audited: bool) -> Result<Vec<BakedFile>, Refusal> {
    let options = Options { audit: audited, ..Options::default() };
    jobs.iter().map(|job| Ok(bake::bake(job, &options)?.file(Format::Cube)?)).collect()
}

/// Puts files into the folder, each whole; what another program made is not replaced.
fn put(out: &Path, files: &[BakedFile]) -> Result<(), Refusal> {
    let mut batch = Batch::of_our_names(out, Some(MANIFEST), false)?;
    for file in files {
        batch.add(&file.name, &file.text)?;
    }
    Ok(batch.finish()?)
}

/// The cubes of a shot for a look, a camera and a display: of the sizes that the show asks for, or of its default.
fn jobs<'s>(show: &'s Show, name: &str, [look, camera, display]: [&str; 3]) -> Result<Vec<Job<'s>>, Refusal> {
    let all = show.shot_jobs().into_iter();
    let jobs: Vec<Job<'s>> =
        all.filter(|job| job.shot() == Some(name) && job.names() == [look, camera, display]).collect();
    if !jobs.is_empty() {
        return Ok(jobs);
    }
    Ok(vec![show.job(look, camera, display, rushlight::cube::POINTS)?.with_shot(Some(name))?])
}

/// Puts numbers into the file of a shot. `saved`: what must stand there, if anything must.
fn write(studio: &Studio, shot: &Shot, numbers: CdlNumbers, saved: Option<CdlNumbers>) -> Result<(), Refusal> {
    let (file, id, column) = (&shot.file, &shot.id, shot.column.as_deref());
    FileKind::of(file).map_err(Refusal::bad)?;
    let place = studio.folder.within(file);
    for _ in 0..TRIES {
        let text = read(&place, file)?;
        let there = entry::numbers(file, &text, id, column).map_err(Refusal::bad)?;
        let Some(there) = there else {
            return Err(Refusal::conflict(&format!("{file} does not have `{id}` any more"), "disk", Json::Null));
        };
        if saved.is_some_and(|saved| saved != there) && there != numbers {
            let why = format!("another program has changed the correction in {file}: it was not overwritten");
            return Err(Refusal::conflict(&why, "disk", json!(there)));
        }
        let new = entry::entered(file, &text, id, column, &numbers).map_err(Refusal::bad)?;
        if new == text {
            return Ok(());
        }
        // What is written says what it is meant to, by the reader that will read it.
        if entry::numbers(file, &new, id, column).map_err(Refusal::bad)? != Some(numbers) {
            return Err(Refusal::bad(format!("{file}: it cannot hold these numbers; nothing was written")));
        }
        match disk::replace(&place, Expected::Text(&text), &new)? {
            Replaced::Done => return Ok(()),
            Replaced::Other(_) => {}
        }
    }
    Err(Refusal::bad(format!("{file} changes all the time: save again")))
}

/// The text of a file of corrections.
pub(super) fn read(place: &Path, file: &str) -> Result<String, Failure> {
    disk::read_document(place).map_err(|failure| Failure::new(format!("{file}: {}", failure.words())))
}

//! Cubes in the folder that a box reads which are not of the look and the correction as they are now.

use super::Shots;
use super::save::{self, Question};
use crate::disk;
use crate::preview::refusal::Refusal;
use crate::preview::studio::{At, Studio};
use rushlight::bake::{Format, of_any_revision};
use rushlight::cube::POINTS;
use rushlight::look::Look;
use rushlight::show::{Entry, Job, Show};
use rushlight::slate::{self, Slate};
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Arc, PoisonError};

/// Bytes at the start of a cube in which its comments are.
const COMMENTS: usize = 8 << 10;
/// What a cube says of itself that must be as it would say it now.
const TELLING: [&str; 5] = ["look", "camera", "display", "shot", "order"];

/// A cube that is not of now.
struct Old<'s> {
    shot: &'s str,
    file: String,
    names: [&'s str; 3],
    why: String,
}

/// Those in a folder. A cube of an older revision beside that of now is none: the box has what it needs.
fn old<'s>(show: &'s Show, out: &Path) -> Vec<Old<'s>> {
    let there: BTreeSet<String> = disk::names(out).into_iter().filter(|name| name.ends_with(".cube")).collect();
    if there.is_empty() {
        return Vec::new();
    }
    let jobs = all_jobs(show);
    let by_name: BTreeMap<String, (&Job<'s>, String)> = jobs
        .iter()
        .map(|job| (job, format!("{}.{}", job.file_stem(), Format::Cube.name())))
        .map(|(job, now)| (of_any_revision(&now), (job, now)))
        .collect();
    let is_old = |file: &String| {
        let (job, now) = by_name.get(&of_any_revision(file))?;
        if file != now && there.contains(now) {
            return None;
        }
        let start = disk::read_start(&out.join(file), COMMENTS);
        let slate = Slate::parse(&String::from_utf8_lossy(&start))?;
        let lines = slate::lines(job);
        let now = |name: &str| lines.iter().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "));
        let differs = TELLING.into_iter().find(|&name| slate.get(name) != now(name))?;
        let revision = || slate.get("look")?.rsplit_once(", revision ")?.1.split(',').next();
        let why = match (differs, revision()) {
            ("look", Some(number)) => format!("look of revision {number}"),
            ("shot", _) => "another correction".to_owned(),
            (other, _) => format!("another {other}"),
        };
        let (shot, _) = show.shots().get_key_value(job.shot()?)?;
        Some(Old { shot, file: file.clone(), names: job.names(), why })
    };
    there.iter().filter_map(is_old).collect()
}

/// Every cube that a save of a shot could bake.
fn all_jobs(show: &Show) -> Vec<Job<'_>> {
    let mut jobs = show.shot_jobs();
    let asked: BTreeSet<_> = jobs.iter().map(|job| (job.shot().map(str::to_owned), job.names())).collect();
    let fits = |of: &Option<String>, name: &str| of.as_ref().is_none_or(|of| of == name);
    for (name, shot) in show.shots() {
        for look in show.looks().keys().filter(|look| fits(&shot.look, look)) {
            for camera in show.cameras().keys().filter(|camera| fits(&shot.camera, camera)) {
                for display in show.displays().keys() {
                    if asked.contains(&(Some(name.clone()), [look, camera, display].map(String::as_str))) {
                        continue;
                    }
                    let job = show.job(look, camera, display, POINTS).and_then(|job| job.with_shot(Some(name)));
                    jobs.extend(job);
                }
            }
        }
    }
    jobs
}

/// The show with its looks as they are saved: a look that is saved does not have the show read again.
fn as_saved(studio: &Studio) -> Result<Arc<Show>, Refusal> {
    let show = studio.show();
    let is_older = |(name, look): (&String, &Entry<Look>)| {
        let saved = studio.look_at(name, &At::Saved);
        saved.is_ok_and(|(saved, ..)| saved.revision() != look.item.revision())
    };
    if !show.looks().iter().any(is_older) {
        return Ok(show);
    }
    studio.read_show_again()?;
    Ok(studio.show())
}

impl Shots {
    /// Which shots have such cubes.
    pub(super) fn old_cubes(&self, studio: &Studio) -> Result<Json, Refusal> {
        let show = as_saved(studio)?;
        let all = self.out.as_deref().map(|out| old(&show, out)).unwrap_or_default();
        let one = |Old { shot, file, why, .. }: &Old<'_>| json!({ "shot": shot, "file": file, "why": why });
        let out = self.out.as_ref().map(|out| out.display().to_string());
        Ok(json!({ "out": out, "old": all.iter().map(one).collect::<Vec<_>>() }))
    }

    /// Bakes what those shots need now. Gives the names of the cubes, and of what the errors are to be measured later.
    pub(super) fn bake_old(&self, studio: &Studio) -> Result<(Json, Vec<(String, Question)>), Refusal> {
        let Some(out) = &self.out else { return Err(Refusal::bad("no folder for cubes: give --out")) };
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = as_saved(studio)?;
        let wanted: BTreeSet<(&str, [&str; 3])> = old(&show, out).iter().map(|one| (one.shot, one.names)).collect();
        let (mut baked, mut later) = (Vec::new(), Vec::new());
        for (shot, names) in wanted {
            baked.extend(self.baked(&show, shot, names)?.0);
            later.push((shot.to_owned(), Question::of(names)));
        }
        studio.tell(&json!({ "kind": "shots" }));
        Ok((json!({ "baked": baked, "out": out.display().to_string() }), later))
    }

    /// Measures the errors of cubes that were just baked. For when no page waits.
    pub(super) fn audit_later(&self, studio: &Studio, later: &[(String, save::Question)]) {
        for (shot, question) in later {
            let numbers = self.corrected(studio, shot, "saved").map(|corrected| corrected.numbers);
            // A cube that is there is right; where this fails it lacks the figures.
            let _ = numbers.and_then(|numbers| self.audit(studio, shot, question, numbers));
        }
    }
}

//! A shot under another name, a shot deleted, and an entry of its own for one of a list. Two files are written one after the other,
//! each whole, and in an order in which the show can be read at every moment. Cubes and stills of a name are never touched.

use super::document::{self, NewEntry};
use super::entry::FileKind;
use super::journal::Entry;
use super::{Shots, found, save, stills};
use crate::disk;
use crate::preview::refusal::Refusal;
use crate::preview::studio::Studio;
use rushlight::format::cdl::{self, Kind};
use rushlight::shot::{Shot, file_part};
use rushlight::show::Show;
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::path::PathBuf;
use std::sync::{Arc, PoisonError};
use toml_edit::DocumentMut;

/// Another name for a shot as it was at `version`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rename {
    version: u64,
    to: String,
}

/// That a shot goes, as it was at `version`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Delete {
    version: u64,
}

/// What needs no more than its address.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Nothing {}

/// A shot and where it stands.
struct Place<'s> {
    show: &'s Arc<Show>,
    name: &'s str,
    shot: &'s Shot,
    /// The show's document.
    text: String,
    document: DocumentMut,
    /// The show has an entry of it.
    has_entry: bool,
    /// The show takes every correction of its file for a shot.
    is_listed: bool,
    /// Its correction is in a file of several, and no other shot's.
    is_alone: bool,
}

impl<'s> Place<'s> {
    fn of(studio: &Studio, show: &'s Arc<Show>, name: &'s str) -> Result<Self, Refusal> {
        let shot = found(show, name)?;
        let Some((text, document)) = document::document(studio) else {
            return Err(Refusal::bad("the show cannot be read at this moment: try again"));
        };
        let has_entry = document::entries(&document).contains(name);
        let is_listed = document::is_list(&document, &shot.file);
        let extension = shot.file.rsplit_once('.').map_or("", |(_, extension)| extension);
        let takes_several = Kind::from_extension(extension).is_some_and(|kind| kind != Kind::Correction);
        let shares = |(other, it): (&String, &Shot)| other != name && it.file == shot.file && it.id == shot.id;
        let is_alone = takes_several && !shot.id.is_empty() && !show.shots().iter().any(shares);
        Ok(Self { show, name, shot, text, document, has_entry, is_listed, is_alone })
    }

    /// Refuses what a list of editing says by itself.
    fn check_is_ours(&self) -> Result<(), Refusal> {
        let Self { name, shot: Shot { file, .. }, .. } = self;
        match FileKind::of(file).map_err(Refusal::bad)? {
            FileKind::List(_) if self.is_listed => {
                Err(Refusal::bad(format!("{name} is a row of the list {file}: change it there, and the show follows")))
            }
            _ => Ok(()),
        }
    }

    /// The file of its correction, and what stands there.
    fn file(&self, studio: &Studio) -> Result<(PathBuf, String), Refusal> {
        let place = studio.folder.within(&self.shot.file);
        let text = save::read(&place, &self.shot.file)?;
        Ok((place, text))
    }

    fn wrong(&self, wrong: impl std::fmt::Display) -> Refusal {
        Refusal::bad(format!("{}: {wrong}", self.shot.file))
    }

    fn replace(&self, place: &std::path::Path, before: &str, after: &str) -> Result<(), Refusal> {
        stills::replace(place, Some(before), after, &self.shot.file)
    }
}

impl Shots {
    /// Gives a shot another name: in the show, and in its file if it had the same there.
    pub(super) fn rename(&self, studio: &Studio, name: &str, Rename { version, to }: &Rename) -> Result<Json, Refusal> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        self.check_version(&show, name, *version)?;
        stills::check_name(&show, to, Some(name))?;
        let mut at = Place::of(studio, &show, name)?;
        at.check_is_ours()?;
        let remains = self.remains(&at);
        if at.is_alone && at.shot.id == name {
            let (place, before) = at.file(studio)?;
            let both = cdl::copy(&before, name, to).map_err(|e| at.wrong(e))?;
            let after = cdl::remove(&both, name).map_err(|e| at.wrong(e))?;
            if at.has_entry {
                document::rename(&mut at.document, name, to, to).map_err(Refusal::bad)?;
                at.replace(&place, &before, &both)?;
                if let Err(refusal) = stills::enter(studio, &at.text, &at.document.to_string()) {
                    // What another program wrote meanwhile stays, with a correction more than it needs.
                    let _ = at.replace(&place, &both, &before);
                    return Err(refusal);
                }
                // The shot is what it is to be; a correction that nothing names does no harm.
                let _ = at.replace(&place, &both, &after);
            } else {
                at.replace(&place, &before, &after)?;
            }
        } else {
            document::rename(&mut at.document, name, to, &at.shot.id).map_err(Refusal::bad)?;
            stills::enter(studio, &at.text, &at.document.to_string())?;
        }
        self.moved(name, Some(to));
        studio.read_show_again()?;
        studio.tell(&json!({ "kind": "show" }));
        let mut report = self.report_of(&studio.show(), to)?;
        report["remains"] = remains;
        Ok(report)
    }

    /// Takes a shot out of the show, and its correction out of its file unless another shot has it.
    pub(super) fn delete(&self, studio: &Studio, name: &str, Delete { version }: &Delete) -> Result<Json, Refusal> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        self.check_version(&show, name, *version)?;
        let at = Place::of(studio, &show, name)?;
        at.check_is_ours()?;
        let remains = self.remains(&at);
        let gone = || {
            let (place, before) = at.file(studio)?;
            let after = cdl::remove(&before, &at.shot.id).map_err(|e| at.wrong(e))?;
            at.replace(&place, &before, &after)
        };
        let mut stays = !at.is_alone;
        if at.has_entry {
            stills::enter(studio, &at.text, &document::without(&at.text, name).map_err(Refusal::bad)?)?;
            // Such as the last of its file: without a shot it does no harm.
            stays = stays || gone().is_err();
        } else {
            gone()?;
        }
        self.moved(name, None);
        studio.read_show_again()?;
        studio.tell(&json!({ "kind": "show" }));
        Ok(json!({ "deleted": name, "file": at.shot.file, "correction_stays": stays, "remains": remains }))
    }

    /// Makes an entry in the show of a shot that comes from a list, with what the list notes of it.
    pub(super) fn own(&self, studio: &Studio, name: &str) -> Result<Json, Refusal> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        let mut at = Place::of(studio, &show, name)?;
        if !at.has_entry {
            let Shot { file, column, look, camera, notes, .. } = at.shot;
            let [column, look, camera] = [column, look, camera].map(Option::as_deref);
            let [reel, note] = [&notes.reel, &notes.note].map(Option::as_deref);
            let entry = NewEntry { name, file, column, look, camera, reel, note, ..NewEntry::default() };
            document::add(&mut at.document, &entry).map_err(Refusal::bad)?;
            stills::enter(studio, &at.text, &at.document.to_string())?;
            studio.read_show_again()?;
            studio.tell(&json!({ "kind": "show" }));
        }
        self.report_of(&studio.show(), name)
    }

    fn check_version(&self, show: &Arc<Show>, name: &str, version: u64) -> Result<(), Refusal> {
        let inner = self.lock(show);
        let now = inner.session(show, name)?.version;
        if now == version {
            return Ok(());
        }
        Err(Refusal::conflict("the shot has been edited in the meantime", "shot", json!(now)))
    }

    /// The versions of a shot go where its name goes, or with it.
    fn moved(&self, name: &str, to: Option<&str>) {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let before = inner.waiting.remove(name);
        let session = inner.all.remove(name);
        let entry = match to {
            Some(to) => {
                inner.all.extend(session.map(|session| (to.to_owned(), session)));
                Entry::renamed(name, to)
            }
            None => Entry::deleted(name),
        };
        inner.note(before.into_iter().chain([entry]).collect());
    }

    /// What has the name of a shot and stays: its stills, and its cubes in the folder that a box reads.
    fn remains(&self, Place { show, name, shot, .. }: &Place<'_>) -> Json {
        let stills: Vec<&str> = shot.notes.frame.as_deref().into_iter().collect();
        let part = file_part(name);
        let mut starts: Vec<String> = show
            .shot_jobs()
            .iter()
            .filter(|job| job.shot() == Some(*name))
            .filter_map(|job| {
                job.file_stem().split_once(&format!("_{part}_")).map(|(start, _)| format!("{start}_{part}_"))
            })
            .collect();
        starts.dedup();
        let is_one = |file: &String| file.ends_with(".cube") && starts.iter().any(|start| file.starts_with(start));
        let there = self.out.as_deref().map(disk::names).unwrap_or_default();
        json!({ "stills": stills, "cubes": there.into_iter().filter(is_one).collect::<Vec<_>>() })
    }
}

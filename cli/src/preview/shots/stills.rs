//! A new shot of the frame in view, with two stills beside the show: the camera's signal, and the picture through look and
//! correction.

use super::document::{self, NewEntry};
use super::entry::{self, NewShot};
use super::{Shots, save};
use crate::disk::{self, Expected, Replaced};
use crate::failure::Failure;
use crate::picture::Screen;
use crate::preview::frames::Reading;
use crate::preview::live::{self, Taken};
use crate::preview::refusal::Refusal;
use crate::preview::server::Server;
use crate::preview::studio::{self, At, Studio, Wanted};
use axum::http::StatusCode;
use rushlight::apply::Transform;
use rushlight::cube::{Interpolation, POINTS};
use rushlight::files::in_any_case;
use rushlight::frame::{self, Depth, Format, Frame, FrameError, Info};
use rushlight::message::LONGEST_TITLE;
use rushlight::shot::file_part;
use rushlight::show::Show;
use rushlight::step::balance::White;
use rushlight::step::cdl::CdlNumbers;
use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::{Arc, PoisonError};

/// The folder of stills, beside the show.
const FOLDER: &str = "stills";
/// Stills of one name that are tried before it is given up.
const TRIES: usize = 1000;

/// What the page says of a new shot.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Question {
    name: String,
    /// The file that its correction goes into: one of those that are offered.
    into: String,
    look: String,
    camera: String,
    display: String,
    /// The frame in view, and what its samples are taken for; of the live picture, which of its frames.
    frame: Option<String>,
    number: Option<u64>,
    r#as: Option<String>,
    /// The shot whose numbers it begins with; none: no correction.
    from: Option<String>,
    ei: Option<f64>,
    kelvin: Option<f64>,
    tint: Option<f64>,
    scene: Option<String>,
    take: Option<String>,
    reel: Option<String>,
    timecode: Option<String>,
    note: Option<String>,
}

impl Question {
    /// The live frame in view, if it is one: taken at once, so that it is the one that was seen, however long a turn takes to
    /// come.
    pub(super) fn live(&self, server: &Server) -> Result<Option<Arc<Taken>>, Refusal> {
        match (said(&self.frame), self.number) {
            (Some(live::ID), number) => Ok(Some(live::of(server)?.kept(number)?)),
            (_, Some(_)) => Err(Refusal::bad("number: it goes with the frame `live`")),
            (_, None) => Ok(None),
        }
    }
}

/// Text that says something.
pub(super) fn said(text: &Option<String>) -> Option<&str> {
    text.as_deref().map(str::trim).filter(|text| !text.is_empty())
}

/// Refuses a name that is none, or that files could not tell from another's; that of `but` is no other's.
pub(super) fn check_name(show: &Show, name: &str, but: Option<&str>) -> Result<(), Refusal> {
    let letters = name.chars().count();
    if !name.starts_with(char::is_alphanumeric) || name.chars().any(char::is_control) || name.trim() != name {
        return Err(Refusal::bad("name: it must be one line that begins with a letter or a digit, such as 12A-3"));
    }
    if letters > LONGEST_TITLE {
        return Err(Refusal::bad(format!("name: it has {letters} letters: {LONGEST_TITLE} at most")));
    }
    let part = in_any_case(&file_part(name));
    let mut others = show.shots().keys().filter(|other| Some(other.as_str()) != but);
    match others.find(|other| in_any_case(&file_part(other)) == part) {
        Some(other) if other == name => Err(Refusal::bad(format!("name: the show has a shot {name} already"))),
        Some(other) => Err(Refusal::bad(format!("name: it would have the same file names as the shot {other}"))),
        None => Ok(()),
    }
}

fn failed(error: FrameError) -> Refusal {
    Refusal::new(StatusCode::INTERNAL_SERVER_ERROR, format!("a still: {error}"))
}

impl Shots {
    /// Makes a new shot: its stills, its correction, then its entry in the show, so that a break leaves nothing that is named and
    /// not there.
    pub(super) fn make(&self, server: &Server, live: Option<&Taken>, question: &Question) -> Result<Json, Refusal> {
        let studio = &server.studio;
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let show = studio.show();
        let name = question.name.as_str();
        check_name(&show, name, None)?;
        let Some((text, mut document)) = document::document(studio) else {
            return Err(Refusal::bad("a look that stands alone has no shots: open a show"));
        };
        let known = document::files(Some(&document));
        if !known.contains(&question.into) {
            let known = known.join(", ");
            return Err(Refusal::bad(format!("into: `{}`: it must be one of {known}", question.into)));
        }
        let numbers = match said(&question.from) {
            Some(from) => self.corrected(studio, from, "now")?.numbers,
            None => CdlNumbers::default(),
        };
        let is_list = document::is_list(&document, &question.into);
        let white = question.kelvin.map(|kelvin| White { kelvin: Some(kelvin), tint: question.tint, xy: None });
        let stills = match said(&question.frame) {
            Some(id) => {
                let reading = said(&question.r#as).map(Reading::from_name).transpose()?;
                let camera = &studio::camera(&show, &question.camera)?.item;
                let log = match live {
                    Some(taken) => taken.signal(Format::Png).map_err(failed)?,
                    None => server.frames.signal(id, camera, reading)?,
                };
                self.stills(studio, question, log, numbers)?
            }
            None => Vec::new(),
        };
        let new = NewShot { name, numbers, reel: said(&question.reel), note: said(&question.note) };
        let place = studio.folder.within(&question.into);
        let before = if place.exists() { Some(save::read(&place, &question.into)?) } else { None };
        let after = entry::appended(&question.into, before.as_deref(), &new).map_err(Refusal::bad)?;
        replace(&place, before.as_deref(), &after, &question.into)?;
        let mut notes_left = Vec::new();
        if is_list {
            let more = [("frame", !stills.is_empty()), ("ei", question.ei.is_some()), ("white", white.is_some())];
            let Question { scene, take, timecode, note, .. } = question;
            let texts = [("scene", scene), ("take", take), ("timecode", timecode), ("note", note)];
            let more = more.into_iter().chain(texts.map(|(key, text)| (key, said(text).is_some())));
            notes_left = more.filter(|(_, given)| *given).map(|(key, _)| key).collect();
        } else {
            let entry = NewEntry {
                name,
                file: &question.into,
                column: None,
                look: Some(&question.look),
                camera: Some(&question.camera),
                frame: stills.first().map(String::as_str),
                ei: question.ei,
                white,
                scene: said(&question.scene),
                take: said(&question.take),
                reel: said(&question.reel),
                timecode: said(&question.timecode),
                note: said(&question.note),
            };
            let written = document::add(&mut document, &entry)
                .map_err(Refusal::bad)
                .and_then(|()| enter(studio, &text, &document.to_string()));
            if let Err(refusal) = written {
                // The correction that nothing names goes again; what another program wrote meanwhile stays.
                match &before {
                    Some(before) => drop(disk::replace(&place, Expected::Text(&after), before)),
                    None => drop(std::fs::remove_file(&place)),
                }
                return Err(refusal);
            }
        }
        studio.read_show_again()?;
        let show = studio.show();
        let names = [question.look.as_str(), &question.camera, &question.display];
        let mut report = self.report_of(&show, name)?;
        report["stills"] = json!(stills);
        report["not_noted"] = json!(notes_left);
        save::note(&mut report, self.baked(&show, name, names));
        studio.tell(&json!({ "kind": "show" }));
        Ok(report)
    }

    /// Writes the frame in view, which is a camera's signal, twice, and gives the names from the show's folder: the signal first.
    fn stills(
        &self,
        studio: &Studio,
        question: &Question,
        log: Frame,
        numbers: CdlNumbers,
    ) -> Result<Vec<String>, Refusal> {
        let wanted = Wanted {
            look: question.look.clone(),
            camera: question.camera.clone(),
            display: question.display.clone(),
            at: At::Now,
            shot: Some(super::Corrected { shot: question.name.clone(), numbers }),
        };
        let path = studio.path(&wanted)?.pipeline;
        let screen = Screen::of(path.display());
        let cube = path.cube_then(POINTS, |signal| screen.show(signal).map(f64::from))?;
        let mut graded = log.clone();
        Transform::cube(&cube, Interpolation::Tetrahedral)?.frame(&mut graded);
        graded.info = Info::new(Format::Png, Depth::Integer(8));
        let folder = studio.folder.within(FOLDER);
        std::fs::create_dir_all(&folder).map_err(|e| Refusal::from(Failure::new(disk::plainly(&e))))?;
        let stem = free(&folder, &file_part(&question.name));
        let mut names = Vec::new();
        for (end, still, bits) in [("log", &log, 16), ("graded", &graded, 8)] {
            let file = format!("{stem}_{end}.png");
            let bytes = frame::write(still, Format::Png, Depth::Integer(bits)).map_err(failed)?;
            disk::write_within(&folder.join(&file), bytes)?;
            names.push(format!("{FOLDER}/{file}"));
        }
        Ok(names)
    }
}

/// A name of which there is no still yet: what is there is never written over.
fn free(folder: &Path, part: &str) -> String {
    let taken = |stem: &str| ["log", "graded"].iter().any(|end| folder.join(format!("{stem}_{end}.png")).exists());
    let all = std::iter::once(part.to_owned()).chain((2..TRIES).map(|n| format!("{part}-{n}")));
    let mut all = all.skip_while(|stem| taken(stem));
    all.next().unwrap_or_else(|| part.to_owned())
}

/// Puts a text in the place of `before`, or a new file where there was none.
pub(super) fn replace(place: &Path, before: Option<&str>, after: &str, file: &str) -> Result<(), Refusal> {
    let expected = before.map_or(Expected::Anything, Expected::Text);
    match disk::replace(place, expected, after)? {
        Replaced::Done => Ok(()),
        Replaced::Other(_) => Err(Refusal::bad(format!("{file} has just changed: try again"))),
    }
}

/// Writes the show, once it reads as one.
pub(super) fn enter(studio: &Studio, before: &str, after: &str) -> Result<(), Refusal> {
    let file = studio.file();
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Show::parse(&name, after, &studio.folder).map_err(|problems| Refusal::from(studio.folder.failure(problems)))?;
    replace(file, Some(before), after, &name)
}

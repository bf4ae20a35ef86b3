//! Shots of a show document: from names, ids, files and lists to a correction for each.

use super::document::{GradingDoc, ShotDoc, ShowDoc, SpaceName};
use crate::camera::EI;
use crate::document::Document;
use crate::files::{Recorder, check_path, in_any_case};
use crate::format::cdl::{self, CdlFile};
use crate::format::shot_list::Form;
use crate::format::timecode::Timecode;
use crate::format::{LineError, MOST_ERRORS};
use crate::invalid::{Invalid, Refusals};
use crate::look::corrections::{corrections, in_file, one_of};
use crate::look::{Look, Named};
use crate::message::{LONGEST_TITLE, beginning, meant, unknown};
use crate::shot::{Grading, Notes, Order, SPACES, Shot, Space, file_part};
use crate::show::Show;
use crate::step::cdl::CdlNumbers;
use crate::step::space::{self, GamutChoice};
use crate::step::within;
use std::collections::{BTreeMap, BTreeSet};

/// How the corrections are meant.
pub(super) fn grading(
    document: &mut Document<'_>,
    doc: Option<&GradingDoc>,
    name: &str,
    files: &Recorder<'_>,
) -> Grading {
    let Some(doc) = doc else { return Grading::default() };
    if document.is_wrong_within("cdl") {
        return Grading::default();
    }
    let order = doc.order.map_or(Order::default(), |order| order.0);
    let made =
        space(doc, order, name, files).and_then(|space| Grading::new(order, space, doc.clamp).map_err(Refusals::from));
    made.unwrap_or_else(|refused| {
        document.refuse_within("cdl", refused);
        Grading::default()
    })
}

fn space(doc: &GradingDoc, order: Order, name: &str, files: &Recorder<'_>) -> Result<Space, Refusals> {
    let log = |space: &space::Space, title: String| {
        within("space", space.make(&Named::new(name, files))).map(|space| Space::Log(title, space))
    };
    match &doc.space {
        None if order == Order::After => Ok(Space::Display),
        None => Ok(Space::AcesCct),
        Some(SpaceName::Name(given)) => match given.as_str() {
            "acescct" => Ok(Space::AcesCct),
            "acescc" => log(&space::Space::named(given, "aces-ap1"), given.clone()),
            "camera" => Ok(Space::Camera),
            "display" => Ok(Space::Display),
            _ => Err(Invalid::new("space", unknown("space", given, SPACES)).into()),
        },
        Some(SpaceName::Log(doc)) => {
            let gamut = match &doc.gamut {
                GamutChoice::Name(name) => name.as_str(),
                GamutChoice::Custom(_) => "custom gamut",
            };
            let ei = doc.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
            log(doc, format!("{}{ei}, {gamut}", doc.curve.0))
        }
    }
}

/// Corrections that shots find by their ids, and the file of each.
struct Pool {
    /// The file, and the numbers or what is wrong with them.
    by_id: BTreeMap<String, (String, Result<CdlNumbers, Refusals>)>,
    /// Which corrections cannot be used.
    left: Vec<String>,
    /// Whether every file could be read.
    whole: bool,
}

/// Reads the files of `[cdl]`.
fn pool(document: &mut Document<'_>, doc: Option<&GradingDoc>, name: &str, files: &Recorder<'_>) -> Pool {
    let mut pool = Pool { by_id: BTreeMap::new(), left: Vec::new(), whole: !document.is_wrong_within("cdl.files") };
    for (i, path) in doc.iter().flat_map(|d| d.files.iter().enumerate()) {
        let key = format!("cdl.files[{i}]");
        let (file, read) = match corrections(path, None, name, files) {
            Ok(read) => read,
            Err(refused) => {
                document.refuse_within(&key, refused);
                pool.whole = false;
                continue;
            }
        };
        pool.left.extend(read.left().map(|left| format!("`{file}`: {left}")));
        let good = read.corrections.iter().map(|c| (&c.id, c.line, Ok(c.numbers)));
        let refused = read.refused.iter().map(|c| (&c.id, c.line, Err(in_file(&file, c.wrong.clone()))));
        for (id, line, numbers) in good.chain(refused) {
            let Some(id) = id else { continue };
            match pool.by_id.get(id) {
                Some((other, _)) => {
                    let message = format!("`{file}`, line {line}: id `{id}` is in `{other}` too");
                    document.refuse(Invalid::new(key.clone(), message));
                }
                None => {
                    pool.by_id.insert(id.clone(), (file.clone(), numbers));
                }
            }
        }
    }
    pool
}

/// A file's own name and its corrections, or why it cannot be read.
type Read = Result<(String, CdlFile), Refusals>;

/// Files that shots name, each read once for each column.
struct Files<'f> {
    /// The document that names them.
    name: &'f str,
    files: &'f Recorder<'f>,
    read: BTreeMap<(&'f str, Option<&'f str>), Read>,
}

impl<'f> Files<'f> {
    /// The corrections of a file, its own name, and whether it is read for the first time.
    fn corrections(&mut self, path: &'f str, column: Option<&'f str>) -> Result<(&str, &CdlFile, bool), Refusals> {
        let mut is_new = false;
        let read = self.read.entry((path, column)).or_insert_with(|| {
            is_new = true;
            corrections(path, column, self.name, self.files)
        });
        match read {
            Ok((file, read)) => Ok((file, read, is_new)),
            Err(refused) => Err(refused.clone()),
        }
    }
}

/// Refuses a correction after a `compress` with which a look of a shot does not begin.
pub(super) fn check_compress(document: &mut Document<'_>, show: &Show) {
    if show.grading.order() != Order::AfterCompress {
        return;
    }
    let begins = |look: &Look| look.begins_with_compress();
    for (shot, Shot { look: own, .. }) in &show.shots {
        let of_shot = |name: &String| own.as_ref().is_none_or(|own| own == name);
        if let Some((look, _)) = show.looks.iter().find(|(name, look)| of_shot(name) && !begins(&look.item)) {
            let message =
                format!("look {look} of shot {shot} does not begin with `compress`: order = \"before\" needs none");
            return document.refuse(Invalid::new("cdl.order", message));
        }
    }
}

/// The shots, by name, and which corrections of their files cannot be used.
pub(super) fn shots(
    document: &mut Document<'_>,
    doc: &ShowDoc,
    name: &str,
    files: &Recorder<'_>,
) -> (BTreeMap<String, Shot>, Vec<String>) {
    let pool = pool(document, doc.cdl.as_ref(), name, files);
    let mut left = pool.left.clone();
    let mut files = Files { name, files, read: BTreeMap::new() };
    let mut shots: BTreeMap<String, Shot> = BTreeMap::new();
    // By what they are in file names, which some systems take in any case.
    let mut taken: BTreeMap<String, (String, String)> = BTreeMap::new();
    for (i, entry) in doc.shots.iter().enumerate() {
        let path = format!("shots[{i}]");
        if document.is_truncated() {
            break;
        }
        if document.is_wrong_within(&path) {
            continue;
        }
        if let Some(given) = entry.look.as_ref().filter(|given| !doc.looks.contains_key(*given)) {
            let message = unknown("look", given, doc.looks.keys().map(String::as_str));
            document.refuse(Invalid::new(format!("{path}.look"), message));
        }
        if let Some(given) = entry.camera.as_ref().filter(|given| !doc.cameras.contains_key(*given)) {
            let message = unknown("camera", given, doc.cameras.keys().map(String::as_str));
            document.refuse(Invalid::new(format!("{path}.camera"), message));
        }
        if let Err(refused) = check_notes(entry) {
            document.refuse_within(&path, refused);
        }
        let found = match (&entry.name, &entry.list) {
            (Some(shot), None) => {
                one(entry, shot, (&pool, &mut left), &mut files).map(|shot| shot.into_iter().collect())
            }
            (None, Some(list)) => listed(entry, list, &mut files).map(|all| without_own(all, list, &doc.shots)),
            _ => Err(Invalid::plain("needs `name`, or else `list`: one of the two").into()),
        };
        for (shot, found) in found.unwrap_or_else(|refused| {
            document.refuse_within(&path, refused);
            Vec::new()
        }) {
            let key = format!("{path}.{}", if entry.name.is_some() { "name" } else { "list" });
            if shot.is_empty() || shot.chars().any(char::is_control) {
                document.refuse(Invalid::new(key, "a shot's name is one line of text"));
                continue;
            }
            let part = in_any_case(&file_part(&shot));
            if let Some((other, at)) = taken.get(&part) {
                let message = if *other == shot {
                    format!("shot `{shot}` is in {at} too")
                } else {
                    format!("shots `{shot}` and `{other}` would have the same file names")
                };
                document.refuse(Invalid::new(key, message));
                continue;
            }
            taken.insert(part, (shot.clone(), path.clone()));
            shots.insert(shot, found);
        }
    }
    (shots, left)
}

/// The shot of an entry; none where its correction may be in a file that could not be read.
fn one<'f>(
    entry: &'f ShotDoc,
    shot: &str,
    (pool, left): (&Pool, &mut Vec<String>),
    files: &mut Files<'f>,
) -> Result<Option<(String, Shot)>, Refusals> {
    let of_list = |file: &str| of_columns(extension(file));
    if entry.column.is_some() && !entry.file.as_deref().is_some_and(of_list) {
        return Err(Invalid::new("column", "goes with `list`, or with a `file` that is an .ale or .csv").into());
    }
    let id = entry.id.as_deref().unwrap_or(shot);
    let (file, id, numbers) = match &entry.file {
        Some(path) => {
            let (file, read, is_new) = within("file", files.corrections(path, entry.column.as_deref()))?;
            if is_new {
                let unused = read.left().map(|left| format!("`{file}`: {left}"));
                left.extend(unused.filter(|unused| !left.contains(unused)));
            }
            // A file of its own needs no id.
            let is_one = read.corrections.len() + read.refused.len() == 1;
            let wanted = entry.id.as_deref().or_else(|| (!is_one).then_some(shot));
            let found = one_of(read, file, wanted)?;
            (file.to_owned(), found.id.clone().unwrap_or_default(), found.numbers)
        }
        None => match pool.by_id.get(id) {
            Some((file, Ok(numbers))) => (file.clone(), id.to_owned(), *numbers),
            Some((_, Err(wrong))) => {
                let key = if entry.id.is_some() { "id" } else { "name" };
                return within(key, Err(wrong.clone()));
            }
            None if !pool.whole => return Ok(None),
            None => {
                let key = if entry.id.is_some() { "id" } else { "name" };
                let message = if pool.by_id.is_empty() {
                    format!("no correction `{id}`: name the file that it is in, by `file` or in `files` of [cdl]")
                } else {
                    let known = pool.by_id.keys().map(String::as_str);
                    format!("`{}` is in no file of [cdl]{}", beginning(id), meant(id, known))
                };
                return Err(Invalid::new(key, message).into());
            }
        },
    };
    Ok(Some((shot.to_owned(), made(entry, id, file, numbers))))
}

fn made(entry: &ShotDoc, id: String, file: String, numbers: CdlNumbers) -> Shot {
    let [look, camera, column] = [&entry.look, &entry.camera, &entry.column].map(Clone::clone);
    Shot { id, file, column, numbers, look, camera, notes: notes(entry) }
}

/// What an entry notes of its shots.
fn notes(entry: &ShotDoc) -> Notes {
    let ShotDoc { frame, ei, white, scene, take, reel, timecode, note, .. } = entry;
    let [frame, scene, take, reel, timecode, note] = [frame, scene, take, reel, timecode, note].map(Clone::clone);
    Notes { frame, ei: *ei, white: *white, scene, take, reel, timecode, note }
}

/// What is wrong with the notes of an entry, in one go.
fn check_notes(entry: &ShotDoc) -> Result<(), Refusals> {
    let mut refusals = Refusals::new();
    let of_one = [
        ("frame", &entry.frame),
        ("scene", &entry.scene),
        ("take", &entry.take),
        ("reel", &entry.reel),
        ("timecode", &entry.timecode),
        ("note", &entry.note),
    ];
    for (key, text) in of_one {
        let Some(text) = text else { continue };
        if entry.list.is_some() {
            refusals.push(key, "goes with `name`, not with `list`");
        } else if text.trim().is_empty() || text.chars().any(char::is_control) {
            refusals.push(key, "must be one line of text");
        } else if text.chars().count() > LONGEST_TITLE {
            refusals.push(key, format!("has {} letters: {LONGEST_TITLE} at most", text.chars().count()));
        } else if key == "frame"
            && let Err(why) = check_path(text)
        {
            refusals.push(key, why.to_string());
        }
    }
    if let Some(why) = entry.timecode.as_ref().and_then(|text| text.parse::<Timecode>().err()) {
        refusals.push("timecode", why.message);
    }
    if let Some(ei) = entry.ei {
        refusals.bound(&EI, ei);
    }
    let white = entry.white.as_ref().map(|white| within("white", white.make().map(drop))).transpose();
    refusals.extend(white.err().into_iter().flatten());
    refusals.finish(|| ())
}

/// The shots of a list.
fn listed<'f>(entry: &'f ShotDoc, list: &'f str, files: &mut Files<'f>) -> Result<Vec<(String, Shot)>, Refusals> {
    for (key, given) in [("id", &entry.id), ("file", &entry.file)] {
        if given.is_some() {
            return Err(Invalid::new(key, "goes with `name`, not with `list`").into());
        }
    }
    let refuse = |message: String| Refusals::from(Invalid::new("list", message));
    let kind = extension(list);
    if Form::from_extension(kind).is_none() && cdl::Kind::from_extension(kind).is_none() {
        return Err(refuse(format!("`{list}`: the name must end in .ale, .csv, .edl, .otio, .ccc, .cdl or .cc")));
    }
    if entry.column.is_some() && !of_columns(kind) {
        return Err(Invalid::new("column", "goes with an .ale or .csv").into());
    }
    let (file, CdlFile { corrections, refused, .. }, _) =
        within("list", files.corrections(list, entry.column.as_deref()))?;
    let wrong: Vec<LineError> = refused.iter().flat_map(|c| c.wrong.clone()).take(MOST_ERRORS).collect();
    if !wrong.is_empty() {
        let mut refused = in_file(file, wrong);
        if !corrections.is_empty() {
            let others = "the other corrections of the list are taken where a shot names one, by `name` and `file`";
            refused.push("", others);
        }
        return within("list", Err(refused));
    }
    if let Some(nameless) = corrections.iter().find(|c| c.id.is_none()) {
        return Err(refuse(format!("`{file}`, line {}: no id, which names the shot", nameless.line)));
    }
    let row = |correction: &cdl::Correction| {
        let id = correction.id.clone().unwrap_or_default();
        let mut shot = made(entry, id.clone(), file.to_owned(), correction.numbers);
        // What the list itself notes of it.
        shot.notes.reel = correction.media.iter().find(|text| is_line(text)).cloned();
        shot.notes.note = correction.remarks.descriptions.iter().find(|text| is_line(text)).cloned();
        (id, shot)
    };
    Ok(corrections.iter().map(row).collect())
}

/// The shots of a list but for those that have an entry of their own: its name, its file and its id are the row's.
fn without_own(mut all: Vec<(String, Shot)>, list: &str, entries: &[ShotDoc]) -> Vec<(String, Shot)> {
    let of_file = entries.iter().filter(|entry| entry.file.as_deref() == Some(list));
    let own: BTreeSet<&str> = of_file
        .filter_map(|entry| entry.name.as_deref().filter(|name| entry.id.as_deref().is_none_or(|id| id == *name)))
        .collect();
    all.retain(|(name, _)| !own.contains(name.as_str()));
    all
}

/// Whether a text may be a note.
fn is_line(text: &str) -> bool {
    !text.trim().is_empty() && !text.chars().any(char::is_control) && text.chars().count() <= LONGEST_TITLE
}

/// Whether a list of that extension has columns.
fn of_columns(extension: &str) -> bool {
    Form::from_extension(extension).is_some_and(Form::has_columns)
}

/// What a file's name ends in.
fn extension(name: &str) -> &str {
    name.rsplit_once('.').map_or("", |(_, extension)| extension)
}

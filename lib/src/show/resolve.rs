//! From a show document to a show: every value checked by the type that it makes.

use super::cameras::{camera, check_colours};
use super::document::{BakeDoc, DeviceDoc, DisplayDoc, FiguresDoc, LimitsDoc, ShowDoc, WhiteName};
use super::job::JobNames;
use super::{DisplayId, Entry, Identified, LookId, SCHEMA, Show, ShowError, measured, production, shots};
use crate::camera::Range;
use crate::chromaticity::{D65, Xy};
use crate::compare::GroupName;
use crate::compare::limits::{FIGURES, Limits, limit};
use crate::cube::{POINTS, check_points};
use crate::display::{self, BLACK, DIFFUSE_WHITE, Display, DisplaySettings, Mapping, White};
use crate::document::{Document, Problems};
use crate::files::Recorder;
use crate::format::device::Device;
use crate::invalid::{Invalid, Refusals};
use crate::look::{Look, read as look_document};
use crate::message::unknown;
use crate::stress;
use std::collections::{BTreeMap, BTreeSet};

/// Reads the show document `text` of the file `name`; its sources are left to the caller.
pub(super) fn read(name: &str, text: &str, files: &Recorder<'_>) -> Result<Show, ShowError> {
    let mut document = Document::parse(name, text).map_err(|p| vec![p])?;
    let mut others: Vec<Problems> = Vec::new();
    let Some(doc) = document.read_sound_part::<ShowDoc>("", &[]) else {
        return Err(vec![document.into_problems()].into());
    };
    document.check_head(SCHEMA, &["title"]);
    check_colours(&mut document, doc.cameras.keys().cloned());
    let cameras = entries(&mut document, "cameras", &doc.cameras, |d| camera(d, name, files));
    let displays = entries(&mut document, "displays", &doc.displays, display);
    let looks = entries(&mut document, "looks", &doc.looks, |path| match look(path, name, files) {
        Ok(look) => Ok(Entry { label: look.title().to_owned(), id: LookId { file: path.clone() }, item: look }),
        Err(LookError::Unread(why)) => Err(Invalid::plain(why).into()),
        Err(LookError::Problems(problems)) => {
            others.push(problems);
            Err(Refusals::new())
        }
    });
    let production = production::read(&mut document, doc.production.as_ref());
    let devices = entries(&mut document, "devices", &doc.devices, device);
    let stress = stress::Limits::new(&doc.stress).unwrap_or_else(|refused| {
        document.refuse_within("stress", refused);
        stress::Limits::default()
    });
    let grading = shots::grading(&mut document, doc.cdl.as_ref(), name, files);
    let (shots, remarks) = shots::shots(&mut document, &doc, name, files);
    let order_left_out = doc.cdl.as_ref().is_none_or(|cdl| cdl.order.is_none());
    let jobs = jobs(&mut document, &doc);
    let limits = limits(&mut document, &doc.limits.unwrap_or_default());
    let sound = document.is_valid() && others.is_empty();
    let measured = doc.cameras.iter().map(|(name, doc)| (name.clone(), measured::of(doc))).collect();
    let show = Show {
        measured,
        title: doc.title,
        production,
        cameras,
        displays,
        looks,
        devices,
        stress,
        grading,
        order_left_out,
        shots,
        jobs,
        limits,
        remarks,
        sources: Vec::new(),
    };
    if sound {
        check_file_names(&mut document, &show);
        shots::check_compress(&mut document, &show);
        // Whether a look fits a display does not depend on the camera: once for each pair.
        let mut tried = BTreeSet::new();
        for (i, job) in show.jobs.iter().enumerate() {
            if !tried.insert((&job.look, &job.display)) {
                continue;
            }
            if let Err(refused) = show.pipeline(&job.look, &job.camera, &job.display) {
                let at = if doc.bake.is_empty() { format!("looks.{}", job.look) } else { "bake".to_owned() };
                let why = format!("cube {}: look {} on display {}: {}", i + 1, job.look, job.display, refused[0]);
                document.refuse(Invalid::new(at, why));
            }
        }
    }
    if document.is_valid() && others.is_empty() {
        return Ok(show);
    }
    if !document.is_valid() {
        others.insert(0, document.into_problems());
    }
    Err(others.into())
}

/// Most letters of a file name without its extension: systems have 255, of which names that are being written need some.
const LONGEST_NAME: usize = 180;

/// Most cubes of shots that a show may ask for.
const MOST_OF_SHOTS: usize = 200_000;

/// How many cubes the shots of a show are, without making their list.
fn count_of_shots(show: &Show) -> usize {
    let fits = |of: &Option<String>, name: &String| of.as_ref().is_none_or(|of| of == name);
    // By look and camera, of which there are fewer than jobs.
    let mut kinds: BTreeMap<(&String, &String), usize> = BTreeMap::new();
    show.jobs.iter().for_each(|job| *kinds.entry((&job.look, &job.camera)).or_default() += 1);
    let of = |shot: &crate::shot::Shot| -> usize {
        let own = kinds.iter().filter(|((look, camera), _)| fits(&shot.look, look) && fits(&shot.camera, camera));
        own.map(|(_, count)| count).sum()
    };
    let mut all = 0;
    for shot in show.shots.values() {
        all += of(shot);
        if all > MOST_OF_SHOTS {
            break;
        }
    }
    all
}

/// Refuses names that make file names too long for a system, before any work.
fn check_file_names(document: &mut Document<'_>, show: &Show) {
    if count_of_shots(show) > MOST_OF_SHOTS {
        let message =
            format!("more than {MOST_OF_SHOTS} cubes of shots: give shots a look and a camera, or bake fewer");
        return document.refuse(Invalid::new("shots", message));
    }
    let longest = show.jobs().into_iter().chain(show.shot_jobs()).max_by_key(|job| job.file_stem().len());
    let Some(job) = longest else { return };
    let letters = job.file_stem().len();
    if letters <= LONGEST_NAME {
        return;
    }
    let [look, camera, display] = job.names();
    let parts = [
        ("title", Some(show.title())),
        ("shot", job.shot()),
        ("look", Some(look)),
        ("camera", Some(camera)),
        ("display", Some(display)),
    ];
    let parts = parts.iter().filter_map(|(what, name)| name.map(|name| (*what, name.chars().count())));
    let said: Vec<String> = parts.map(|(what, letters)| format!("{what} {letters}")).collect();
    let message = format!(
        "a cube's file name would have {letters} letters, and {LONGEST_NAME} at most are safe: shorten one of {}",
        said.join(", ")
    );
    document.refuse(Invalid::new("title", message));
}

/// Makes every entry of a table of names, noting what is refused under its name.
fn entries<D, T: Identified>(
    document: &mut Document<'_>,
    key: &str,
    docs: &BTreeMap<String, D>,
    mut make: impl FnMut(&D) -> Result<Entry<T>, Refusals>,
) -> BTreeMap<String, Entry<T>> {
    if document.has(key) && document.keys(key).is_empty() && !document.is_wrong_within(key) {
        document.refuse(Invalid::new(key, "needs at least one entry"));
    }
    let mut made = BTreeMap::new();
    for (name, doc) in docs {
        if document.is_truncated() {
            break;
        }
        let path = format!("{key}.{name}");
        if name.is_empty() || !name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
            let message = "a name is made of lower-case letters, digits and hyphens: it becomes part of file names";
            document.refuse(Invalid::new(path.clone(), message));
        }
        let wrong = document.is_wrong_within(&path);
        match make(doc) {
            Ok(entry) if !wrong => {
                let label = if entry.label.is_empty() { name.clone() } else { entry.label.clone() };
                made.insert(name.clone(), Entry { label, ..entry });
            }
            Ok(_) => {}
            Err(refused) => document.refuse_standing(&path, refused),
        }
    }
    made
}

enum LookError {
    Unread(String),
    Problems(Problems),
}

fn look(path: &str, from: &str, files: &Recorder<'_>) -> Result<Look, LookError> {
    // A recorder of its own: a file that two looks name is a source of both.
    let own = files.apart();
    let look = own
        .text(from, path)
        .map_err(|why| LookError::Unread(why.to_string()))
        .and_then(|(name, text)| look_document::read(&name, &text, &own).1.map_err(LookError::Problems));
    files.join(&own);
    look.map(|look| look.with_sources(own.sources()))
}

fn display(d: &DisplayDoc) -> Result<Entry<Display>, Refusals> {
    let mut refusals = Refusals::new();
    let standard = d.standard.as_ref().and_then(|name| {
        let found = display::standard(name);
        if found.is_none() {
            refusals.push("standard", unknown("display", name, display::STANDARDS.map(|s| s.name)));
        }
        found
    });
    let custom = d.standard.is_none();
    for (key, missing) in [("gamut", d.gamut.is_none()), ("eotf", d.eotf.is_none()), ("peak", d.peak.is_none())] {
        if custom && missing {
            refusals.push("", format!("needs `standard`, or else `gamut`, `eotf` and `peak`: `{key}` is missing"));
        }
    }
    let base = DisplaySettings::of(standard.unwrap_or(&display::STANDARDS[0]));
    let gamut = match d.gamut.as_ref().map(|g| g.make("gamut")).transpose() {
        Ok(gamut) => gamut.unwrap_or(base.gamut),
        Err(refused) => {
            refusals.extend(refused);
            base.gamut
        }
    };
    let eotf = d.eotf.map_or(base.eotf, |e| e.0);
    let peak = d.peak.unwrap_or(base.peak);
    let usual_white = if eotf.is_hdr() { DIFFUSE_WHITE.default.min(peak) } else { peak };
    let white = match (d.white.unwrap_or(WhiteName::Adapt), d.keep_white) {
        (WhiteName::Adapt, None) => White::Adapt,
        (WhiteName::Adapt, Some(_)) => {
            refusals.push("keep_white", "only with white = \"keep\"");
            White::Adapt
        }
        (WhiteName::Keep, white) => White::Keep(white.map_or(D65, |[x, y]| Xy::new(x, y))),
    };
    let settings = DisplaySettings {
        gamut,
        eotf,
        peak,
        black: d.black.unwrap_or(BLACK.default),
        diffuse_white: d.diffuse_white.unwrap_or(usual_white),
        range: d.range.map_or(Range::Full, |r| r.0),
        mapping: d.mapping.map_or(Mapping::default(), |m| m.0),
        white,
    };
    let made = Display::new(settings);
    if let Err(refused) = &made {
        refusals.extend(refused.clone());
    }
    refusals.finish(|| ())?;
    let id = DisplayId::new(d.standard.clone(), &settings);
    Ok(Entry { label: d.label.clone().unwrap_or_default(), id, item: made? })
}

fn device(d: &DeviceDoc) -> Result<Entry<Device>, Refusals> {
    let DeviceDoc { max_points, title_length, ascii_name, clamp, bits, .. } = *d;
    let item = Device { max_points, title_length, ascii_name, clamp, bits }.sound()?;
    Ok(Entry { label: d.label.clone().unwrap_or_default(), id: (), item })
}

/// Cubes that a show may ask for, and entries under `[[bake]]` that it may have: beyond any show, and soon counted.
const MOST_CUBES: usize = 10_000;
const MOST_ENTRIES: usize = 1000;

/// Every cube to bake, without repeats, in the order of looks, cameras, displays and points.
fn jobs(document: &mut Document<'_>, doc: &ShowDoc) -> Vec<JobNames> {
    if doc.bake.len() > MOST_ENTRIES {
        document.refuse(Invalid::new("bake", format!("{} entries: {MOST_ENTRIES} at most", doc.bake.len())));
        return Vec::new();
    }
    let all = BakeDoc { looks: None, cameras: None, displays: None, points: None };
    let bake = if doc.bake.is_empty() { std::slice::from_ref(&all) } else { &doc.bake };
    let mut jobs = BTreeSet::new();
    let mut asked = 0usize;
    for (i, entry) in bake.iter().enumerate() {
        let path = format!("bake[{i}]");
        let points = entry.points.unwrap_or(POINTS);
        if let Err(refused) = check_points(&format!("{path}.points"), points) {
            document.refuse(refused);
        }
        let looks = pick(document, &path, "look", entry.looks.as_ref());
        let cameras = pick(document, &path, "camera", entry.cameras.as_ref());
        let displays = pick(document, &path, "display", entry.displays.as_ref());
        asked = asked.saturating_add(looks.len().saturating_mul(cameras.len()).saturating_mul(displays.len()));
        if asked > MOST_CUBES {
            document.refuse(Invalid::new(
                "bake",
                format!("{asked} cubes: {MOST_CUBES} at most; pick looks, cameras or displays"),
            ));
            return Vec::new();
        }
        for look in &looks {
            for camera in &cameras {
                for display in &displays {
                    let (look, camera, display) = (look.clone(), camera.clone(), display.clone());
                    jobs.insert(JobNames { look, camera, display, points });
                }
            }
        }
    }
    jobs.into_iter().collect()
}

/// What a new version may change.
fn limits(document: &mut Document<'_>, doc: &LimitsDoc) -> Limits {
    let LimitsDoc { mean, p95, max, whole, plausible, neutral, skin, samples, lights } = *doc;
    let every = FiguresDoc { mean, p95, max };
    let groups = [whole, plausible, neutral, skin, samples, lights];
    let groups = GroupName::ALL.into_iter().zip(groups).map(|(name, figures)| (format!("{}.", name.name()), figures));
    let mut limits = Limits::none();
    for (group, doc) in std::iter::once((String::new(), every)).chain(groups) {
        for (figure, most) in FIGURES.into_iter().zip([doc.mean, doc.p95, doc.max]) {
            let Some(most) = most else { continue };
            match limit(&format!("{group}{figure}"), most) {
                Ok(limit) => limits.set(limit),
                Err(why) => document.refuse(Invalid::new(format!("limits.{group}{figure}"), why.message)),
            }
        }
    }
    limits
}

/// The names that a list gives, each of which the show must have; all names without a list.
fn pick(document: &mut Document<'_>, path: &str, what: &str, given: Option<&Vec<String>>) -> Vec<String> {
    let mut all = document.keys(&format!("{what}s"));
    let Some(given) = given else {
        all.sort();
        return all;
    };
    let names: BTreeSet<&String> = all.iter().collect();
    for (i, name) in given.iter().enumerate() {
        if document.is_truncated() {
            break;
        }
        if !names.contains(name) {
            let message = unknown(what, name, all.iter().map(String::as_str));
            document.refuse(Invalid::new(format!("{path}.{what}s[{i}]"), message));
        }
    }
    given.clone()
}

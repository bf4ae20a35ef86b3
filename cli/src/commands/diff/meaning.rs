//! What two sides take and give: whose camera's signal goes in, and whose display's comes out.

use super::side::{Content, Side};
use crate::args::Pick;
use crate::failure::Failure;
use crate::manifest::Record;
use crate::target::{known, standing_camera, standing_display};
use rushlight::camera::Camera;
use rushlight::display::{Display, DisplaySettings, STANDARDS};
use rushlight::show::{Entry, Show, display_terms};
use std::collections::BTreeSet;

/// What both sides take and give.
#[derive(Clone)]
pub(super) struct Meaning {
    pub(super) look: Option<String>,
    pub(super) camera: Option<(String, Entry<Camera>)>,
    pub(super) display: (String, Entry<Display>),
}

/// Every meaning that a pair is compared under where not both are shows, and what was taken for granted.
pub(super) fn meanings(
    old: &Side,
    new: &Side,
    show: Option<&Show>,
    pick: &Pick,
) -> Result<(Vec<Meaning>, Vec<String>), Failure> {
    let sides = [new, old];
    let looks = || sides.into_iter().filter(|s| matches!(s.content, Content::Look(_)));
    let own = sides.into_iter().find_map(|s| match &s.content {
        Content::Show(show) => Some(show.as_ref()),
        _ => None,
    });
    let mut notes = Vec::new();
    let meanings = match own.or(show) {
        Some(show) => {
            if own.is_none() {
                notes.push(format!("cameras and displays of the show {}", show.title()));
            }
            of_show(show, own.is_some(), sides, pick)?
        }
        None if looks().next().is_some() => vec![standing(looks().next(), pick)?],
        None => vec![of_tables(sides, pick, &mut notes)?],
    };
    let records: Vec<&Record> = sides.into_iter().filter_map(record).collect();
    for record in &records {
        if let [meaning] = meanings.as_slice() {
            agrees("display", &record.display_terms, &meaning.display.1.terms)?;
            if let Some((_, camera)) = &meaning.camera {
                agrees("camera", &record.camera_terms, &camera.terms)?;
            }
        }
    }
    Ok((meanings, notes))
}

fn record(side: &Side) -> Option<&Record> {
    match &side.content {
        Content::Table(_, record) => record.as_deref(),
        _ => None,
    }
}

fn agrees(what: &str, made_for: &str, other: &str) -> Result<(), Failure> {
    if made_for == other {
        return Ok(());
    }
    Err(Failure::new(format!(
        "the sides are for different {what}s: by its manifest or header, one is for {made_for}; the other is for {other}"
    )))
}

/// The cameras and displays of a show: those that the look is baked for.
fn of_show(show: &Show, is_side: bool, sides: [&Side; 2], pick: &Pick) -> Result<Vec<Meaning>, Failure> {
    let record = sides.into_iter().find_map(record);
    let names: Vec<&String> = show.looks().keys().collect();
    let named = pick
        .look
        .clone()
        .or_else(|| sides.into_iter().find_map(|s| s.origin.name_in(show)))
        .or_else(|| record.map(|r| r.look.clone()).filter(|look| show.looks().contains_key(look)))
        .or_else(|| names.first().filter(|_| names.len() == 1).map(|n| (*n).clone()));
    if is_side && named.is_none() {
        let names: Vec<&str> = names.into_iter().map(String::as_str).collect();
        return Err(Failure::new(format!("the show has several looks: give --look, one of {}", names.join(", "))));
    }
    known("look", &pick.look, show.looks())?;
    known("camera", &pick.camera, show.cameras())?;
    known("display", &pick.display, show.displays())?;
    let picked = |given: &Option<String>, recorded: Option<&String>, has: bool| {
        given.clone().or_else(|| recorded.filter(|_| has).cloned())
    };
    let recorded = record.map(|r| (&r.camera, &r.display));
    let camera =
        picked(&pick.camera, recorded.map(|r| r.0), recorded.is_some_and(|r| show.cameras().contains_key(r.0)));
    let display =
        picked(&pick.display, recorded.map(|r| r.1), recorded.is_some_and(|r| show.displays().contains_key(r.1)));
    let jobs = show.jobs().iter().filter(|job| named.as_ref().is_none_or(|look| *look == job.look));
    let mut ways: BTreeSet<(String, String)> = jobs.map(|job| (job.camera.clone(), job.display.clone())).collect();
    if ways.is_empty() {
        ways = show.cameras().keys().flat_map(|c| show.displays().keys().map(|d| (c.clone(), d.clone()))).collect();
    }
    ways.retain(|(c, d)| camera.as_ref().is_none_or(|n| n == c) && display.as_ref().is_none_or(|n| n == d));
    let is_table = sides.into_iter().any(|s| matches!(s.content, Content::Table(..)));
    if is_table && ways.len() != 1 {
        return Err(Failure::new(
            "a cube is for one camera and one display: give those of the show with --camera and --display",
        ));
    }
    if ways.is_empty() {
        return Err(Failure::new(
            "no [[bake]] entry of the show matches that look, camera and display: add one, or drop an option",
        ));
    }
    Ok(ways
        .into_iter()
        .map(|(camera, display)| Meaning {
            look: named.clone(),
            camera: Some((camera.clone(), show.cameras()[&camera].clone())),
            display: (display.clone(), show.displays()[&display].clone()),
        })
        .collect())
}

/// A camera and a display that were named for looks that stand alone.
fn standing(look: Option<&Side>, pick: &Pick) -> Result<Meaning, Failure> {
    let (Some(camera), Some(display)) = (&pick.camera, &pick.display) else {
        let name = look.map(|s| s.origin.shown()).unwrap_or_default();
        return Err(Failure::new(format!(
            "{name} is a look without a show: no show.toml in its folder or a parent folder lists it: give --show, or a camera and a display, such as --camera slog3+sgamut3-cine --display bt709"
        )));
    };
    Ok(Meaning { look: None, camera: Some(standing_camera(camera)?), display: standing_display(display)? })
}

/// What two cubes are for: as told, as their manifests say, or else taken for granted.
fn of_tables(sides: [&Side; 2], pick: &Pick, notes: &mut Vec<String>) -> Result<Meaning, Failure> {
    let records: Vec<&Record> = sides.into_iter().filter_map(record).collect();
    if let [a, b] = records.as_slice() {
        agrees("display", &a.display_terms, &b.display_terms)?;
        agrees("camera", &a.camera_terms, &b.camera_terms)?;
    }
    let record = records.first();
    let camera = match &pick.camera {
        Some(name) => Some(standing_camera(name)?),
        None => record.and_then(|r| camera_of(&r.camera_terms)),
    };
    if camera.is_none() {
        notes.push(
            "the camera of the input signal is unknown, so only greys along the signal and the whole cube are compared: give --camera"
                .to_owned(),
        );
    }
    let display = match &pick.display {
        Some(name) => standing_display(name)?,
        None => match record.and_then(|r| display_of(&r.display_terms)) {
            Some(display) => display,
            None => {
                notes.push(
                    "the display is unknown: bt709 (BT.1886, 100 nits) is assumed; give --display for another"
                        .to_owned(),
                );
                standing_display(STANDARDS[0].name)?
            }
        },
    };
    Ok(Meaning { look: record.map(|r| r.look.clone()).filter(|look| !look.is_empty()), camera, display })
}

/// The built-in camera that a manifest's terms are of.
fn camera_of(terms: &str) -> Option<(String, Entry<Camera>)> {
    let mut parts = terms.split(", ");
    let name = format!("{}+{}", parts.next()?, parts.next()?);
    standing_camera(&name).ok().filter(|(_, camera)| camera.terms == terms)
}

/// The built-in display that a manifest's terms are of.
fn display_of(terms: &str) -> Option<(String, Entry<Display>)> {
    let standard = STANDARDS.iter().find(|s| display_terms(s.name, &DisplaySettings::of(s)) == terms)?;
    standing_display(standard.name).ok()
}

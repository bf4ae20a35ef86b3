//! What two sides take and give: whose camera's signal goes in, and whose display's comes out.

use super::input::{Content, Input};
use super::{Error, Pick, refuse};
use crate::bake::MadeFor;
use crate::camera::Camera;
use crate::display::{Display, STANDARDS};
use crate::invalid::Invalid;
use crate::show::{Entry, Show, standing_camera, standing_display};
use std::collections::BTreeSet;
use std::fmt;

/// What both sides take and give.
#[derive(Debug, Clone)]
pub struct Context {
    /// Name of the look, where it has one.
    pub look: Option<String>,
    /// The camera and its name, where it is known.
    pub camera: Option<(String, Entry<Camera>)>,
    /// The display and its name.
    pub display: (String, Entry<Display>),
}

/// Every context that a pair is compared under where not both are shows, and what was taken for granted.
pub(super) fn contexts(
    old: &Input,
    new: &Input,
    show: Option<&Show>,
    pick: &Pick,
) -> Result<(Vec<Context>, Vec<String>), Error> {
    let sides = [new, old];
    let looks = || sides.into_iter().filter(|s| matches!(s.content, Content::Look(_)));
    let own = sides.into_iter().find_map(|s| match &s.content {
        Content::Show(show) => Some(show.as_ref()),
        _ => None,
    });
    let mut notes = Vec::new();
    let contexts = match own.or(show) {
        Some(show) => {
            if own.is_none() {
                notes.push(format!("cameras and displays of the show {}", show.title()));
            }
            of_show(show, own.is_some(), sides, pick)?
        }
        None if looks().next().is_some() => vec![standing(looks().next(), pick)?],
        None => vec![of_tables(sides, pick, &mut notes)?],
    };
    if let [context] = contexts.as_slice() {
        for (side, record) in sides.into_iter().filter_map(|side| Some((side, made_for(side)?))) {
            agrees("display", side, &record.display, &context.display.1.id)?;
            if let Some((_, camera)) = &context.camera {
                agrees("camera", side, &record.camera, &camera.id)?;
            }
        }
    }
    Ok((contexts, notes))
}

fn made_for(side: &Input) -> Option<&MadeFor> {
    match &side.content {
        Content::Table(_, made_for) => made_for.as_deref(),
        _ => None,
    }
}

/// That a file is compared for what its manifest or header says that it was made for.
fn agrees<T: PartialEq + fmt::Display>(what: &str, side: &Input, made_for: &T, compared: &T) -> Result<(), Error> {
    if made_for == compared {
        return Ok(());
    }
    Err(refuse(format!(
        "files for different {what}s cannot be compared: by its manifest or header, {} is for the {what} {made_for}, and the \
         other side is for {compared}. Where no file states the {what}, name it with --{what}, and its show with --show",
        side.origin.shown()
    )))
}

/// The cameras and displays of a show: those that the look is baked for.
fn of_show(show: &Show, is_side: bool, sides: [&Input; 2], pick: &Pick) -> Result<Vec<Context>, Error> {
    let recorded = sides.into_iter().find_map(made_for).and_then(|made_for| made_for.names.as_ref());
    let names: Vec<&String> = show.looks().keys().collect();
    let named = pick
        .look
        .clone()
        .or_else(|| sides.into_iter().find_map(|s| s.origin.name_in(show)))
        .or_else(|| recorded.map(|[look, ..]| look.clone()).filter(|look| show.looks().contains_key(look)))
        .or_else(|| names.first().filter(|_| names.len() == 1).map(|n| (*n).clone()));
    if is_side && named.is_none() {
        let names: Vec<&str> = names.into_iter().map(String::as_str).collect();
        let message = format!("the show has several looks: choose one of {}", names.join(", "));
        return Err(Invalid::new("look", message).into());
    }
    pick.look.as_deref().map(|name| show.look(name)).transpose()?;
    pick.camera.as_deref().map(|name| show.camera(name)).transpose()?;
    pick.display.as_deref().map(|name| show.display(name)).transpose()?;
    let camera = recorded.map(|[_, camera, _]| camera).filter(|camera| show.cameras().contains_key(*camera));
    let camera = pick.camera.as_ref().or(camera);
    let display = recorded.map(|[_, _, display]| display).filter(|display| show.displays().contains_key(*display));
    let display = pick.display.as_ref().or(display);
    let jobs = show.jobs().into_iter().filter(|job| named.as_ref().is_none_or(|look| look == job.look().name));
    let mut ways: BTreeSet<(&str, &str)> = jobs.map(|job| (job.camera().name, job.display().name)).collect();
    if ways.is_empty() {
        let displays = || show.displays().keys().map(String::as_str);
        ways = show.cameras().keys().flat_map(|camera| displays().map(move |d| (camera.as_str(), d))).collect();
    }
    ways.retain(|(c, d)| camera.is_none_or(|n| n == c) && display.is_none_or(|n| n == d));
    let is_table = sides.into_iter().any(|s| matches!(s.content, Content::Table(..)));
    if is_table && ways.len() != 1 {
        return Err(refuse(
            "a cube is for one camera and one display: choose those of the show with --camera and --display",
        ));
    }
    if ways.is_empty() {
        return Err(refuse(
            "no [[bake]] entry of the show matches that look, camera and display: add one, or choose others",
        ));
    }
    Ok(ways
        .into_iter()
        .map(|(camera, display)| Context {
            look: named.clone(),
            camera: Some((camera.to_owned(), show.cameras()[camera].clone())),
            display: (display.to_owned(), show.displays()[display].clone()),
        })
        .collect())
}

/// A camera and a display that were named for looks that stand alone.
fn standing(look: Option<&Input>, pick: &Pick) -> Result<Context, Error> {
    let (Some(camera), Some(display)) = (&pick.camera, &pick.display) else {
        return Err(Error::Standing { look: look.map(|s| s.origin.shown()).unwrap_or_default() });
    };
    Ok(Context { look: None, camera: Some(standing_camera(camera)?), display: standing_display(display)? })
}

/// What two cubes are for: by the options, by their manifests, or else by assumption.
fn of_tables(sides: [&Input; 2], pick: &Pick, notes: &mut Vec<String>) -> Result<Context, Error> {
    let [new, old] = sides;
    let record = match (made_for(new), made_for(old)) {
        (Some(a), Some(b)) => {
            agrees("display", new, &a.display, &b.display)?;
            agrees("camera", new, &a.camera, &b.camera)?;
            Some(a)
        }
        (a, b) => a.or(b),
    };
    let camera = match &pick.camera {
        Some(name) => Some(standing_camera(name)?),
        None => record.and_then(|r| r.camera.standing()),
    };
    if camera.is_none() {
        notes.push(
            "the camera of the input signal is unknown, so only greys along the signal and the whole cube are compared: name the camera"
                .to_owned(),
        );
    }
    let display = match &pick.display {
        Some(name) => standing_display(name)?,
        None => match record.and_then(|r| r.display.standing()) {
            Some(display) => display,
            None => {
                notes.push(
                    "the display is unknown: bt709 (BT.1886, 100 nits) is assumed; name the display if it is another"
                        .to_owned(),
                );
                standing_display(STANDARDS[0].name)?
            }
        },
    };
    Ok(Context { look: record.and_then(|r| r.names.as_ref()).map(|[look, ..]| look.clone()), camera, display })
}

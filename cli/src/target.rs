//! The SHOW-or-LOOK argument.

use crate::args::Pick;
use crate::disk::{Folder, read_text};
use crate::failure::Failure;
use rushlight::camera::{Camera, Range};
use rushlight::display::{self, Display};
use rushlight::document::{Document, unknown};
use rushlight::gamut::{CATALOGUE, named_gamut};
use rushlight::look::Look;
use rushlight::show::{Entry, Show, camera_terms};
use rushlight::transfer::{Role, encoding, encodings};
use std::path::Path;

/// Reads a show; or a look, which becomes a show of the camera and the display that `pick` names.
pub(crate) fn load(path: &Path, pick: &Pick) -> Result<Show, Failure> {
    let text = read_text(path)?;
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let document = Document::parse(&name, &text).map_err(|p| Failure::Documents(vec![p]))?;
    let is_look = document.count("step") > 0 && document.keys("cameras").is_empty();
    if !is_look {
        return Show::parse(&name, &text, &folder).map_err(Failure::Documents);
    }
    let look = Look::parse(&name, &text, &folder).map_err(|p| Failure::Documents(vec![p]))?;
    let (Some(camera), Some(display)) = (&pick.camera, &pick.display) else {
        return Err(Failure::new(format!(
            "{name} is a look, which stands for any camera and display: name them, for instance with --camera slog3+sgamut3-cine --display bt709"
        )));
    };
    Ok(Show::of_look(look, standing_camera(camera)?, standing_display(display)?))
}

/// The names to use from a show: those given, or the only one there is.
pub(crate) fn one(show: &Show, pick: &Pick) -> Result<[String; 3], Failure> {
    let is_look = show.jobs().len() == 1 && show.looks().len() == 1 && show.cameras().len() == 1;
    let choose = |what: &str, given: &Option<String>, all: Vec<&String>| match (given, all.as_slice()) {
        (Some(name), _) if all.contains(&name) => Ok(name.clone()),
        (None, [only]) => Ok((*only).clone()),
        (Some(_), [only]) if is_look && what != "look" => Ok((*only).clone()),
        (Some(name), _) => {
            Err(Failure::new(format!("--{what}: {}", unknown(what, name, all.iter().map(|n| n.as_str())))))
        }
        (None, several) => {
            let names: Vec<&str> = several.iter().map(|n| n.as_str()).collect();
            Err(Failure::new(format!(
                "the show has several {what}s: choose with --{what}, one of {}",
                names.join(", ")
            )))
        }
    };
    Ok([
        choose("look", &pick.look, show.looks().keys().collect())?,
        choose("camera", &pick.camera, show.cameras().keys().collect())?,
        choose("display", &pick.display, show.displays().keys().collect())?,
    ])
}

/// CURVE+GAMUT as a camera.
fn standing_camera(name: &str) -> Result<(String, Entry<Camera>), Failure> {
    let fail = |why: String| Failure::new(format!("--camera: {why}"));
    let (curve_name, gamut_name) = name
        .split_once('+')
        .ok_or_else(|| fail(format!("`{name}`: for a look it is CURVE+GAMUT, such as slog3+sgamut3-cine")))?;
    let curves = encodings().iter().filter(|e| e.role != Role::Display);
    let curve = encoding(curve_name)
        .filter(|e| e.role != Role::Display)
        .ok_or_else(|| fail(unknown("curve", curve_name, curves.map(|e| e.name))))?;
    let gamut = named_gamut(gamut_name).ok_or_else(|| fail(unknown("gamut", gamut_name, CATALOGUE.map(|g| g.name))))?;
    let transfer = curve.build(None).map_err(|r| fail(r.message))?;
    let camera = Camera::new(transfer, &gamut.gamut, None, Range::Full, Vec::new()).map_err(Failure::options)?;
    let label = format!("{} / {}", curve.title, gamut.title);
    let terms = camera_terms(curve.name, gamut.name, Range::Full);
    Ok((format!("{curve_name}-{gamut_name}"), Entry { label, terms, item: camera }))
}

/// A built-in display.
fn standing_display(name: &str) -> Result<(String, Entry<Display>), Failure> {
    let standard = display::standard(name).ok_or_else(|| {
        Failure::new(format!("--display: {}", unknown("display", name, display::STANDARDS.map(|s| s.name))))
    })?;
    let terms = format!("{name}, {}, {} nits, full range", standard.eotf.name(), standard.peak);
    Ok((name.to_owned(), Entry { label: standard.title.to_owned(), terms, item: Display::of(standard) }))
}

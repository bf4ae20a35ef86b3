//! The curve that a camera claims, by the options of a command.

use crate::disk::{Folder, read_text};
use crate::failure::Failure;
use crate::target;
use rushlight::camera::{Camera, Range};
use rushlight::measure::Claim;
use rushlight::message::unknown;
use rushlight::show::Show;
use rushlight::transfer::{Encoding, Light, Role, encoding, encodings};
use std::path::Path;

/// The curve that the camera claims, where one was named: some have constants of their own at each exposure index.
pub(crate) enum Claims {
    Camera { name: String, camera: Box<Camera> },
    Encoding { encoding: &'static Encoding, range: Range },
    File(Claim),
    None,
}

impl Claims {
    pub(crate) fn at(&self, ei: Option<f64>) -> Result<Option<Claim>, Failure> {
        match self {
            Self::Camera { name, camera } => {
                let own = ei.filter(|ei| camera.curve_at(*ei).is_some());
                // A camera's own EI may be part of its name.
                let plain = name.split(" at EI ").next().unwrap_or(name);
                let name = own.map_or_else(|| name.clone(), |ei| format!("{plain} at EI {ei}"));
                let curve = ei.map_or_else(|| camera.shared_curve(), |ei| camera.shared_curve_at(ei));
                Ok(Some(Claim { name, curve, range: camera.range() }))
            }
            Self::Encoding { encoding, range } => {
                let ei = ei.filter(|_| !encoding.ratings.is_empty());
                let curve = encoding.build(ei.map(|ei| ei.round() as u32));
                let curve = curve.map_err(|refused| Failure::new(format!("--ei: {}", refused.message)))?;
                let at = ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
                let legal = if *range == Range::Legal { " at legal range" } else { "" };
                Ok(Some(Claim { name: format!("{}{at}{legal}", encoding.name), curve, range: *range }))
            }
            Self::File(claim) => Ok(Some(claim.clone())),
            Self::None => Ok(None),
        }
    }

    /// What there is to say of the claim at an exposure index.
    pub(crate) fn remark(&self, ei: Option<f64>) -> Option<String> {
        let Self::Camera { name, camera } = self else { return None };
        let ei = ei.filter(|ei| camera.lacks_curve_at(*ei))?;
        Some(format!("the curve is not published for EI {ei}: the curve of the camera is used instead, {name}"))
    }
}

impl Claims {
    /// What options say of the curve: a show and its camera, or a curve and its range, or nothing.
    pub(crate) fn new(camera: Option<(&Path, &str)>, curve: Option<&str>, range: Range) -> Result<Self, Failure> {
        if let Some((show, name)) = camera {
            let show = load(show)?;
            let entry = show.cameras().get(name).ok_or_else(|| {
                Failure::new(format!(
                    "--camera: {}",
                    unknown("camera", name, show.cameras().keys().map(String::as_str))
                ))
            })?;
            let name = entry.id.curve_at_ei();
            return Ok(Claims::Camera { name, camera: Box::new(entry.item.clone()) });
        }
        let Some(name) = curve else { return Ok(Claims::None) };
        let cameras = || encodings().iter().filter(|e| e.role != Role::Display && e.light == Light::SceneReflectance);
        if name.ends_with(".toml") {
            let path = Path::new(name);
            let file =
                rushlight::curve_file::parse(name, &read_text(path)?).map_err(|p| Failure::Documents(vec![p]))?;
            return Ok(Claims::File(Claim { name: name.to_owned(), curve: file.transfer(), range }));
        }
        let encoding = encoding(name).filter(|e| cameras().any(|c| c.name == e.name)).ok_or_else(|| {
            let why = unknown("curve", name, cameras().map(|e| e.name));
            Failure::new(format!("--curve: {}", target::or_file(why)))
        })?;
        Ok(Claims::Encoding { encoding, range })
    }
}

/// The show of a file.
pub(crate) fn load(path: &Path) -> Result<Show, Failure> {
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Show::parse(&name, &read_text(path)?, &folder).map_err(|problems| folder.failure(problems))
}

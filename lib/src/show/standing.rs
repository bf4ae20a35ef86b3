//! Cameras and displays that are in no show, by the names of what is built in.

use super::{CameraId, DisplayId, Entry};
use crate::camera::Camera;
use crate::display::{self, Display, DisplaySettings};
use crate::gamut::{CATALOGUE, named_gamut};
use crate::invalid::{Invalid, Refusals};
use crate::message::unknown;
use crate::range::Range;
use crate::transfer::{Role, encoding, encodings};

/// The camera of a built-in curve and gamut as `CURVE+GAMUT`, such as `slog3+sgamut3-cine`, in full range; with a name for
/// it as part of file names.
///
/// # Errors
/// A name that no curve and gamut have, under `camera`.
pub fn standing_camera(name: &str) -> Result<(String, Entry<Camera>), Refusals> {
    let fail = |why: String| Refusals::from(Invalid::new("camera", why));
    let (curve_name, gamut_name) = name.split_once('+').ok_or_else(|| {
        fail(format!("`{name}` is not CURVE+GAMUT, such as slog3+sgamut3-cine, as a look without a show needs"))
    })?;
    let curves = encodings().iter().filter(|e| e.role != Role::Display);
    let curve = encoding(curve_name)
        .filter(|e| e.role != Role::Display)
        .ok_or_else(|| fail(unknown("curve", curve_name, curves.map(|e| e.name))))?;
    let gamut = named_gamut(gamut_name).ok_or_else(|| fail(unknown("gamut", gamut_name, CATALOGUE.map(|g| g.name))))?;
    let transfer = curve.build(None).map_err(|r| fail(r.message))?;
    let item = Camera::new(transfer, &gamut.gamut, None, Range::Full, Vec::new()).map_err(|r| fail(r.to_string()))?;
    let label = format!("{} / {}", curve.title, gamut.title);
    let ei = curve.base_rating;
    let (curve, gamut) = (curve.name.to_owned(), Some(gamut.name.to_owned()));
    let id = CameraId { curve, ei, gamut, matrix: None, range: Range::Full, white: None };
    Ok((format!("{curve_name}-{gamut_name}"), Entry { label, id, item }))
}

/// A built-in display, with its name.
///
/// # Errors
/// A name that no built-in display has, under `display`.
pub fn standing_display(name: &str) -> Result<(String, Entry<Display>), Refusals> {
    let standard = display::standard(name).ok_or_else(|| {
        Refusals::from(Invalid::new("display", unknown("display", name, display::STANDARDS.map(|s| s.name))))
    })?;
    let id = DisplayId::new(Some(name.to_owned()), &DisplaySettings::of(standard));
    Ok((name.to_owned(), Entry { label: name.to_owned(), id, item: Display::of(standard) }))
}

impl CameraId {
    /// The camera, where it is one of a built-in curve and gamut alone, with a name for it.
    pub fn standing(&self) -> Option<(String, Entry<Camera>)> {
        let name = format!("{}+{}", self.curve, self.gamut.as_ref()?);
        // Manifests of before state no EI where it is the base rating.
        let is_own = |id: &Self| *id == *self || (self.ei.is_none() && Self { ei: None, ..id.clone() } == *self);
        standing_camera(&name).ok().filter(|(_, camera)| is_own(&camera.id))
    }
}

impl DisplayId {
    /// The display, where it is a built-in one as it is, with its name.
    pub fn standing(&self) -> Option<(String, Entry<Display>)> {
        standing_display(self.standard.as_ref()?).ok().filter(|(_, display)| display.id == *self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_built_in_is_found_again_by_what_it_is() {
        let (name, camera) = standing_camera("vlog+vgamut").unwrap();
        assert_eq!(name, "vlog-vgamut");
        let (_, of_ei) = standing_camera("logc3+awg3").unwrap();
        assert_eq!(of_ei.id.to_string(), "logc3 at EI 800, awg3, full range");
        assert!(CameraId { ei: None, ..of_ei.id.clone() }.standing().is_some());
        assert!(CameraId { ei: Some(1600), ..of_ei.id }.standing().is_none());
        assert_eq!(camera.id.standing().unwrap().1.id, camera.id);
        assert!(CameraId { range: Range::Legal, ..camera.id.clone() }.standing().is_none());
        assert!(CameraId { gamut: None, ..camera.id }.standing().is_none());
        for standard in display::STANDARDS {
            let (_, display) = standing_display(standard.name).unwrap();
            assert_eq!(display.id.standing().unwrap().0, standard.name);
            assert!(DisplayId { peak: 77.0, ..display.id }.standing().is_none());
        }
        assert_eq!(standing_camera("vlog").unwrap_err()[0].key, "camera");
        assert!(standing_camera("bt1886+bt709").is_err(), "a display's curve is no camera's");
        assert!(standing_display("sgrb").unwrap_err()[0].message.contains("did you mean `srgb`?"));
    }
}

//! An exposure cube as a file: its name, its title, and what its header says.

use super::cube::{ExposureCube, Options};
use super::stops::{Ends, extrapolate};
use super::zones::{Fill, signed};
use crate::camera::Camera;
use crate::cube::Interpolation;
use crate::display::Display;
use crate::format::cube::{WriteOptions, write_cube};
use crate::format::device::Device;
use crate::invalid::Refusals;
use crate::show::{Named, Show, slug};

/// What an exposure cube is for.
#[derive(Debug, Clone, Copy)]
pub struct Job<'j> {
    /// The show.
    pub show: &'j Show,
    /// The camera.
    pub camera: Named<'j, Camera>,
    /// The exposure index; none for a camera without ratings.
    pub ei: Option<f64>,
    /// The display, of the show or a built-in one.
    pub display: Named<'j, Display>,
    /// The device of the show that it is for.
    pub device: Option<Named<'j, Device>>,
    /// How the cube is made.
    pub options: Options,
    /// Decimals.
    pub digits: usize,
    /// No comments.
    pub plain: bool,
}

impl Job<'_> {
    /// The camera and its rating, as part of a file's name.
    pub fn rating_stem(&self) -> String {
        let ei = self.ei.map(|ei| format!("_ei{}", ei.to_string().replace('.', "-"))).unwrap_or_default();
        format!("{}_{}{ei}", slug(self.show.title()), self.camera.name)
    }

    /// The file's name without its end: show, camera, EI, kind, display, points.
    pub fn stem(&self) -> String {
        let soft = if self.options.soft { "-soft" } else { "" };
        let (kind, display, points) = (self.options.zones.kind.name(), self.display.name, self.options.points);
        format!("{}_{kind}{soft}_{display}_{points}", self.rating_stem())
    }

    /// The file's name.
    pub fn file_name(&self) -> String {
        format!("{}.cube", self.stem())
    }

    /// The title in the file.
    pub fn title(&self) -> String {
        let ei = self.ei.map(|ei| format!(" EI {ei}")).unwrap_or_default();
        let (kind, display) = (self.options.zones.kind.name(), self.display.name);
        format!("{}, {kind}, {}{ei} to {display}", self.show.title(), self.camera.name)
    }

    /// Checks what can be known of the file before it is made.
    ///
    /// # Errors
    /// Limits of the device that the file would break, each under its key in the show.
    pub fn preflight(&self) -> Result<(), Refusals> {
        let Some(device) = self.device else { return Ok(()) };
        let title = self.title();
        let written = WriteOptions { title: &title, digits: self.digits, ..WriteOptions::default() };
        let checked = device.item().check_file(&self.file_name(), self.options.points, &written);
        checked.map_err(|refused| device.refused(refused))
    }

    /// The file's text.
    ///
    /// # Errors
    /// Values that the device does not take, decimals that a cube cannot have.
    pub fn text(&self, made: &ExposureCube) -> Result<String, Refusals> {
        let (title, comments) = (self.title(), self.comments(made));
        let written = WriteOptions {
            title: &title,
            comments: &comments,
            digits: self.digits,
            plain: self.plain,
            ..WriteOptions::default()
        };
        if let Some(device) = self.device {
            device.item().check_values(&made.cube, &written).map_err(|refused| device.refused(refused))?;
        }
        write_cube(&made.cube, &written)
    }

    fn comments(&self, made: &ExposureCube) -> Vec<String> {
        let (camera, display) = (self.camera.entry, self.display.entry);
        let Options { zones, basis, soft, .. } = &self.options;
        let edges = if *soft { "soft" } else { "plain" };
        let mut lines = vec![
            format!("made by rushlight {}", env!("CARGO_PKG_VERSION")),
            format!("show: {}", self.show.title()),
            format!("exposure cube: {}, exposure from {}, {edges} edges", zones.kind.name(), basis.name()),
            format!("camera: {} ({})", camera.label, camera.id),
            format!("rating: {}", rating(self.ei, &made.ends)),
            format!("display: {} ({})", display.label, display.id),
        ];
        let zones = made.zones.list.iter().chain(&made.zones.clip);
        lines.extend(zones.zip(&made.colours).map(|(zone, colour)| {
            let from = zone.from.map(|from| format!(" from {} stops", signed(from))).unwrap_or_default();
            match zone.fill {
                Fill::Colour(_) => {
                    let [r, g, b] = colour.map(|v| format!("{v:.4}"));
                    format!("zone: {}{from}: {r} {g} {b}", zone.name)
                }
                Fill::Picture => format!("zone: {}{from}: grey picture", zone.name),
            }
        }));
        for (i, kind) in Interpolation::ALL.into_iter().enumerate() {
            let errors = made.edges.neutrals[i];
            let said =
                format!("error mean {:.3}, max {:.3} stops, {} cannot be seen", errors.mean, errors.max, errors.lost);
            lines.push(format!("edges on neutrals, {}: {said}", kind.name()));
        }
        lines.push("not a light meter: it holds for this camera, rating and range only".to_owned());
        lines
    }
}

/// The rating of a header: its exposure index, clip and floor.
fn rating(ei: Option<f64>, ends: &Ends) -> String {
    let rated = ei.map_or_else(|| "no rating".to_owned(), |ei| format!("EI {ei}"));
    let end = |what: &str, (level, limit): (super::Level, super::Limit)| {
        format!("{what} {} stops, signal {:.4} ({})", signed(level.stops), level.signal, limit.name())
    };
    format!("{rated}, {}, {}", end("clip", ends.clip), end("floor", ends.floor))
}

/// Whether a camera has this rating of a header now.
pub(crate) fn has_rating(camera: &Camera, said: &str) -> bool {
    let ei = said.split_once(',').and_then(|(rated, _)| rated.strip_prefix("EI ")?.parse::<f64>().ok());
    let now = match ei {
        None => Ends::of(camera, None, false),
        Some(ei) => match camera.rating(ei) {
            Some(rating) => Ends::of(camera, Some(rating), false),
            None => extrapolate(camera, ei).and_then(|(rating, _)| Ends::of(camera, Some(&rating), true)),
        },
    };
    now.is_ok_and(|ends| rating(ei, &ends) == said)
}

//! The SHOW-or-LOOK argument.

use crate::args::Pick;
use crate::corrections::is_corrections;
use crate::disk::{Folder, read_text};
use crate::failure::Failure;
use crate::output;
use rushlight::cube::POINTS;
use rushlight::document::Document;
use rushlight::format::device::Device;
use rushlight::look;
use rushlight::message::unknown;
use rushlight::show::{Entry, Identified, Job, Named, Show, slug, standing_camera, standing_display};
use std::collections::BTreeMap;
use std::path::Path;

/// The show of a SHOW-or-LOOK argument, and the part of it that its options pick.
pub(crate) struct Target {
    pub(crate) show: Show,
    pub(crate) look: Option<String>,
    pub(crate) camera: Option<String>,
    pub(crate) display: Option<String>,
}

/// A document that may be a show or a look.
struct Opened {
    name: String,
    text: String,
    folder: Folder,
    is_look: bool,
}

fn open(path: &Path) -> Result<Opened, Failure> {
    let other = |what: &str| Failure::new(format!("{} is {what}: give a show or a look (.toml)", path.display()));
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    if rushlight::frame::Format::from_extension(extension).is_some() {
        return Err(other("a picture"));
    }
    if is_corrections(path) {
        return Err(other("a file of corrections"));
    }
    let text = read_text(path)?;
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let mut document = Document::parse(&name, &text).map_err(|p| folder.failure([p]))?;
    let is_curve = ["log", "gamma-log", "table"].iter().any(|kind| document.is_table(kind));
    if is_curve && !document.has("step") && !document.has("cameras") {
        let said = format!(
            "a curve file, which `rushlight curve {}` prints and a camera of a show names",
            output::pasted(path)
        );
        return Err(other(&said));
    }
    let is_look = look::is_look(&mut document);
    Ok(Opened { name, text, folder, is_look })
}

/// Reads a show, and prints its warnings on standard error.
fn show(Opened { name, text, folder, .. }: &Opened) -> Result<Show, Failure> {
    let show = Show::parse(name, text, folder).map_err(|p| folder.failure(p))?;
    show.remarks().iter().for_each(|remark| output::note(remark));
    Ok(show)
}

/// Reads a show; or a look, which becomes a show of the camera and the display that `pick` names.
pub(crate) fn load(path: &Path, pick: &Pick) -> Result<Target, Failure> {
    let opened = open(path)?;
    if !opened.is_look {
        let show = show(&opened)?;
        let look = known("look", &pick.look, show.looks())?;
        let camera = known("camera", &pick.camera, show.cameras())?;
        let display = known("display", &pick.display, show.displays())?;
        return Ok(Target { show, look, camera, display });
    }
    let Opened { name, text, folder, .. } = opened;
    let look = look::parse(&name, &text, &folder).map_err(|p| folder.failure([p]))?;
    let (Some(camera), Some(display)) = (&pick.camera, &pick.display) else {
        return Err(Failure::new(format!(
            "{name} is a look, which works with any camera and display: give both, such as --camera slog3+sgamut3-cine --display bt709"
        )));
    };
    let stem = path.file_stem().map(|n| slug(&n.to_string_lossy())).unwrap_or_default();
    let camera = standing_camera(camera).map_err(Failure::options)?;
    let display = standing_display(display).map_err(Failure::options)?;
    let show = Show::of_look(stem, name, look, camera, display);
    let look = known("look", &pick.look, show.looks())?;
    Ok(Target { show, look, camera: None, display: None })
}

/// Reads a show for what concerns its cameras alone. A camera that is named it must have.
pub(crate) fn load_show(path: &Path, camera: &Option<String>) -> Result<Show, Failure> {
    let opened = open(path)?;
    if opened.is_look {
        let name = &opened.name;
        return Err(Failure::new(format!(
            "{name} is a look, but this command needs a show, which names the cameras: give a show.toml"
        )));
    }
    let show = show(&opened)?;
    known("camera", camera, show.cameras())?;
    Ok(show)
}

/// The device of the show that was named.
pub(crate) fn device<'s>(show: &'s Show, name: Option<&str>) -> Result<Option<Named<'s, Device>>, Failure> {
    let Some(name) = name else { return Ok(None) };
    match show.devices().get_key_value(name) {
        Some((name, entry)) => Ok(Some(Named { name, entry })),
        None if show.devices().is_empty() => Err(Failure::new(format!(
            "--device {name}: the show has no [devices.{name}] table with the limits of that device: add one"
        ))),
        None => {
            let known = show.devices().keys().map(String::as_str);
            Err(Failure::new(format!("--device: {}", unknown("device", name, known))))
        }
    }
}

/// The name that was given, which the show must have.
pub(crate) fn known<T>(
    what: &str,
    given: &Option<String>,
    all: &BTreeMap<String, T>,
) -> Result<Option<String>, Failure> {
    match given {
        Some(name) if !all.contains_key(name) => {
            Err(Failure::new(format!("--{what}: {}", unknown(what, name, all.keys().map(String::as_str)))))
        }
        _ => Ok(given.clone()),
    }
}

impl Target {
    /// Those of `jobs` whose look, camera and display are picked, in their order.
    ///
    /// # Errors
    /// None is.
    pub(crate) fn picked<'s>(&self, jobs: impl IntoIterator<Item = Job<'s>>) -> Result<Vec<Job<'s>>, Failure> {
        let mut of_shots = false;
        let all = |job: &Job<'_>| {
            of_shots |= job.shot().is_some();
            self.fits(job)
        };
        let jobs: Vec<Job<'s>> = jobs.into_iter().filter(all).collect();
        if jobs.is_empty() {
            let picked = [("look", &self.look), ("camera", &self.camera), ("display", &self.display)];
            let picked: Vec<String> =
                picked.iter().filter_map(|(what, name)| Some(format!("{what} `{}`", name.as_ref()?))).collect();
            let all = if picked.is_empty() { "anything".to_owned() } else { picked.join(", ") };
            return Err(Failure::new(if of_shots {
                format!(
                    "no cube of a shot matches {all}: drop an option, or see the look and camera of each shot in the show"
                )
            } else {
                format!("no [[bake]] entry matches {all}: add one to the show, or drop an option")
            }));
        }
        Ok(jobs)
    }

    /// Whether the look, camera and display of a job are those picked.
    pub(crate) fn fits(&self, job: &Job<'_>) -> bool {
        let picked = [&self.look, &self.camera, &self.display];
        picked.into_iter().zip(job.names()).all(|(picked, name)| picked.as_ref().is_none_or(|p| p == name))
    }

    /// The same, with the look and the camera that the shot names, where they are not picked.
    pub(crate) fn of_shot(mut self, shot: Option<&str>) -> Result<Self, Failure> {
        let Some(name) = shot else { return Ok(self) };
        let of = self.show.shot(name).map_err(Failure::options)?;
        for (what, picked, own) in [("look", &mut self.look, &of.look), ("camera", &mut self.camera, &of.camera)] {
            match (picked.as_ref(), own) {
                (Some(given), Some(own)) if given != own => {
                    return Err(Failure::new(format!(
                        "--{what} {given}: shot {name} uses {what} {own}: give that one, or drop --{what}"
                    )));
                }
                (None, Some(own)) => *picked = Some(own.clone()),
                _ => {}
            }
        }
        Ok(self)
    }

    /// One look, camera and display, with the shot of that name where one is given: those picked, or the only ones there
    /// are.
    pub(crate) fn job(&self, shot: Option<&str>) -> Result<Job<'_>, Failure> {
        let show = &self.show;
        let look = only("look", &self.look, show.looks())?;
        let camera = only("camera", &self.camera, show.cameras())?;
        let display = only("display", &self.display, show.displays())?;
        let job = show.job(look.name, camera.name, display.name, POINTS).map_err(Failure::options)?;
        job.with_shot(shot).map_err(Failure::options)
    }
}

/// The name picked, or the only one there is.
pub(crate) fn only<'s, T: Identified>(
    what: &str,
    picked: &Option<String>,
    all: &'s BTreeMap<String, Entry<T>>,
) -> Result<Named<'s, T>, Failure> {
    let mut entries = all.iter().map(|(name, entry)| Named { name, entry });
    if let Some(name) = picked {
        let found = entries.find(|entry| entry.name == name);
        return found
            .ok_or_else(|| Failure::new(format!("--{what}: {}", unknown(what, name, all.keys().map(String::as_str)))));
    }
    match (entries.next(), entries.next()) {
        (Some(entry), None) => Ok(entry),
        (None, _) => Err(Failure::new(format!("the show has no {what}: add one under [{what}s]"))),
        _ => {
            let names: Vec<&str> = all.keys().map(String::as_str).collect();
            Err(Failure::new(format!("the show has several {what}s: give --{what}, one of {}", names.join(", "))))
        }
    }
}

/// Why a name is no built-in curve, and that it could be a file: a camera's curve need not be published.
pub(crate) fn or_file(why: String) -> String {
    let path = "the path of a curve file (.toml)";
    if why.ends_with('?') { format!("{why} Or give {path}") } else { format!("{why}, or {path}") }
}

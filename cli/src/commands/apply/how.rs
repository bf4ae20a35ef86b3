//! What is done to every picture.

use crate::args::{Apply as Args, Pick};
use crate::disk;
use crate::failure::Failure;
use crate::output;
use crate::table;
use crate::target::{self, known, only};
use rushlight::apply::burn_in::BurnIn;
use rushlight::apply::{LIGHT_POINTS, Transform, from_light, tags};
use rushlight::cube::{POINTS, check_points};
use rushlight::display::Display;
use rushlight::files::sha256;
use rushlight::frame::{Frame, Tags};
use rushlight::gamut::{CATALOGUE, named_gamut};
use rushlight::image_state::{self, ImageState, Known, gamut_name};
use rushlight::message::unknown;
use rushlight::pipeline::Pipeline;
use rushlight::shot::{Order, Space};
use rushlight::show::standing_display;
use rushlight::slate;
use rushlight::step::cdl::CdlNumbers;
use std::path::Path;
use std::sync::OnceLock;

/// The curve of a camera whose signal is light.
const LINEAR: &str = "linear";

/// A shot's correction.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Correction {
    pub(super) shot: String,
    pub(super) numbers: CdlNumbers,
    /// The show has a shot of this name, which may say its look and its camera.
    pub(super) of_show: bool,
}

/// The transform, and what there is to say of it.
pub(super) struct How {
    pub(super) transform: Transform,
    /// The exact path, where the transform is a cube in its place.
    pub(super) exact: Option<Transform>,
    pub(super) display: Option<Display>,
    /// What the pictures are made with, in words.
    pub(super) title: String,
    /// The same without the shot, for files of several shots.
    pub(super) of_all: String,
    /// The way it is computed, in words.
    pub(super) way: String,
    pub(super) points: Option<usize>,
    pub(super) interpolation: Option<&'static str>,
    /// What a file says of its making.
    pub(super) slate: String,
    /// What the display's terms are, in words.
    pub(super) terms: Option<String>,
    /// Text on the pictures, where it is asked for.
    pub(super) burn_in: Option<BurnIn>,
    /// The camera whose signal the frames must be, by its name; none where they are light, or for a cube.
    pub(super) camera: Option<String>,
    /// What a frame says that it is, where that is no camera's signal.
    doubt: OnceLock<String>,
}

impl How {
    /// What a still says of its colours.
    pub(super) fn tags(&self) -> Tags {
        self.display.as_ref().map(tags::tags).unwrap_or_default()
    }

    /// Takes note of a frame whose file says that it is scene light where a camera's signal is meant to be.
    pub(super) fn look_at(&self, path: &Path, frame: &Frame) {
        let Some(camera) = &self.camera else { return };
        // Light over 1 alone proves nothing: a camera's signal may have it.
        if let Ok(Known { state, by }) = image_state::of(frame)
            && by.starts_with("its ")
            && let ImageState::Light(gamut) = &state
        {
            let (path, instead) = (path.display(), gamut_name(gamut).unwrap_or("GAMUT"));
            let _ = self.doubt.set(format!(
                "{path} is {state}, by {by}, not a signal of camera {camera}: give --scene-linear {instead} in place of --camera"
            ));
        }
    }

    /// What was noted of the frames.
    pub(super) fn doubt(&self) -> Option<&String> {
        self.doubt.get()
    }
}

/// The text for the picture that the options ask for; `what` says what the picture is.
fn burn_in(args: &Args, display: Option<&Display>, show: &str, what: String) -> Option<BurnIn> {
    let mut burn = BurnIn::on(display);
    if args.burn_in {
        (burn.show, burn.caution, burn.what) = (show.to_owned(), "not for grading".to_owned(), what);
    }
    burn.watermark = args.watermark.clone().unwrap_or_default();
    burn.split = args.split;
    if args.split && args.burn_in {
        burn.what.push_str("  left half without the look");
    }
    (!burn.is_empty()).then_some(burn)
}

pub(super) fn cube(path: &Path, args: &Args) -> Result<How, Failure> {
    let source = table::load(path)?.read_by(args.interpolation);
    let display = args.pick.display.as_deref().map(standing_display).transpose().map_err(Failure::options)?;
    let (kind, points) = (source.interpolation(), source.points());
    let source_title = source.title().to_owned();
    let mut title = path.display().to_string();
    if !source.title().is_empty() {
        title = format!("{title} ({})", source.title());
    }
    let way = match (points, kind) {
        (Some(points), Some(kind)) => format!("the file's cube of {points} points, {kind}"),
        _ => "the steps of the file, in double precision".to_owned(),
    };
    let transform = match source.alone() {
        Some((cube, kind)) => {
            Transform::cube(cube, kind).map_err(|r| Failure::new(format!("{}: {}", path.display(), r[0])))?
        }
        None => Transform::of(source),
    };
    let (terms, display) = display.map(|(_, entry)| (entry.id.to_string(), entry.item)).unzip();
    let sum = sha256(&disk::read_bytes(path)?);
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let lines = vec![slate::made(), format!("source: {name} sha256 {sum}")];
    let slate = slate::of_signal(lines, display.as_ref()).join("\n");
    let burn_in = burn_in(args, display.as_ref(), source_title.trim(), name);
    Ok(How {
        of_all: title.clone(),
        slate,
        burn_in,
        transform,
        exact: None,
        display,
        title,
        way,
        points,
        interpolation: kind,
        terms,
        camera: None,
        doubt: OnceLock::new(),
    })
}

/// `correction` is that of an event list; a shot of the show is in `args`.
pub(super) fn show(path: &Path, args: &Args, correction: Option<&Correction>) -> Result<How, Failure> {
    args.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
    let kind = args.interpolation.unwrap_or_default();
    let light = args.scene_linear.as_deref();
    let pick = match light {
        // A look that stands alone asks for a camera: its light as it is.
        Some(gamut) => {
            let known = CATALOGUE.map(|g| g.name);
            named_gamut(gamut)
                .ok_or_else(|| Failure::new(format!("--scene-linear: {}", unknown("gamut", gamut, known))))?;
            Pick { camera: None, look: args.pick.look.clone(), display: args.pick.display.clone() }
        }
        None => args.pick.clone(),
    };
    let target = match target::load(path, &pick) {
        Err(_) if light.is_some() && pick.display.is_some() => {
            target::load(path, &Pick { camera: Some(format!("linear+{}", light.unwrap_or_default())), ..pick })?
        }
        loaded => loaded?,
    };
    let of_show = correction.filter(|one| one.of_show).map(|one| &one.shot).or(args.shot.as_ref());
    let target = target.of_shot(of_show.map(String::as_str))?;
    let show = &target.show;
    let (look, display) =
        (only("look", &target.look, show.looks())?, only("display", &target.display, show.displays())?);
    let mut signal_of = None;
    let (pipeline, from) = match light {
        Some(name) => {
            let gamut = &named_gamut(name).expect("it was found above").gamut;
            let made = from_light(gamut, look.item(), display.item());
            (made, format!("scene-linear light of {name}"))
        }
        None => {
            let camera = only("camera", &known("camera", &target.camera, show.cameras())?, show.cameras())?;
            let job = show
                .job(look.name, camera.name, display.name, POINTS)
                .and_then(|job| job.with_shot(of_show.map(String::as_str)));
            let job = job.map_err(Failure::options)?;
            output::warn(&show.order_warnings(&[job]));
            signal_of = (camera.entry.id.curve != LINEAR).then(|| camera.name.to_owned());
            (Pipeline::new(camera.item(), look.item(), display.item()), format!("camera {}", camera.name))
        }
    };
    let begins = look.item().begins_with_compress();
    if let Some(one) = correction.filter(|_| show.grading().order() == Order::AfterCompress && !begins) {
        return Err(Failure::new(format!(
            "{}: the show's corrections come after the compress that a look begins with, and look {} begins with none",
            one.shot, look.name
        )));
    }
    let grade = match (correction, &args.shot) {
        (Some(one), _) => Some(show.grading().correction(one.numbers)),
        (None, Some(shot)) => Some(show.correction(shot)),
        (None, None) => None,
    };
    let grade = grade.transpose().map_err(Failure::options)?;
    if light.is_some() && grade.as_ref().is_some_and(|grade| matches!(grade.space(), Space::Camera)) {
        return Err(Failure::new(
            "--scene-linear: the show's CDLs work on the camera's log signal, which is not there",
        ));
    }
    let pipeline =
        pipeline.map_err(|refused| Failure::of_path(look.name, display.name, refused))?.with_correction(grade);
    let shot = correction.map(|one| &one.shot).or(args.shot.as_ref());
    let shot = shot.map(|shot| format!("shot {shot} ({}), ", show.grading().words())).unwrap_or_default();
    let points = args.points.unwrap_or(if light.is_some() { LIGHT_POINTS } else { POINTS });
    let exact =
        || if light.is_some() { Transform::exact_light(pipeline.clone()) } else { Transform::exact(pipeline.clone()) };
    let (transform, way) = match (args.exact, light) {
        (true, _) => (Ok(exact()), "the exact path, in double precision".to_owned()),
        (false, Some(_)) => (
            Transform::sampled_light(&pipeline, points, kind),
            format!("a cube of {points} points, spaced in stops, {}, baked in memory", kind.name()),
        ),
        (false, None) => (
            Transform::sampled(&pipeline, points, kind),
            format!("a cube of {points} points, {}, baked in memory", kind.name()),
        ),
    };
    let camera = known("camera", &target.camera, show.cameras())?.or_else(|| show.cameras().keys().next().cloned());
    let job = camera.map(|camera| {
        let job = show.job(look.name, &camera, display.name, points);
        job.and_then(|job| job.with_shot(of_show.map(String::as_str)))
    });
    // Light needs no camera, and a show may have none.
    let mut lines = match job.transpose().map_err(Failure::options)? {
        Some(job) => slate::lines(&job),
        None => vec![slate::made()],
    };
    if let Some(line) = lines.iter_mut().find(|line| light.is_some() && line.starts_with("camera: ")) {
        *line = format!("light: {from}");
    }
    if let Some(one) = correction.filter(|_| of_show.is_none()) {
        lines.push(format!("correction: {}, {}, {}", one.shot, one.numbers, show.grading().words()));
    }
    let made = format!("look {}, {from}, display {}", look.name, display.name);
    let of_shot = correction.map(|one| &one.shot).or(args.shot.as_ref()).map(|shot| format!("{shot}  "));
    let what = format!("{}{} r{}  {from}", of_shot.unwrap_or_default(), look.name, look.item().revision());
    Ok(How {
        burn_in: burn_in(args, Some(display.item()), show.title(), what),
        slate: slate::of_signal(lines, Some(display.item())).join("\n"),
        transform: transform.map_err(Failure::refused)?,
        exact: (!args.exact).then(exact),
        display: Some(display.item().clone()),
        title: format!("{}: {shot}{made}", show.title()),
        of_all: format!("{}: {made}", show.title()),
        way,
        points: (!args.exact).then_some(points),
        interpolation: (!args.exact).then_some(kind.name()),
        terms: Some(display.entry.id.to_string()),
        camera: signal_of,
        doubt: OnceLock::new(),
    })
}

//! `false-colour`

mod findings;
mod key;
mod text;

use super::camera::{Ratings, rating};
use crate::args::FalseColour as Args;
use crate::disk::Batch;
use crate::drawing::{Drawing, Format as DrawingFormat};
use crate::failure::Failure;
use crate::output;
use crate::progress::Progress;
use crate::target;
use findings::{advice, apart, notes, off_edges, unrated, weak};
use rayon::prelude::*;
use rushlight::apply::tags::tags;
use rushlight::bake::Tool;
use rushlight::camera::{Camera, Rating};
use rushlight::cube::{Interpolation, check_points};
use rushlight::display::Display;
use rushlight::exposure::chart::{self, chart};
use rushlight::exposure::palette::Apart;
use rushlight::exposure::{
    Basis, Edges, ExposureCube, Fill, Job, Kind, Level, Limit, Options, POINTS, Shown, ZoneSettings, palette,
};
use rushlight::files::sha256;
use rushlight::format::cube::{DEFAULT_DIGITS, check_digits};
use rushlight::format::device::Device;
use rushlight::frame::{self, Depth, Format, Frame, Info};
use rushlight::invalid::{Invalid, Refusals};
use rushlight::message::unknown;
use rushlight::range::Range;
use rushlight::show::{CameraId, Entry, Named, Show, standing_display};
use rushlight::slate;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeSet;

/// The version of the report's shape.
const SCHEMA: u32 = 1;
/// The display of the cubes where the command names none.
const DISPLAY: &str = "bt709";
/// What the report of a run is called in its folder.
const REPORT: &str = "exposure.json";
/// The kinds of file that the key of a cube is.
const KEYS: [DrawingFormat; 2] = [DrawingFormat::Png, DrawingFormat::Svg];

/// What was made.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Rushlight false-colour")]
pub(crate) struct Report<'a> {
    /// The version of its shape.
    schema: u32,
    /// What made the files.
    tool: Tool,
    /// The title of the show.
    show: &'a str,
    /// The cubes.
    cubes: Vec<Record<'a>>,
    /// Test frames: the log signal that goes in, by camera and EI.
    frames: Vec<String>,
}

#[derive(Serialize, JsonSchema)]
struct Record<'a> {
    /// The file.
    file: String,
    /// SHA-256 of its bytes, in hexadecimal.
    sha256: String,
    /// Its title.
    title: String,
    /// The key beside it.
    keys: Vec<String>,
    /// The test frame as it looks with the cube applied.
    applied: String,
    /// Name of the camera.
    camera: &'a str,
    /// Its curve, gamut and range, in words.
    camera_terms: String,
    /// The exposure index; none for a camera without ratings.
    ei: Option<f64>,
    /// The exposure index from which this one was extrapolated.
    extrapolated_from: Option<f64>,
    /// The clip.
    clip: Level,
    /// What says where the clip is.
    clip_from: Limit,
    /// The lowest usable level.
    floor: Level,
    /// What says where the floor is.
    floor_from: Limit,
    /// What the cube shows.
    kind: &'static str,
    /// What decides the zone of a colour: luminance, or the brightest channel.
    basis: &'static str,
    /// Whether colours blend from zone to zone.
    soft: bool,
    /// Points along each edge of the cube.
    points: usize,
    /// Name of the display.
    display: &'a str,
    /// What the display is, in words.
    display_terms: String,
    /// The zones, from the lowest.
    zones: Vec<ZoneRecord>,
    /// How true the edges between zones are.
    edges: Edges,
    /// How far apart the colours of a ladder are, to normal and to colour-blind eyes.
    apart: Option<Apart>,
    /// What would make the edges more exact, in words; none where they are close.
    advice: Option<String>,
    /// Zones that show their colour in less than half of their codes, in words; none where all show it.
    warning: Option<String>,
    /// What was not measured of the camera, in words; none where clip and floor were.
    unrated: Option<String>,
    /// What one has to know of it.
    notes: Vec<String>,
}

/// The JSON Schema of the report.
pub(crate) fn schema() -> serde_json::Value {
    schemars::schema_for!(Report<'static>).to_value()
}

/// A zone, from the lowest; the clip last.
#[derive(Serialize, JsonSchema)]
struct ZoneRecord {
    /// Its name.
    name: String,
    /// Stops from which it reaches; none for the lowest.
    from: Option<f64>,
    /// The camera's signal there, in code values of 10 bits.
    from_code_10: Option<f64>,
    /// Linear BT.709 light; none for the grey picture.
    light: Option<[f64; 3]>,
    /// As sRGB, such as `#1a2b3c`; none for the grey picture.
    srgb: Option<String>,
    /// The display's signal; of the grey picture in the middle of the zone.
    signal: [f64; 3],
    /// What of it is seen.
    #[serde(flatten)]
    shown: Shown,
}

/// One camera at one rating.
#[derive(Clone, Copy)]
struct Study<'a> {
    camera: Named<'a, Camera>,
    rating: Option<Rating>,
    from: Option<f64>,
}

/// Which exposure cubes to make, and how.
#[derive(Debug, Clone)]
pub(crate) struct Request {
    pub(crate) of: Ratings,
    pub(crate) kinds: BTreeSet<Kind>,
    pub(crate) basis: Basis,
    /// A display of the show, or a built-in one.
    pub(crate) display: String,
    /// Points along each edge; by default as many as the edges of zones are worth, or as the device takes.
    pub(crate) points: Option<usize>,
    pub(crate) soft: bool,
    /// Sizes of the zones of every kind.
    pub(crate) zones: ZoneSettings,
    pub(crate) size: Zone,
    /// Whether cubes are made that would mislead.
    pub(crate) accept: bool,
    /// A device of the show whose limits are kept, by name.
    pub(crate) device: Option<String>,
    pub(crate) digits: usize,
    pub(crate) plain: bool,
}

impl Default for Request {
    fn default() -> Self {
        Self {
            of: Ratings::default(),
            kinds: BTreeSet::from([Kind::Ladder]),
            basis: Basis::Luminance,
            display: DISPLAY.to_owned(),
            points: None,
            soft: false,
            zones: ZoneSettings::of(Kind::Ladder),
            size: Zone::AsGiven,
            accept: false,
            device: None,
            digits: DEFAULT_DIGITS,
            plain: false,
        }
    }
}

impl From<&Args> for Request {
    fn from(args: &Args) -> Self {
        let default = Self::default();
        let ZoneSettings { kind, window, .. } = default.zones;
        let window = args.window.as_deref().map_or(window, |w| [w[0], w[1]]);
        Self {
            of: (&args.of).into(),
            kinds: args.kind.iter().copied().collect(),
            basis: args.basis,
            display: args.display.clone().unwrap_or(default.display),
            points: args.points,
            soft: args.soft,
            zones: ZoneSettings { kind, zone: args.zone, width: args.width, near: args.near, window },
            size: Zone::AsGiven,
            accept: args.accept,
            device: args.device.clone(),
            digits: args.digits,
            plain: args.plain,
        }
    }
}

/// The size of a ladder's zones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Zone {
    /// As the request says; one that the cube cannot hold is refused.
    AsGiven,
    /// The narrowest that the cube can hold, of those in [`WIDER`]; a cube that holds none is not made.
    Narrowest,
}

/// Sizes of zones to try, in stops, where one stop is too narrow.
const WIDER: [f64; 4] = [1.0, 2.0, 3.0, 4.0];

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let show = target::load_show(&args.of.show, &args.of.camera)?;
    let request = Request::from(args);
    if args.display.is_none() {
        note_range(&show);
    }
    let display = display(&show, &request.display)?;
    let plan = Plan::new(&show, &display, &request)?;
    let mut batch = Batch::of_our_names(&args.out, Some(REPORT), args.force)?;
    let report = plan.make(&mut |name, _, bytes| batch.add(name, bytes))?;
    batch.finish()?;
    let text = if args.json { output::json(&report)? } else { text::text(&report, &args.out) };
    output::print(&text)
}

/// The exposure cubes that a request comes to.
pub(crate) struct Plan<'s> {
    show: &'s Show,
    cubes: Vec<Made<'s>>,
    /// Cubes with wider zones than one stop, and those that cannot be made.
    pub(crate) notes: Vec<String>,
}

/// A cube with what it is of.
type Made<'s> = (Study<'s>, Job<'s>, ExposureCube);

/// A file: its name, what it is, its bytes.
type NewFile = (String, &'static str, Vec<u8>);

/// Takes a file: its name, what it is, its bytes.
type Take<'t> = dyn FnMut(&str, &'static str, &[u8]) -> Result<(), Failure> + 't;

impl<'s> Plan<'s> {
    /// Makes the cubes, and checks all that can be known before a file is written.
    pub(crate) fn new(
        show: &'s Show,
        display: &'s (String, Entry<Display>),
        request: &Request,
    ) -> Result<Self, Failure> {
        request.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
        check_digits("digits", request.digits).map_err(Failure::options)?;
        let device = target::device(show, request.device.as_deref())?;
        let points = request.points.unwrap_or(most_points(device));
        KEYS.iter().try_for_each(|format| format.check())?;
        let mut plan = Self { show, cubes: Vec::new(), notes: Vec::new() };
        let mut jobs = Vec::new();
        for study in studies(show, &request.of)? {
            for kind in &request.kinds {
                let zones = ZoneSettings { kind: *kind, ..request.zones };
                let job = Job {
                    show,
                    camera: study.camera,
                    ei: study.rating.map(|r| r.ei),
                    display: Named { name: &display.0, entry: &display.1 },
                    device,
                    options: Options { zones, basis: request.basis, points, soft: request.soft },
                    digits: request.digits,
                    plain: request.plain,
                };
                job.preflight().map_err(refused)?;
                let sized = plan.sized(&study, job, request.size)?;
                jobs.extend(sized.map(|job| (study, job)));
            }
        }
        plan.bake(jobs, request)?;
        Ok(plan)
    }

    /// Makes the cubes. One that would mislead is refused where its size was given, and else noted and not made.
    fn bake(&mut self, jobs: Vec<(Study<'s>, Job<'s>)>, request: &Request) -> Result<(), Failure> {
        let progress = Progress::new(jobs.len(), "{pos}/{len} cubes, {eta} left");
        let mut off = Vec::new();
        for (study, job) in jobs {
            let (camera, display) = (study.camera.item(), job.display.item());
            let fail = |r: Refusals| Failure::new(format!("camera {}: {}", study.camera.name, said(&r)));
            let made = ExposureCube::new(camera, study.rating.as_ref(), study.from.is_some(), display, &job.options)
                .map_err(fail)?;
            match off_edges(&job, &made).filter(|_| !request.accept) {
                None => self.cubes.push((study, job, made)),
                Some(why) if request.size == Zone::AsGiven => off.push(why),
                Some(why) => self.notes.push(format!("No exposure cube: {why}.")),
            }
            progress.step();
        }
        progress.end();
        if off.is_empty() {
            return Ok(());
        }
        let accept = "--accept writes it nevertheless";
        Err(Failure::new(off.iter().map(|why| format!("{why}; {accept}")).collect::<Vec<_>>().join("\n")))
    }

    /// The job with zones that its cube can hold; none where it can hold none that were asked for.
    fn sized(&mut self, study: &Study<'_>, job: Job<'s>, size: Zone) -> Result<Option<Job<'s>>, Failure> {
        let check = |options: &Options| {
            ExposureCube::check(study.camera.item(), study.rating.as_ref(), study.from.is_some(), options)
        };
        let Err(r) = check(&job.options) else { return Ok(Some(job)) };
        if size == Zone::AsGiven {
            return Err(Failure::new(format!("camera {}: {}", study.camera.name, said(&r))));
        }
        let ei = job.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
        let of = format!("of camera {}{ei}", study.camera.name);
        let why: Vec<&str> = r.iter().map(|r| r.message.as_str()).collect();
        let sized = |zone: f64| Options { zones: ZoneSettings { zone, ..job.options.zones }, ..job.options };
        let Some(wider) = WIDER.into_iter().find(|zone| check(&sized(*zone)).is_ok()) else {
            self.notes.push(format!("No exposure cube {of}: {}.", why.join("; ")));
            return Ok(None);
        };
        self.notes.push(format!("The exposure cube {of} has zones of {wider} stops: {}.", why.join("; ")));
        Ok(Some(Job { options: sized(wider), ..job }))
    }

    /// Gives each cube and what goes beside it to `take`; as many at a time as there are threads are drawn.
    pub(crate) fn make(&self, take: &mut Take<'_>) -> Result<Report<'s>, Failure> {
        let tool = Tool::this();
        let mut report =
            Report { schema: SCHEMA, tool, show: self.show.title(), cubes: Vec::new(), frames: Vec::new() };
        // Cubes of one rating share the frame of its signal.
        let frame_of = |cube: &Made<'s>| format!("{}_frame.png", cube.1.rating_stem());
        let mut first = BTreeSet::new();
        let cubes: Vec<_> =
            self.cubes.iter().map(|cube| (cube, Some(frame_of(cube)).filter(|f| first.insert(f.clone())))).collect();
        for group in cubes.chunks(rayon::current_num_threads()) {
            let made: Vec<_> = group.par_iter().map(|(cube, frame)| self.files(cube, frame.as_deref())).collect();
            for ((_, frame), made) in group.iter().zip(made) {
                let (record, files) = made?;
                files.iter().try_for_each(|(name, what, bytes)| take(name, what, bytes))?;
                report.cubes.push(record);
                report.frames.extend(frame.clone());
            }
        }
        take(REPORT, "report on the exposure cubes", output::json(&report)?.as_bytes())?;
        Ok(report)
    }

    /// The record of a cube, and its files: cube, keys, the frame of its signal under the name `frame`, and that frame
    /// with the cube applied.
    fn files(&self, (study, job, made): &Made<'s>, frame: Option<&str>) -> Result<(Record<'s>, Vec<NewFile>), Failure> {
        let text = job.text(made).map_err(refused)?;
        let record = record(study, job, made, &text);
        let mut files = vec![(record.file.clone(), "exposure cube", text.into_bytes())];
        let slate = slate::of_camera(self.show, job.camera.name);
        let drawing = key::key(job, made).with_slate(&slate);
        for (name, format) in record.keys.iter().zip(KEYS) {
            files.push((name.clone(), "key of an exposure cube", drawing.bytes(format, Drawing::DPI)?));
        }
        let log = chart(study.camera.item(), &made.ends);
        if let Some(frame) = frame {
            files.push((frame.to_owned(), "test frame", still(&log, None, &slate)?));
        }
        let applied: Vec<[f64; 3]> = log.iter().map(|v| made.cube.at(*v, Interpolation::Tetrahedral)).collect();
        files.push((record.applied.clone(), "test frame", still(&applied, Some(job.display.item()), &slate)?));
        Ok((record, files))
    }
}

/// What the library refused, of the command line option of the same name where there is one.
fn said(refused: &[Invalid]) -> String {
    let option = |key: &str| {
        let name = key.split('[').next().unwrap_or(key);
        ["zone", "width", "near", "window", "points", "digits"].contains(&name)
    };
    let line = |r: &Invalid| if option(&r.key) { format!("--{r}") } else { r.to_string() };
    refused.iter().map(line).collect::<Vec<_>>().join("\n")
}

fn refused(refused: Refusals) -> Failure {
    Failure::new(said(&refused))
}

/// Says that the default display has another range than every display of the show.
fn note_range(show: &Show) {
    let displays = show.displays();
    if !displays.is_empty() && displays.values().all(|display| display.item.settings().range == Range::Legal) {
        let names = displays.keys().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
        output::note(&format!(
            "no --display: the cubes send full range, and every display of this show takes legal range. Give one of them: {names}"
        ));
    }
}

/// A display of the show, or a built-in one.
pub(crate) fn display(show: &Show, name: &str) -> Result<(String, Entry<Display>), Failure> {
    if let Some(entry) = show.displays().get(name) {
        return Ok((name.to_owned(), entry.clone()));
    }
    if rushlight::display::standard(name).is_some() {
        return standing_display(name).map_err(Failure::options);
    }
    let standards = rushlight::display::STANDARDS.map(|s| s.name);
    let known = show.displays().keys().map(String::as_str).chain(standards);
    Err(Failure::new(format!("--display: {}", unknown("display", name, known))))
}

/// As many points as a zone edge is worth, or as the box takes.
fn most_points(device: Option<Named<'_, Device>>) -> usize {
    device.and_then(|device| device.item().max_points).map_or(POINTS, |most| POINTS.min(most))
}

/// The cameras and ratings that are asked for.
fn studies<'s>(show: &'s Show, of: &Ratings) -> Result<Vec<Study<'s>>, Failure> {
    let mut studies = Vec::new();
    let named = show.cameras().iter().map(|(name, entry)| Named { name, entry });
    for named in named.filter(|camera| of.camera.as_ref().is_none_or(|c| c == camera.name)) {
        let camera = named.item();
        match of.ei {
            Some(ei) => {
                let (rating, from) = rating(named.name, camera, ei, of.extrapolated)?;
                studies.push(Study { camera: named, rating: Some(rating), from });
            }
            None if camera.ratings().is_empty() => studies.push(Study { camera: named, rating: None, from: None }),
            None => {
                let mut ratings = camera.ratings().to_vec();
                ratings.sort_by(|a, b| a.ei.total_cmp(&b.ei));
                studies.extend(ratings.into_iter().map(|r| Study { camera: named, rating: Some(r), from: None }));
            }
        }
    }
    Ok(studies)
}

fn record<'a>(study: &Study<'a>, job: &Job<'a>, made: &ExposureCube, text: &str) -> Record<'a> {
    let camera = study.camera.entry;
    let Options { zones: settings, basis, points, soft } = job.options;
    let stem = job.stem();
    // Where each EI has a curve, the cube is of that of the rating; such curves are published for whole numbers.
    let of_rating = job.ei.filter(|ei| camera.item.curve_at(*ei).is_some());
    let ei = of_rating.map(|ei| ei as u32).or(camera.id.ei);
    let listed = made.zones.list.iter().chain(&made.zones.clip).zip(&made.colours).zip(&made.edges.shown);
    let zones = listed.map(|((zone, signal), shown)| {
        let light = match zone.fill {
            Fill::Colour(rgb) => Some(rgb),
            Fill::Picture => None,
        };
        let from_code_10 =
            zone.from.map(|from| made.signal_at(&camera.item, from)).map(|v| camera.item.range().code(v, 10));
        ZoneRecord {
            name: zone.name.clone(),
            from: zone.from,
            from_code_10,
            light,
            srgb: light.map(palette::srgb),
            signal: *signal,
            shown: *shown,
        }
    });
    Record {
        file: job.file_name(),
        sha256: sha256(text.as_bytes()),
        title: job.title(),
        keys: vec![format!("{stem}_key.png"), format!("{stem}_key.svg")],
        applied: format!("{stem}_frame.png"),
        camera: study.camera.name,
        camera_terms: CameraId { ei, ..camera.id.clone() }.to_string(),
        ei: job.ei,
        extrapolated_from: study.from,
        clip: made.ends.clip.0,
        clip_from: made.ends.clip.1,
        floor: made.ends.floor.0,
        floor_from: made.ends.floor.1,
        kind: settings.kind.name(),
        basis: basis.name(),
        soft,
        points,
        display: job.display.name,
        display_terms: job.display.entry.id.to_string(),
        zones: zones.collect(),
        edges: made.edges.clone(),
        apart: apart(settings.kind, made),
        advice: advice(job, made),
        warning: weak(job, made),
        unrated: unrated(made),
        notes: notes(&camera.item, job, made),
    }
}

/// A test frame as a PNG of 16 bits, which says what its samples are: a camera's signal, or that of a display, with its tags.
fn still(signal: &[[f64; 3]], display: Option<&Display>, slate: &[String]) -> Result<Vec<u8>, Failure> {
    let samples = signal.iter().flatten().map(|v| *v as f32).collect();
    let depth = Depth::Integer(16);
    let mut info = Info::new(Format::Png, depth);
    let mut lines = slate.to_vec();
    match display {
        Some(display) => {
            info.tags = tags(display);
            lines = slate::of_signal(lines, Some(display));
        }
        None => lines.insert(1.min(lines.len()), "samples: camera signal".to_owned()),
    }
    frame::describe(&mut info, &lines.join("\n"), |_| true);
    Frame::new(chart::WIDTH, chart::HEIGHT, false, samples, info)
        .and_then(|frame| rushlight::frame::write(&frame, Format::Png, depth))
        .map_err(|e| Failure::new(format!("cannot draw the test frame: {e}")))
}

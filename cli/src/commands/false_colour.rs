//! `false-colour`

mod key;
mod text;

use super::camera::rating;
use crate::args::{Basis as BasisArg, FalseColour as Args, ZoneKind};
use crate::disk::Batch;
use crate::drawing::{Drawing, Format as DrawingFormat};
use crate::failure::Failure;
use crate::output;
use crate::progress::Progress;
use crate::target::{self, standing_display};
use rushlight::camera::{Camera, Rating};
use rushlight::cube::{Interpolation, check_points};
use rushlight::display::Display;
use rushlight::document::unknown;
use rushlight::exposure::chart::{self, chart};
use rushlight::exposure::palette::Apart;
use rushlight::exposure::{
    Basis, Edges, ExposureCube, Fill, Job, Kind, Level, Limit, Options, POINTS, Shown, WINDOW, ZoneSettings, palette,
    signed,
};
use rushlight::files::sha256;
use rushlight::format::cube::check_digits;
use rushlight::frame::{Depth, Format, Frame, Info};
use rushlight::invalid::{Invalid, Refusals};
use rushlight::show::{Entry, Show};
use serde::Serialize;
use std::collections::BTreeSet;

/// The version of the report's shape.
const SCHEMA: u32 = 1;
/// The display of the cubes where the command names none.
const DISPLAY: &str = "bt709";
/// What the report of a run is called in its folder.
const REPORT: &str = "exposure.json";
/// Stops of mean error over which a report says how to come closer.
const CLOSE: f64 = 0.1;

#[derive(Serialize)]
struct Report<'a> {
    schema: u32,
    tool: Tool,
    show: &'a str,
    cubes: Vec<Record<'a>>,
    /// Test frames: the log signal that goes in, by camera and EI.
    frames: Vec<String>,
}

/// Who made the files.
#[derive(Serialize)]
struct Tool {
    name: &'static str,
    version: &'static str,
}

#[derive(Serialize)]
struct Record<'a> {
    file: String,
    sha256: String,
    title: String,
    /// The key beside it.
    keys: Vec<String>,
    /// The test frame with the cube applied.
    applied: String,
    camera: &'a str,
    camera_terms: &'a str,
    ei: Option<f64>,
    reckoned_from: Option<f64>,
    clip: Level,
    clip_from: Limit,
    floor: Level,
    floor_from: Limit,
    kind: &'static str,
    basis: &'static str,
    soft: bool,
    points: usize,
    display: &'a str,
    display_terms: &'a str,
    zones: Vec<ZoneRecord>,
    edges: Edges,
    /// How far apart the colours of a ladder are, to normal and to colour-blind eyes.
    apart: Option<Apart>,
    /// Zones that show their colour in less than half of their codes, in words; none where all show it.
    warning: Option<String>,
    /// What was not measured of the camera, in words; none where clip and floor were.
    unrated: Option<String>,
    notes: Vec<String>,
}

/// A zone, from the lowest; the clip last.
#[derive(Serialize)]
struct ZoneRecord {
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
struct Study<'a> {
    name: &'a str,
    rating: Option<Rating>,
    from: Option<f64>,
}

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let made = make(args, Zone::AsGiven)?;
    output::print(if args.json { &made.json } else { &made.text })
}

/// The size of a ladder's zones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Zone {
    /// As the arguments say; one that the cube cannot hold is refused.
    AsGiven,
    /// The narrowest that the cube can hold, of those in [`WIDER`]; a cube that holds none is not made.
    Narrowest,
}

/// Sizes of zones to try, in stops, where one stop is too narrow.
const WIDER: [f64; 4] = [1.0, 2.0, 3.0, 4.0];

/// The report of a run.
pub(crate) struct Made {
    pub(crate) json: String,
    pub(crate) text: String,
    /// Cubes with wider zones than one stop, and those that could not be made.
    pub(crate) notes: Vec<String>,
}

/// Writes the cubes with what goes beside them.
pub(crate) fn make(args: &Args, zone: Zone) -> Result<Made, Failure> {
    args.points.map(|p| check_points("points", p)).transpose().map_err(Failure::options)?;
    check_digits("digits", args.digits).map_err(Failure::options)?;
    let show = target::load_show(&args.of.show, &args.of.camera)?;
    let display = display(&show, args.display.as_deref())?;
    let device = target::device(&show, args.device.as_deref())?;
    let studies = studies(&show, args)?;
    let kinds: BTreeSet<Kind> = args.kind.iter().copied().map(kind).collect();
    // As many points as a zone edge is worth, or as the box takes.
    let most = device.and_then(|(_, device)| device.max_points).unwrap_or(POINTS);
    let points = args.points.unwrap_or(POINTS.min(most));
    let mut jobs = Vec::new();
    let mut remarks = Vec::new();
    for study in &studies {
        for kind in &kinds {
            let mut job = Job {
                show: &show,
                camera: study.name,
                ei: study.rating.map(|r| r.ei),
                display: (display.0.as_str(), &display.1),
                device,
                options: Options { zones: zones(*kind, args), basis: basis(args.basis), points, soft: args.soft },
                digits: args.digits,
                plain: args.plain,
            };
            job.preflight().map_err(refused)?;
            // Before a folder is made for what will not be.
            let camera = &show.cameras()[study.name].item;
            let check =
                |options: &Options| ExposureCube::check(camera, study.rating.as_ref(), study.from.is_some(), options);
            let sized = |zone: f64| Options { zones: ZoneSettings { zone, ..job.options.zones }, ..job.options };
            match (check(&job.options), zone) {
                (Ok(()), _) => {}
                (Err(r), Zone::AsGiven) => {
                    return Err(Failure::new(format!("camera {}: {}", study.name, said(&r))));
                }
                (Err(r), Zone::Narrowest) => {
                    let ei = job.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
                    let of = format!("of camera {}{ei}", study.name);
                    let why: Vec<&str> = r.iter().map(|r| r.message.as_str()).collect();
                    let Some(wider) = WIDER.into_iter().find(|zone| check(&sized(*zone)).is_ok()) else {
                        remarks.push(format!("No exposure cube {of}: {}.", why.join("; ")));
                        continue;
                    };
                    job.options = sized(wider);
                    remarks.push(format!("The exposure cube {of} has zones of {wider} stops: {}.", why.join("; ")));
                }
            }
            jobs.push((study, job));
        }
    }
    let progress = Progress::new(jobs.len(), "{pos}/{len} cubes, {eta} left");
    let mut cubes = Vec::new();
    let mut off = Vec::new();
    for (study, job) in jobs {
        let camera = &show.cameras()[study.name].item;
        let fail = |r: Refusals| Failure::new(format!("camera {}: {}", study.name, said(&r)));
        let made =
            ExposureCube::new(camera, study.rating.as_ref(), study.from.is_some(), &display.1.item, &job.options)
                .map_err(fail)?;
        match off_edges(&job, &made).filter(|_| !args.accept) {
            None => cubes.push((study, job, made)),
            Some(why) if zone == Zone::AsGiven => off.push(why),
            Some(why) => remarks.push(format!("No exposure cube: {why}.")),
        }
        progress.step();
    }
    progress.end();
    if !off.is_empty() {
        let accept = "--accept writes it nevertheless";
        return Err(Failure::new(off.iter().map(|why| format!("{why}; {accept}")).collect::<Vec<_>>().join("\n")));
    }
    let mut batch = Batch::of_our_names(&args.out, Some(REPORT), args.force)?;
    let tool = Tool { name: "rushlight", version: env!("CARGO_PKG_VERSION") };
    let mut report = Report { schema: SCHEMA, tool, show: show.title(), cubes: Vec::new(), frames: Vec::new() };
    for (study, job, made) in &cubes {
        let camera = &show.cameras()[study.name].item;
        let text = job.text(made).map_err(refused)?;
        let record = record(study, job, made, &text);
        batch.add(&record.file, &text)?;
        let drawing = key::key(job, made);
        for (name, format) in record.keys.iter().zip([DrawingFormat::Png, DrawingFormat::Svg]) {
            batch.add(name, drawing.bytes(format, Drawing::DPI)?)?;
        }
        let log = chart(camera, &made.ends);
        let frame = format!("{}_frame.png", job.rating_stem());
        if !report.frames.contains(&frame) {
            batch.add(&frame, still(&log)?)?;
            report.frames.push(frame);
        }
        let applied: Vec<[f64; 3]> = log.iter().map(|v| made.cube.at(*v, Interpolation::Tetrahedral)).collect();
        batch.add(&record.applied, still(&applied)?)?;
        report.cubes.push(record);
    }
    let mut json = serde_json::to_string_pretty(&report).map_err(|e| Failure::new(e.to_string()))?;
    json.push('\n');
    batch.add(REPORT, &json)?;
    batch.finish()?;
    let text = text::text(&report, args);
    Ok(Made { json, text, notes: remarks })
}

fn kind(kind: ZoneKind) -> Kind {
    match kind {
        ZoneKind::Ladder => Kind::Ladder,
        ZoneKind::Key => Kind::Key,
        ZoneKind::Clip => Kind::Clip,
        ZoneKind::Range => Kind::Range,
    }
}

fn basis(basis: BasisArg) -> Basis {
    match basis {
        BasisArg::Luminance => Basis::Luminance,
        BasisArg::Highest => Basis::Highest,
    }
}

fn zones(kind: Kind, args: &Args) -> ZoneSettings {
    let window = args.window.as_deref().map_or([-WINDOW.default, WINDOW.default], |w| [w[0], w[1]]);
    ZoneSettings { kind, zone: args.zone, width: args.width, near: args.near, window }
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

/// A display of the show, or a built-in one.
fn display(show: &Show, name: Option<&str>) -> Result<(String, Entry<Display>), Failure> {
    let name = name.unwrap_or(DISPLAY);
    if let Some(entry) = show.displays().get(name) {
        return Ok((name.to_owned(), entry.clone()));
    }
    if rushlight::display::standard(name).is_some() {
        return standing_display(name);
    }
    let standards = rushlight::display::STANDARDS.map(|s| s.name);
    let known = show.displays().keys().map(String::as_str).chain(standards);
    Err(Failure::new(format!("--display: {}", unknown("display", name, known))))
}

/// The cameras and ratings that are asked for.
fn studies<'s>(show: &'s Show, args: &Args) -> Result<Vec<Study<'s>>, Failure> {
    let mut studies = Vec::new();
    for (name, entry) in show.cameras().iter().filter(|(n, _)| args.of.camera.as_ref().is_none_or(|c| c == *n)) {
        let camera = &entry.item;
        match args.of.ei {
            Some(ei) => {
                let (rating, from) = rating(name, camera, ei, args.of.reckon)?;
                studies.push(Study { name, rating: Some(rating), from });
            }
            None if camera.ratings().is_empty() => studies.push(Study { name, rating: None, from: None }),
            None => {
                let mut ratings = camera.ratings().to_vec();
                ratings.sort_by(|a, b| a.ei.total_cmp(&b.ei));
                studies.extend(ratings.into_iter().map(|r| Study { name, rating: Some(r), from: None }));
            }
        }
    }
    Ok(studies)
}

fn record<'a>(study: &Study<'a>, job: &Job<'a>, made: &ExposureCube, text: &str) -> Record<'a> {
    let camera = &job.show.cameras()[study.name];
    let Options { zones: settings, basis, points, soft } = job.options;
    let stem = job.stem();
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
        camera: study.name,
        camera_terms: &camera.terms,
        ei: job.ei,
        reckoned_from: study.from,
        clip: made.ends.clip.0,
        clip_from: made.ends.clip.1,
        floor: made.ends.floor.0,
        floor_from: made.ends.floor.1,
        kind: settings.kind.name(),
        basis: basis.name(),
        soft,
        points,
        display: job.display.0,
        display_terms: &job.display.1.terms,
        zones: zones.collect(),
        edges: made.edges.clone(),
        apart: apart(settings.kind, made),
        warning: weak(job, made),
        unrated: unrated(made),
        notes: notes(&camera.item, job, made),
    }
}

/// How far apart the colours of a ladder are.
fn apart(kind: Kind, made: &ExposureCube) -> Option<Apart> {
    let zones = made.zones.list.iter().chain(&made.zones.clip);
    let colours: Option<Vec<[f64; 3]>> = zones
        .map(|zone| match zone.fill {
            Fill::Colour(rgb) => Some(rgb),
            Fill::Picture => None,
        })
        .collect();
    let grey = made.zones.list.iter().position(|zone| zone.name == "mid-grey")?;
    (kind == Kind::Ladder).then_some(Apart::of(&colours?, grey))
}

/// What there is to say besides: of the curve, and of how the zones came out.
fn notes(camera: &Camera, job: &Job<'_>, made: &ExposureCube) -> Vec<String> {
    let mut notes = made.zones.notes.clone();
    if let Some(ei) = job.ei.filter(|ei| camera.lacks_curve_at(*ei)) {
        notes.push(format!("the curve is not published for EI {ei}: the curve of the camera is used instead"));
    }
    notes
}

/// Why a cube would mislead: the edges that are off, and what to do; none where no edge is.
fn off_edges(job: &Job<'_>, made: &ExposureCube) -> Option<String> {
    let off: Vec<String> = made
        .edges
        .off()
        .map(|edge| {
            let error = edge.error().map_or("is not visible".to_owned(), |e| format!("is {:.1} stops off", e.abs()));
            format!("the edge at {} stops {error}", signed(edge.stops))
        })
        .collect();
    if off.is_empty() {
        return None;
    }
    let Options { zones, points, soft, .. } = job.options;
    let mut help = Vec::new();
    if is_unrated(made) {
        help.push(format!("rate the camera first (`rushlight measure`, or [[cameras.{}.rating]])", job.camera));
    }
    if points < POINTS {
        help.push(format!("use more points (--points {POINTS})"));
    }
    if !soft {
        help.push("blend the edges (--soft)".to_owned());
    }
    if zones.kind == Kind::Ladder {
        help.push("use larger zones (--zone 2)".to_owned());
    }
    let ei = job.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
    Some(format!(
        "camera {}{ei}: this exposure cube would mislead: {}: {}",
        job.camera,
        off.join(", "),
        help.join(", or ")
    ))
}

/// Whether the clip or the floor is an end of the curve, which no sensor need reach.
fn is_unrated(made: &ExposureCube) -> bool {
    [made.ends.clip.1, made.ends.floor.1].contains(&Limit::Curve)
}

/// What a cube without a complete rating does not know; none where it knows it.
pub(super) fn unrated(made: &ExposureCube) -> Option<String> {
    let what = match [made.ends.clip.1, made.ends.floor.1].map(|limit| limit == Limit::Curve) {
        [true, true] => "clip and floor are",
        [true, false] => "the clip is",
        [false, true] => "the floor is",
        [false, false] => return None,
    };
    Some(format!("{what} not measured, but the end of the curve: rate the camera before you rely on it"))
}

/// What is wrong with zones that hardly show their own colour, and what would help; none where all do.
pub(super) fn weak(job: &Job<'_>, made: &ExposureCube) -> Option<String> {
    let listed = made.zones.list.iter().chain(&made.zones.clip).zip(&made.edges.shown);
    let weak: Vec<String> = listed
        .filter(|(_, shown)| shown.is_weak())
        .map(|(zone, shown)| format!("{} ({:.0} %)", zone.name, 100.0 * shown.least()))
        .collect();
    if weak.is_empty() {
        return None;
    }
    let Options { zones, points, soft, .. } = job.options;
    let mut help = Vec::new();
    if points < POINTS {
        help.push(format!("{POINTS} points"));
    }
    if soft {
        help.push("plain edges".to_owned());
    }
    help.push(match zones.kind {
        Kind::Ladder => "more stops to a zone (--zone)".to_owned(),
        Kind::Key => "a larger --width".to_owned(),
        Kind::Clip => "a larger --near".to_owned(),
        Kind::Range => "a wider --window".to_owned(),
    });
    Some(format!(
        "these zones show their colour in less than half of their codes: {}. Do not rely on them; {} would help",
        weak.join(", "),
        help.join(", or ")
    ))
}

/// Signal as a PNG of 16 bits.
fn still(signal: &[[f64; 3]]) -> Result<Vec<u8>, Failure> {
    let samples = signal.iter().flatten().map(|v| *v as f32).collect();
    let depth = Depth::Integer(16);
    Frame::new(chart::WIDTH, chart::HEIGHT, false, samples, Info::new(Format::Png, depth))
        .and_then(|frame| rushlight::frame::write(&frame, Format::Png, depth))
        .map_err(|e| Failure::new(format!("cannot draw the test frame: {e}")))
}

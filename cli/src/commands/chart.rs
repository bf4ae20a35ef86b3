//! `chart`

mod input;
mod picture;
mod report;
mod scene;
mod written;

use crate::args::Chart as Args;
use crate::commands::claims::{Claims, load};
use crate::commands::show_edit::checked_day;
use crate::disk::{Batch, check, maker, read_text, write};
use crate::drawing::{Drawing, Format};
use crate::failure::Failure;
use crate::output;
use crate::system;
use rushlight::camera::{self, Camera, LightMatrix};
use rushlight::chart::classic::classic;
use rushlight::chart::light::Light;
use rushlight::chart::measure::{Colours, Shot, colours, matched};
use rushlight::chart::report::{Report, ThroughLook};
use rushlight::chart::{Chart, ChartError, file};
use rushlight::measure::Claim;
use rushlight::message::unknown;
use rushlight::show::Show;
use std::path::{Path, PathBuf};

pub(crate) use input::{Input, Read, light};
pub(crate) use report::field;

/// A fit that leaves more than this in the mean is not written.
const MOST: f64 = 4.0;

/// What a run finds.
struct Found {
    chart: Chart,
    claim: Claim,
    reads: Vec<Read>,
    colours: Colours,
    /// The name of the gamut that the show has now.
    had: Option<String>,
    /// What is matched to.
    target: String,
    /// The matrix for a light between two.
    between: Option<(f64, LightMatrix)>,
    /// Each light, and the colours by its frames alone.
    by_light: Vec<(Light, Colours)>,
    /// Patches of two cameras through one look, by the display's own difference.
    seen: Option<ThroughLook>,
}

pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let picture = match &args.picture {
        Some(path) => Some((path.clone(), Format::of(path)?)),
        None => None,
    };
    let camera = args.show.as_deref().zip(args.camera.as_deref());
    let claims = Claims::new(camera, args.curve.as_deref(), args.range)?;
    let claim = claims.at(args.ei)?.ok_or_else(|| Failure::new("the curve is unknown: give --show, or --curve"))?;
    let show = args.show.as_deref().map(load).transpose()?;
    let own =
        show.as_ref().zip(args.camera.as_deref()).map(|(show, name)| of_show(show, "--camera", name)).transpose()?;
    checked_day(args.date.as_deref())?;
    if !args.at.is_empty() {
        return scene::run(args, show.as_ref(), own, claim, picture);
    }
    let (chart, lights) = (chart(args)?, lights(args)?);
    let corners = corners(args)?;
    let reads = args
        .frames
        .iter()
        .zip(&lights)
        .map(|(path, light)| Input::of(args).read(path, &chart, light, (&claim, own), corners))
        .collect::<Result<Vec<Read>, Failure>>()?;
    let shots: Vec<Shot> = reads.iter().map(|r| r.shot.clone()).collect();
    let before = own.map(|camera| camera.clone().unbalanced().to_d65());
    let mut target = format!("{}, {}", chart.name, chart.source);
    let mut seen = None;
    let colours = if args.matched.is_empty() {
        colours(&chart, &shots, before.as_ref()).map_err(failure)?
    } else {
        let (show, name) =
            show.as_ref().zip(args.to.as_deref()).ok_or_else(|| Failure::new("--match needs --show and --to"))?;
        let other = of_show(show, "--to", name)?;
        let others = others(args, show, &chart, &lights)?;
        let found = matched(&chart, &shots, &others, &other.to_d65(), before.as_ref()).map_err(failure)?;
        target = format!("camera {name} of the show");
        seen = report::through_look(args, show, &chart, &claim, (&found, &shots), (name, &others))?;
        found
    };
    let by_light = if args.kelvin.is_some() || args.matrix { by_light(&chart, &shots)? } else { Vec::new() };
    let between = args.kelvin.map(|kelvin| between(&by_light, kelvin)).transpose()?;
    let had = had(args, show.as_ref());
    finish(args, &Found { chart, claim, reads, colours, had, target, between, by_light, seen }, picture)
}

/// The name of the gamut that the show has.
fn had(args: &Args, show: Option<&Show>) -> Option<String> {
    let entry = show?.cameras().get(args.camera.as_deref()?)?;
    Some(entry.id.gamut_name().into_owned())
}

/// Writes and prints the findings.
fn finish(args: &Args, found: &Found, picture: Option<(PathBuf, Format)>) -> Result<(), Failure> {
    // Everything is made before anything is written.
    let edited = if args.write { Some(written::edited(args, found, MOST)?) } else { None };
    let drawing = picture::picture(found).draw();
    let shown = match picture {
        Some((path, format)) => {
            check(&path)?;
            let bytes = drawing.bytes(format, Drawing::DPI)?;
            edited.as_ref().map_or(Ok(()), |edited| edited.show.write())?;
            write(&path, &bytes)?;
            path
        }
        None => {
            let stem = args.frames[0].file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
            let name = format!("{stem}_chart.svg");
            let mut batch = Batch::within(Path::new(".")).replacing_ours(None, "name the picture by --picture");
            // A mark at its start, by which the next run may replace it.
            batch.add(&name, format!("<!-- {} -->\n{}", maker(), drawing.svg))?;
            edited.as_ref().map_or(Ok(()), |edited| edited.show.write())?;
            batch.finish()?;
            PathBuf::from(name)
        }
    };
    if args.json {
        let files: Vec<String> = found.reads.iter().map(|r| r.sha256.clone()).collect();
        let report = Report::new(&found.chart, &found.claim.name, &found.target, &found.colours, &files);
        return output::print_json(&report.with_look(found.seen.clone()));
    }
    let mut text = report::text(found);
    if let Some(edited) = edited {
        text += &format!("\n{} written to {}\n", edited.key, edited.show.path.display());
        for (name, gamut) in [("was", &edited.before), ("is", &edited.after)] {
            report::field(&mut text, name, gamut);
        }
    }
    text += &format!("\npicture of what was found: {}\n", output::pasted(&shown));
    output::print(&text)
}

pub(crate) fn failure(error: ChartError) -> Failure {
    Failure::new(error.to_string())
}

/// A camera of the show.
pub(crate) fn of_show<'s>(show: &'s Show, option: &str, name: &str) -> Result<&'s Camera, Failure> {
    show.cameras().get(name).map(|entry| &entry.item).ok_or_else(|| {
        Failure::new(format!("{option}: {}", unknown("camera", name, show.cameras().keys().map(String::as_str))))
    })
}

/// The chart that the frames show.
fn chart(args: &Args) -> Result<Chart, Failure> {
    let Some(path) = &args.patches else { return Ok(classic()) };
    let layout = args.layout.as_deref().map(|text| {
        let pair =
            text.split_once(['x', 'X']).and_then(|(a, b)| Some([a.trim().parse().ok()?, b.trim().parse().ok()?]));
        pair.ok_or_else(|| Failure::new(format!("--layout: `{text}`: it must be COLUMNSxROWS, such as 6x4")))
    });
    let chart = file::parse(&read_text(path)?, layout.transpose()?);
    let chart = chart.map_err(|why| match why {
        ChartError::File(0, why) => Failure::new(format!("{}: {why}", path.display())),
        ChartError::File(line, why) => Failure::new(format!("{}:{line}: {why}", path.display())),
        other => failure(other),
    })?;
    let name = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(Chart { name, source: system::in_document(path), ..chart })
}

/// The light of each frame.
fn lights(args: &Args) -> Result<Vec<Light>, Failure> {
    let lights = args.light.iter().map(|text| light("--light", text)).collect::<Result<Vec<Light>, Failure>>()?;
    match lights.len() {
        1 => Ok(vec![lights[0].clone(); args.frames.len()]),
        n if n == args.frames.len() => Ok(lights),
        n => Err(Failure::new(format!(
            "--light: {n} lights for {} frames: give one, or one for each",
            args.frames.len()
        ))),
    }
}

fn corners(args: &Args) -> Result<Option<[[f64; 2]; 4]>, Failure> {
    if args.corners.is_empty() {
        return Ok(None);
    }
    if args.frames.len() > 1 || !args.matched.is_empty() {
        return Err(Failure::new("--corners are those of one frame: give one frame, without --match"));
    }
    let mut corners = [[0.0; 2]; 4];
    for (corner, text) in corners.iter_mut().zip(&args.corners) {
        let pair = text.split_once(',').and_then(|(x, y)| Some([x.trim().parse().ok()?, y.trim().parse().ok()?]));
        *corner = pair.filter(|c: &[f64; 2]| c.iter().all(|v| v.is_finite())).ok_or_else(|| {
            Failure::new(format!("--corners: `{text}`: it must be X,Y in pixels, such as 412,230; four of them"))
        })?;
    }
    Ok(Some(corners))
}

/// The frames of the other camera.
fn others(args: &Args, show: &Show, chart: &Chart, lights: &[Light]) -> Result<Vec<Shot>, Failure> {
    if args.matched.len() != args.frames.len() {
        return Err(Failure::new(format!(
            "--match: {} frames for {}: give one of the other camera for each",
            args.matched.len(),
            args.frames.len()
        )));
    }
    let name = args.to.as_deref().unwrap_or_default();
    let camera = of_show(show, "--to", name)?;
    let claim = Claim { name: name.to_owned(), curve: camera.shared_curve(), range: camera.range() };
    let input = Input::of(args);
    let one = |(path, light)| input.read(path, chart, light, (&claim, Some(camera)), None).map(|r| r.shot);
    args.matched.iter().map(PathBuf::as_path).zip(lights).map(one).collect()
}

/// The colours by the frames of each light alone.
fn by_light(chart: &Chart, shots: &[Shot]) -> Result<Vec<(Light, Colours)>, Failure> {
    let mut lights: Vec<&Light> = Vec::new();
    for shot in shots {
        if lights.iter().all(|l| l.name != shot.light.name) {
            lights.push(&shot.light);
        }
    }
    let one = |light: &Light| -> Result<(Light, Colours), Failure> {
        let own: Vec<Shot> = shots.iter().filter(|s| s.light.name == light.name).cloned().collect();
        Ok((light.clone(), colours(chart, &own, None).map_err(failure)?))
    };
    lights.into_iter().map(one).collect()
}

/// The matrix for a light between two that were shot.
fn between(by_light: &[(Light, Colours)], kelvin: f64) -> Result<(f64, LightMatrix), Failure> {
    let [(one, a), (two, b)] = by_light else {
        return Err(Failure::new(format!("--kelvin needs frames in two lights, and these are in {}", by_light.len())));
    };
    let (low, high) = (one.kelvin.min(two.kelvin), one.kelvin.max(two.kelvin));
    if !(low..=high).contains(&kelvin) {
        return Err(Failure::new(format!("--kelvin: {kelvin} lies outside the two lights, {low:.0} to {high:.0} K")));
    }
    let matrix = camera::between((&a.matrix, one.kelvin), (&b.matrix, two.kelvin), kelvin);
    Ok((kelvin, LightMatrix::new(matrix).map_err(Failure::refused)?))
}

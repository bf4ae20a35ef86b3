//! Reference frames: the signal of each camera, and the picture that each look, display and shot makes of it, so that post
//! can prove that its chain is the same.

use super::collect::Parcel;
use crate::failure::Failure;
use crate::frame_input::{self, FrameIs};
use crate::picture::Scene;
use rayon::prelude::*;
use rushlight::apply::tags::tags;
use rushlight::frame::{self, Depth, Format, Frame, Info, ReadOptions, Tags};
use rushlight::handoff::{About, File};
use rushlight::show::{Job, Show, slug};
use rushlight::slate;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Pixels down a row of the chart.
const ROW: usize = 8;
/// Bits of the files.
const DEPTH: Depth = Depth::Integer(16);
const CODES: f64 = 65535.0;

/// A frame as the signal of one camera, as its file has it.
struct Signal {
    camera: String,
    /// What it is called in file names.
    name: String,
    width: usize,
    codes: Vec<[f64; 3]>,
}

/// Adds the chart of every camera, and `stills`, with the expected pictures.
pub(super) fn add(parcel: &mut Parcel, show: &Show, stills: &[PathBuf], is: &FrameIs) -> Result<(), Failure> {
    // Points are of the cubes; the pictures are of the exact path.
    let mut seen = BTreeSet::new();
    let all = show.jobs().into_iter().chain(show.shot_jobs()).map(|job| job.with_points(0));
    let jobs: Vec<Job<'_>> = all.filter(|job| seen.insert(*job)).collect();
    let used: BTreeSet<&str> = jobs.iter().map(|job| job.camera().name).collect();
    let mut signals = Vec::new();
    for (name, camera) in show.cameras().iter().filter(|(name, _)| used.contains(name.as_str())) {
        let chart = Scene::chart(&camera.item, ROW, 0);
        signals.push(signal(name, "chart", chart.width, chart.signals));
    }
    for path in stills {
        still(&mut signals, show, path, is, &used)?;
    }
    let title = slug(show.title());
    for Signal { camera, name, width, codes } in &signals {
        let entry = &show.cameras()[camera];
        let lines = [
            slate::made(),
            "samples: camera signal".to_owned(),
            format!("show: {}", show.title()),
            format!("camera: {} ({})", entry.label, entry.id),
        ];
        let file = format!("reference/{title}_{camera}_{name}.tif");
        let bytes = file_of(codes, *width, Format::Tiff, Tags::default(), &lines.join("\n"))?;
        let frame = File::new(&*file, bytes, "reference frame of a camera");
        parcel.add(&frame.with(About::Frame { camera: camera.clone() }))?;
        for job in jobs.iter().filter(|job| job.camera().name == camera) {
            let display = job.display();
            let pictured = expected(job, codes)?;
            let text = slate::of_signal(slate::lines(job), Some(display.item())).join("\n");
            let bytes = file_of(&pictured, *width, Format::Png, tags(display.item()), &text)?;
            let stem = job.file_stem();
            let stem = stem.strip_suffix("_0").unwrap_or(&stem);
            let about = About::Expected {
                shot: job.shot().map(str::to_owned),
                look: job.look().name.to_owned(),
                camera: camera.clone(),
                display: display.name.to_owned(),
                of: file.clone(),
            };
            let name = format!("reference/{stem}_{name}.png");
            parcel.add(&File::new(name, bytes, "expected picture of a reference frame").with(about))?;
        }
    }
    Ok(())
}

/// The nearest codes of 16 bits, which is what the file holds and what the pictures are made of.
fn signal(camera: &str, name: &str, width: usize, signals: Vec<[f64; 3]>) -> Signal {
    let code = |v: f64| (v.clamp(0.0, 1.0) * CODES).round() / CODES;
    let codes = signals.into_iter().map(|rgb| rgb.map(code)).collect();
    Signal { camera: camera.to_owned(), name: name.to_owned(), width, codes }
}

/// A still of the crew: as it is for the camera that recorded it, or light through every camera.
fn still(
    signals: &mut Vec<Signal>,
    show: &Show,
    path: &Path,
    is: &FrameIs,
    used: &BTreeSet<&str>,
) -> Result<(), Failure> {
    let stem = path.file_stem().map(|stem| slug(&stem.to_string_lossy())).unwrap_or_default();
    if signals.iter().any(|s| s.name == stem) {
        return Err(Failure::new(format!("--frame {}: another frame has this name: {stem}", path.display())));
    }
    let of_show = is.frame_camera.as_deref().filter(|name| show.cameras().contains_key(*name));
    if let Some(camera) = of_show {
        let bytes = crate::disk::read_bytes(path)?;
        let frame = frame::read(&bytes, &ReadOptions::default()).map_err(|e| Failure::picture(path, &e))?;
        let codes = frame.pixels().map(|rgb| rgb.map(f64::from)).collect();
        signals.push(signal(camera, &stem, frame.width(), codes));
        return Ok(());
    }
    let light = frame_input::light(path, is, Some(show))?;
    for (name, camera) in show.cameras().iter().filter(|(name, _)| used.contains(name.as_str())) {
        let codes = light.pixels().map(|rgb| camera.item.encode(rgb.map(f64::from)).0).collect();
        signals.push(signal(name, &stem, light.width(), codes));
    }
    Ok(())
}

/// What the exact path makes of codes; a colour that stands there many times, once.
fn expected(job: &Job<'_>, codes: &[[f64; 3]]) -> Result<Vec<[f64; 3]>, Failure> {
    let pipeline = job.pipeline().map_err(|refused| Failure::of_path(job.look().name, job.display().name, refused))?;
    let bits = |rgb: &[f64; 3]| rgb.map(f64::to_bits);
    let each: BTreeSet<[u64; 3]> = codes.iter().map(bits).collect();
    let each: Vec<[u64; 3]> = each.into_iter().collect();
    let made: Vec<[f64; 3]> = each.par_iter().map(|rgb| pipeline.apply(rgb.map(f64::from_bits)).0).collect();
    let made: BTreeMap<[u64; 3], [f64; 3]> = each.into_iter().zip(made).collect();
    Ok(codes.iter().map(|rgb| made[&bits(rgb)]).collect())
}

fn file_of(codes: &[[f64; 3]], width: usize, format: Format, tags: Tags, text: &str) -> Result<Vec<u8>, Failure> {
    let samples = codes.iter().flatten().map(|v| *v as f32).collect();
    let mut info = Info { tags, ..Info::new(format, DEPTH) };
    frame::describe(&mut info, text, |_| true);
    let frame = Frame::new(width, codes.len() / width, false, samples, info);
    let bytes = frame.and_then(|frame| frame::write(&frame, format, DEPTH));
    bytes.map_err(|e| Failure::new(format!("a reference frame: {e}")))
}

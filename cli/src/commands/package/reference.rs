//! Reference frames: the signal of each camera, and the picture that each look, display and shot makes of it, so that post
//! can prove that its chain is the same.

use super::collect::Parcel;
use crate::failure::Failure;
use crate::frame_input::{self, FrameIs};
use crate::frames;
use rayon::prelude::*;
use rushlight::apply::tags::tags;
use rushlight::camera::Camera;
use rushlight::chain::draw;
use rushlight::chain::mark::Mark;
use rushlight::frame::{self, Depth, Format, Frame, Info, ReadOptions, Tags};
use rushlight::handoff::{About, File};
use rushlight::show::{Job, Show, slug};
use rushlight::slate;
use std::collections::{BTreeSet, HashMap};
use std::path::{Path, PathBuf};

/// Pixels of the chart: the fewest that one has, which a whole number makes HD and UHD of.
const SIZE: [u16; 2] = [960, 540];
/// What it is called in file names.
const CHART: &str = "chart";
/// Bits of the files.
const DEPTH: Depth = Depth::Integer(16);
const CODES: f64 = 65535.0;

/// A frame as the signal of one camera, as its file has it.
struct Signal {
    camera: String,
    /// What it is called in file names.
    name: String,
    width: usize,
    /// Its colours, each once.
    colours: Vec<[f64; 3]>,
    /// Which colour each pixel has, row by row.
    pixels: Vec<u32>,
}

impl Signal {
    /// With the nearest codes of 16 bits, which is what the file holds and what the pictures are made of.
    fn new(camera: &str, name: &str, width: usize, signals: impl Iterator<Item = [f64; 3]>) -> Self {
        let code = |v: f64| (v.clamp(0.0, 1.0) * CODES).round() as u16;
        let (mut colours, mut places) = (Vec::new(), HashMap::new());
        let pixels = signals.map(|rgb| {
            let codes = rgb.map(code);
            *places.entry(codes).or_insert_with(|| {
                colours.push(codes.map(|code| f64::from(code) / CODES));
                colours.len() as u32 - 1
            })
        });
        let pixels = pixels.collect();
        Self { camera: camera.to_owned(), name: name.to_owned(), width, colours, pixels }
    }

    /// A file in which each colour is that at its place in `colours`.
    fn file(&self, colours: &[[f64; 3]], format: Format, tags: Tags, text: &str) -> Result<Vec<u8>, Failure> {
        let samples = self.pixels.iter().flat_map(|at| colours[*at as usize]).map(|v| v as f32).collect();
        let mut info = Info { tags, ..Info::new(format, DEPTH) };
        frame::describe(&mut info, text, |_| true);
        let frame = Frame::new(self.width, self.pixels.len() / self.width, false, samples, info);
        let bytes = frame.and_then(|frame| frame::write(&frame, format, DEPTH));
        bytes.map_err(|e| Failure::new(format!("a reference frame: {e}")))
    }
}

/// Adds the chart of every camera, and `stills`, with the expected pictures.
pub(super) fn add(parcel: &mut Parcel, show: &Show, stills: &[PathBuf], is: &FrameIs) -> Result<(), Failure> {
    // Points are of the cubes; the pictures are of the exact path.
    let mut seen = BTreeSet::new();
    let all = show.jobs().into_iter().chain(show.shot_jobs()).map(|job| job.with_points(0));
    let jobs: Vec<Job<'_>> = all.filter(|job| seen.insert(*job)).collect();
    let used: BTreeSet<&str> = jobs.iter().map(|job| job.camera().name).collect();
    let title = slug(show.title());
    let stills = stills.iter().map(|path| Still::read(path, show, is)).collect::<Result<Vec<_>, _>>()?;
    for (i, still) in stills.iter().enumerate() {
        if still.name == CHART || stills[..i].iter().any(|other| other.name == still.name) {
            let path = still.path.display();
            return Err(Failure::new(format!("--frame {path}: another frame has this name: {}", still.name)));
        }
    }
    // Camera by camera, so that the signals of one are in memory at once.
    for (name, camera) in show.cameras() {
        let is_used = used.contains(name.as_str());
        if is_used {
            let mark = Mark::new(&format!("{title}_{name}"), SIZE, draw::stops(&camera.item));
            let chart = draw::chart(&mark).map_err(|why| Failure::new(why.message))?;
            let chart = Signal::new(name, CHART, chart.width(), chart.pixels().map(|rgb| rgb.map(f64::from)));
            of_signal(parcel, show, &jobs, &chart, &title)?;
        }
        // A frame of a camera is its own, also where no cube is for that camera.
        for signal in
            stills.iter().filter(|s| is_used || s.camera.is_some()).filter_map(|s| s.signal(name, &camera.item))
        {
            of_signal(parcel, show, &jobs, &signal, &title)?;
        }
    }
    Ok(())
}

/// Adds a signal, and the expected pictures of every job of its camera.
fn of_signal(parcel: &mut Parcel, show: &Show, jobs: &[Job<'_>], signal: &Signal, title: &str) -> Result<(), Failure> {
    let Signal { camera, name, .. } = signal;
    let entry = &show.cameras()[camera];
    let lines = [
        slate::made(),
        "samples: camera signal".to_owned(),
        format!("show: {}", show.title()),
        format!("camera: {} ({})", entry.label, entry.id),
    ];
    let file = format!("reference/{title}_{camera}_{name}.tif");
    let bytes = signal.file(&signal.colours, Format::Tiff, Tags::default(), &lines.join("\n"))?;
    let frame = File::new(&*file, bytes, "reference frame of a camera");
    parcel.add(&frame.with(About::Frame { camera: camera.clone() }))?;
    let of: Vec<&Job<'_>> = jobs.iter().filter(|job| job.camera().name == camera).collect();
    let made = |job: &&Job<'_>| expected(job, signal);
    // Two a thread at a time: all of them may be too many for memory.
    let bytes =
        of.chunks(2 * rayon::current_num_threads()).flat_map(|jobs| jobs.par_iter().map(made).collect::<Vec<_>>());
    for (job, bytes) in of.iter().zip(bytes) {
        let stem = job.file_stem();
        let stem = stem.strip_suffix("_0").unwrap_or(&stem);
        let about = About::Expected {
            shot: job.shot().map(str::to_owned),
            look: job.look().name.to_owned(),
            camera: camera.clone(),
            display: job.display().name.to_owned(),
            of: file.clone(),
        };
        let name = format!("reference/{stem}_{name}.png");
        parcel.add(&File::new(name, bytes?, "expected picture of a reference frame").with(about))?;
    }
    Ok(())
}

/// What the exact path makes of a signal, as a file.
fn expected(job: &Job<'_>, signal: &Signal) -> Result<Vec<u8>, Failure> {
    let pipeline = job.pipeline().map_err(|refused| Failure::of_path(job.look().name, job.display().name, refused))?;
    let made: Vec<[f64; 3]> = signal.colours.par_iter().map(|rgb| pipeline.apply(*rgb).0).collect();
    let display = job.display().item();
    let text = slate::of_signal(slate::lines(job), Some(display)).join("\n");
    signal.file(&made, Format::Png, tags(display), &text)
}

/// A still of the crew.
struct Still<'p> {
    path: &'p Path,
    /// What it is called in file names.
    name: String,
    /// The camera that recorded it; none for light, which every camera then sees.
    camera: Option<&'p str>,
    frame: Frame,
}

impl<'p> Still<'p> {
    fn read(path: &'p Path, show: &Show, is: &'p FrameIs) -> Result<Self, Failure> {
        let name = path.file_stem().map(|stem| slug(&stem.to_string_lossy())).unwrap_or_default();
        let camera = is.frame_camera.as_deref().filter(|name| show.cameras().contains_key(*name));
        let frame = match camera {
            Some(_) => frames::still(path, &ReadOptions::default())?,
            None => frame_input::light(path, is, Some(show))?,
        };
        Ok(Self { path, name, camera, frame })
    }

    /// As the signal of a camera; none for the signal of another.
    fn signal(&self, name: &str, camera: &Camera) -> Option<Signal> {
        let Self { frame, .. } = self;
        let pixels = frame.pixels().map(|rgb| rgb.map(f64::from));
        match self.camera {
            Some(own) => (own == name).then(|| Signal::new(name, &self.name, frame.width(), pixels)),
            None => Some(Signal::new(name, &self.name, frame.width(), pixels.map(|rgb| camera.encode(rgb).0))),
        }
    }
}

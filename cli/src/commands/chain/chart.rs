//! `chain chart`

use super::cubes::Expected;
use super::size;
use crate::args::{ChainChart as Args, ChartFormat};
use crate::disk::{Batch, Pending, maker};
use crate::failure::Failure;
use crate::ffmpeg::{self, Clip, Encoder, Layout, Output};
use crate::output;
use crate::progress::Progress;
use rayon::prelude::*;
use rushlight::apply::planes;
use rushlight::apply::tags::{Codes, code};
use rushlight::camera::Range;
use rushlight::chain::bank::{Candidate, Reading};
use rushlight::chain::draw;
use rushlight::chain::mark::Mark;
use rushlight::frame::{self, Depth, Format, Frame, Info};
use rushlight::slate;
use serde::Serialize;
use std::fmt::Write as _;

/// The list of the files of a run, by which the next one knows them.
const LIST: &str = "chart.json";

/// What that list says.
#[derive(Serialize)]
struct List<'a> {
    schema: u32,
    tool: &'static str,
    cube: &'a str,
    files: &'a [String],
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let size = size(&args.size)?;
    let expected = Expected::of(&args.of, None)?;
    let name = expected.cube.name.clone();
    let chart = draw::chart(&Mark::new(&name, size, expected.stops)).map_err(|why| Failure::new(why.message))?;
    let stem = format!("{name}_chart_{}x{}", size[0], size[1]);
    let mut batch = Batch::of_our_names(&args.out, Some(LIST), args.force)?;
    let mut signal = expected.slate.clone();
    signal.insert(1.min(signal.len()), "samples: camera signal".to_owned());
    let mut files = Vec::new();
    let mut clips = Vec::new();
    for format in &args.format {
        let (kind, depth) = match format {
            ChartFormat::Png => (Format::Png, Depth::Integer(16)),
            ChartFormat::Tiff => (Format::Tiff, Depth::Integer(16)),
            ChartFormat::Dpx => (Format::Dpx, Depth::Integer(10)),
            ChartFormat::Exr => (Format::Exr, Depth::Float),
            ChartFormat::Intra | ChartFormat::Lossless => {
                clips.push(clip(args, *format, &stem, &chart)?);
                continue;
            }
        };
        let file = format!("{stem}.{}", kind.extensions()[0]);
        batch.add(&file, written(&chart, kind, depth, &signal)?)?;
        files.push(file);
    }
    let shown = format!("{stem}_expected.png");
    let slate = slate::of_signal(expected.slate.clone(), Some(&expected.display));
    batch.add(&shown, written(&through(&chart, &expected.cube), Format::Png, Depth::Integer(16), &slate)?)?;
    let mut all = files.clone();
    all.push(shown.clone());
    let list = List { schema: 1, tool: "rushlight", cube: &name, files: &all };
    batch.add(LIST, output::json(&list)?)?;
    batch.finish()?;
    for (file, pending) in clips {
        pending.finish()?;
        files.push(file);
    }
    let mut text = format!("Chart for {name}, {} x {} pixels\n\n", size[0], size[1]);
    for file in files {
        let _ = writeln!(text, "  {}", args.out.join(file).display());
    }
    let _ = writeln!(text, "\nThe expected capture:\n  {}\n", args.out.join(shown).display());
    let how = "The chart is camera signal. Play it where the camera's signal enters the chain, at its own size and \
               untouched: no scaling, no colour management, no other cube. Then capture a frame at the end of the \
               chain and give it to `rushlight chain check`.";
    text += &output::wrap(how, output::COLUMNS).join("\n");
    text.push('\n');
    output::print(&text)
}

/// The bytes of a still with what it is of, if that is known.
fn written(frame: &Frame, format: Format, depth: Depth, slate: &[String]) -> Result<Vec<u8>, Failure> {
    let mut frame = frame.clone();
    if slate.first().is_some_and(|first| *first == slate::made()) {
        frame.info.maker = Some(maker());
        frame::describe(&mut frame.info, &slate.join("\n"), |_| true);
    }
    frame::write(&frame, format, depth).map_err(|e| Failure::new(format!("cannot draw the chart: {e}")))
}

/// The chart through the right cube.
fn through(chart: &Frame, cube: &Candidate) -> Frame {
    let mut shown = chart.clone();
    shown.info = Info::new(Format::Png, Depth::Integer(16));
    shown.samples_mut().par_chunks_exact_mut(3).for_each(|pixel| {
        let out = cube.at([pixel[0], pixel[1], pixel[2]].map(f64::from), Reading::default());
        (0..3).for_each(|c| pixel[c] = out[c] as f32);
    });
    shown
}

/// A clip of the chart, under a temporary name.
fn clip(args: &Args, format: ChartFormat, stem: &str, chart: &Frame) -> Result<(String, Pending), Failure> {
    let (layout, codec, pixels, matrix, extension): (_, &[&str], _, _, _) = match format {
        ChartFormat::Intra => {
            let codec = &["-c:v", "dnxhd", "-profile:v", "dnxhr_hqx"];
            ("yuv444p10le", codec, "yuv422p10le", "bt709", "mov")
        }
        _ => ("gbrp10le", &["-c:v", "ffv1", "-level", "3", "-g", "1", "-slicecrc", "1"], "gbrp10le", "gbr", "mkv"),
    };
    if ffmpeg::encoder_formats(codec[1])?.is_none() {
        return Err(Failure::new(format!("the ffmpeg of this machine has no encoder `{}`: give stills", codec[1])));
    }
    let rate = rate(&args.rate)?;
    let frames = (rate * f64::from(args.seconds)).round().max(1.0) as usize;
    let file = format!("{stem}.{extension}");
    let path = args.out.join(&file);
    if path.exists() && !args.force {
        return Err(Failure::new(format!("{} is there: name another folder, or give --force", path.display())));
    }
    let pending = Pending::new(&path)?;
    let layout = Layout::named(layout).ok_or_else(|| Failure::new("a layout that is not known"))?;
    let mut raw = vec![0; layout.planes.size(chart.width() * chart.height()).unwrap_or(0)];
    // As in a camera's recording, codes of luma are those of the signal.
    let range = if format == ChartFormat::Intra { Range::Legal } else { Range::Full };
    planes::store(chart, (layout.planes, &mut raw), range);
    let clip = Clip::of_stills(chart.width(), chart.height(), layout.clone(), &args.rate);
    let codec: Vec<String> = codec.iter().map(|word| (*word).to_owned()).collect();
    let codes = Codes { primaries: code::UNSPECIFIED, transfer: code::UNSPECIFIED };
    let (layout, path) = (&layout, pending.path());
    let comment = &rushlight::slate::made();
    let out =
        Output { from: None, clip: &clip, layout, codec: &codec, pixels, width: None, codes, matrix, comment, path };
    let mut encoder = Encoder::start(&out)?;
    let progress = Progress::new(frames, "{pos}/{len} frames, {eta} left");
    let mut given = Ok(());
    for _ in 0..frames {
        given = encoder.give(&raw);
        if given.is_err() {
            break;
        }
        progress.step();
    }
    progress.end();
    let fail = |why: String| Failure::new(format!("cannot write {file}: {why}"));
    encoder.end().map_err(fail)?;
    given.map_err(|e| fail(e.to_string()))?;
    Ok((file, pending))
}

/// Frames per second: a number, or a ratio such as 24000/1001.
fn rate(text: &str) -> Result<f64, Failure> {
    let (over, under) = text.split_once('/').unwrap_or((text, "1"));
    let rate = over.parse::<f64>().ok().zip(under.parse::<f64>().ok()).map(|(o, u)| o / u);
    rate.filter(|r| (1.0..=240.0).contains(r)).ok_or_else(|| {
        Failure::new(format!("--rate: `{text}`: it must lie between 1 and 240, such as 25 or 24000/1001"))
    })
}

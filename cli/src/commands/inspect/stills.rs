//! What a still or a clip is: its samples, its tags, and whose it is.

use super::NAMES;
use super::slate::{fields, is_beyond, origin};
use crate::args::Inspect;
use crate::failure::{BEYOND, Failure};
use crate::ffmpeg::Clip;
use crate::frames;
use crate::output::{self, push_entry};
use rushlight::frame::{Frame, ReadOptions};
use rushlight::image_state;
use rushlight::inspect::report::{self, File, Origin, Report, Still};
use rushlight::slate::Slate;
use std::process::ExitCode;

pub(super) fn no_table(args: &Inspect) -> Result<(), Failure> {
    if args.strict || args.plot.is_some() {
        return Err(Failure::new("--strict, --plot: for tables, not for pictures and pages"));
    }
    Ok(())
}

pub(super) fn still(args: &Inspect) -> Result<ExitCode, Failure> {
    no_table(args)?;
    let frame = frames::still(&args.file, &ReadOptions::default())?;
    let origin = origin(Slate::of_frame(&frame), args)?;
    let state = match image_state::of(&frame) {
        Ok(known) => format!("{}, by {}", known.state, known.by),
        Err(why) => format!("not known: {why}"),
    };
    let info = &frame.info;
    let kind = format!(
        "{}, {} x {} pixels, {}{}",
        info.format.name(),
        frame.width(),
        frame.height(),
        info.depth,
        alpha(&frame)
    );
    let fields = [("kind", kind), ("samples", state), ("tags", tags(&frame))];
    report(args, &fields, Still::of(&frame), Report::Still, origin)
}

pub(super) fn clip(args: &Inspect) -> Result<ExitCode, Failure> {
    no_table(args)?;
    let clip = Clip::open(&args.file)?;
    let origin = origin(clip.comment.as_deref().and_then(Slate::parse), args)?;
    let frames = clip.frames.map(|n| format!(", {n} frames")).unwrap_or_default();
    let kind = format!("clip, {} x {} pixels, {} frames per second{frames}", clip.width, clip.height, clip.rate);
    let or_none = |text: &Option<String>| text.clone().unwrap_or_else(|| "none".to_owned());
    let fields = [("kind", kind), ("timecode", or_none(&clip.timecode)), ("reel", or_none(&clip.reel))];
    let Clip { width, height, rate, frames, timecode, reel, .. } = clip;
    let what = report::Clip { format: "clip", width, height, rate, frames, timecode, reel };
    report(args, &fields, what, Report::Clip, origin)
}

fn alpha(frame: &Frame) -> &'static str {
    if frame.alpha() { ", with alpha" } else { "" }
}

/// What a file says of its colours, in words.
fn tags(frame: &Frame) -> String {
    let tags = &frame.info.tags;
    let mut said = Vec::new();
    said.extend(tags.cicp.map(|c| {
        format!("code points {}-{}-{}-{} (ITU-T H.273)", c.primaries, c.transfer, c.matrix, u8::from(c.full_range))
    }));
    said.extend(tags.srgb.then(|| "sRGB".to_owned()));
    said.extend(tags.icc.as_ref().map(|icc| format!("an ICC profile of {} bytes", icc.len())));
    said.extend(tags.chromaticities.map(|[r, g, b, w]| {
        let xy = |c: rushlight::chromaticity::Xy| format!("{:.4} {:.4}", c.x, c.y);
        format!("primaries {}, {}, {}, white {}", xy(r), xy(g), xy(b), xy(w))
    }));
    if said.is_empty() { "none".to_owned() } else { said.join("; ") }
}

/// Prints what a file is, as lines of text or as the report that `of` makes of it.
pub(super) fn report<T>(
    args: &Inspect,
    lines: &[(&str, String)],
    what: T,
    of: fn(File<T>) -> Report,
    origin: Origin,
) -> Result<ExitCode, Failure> {
    let is_beyond = is_beyond(&origin, args);
    if args.json {
        output::print_json(&of(File::new(args.file.display().to_string(), what, origin)))?;
    } else {
        let mut text = format!("{}\n", args.file.display());
        let more = fields(&origin, args);
        for (name, said) in lines.iter().map(|(n, s)| (*n, s)).chain(more.iter().map(|(n, s)| (*n, s))) {
            push_entry(&mut text, NAMES, name, said);
        }
        output::print(&text)?;
    }
    Ok(if is_beyond { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

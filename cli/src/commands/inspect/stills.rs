//! What a still or a clip is: its samples, its tags, and whose it is.

use super::slate::Whose;
use crate::args::Inspect;
use crate::failure::{BEYOND, Failure};
use crate::ffmpeg::Clip;
use crate::frames;
use crate::output::{self, COLUMNS, wrap};
use rushlight::frame::{self, Frame, ReadOptions};
use rushlight::image_state;
use rushlight::slate::Slate;
use serde_json::{Value, json};
use std::fmt::Write as _;
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
    let whose = Whose::of(Slate::of_frame(&frame), args)?;
    let (state, json_state) = match image_state::of(&frame) {
        Ok(known) => (format!("{}, by {}", known.state, known.by), json!(known.state.to_string())),
        Err(why) => (format!("not known: {why}"), Value::Null),
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
    report(
        args,
        &[("kind", kind), ("samples", state), ("tags", tags(&frame))],
        &whose,
        json!({
            "format": info.format.name(), "width": frame.width(), "height": frame.height(), "bits": info.depth.bits(),
            "samples": json_state, "description": frame::description(info),
        }),
    )
}

pub(super) fn clip(args: &Inspect) -> Result<ExitCode, Failure> {
    no_table(args)?;
    let clip = Clip::open(&args.file)?;
    let whose = Whose::of(clip.comment.as_deref().and_then(Slate::parse), args)?;
    let frames = clip.frames.map(|n| format!(", {n} frames")).unwrap_or_default();
    let kind = format!("clip, {} x {} pixels, {} frames per second{frames}", clip.width, clip.height, clip.rate);
    let or_none = |text: &Option<String>| text.clone().unwrap_or_else(|| "none".to_owned());
    report(
        args,
        &[("kind", kind), ("timecode", or_none(&clip.timecode)), ("reel", or_none(&clip.reel))],
        &whose,
        json!({
            "format": "clip", "width": clip.width, "height": clip.height, "rate": clip.rate, "frames": clip.frames,
            "timecode": clip.timecode, "reel": clip.reel,
        }),
    )
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

pub(super) fn report(
    args: &Inspect,
    fields: &[(&str, String)],
    whose: &Whose,
    mut json: Value,
) -> Result<ExitCode, Failure> {
    if args.json {
        json["schema"] = 1.into();
        json["file"] = args.file.display().to_string().into();
        json["slate"] = whose.json();
        output::print_json(&json)?;
    } else {
        let mut text = format!("{}\n", args.file.display());
        let more = whose.fields(args);
        for (name, said) in fields.iter().map(|(n, s)| (*n, s)).chain(more.iter().map(|(n, s)| (*n, s))) {
            for (i, part) in wrap(said, COLUMNS - 17).into_iter().enumerate() {
                let _ = writeln!(text, "  {:<14} {part}", if i == 0 { name } else { "" });
            }
        }
        output::print(&text)?;
    }
    Ok(if whose.is_beyond(args) { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS })
}

//! `chain check`

use super::cubes::Expected;
use super::{page, text};
use crate::args::{ChainCheck as Args, ClipCodes};
use crate::failure::{BEYOND, COULD_NOT_RUN, Failure};
use crate::ffmpeg::{self, Clip};
use crate::formats::{deliver, wanted};
use crate::frames::{is_still, needs_file, still};
use crate::output;
use rushlight::apply::planes::{Coding, Planes};
use rushlight::camera::Range;
use rushlight::chain::find::Lost;
use rushlight::chain::read::{Reading, read};
use rushlight::chain::report::{Report, SCHEMA, Verdict, judge};
use rushlight::difference::Difference;
use rushlight::frame::{Frame, ReadOptions};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Text,
    Json,
    Csv,
    Html,
}

const FORMATS: [(&str, Format); 4] =
    [("text", Format::Text), ("json", Format::Json), ("csv", Format::Csv), ("html", Format::Html)];

/// A capture that was read.
struct Captured {
    label: String,
    path: PathBuf,
    frame: Frame,
    reading: Result<Reading, Lost>,
}

pub(super) fn run(args: &Args) -> Result<ExitCode, Failure> {
    let wanted = wanted(&args.format, &FORMATS)?;
    let captured = args.captures.iter().map(|text| capture(text, args)).collect::<Result<Vec<_>, _>>()?;
    let mark = captured.iter().find_map(|c| c.reading.as_ref().ok().and_then(|r| r.mark.as_ref()));
    let expected = Expected::of(&args.of, mark.map(|m| m.name.as_str()))?;
    let origin = expected.origin.clone();
    let (bank, display, notes) = expected.bank(&args.with)?;
    notes.iter().for_each(|note| output::note(note));
    let difference = Difference::on(&display);
    let mut frames = Vec::new();
    let mut captures = Vec::new();
    for Captured { label, path, frame, reading } in captured {
        let file = path.display().to_string();
        captures.push(judge([&label, &file], reading, &bank, &difference, args.photo));
        frames.push(frame);
    }
    let report = Report {
        schema: SCHEMA,
        expected: bank.expected().name.clone(),
        origin,
        points: bank.expected().points(),
        difference: difference.formula().name().to_owned(),
        captures,
    };
    let verdicts = report.captures.iter().map(|c| format!("{}: {}", c.label, text::word(c.verdict)));
    deliver(&wanted, &verdicts.collect::<Vec<_>>().join("; "), |format| match format {
        Format::Text => Ok(text::text(&report, difference.formula().title())),
        Format::Json => output::json(&report),
        Format::Csv => text::csv(&report),
        Format::Html => page::html(&report, &frames, difference.formula().title()),
    })?;
    let verdict = |v: Verdict| report.captures.iter().any(|c| c.verdict == v);
    Ok(match () {
        () if verdict(Verdict::Wrong) => ExitCode::from(BEYOND),
        () if verdict(Verdict::Unknown) => ExitCode::from(COULD_NOT_RUN),
        () => ExitCode::SUCCESS,
    })
}

/// NAME=FILE, or FILE.
fn capture(text: &str, args: &Args) -> Result<Captured, Failure> {
    let whole = PathBuf::from(text);
    let (label, path) = match text.split_once('=') {
        Some((label, path)) if !whole.exists() => (label.to_owned(), PathBuf::from(path)),
        _ => (whole.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(), whole),
    };
    let frame = picture(&path, args)?;
    Ok(Captured { label, reading: read(&frame), frame, path })
}

fn picture(path: &Path, args: &Args) -> Result<Frame, Failure> {
    let limits = args.memory.limits();
    if is_still(path) {
        return still(path, &ReadOptions { layer: None, limits });
    }
    needs_file(path)?;
    let coding = Clip::open(path)?.layout.planes;
    let mut frames = ffmpeg::frames(path, 1, limits)?;
    let mut frame = frames.pop().ok_or_else(|| Failure::new(format!("cannot read {}: no frame", path.display())))?;
    if args.clip_codes == ClipCodes::Tagged {
        expand(&mut frame, coding);
    }
    Ok(frame)
}

/// Codes of legal range to signal, as players expand them.
fn expand(frame: &mut Frame, planes: Planes) {
    let Planes { bits, coding: Coding::Luma { full: false, .. }, .. } = planes else { return };
    let [black, white] = [0.0, 1.0].map(|v| Range::Legal.sample(v, bits) as f32);
    let swing = white - black;
    frame.samples_mut().iter_mut().for_each(|v| *v = ((*v - black) / swing).clamp(0.0, 1.0));
}

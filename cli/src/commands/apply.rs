//! `apply`

mod clips;
mod encoder;
mod files;
mod folders;
mod frames;
mod how;
mod listed;
mod plan;
mod pump;
mod raw;
mod report;
mod stills;

use crate::args::{Apply as Args, OnError};
use crate::failure::{BEYOND, Failure};
use crate::output;
use plan::Direction;
use raw::Raw;
use report::Outcome;
use rushlight::apply::report::{RawReport, SCHEMA};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

pub(crate) fn run(args: &Args) -> Result<ExitCode, Failure> {
    let (document, files) = match (&args.cube, args.files.split_first()) {
        (None, Some((document, files))) => (Some(document.as_path()), files),
        _ => (None, args.files.as_slice()),
    };
    let [inputs @ .., output] = files else { return Err(Failure::new(usage(args))) };
    if inputs.is_empty() {
        return Err(Failure::new(usage(args)));
    }
    if args.jobs == Some(0) {
        return Err(Failure::new("--jobs: 0 is out of range: it must be at least 1"));
    }
    let how = || match (&args.cube, document) {
        (Some(cube), _) => how::cube(cube, args),
        (None, document) => how::show(document.unwrap_or(Path::new("")), args, None),
    };
    let pipe = |path: &Path| path.as_os_str() == "-";
    match &args.raw {
        Some(text) if inputs.len() == 1 && pipe(&inputs[0]) && pipe(output) => {
            return piped(&Raw::parse(text, args.memory.limits())?, &how()?, args);
        }
        Some(_) => return Err(Failure::new("--raw reads standard input and writes standard output: give - and -")),
        None if inputs.iter().any(|p| pipe(p)) || pipe(output) => {
            return Err(Failure::new(
                "-: standard input and output take raw frames only: give their size with --raw, such as --raw 3840x2160",
            ));
        }
        None => {}
    }
    let inputs = folders::clips_of_folders(inputs)?;
    let (items, way) = plan::plan(&inputs, output, args)?;
    let n = items.len();
    check(args, way)?;
    let rate = frames::rate(args)?;
    let (parts, found) = match (&args.list, document) {
        (Some(list), Some(show)) => {
            let (parts, found) = listed::parts(items, way, list, show, args)?;
            let how = |part: &listed::Part| how::show(show, args, part.correction.as_ref());
            let parts = parts.into_iter().map(|part| Ok((how(&part)?, part.items)));
            (parts.collect::<Result<Vec<_>, Failure>>()?, Some(found))
        }
        _ => (vec![(how()?, items)], None),
    };
    let Some((how, _)) = parts.first() else { return Err(Failure::new("there is nothing to read")) };
    let choice = way.writes_clips().then(|| encoder::choose(how, args)).transpose()?;
    parts.iter().try_for_each(|(_, items)| plan::prepare(items, args))?;
    let outputs = parts.iter().flat_map(|(_, items)| items).map(|item| item.output.clone());
    let before: BTreeSet<PathBuf> = outputs.filter(|output| output.exists()).collect();
    let mut outcome = Outcome { found, ..Outcome::default() };
    for (how, items) in &parts {
        if !outcome.broken.is_empty() && args.on_error == OnError::Stop {
            outcome.not_begun += items.len();
            continue;
        }
        outcome.add(match (&choice, way) {
            (Some(choice), Direction::IntoClip) => frames::into_clip(items, how, choice, &rate, args),
            (Some(choice), _) => clips::run(items, how, choice, args.rate.as_ref().map(|_| &*rate), args),
            (None, Direction::OutOfClips) => frames::out_of_clips(items, how, args),
            (None, _) => stills::run(items, how, args),
        });
    }
    if outcome.done.is_empty() && outcome.skipped.is_empty() && n > 0 {
        // Each was reported when it happened.
        return Err(Failure::new(match n {
            1 => "nothing is written".to_owned(),
            n => format!("none of {n} files is written"),
        }));
    }
    let written = match &choice {
        Some(choice) if outcome.encoded.is_empty() => Some(choice.said.clone()),
        Some(_) => Some(outcome.encoded.iter().cloned().collect::<Vec<_>>().join("; ")),
        None => stills::written(&outcome.done, &how.tags()),
    };
    if outcome.done.iter().any(|o| frames::is_exr(o)) {
        outcome.notes.push("the EXR holds the display's signal, not light: tell the people who receive it".to_owned());
    }
    if how.burn_in.is_some() {
        outcome.notes.push("text is printed on the pictures: they are for review, not for grading".to_owned());
    }
    outcome.say_left_out();
    match outcome.done.iter().filter(|output| before.contains(*output)).count() {
        0 => {}
        1 => outcome.notes.push("1 file of the same name was replaced".to_owned()),
        n => outcome.notes.push(format!("{n} files of the same names were replaced")),
    }
    outcome.notes.extend(choice.iter().flat_map(|c| c.notes.clone()));
    if args.cube.is_some() && how.display.is_none() {
        outcome.notes.push("without --display it is not known what the cube is for: no colour tags".to_owned());
    }
    for doubt in parts.iter().filter_map(|(how, _)| how.doubt()) {
        output::warn(std::slice::from_ref(doubt));
        outcome.notes.insert(0, doubt.clone());
    }
    let written = written.as_deref();
    match args.json {
        true => output::print_json(&outcome.report(how, written))?,
        false => output::print(&outcome.text(how, written))?,
    }
    Ok(if outcome.broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

/// Raw frames; the report goes to standard error, where the terminal is.
fn piped(raw: &Raw, how: &how::How, args: &Args) -> Result<ExitCode, Failure> {
    let raw::Piped { frames, broken } = raw::run(raw, how)?;
    if frames == 0 {
        return Err(broken.unwrap_or_else(|| Failure::new("standard input is empty: no frame is written")));
    }
    let broken = broken.map(|failure| failure.words());
    if let Some(why) = &broken {
        output::say(&format!("error: {why}"));
    }
    let code = if broken.is_some() { ExitCode::from(BEYOND) } else { ExitCode::SUCCESS };
    match args.json {
        true => {
            let report = RawReport { schema: SCHEMA, title: how.title.clone(), raw_frames: frames, broken };
            output::say(output::json(&report)?.trim_end());
        }
        false => {
            let frames = if frames == 1 { "1 raw frame".to_owned() } else { format!("{frames} raw frames") };
            output::say(&format!("{}: {frames}", how.title));
        }
    }
    Ok(code)
}

/// Refuses options that have no effect on the given input or output.
fn check(args: &Args, way: Direction) -> Result<(), Failure> {
    let (stills_in, stills_out) = (!way.reads_clips(), !way.writes_clips());
    let options = [
        ("--layer", args.layer.is_some(), stills_in, "stills that are read"),
        ("--scene-linear", args.scene_linear.is_some(), stills_in, "stills that are read"),
        ("--depth", args.depth.is_some(), stills_out, "stills that are written"),
        ("--encoder", args.encoder.is_some(), !stills_out, "clips that are written"),
        ("--pixels", args.pixels.is_some(), !stills_out, "clips that are written"),
        ("--encoder-option", !args.encoder_option.is_empty(), !stills_out, "clips that are written"),
        ("--rate", args.rate.is_some(), !stills_out, "clips that are written"),
        ("--start", args.start != 1, way == Direction::OutOfClips, "a clip that becomes stills"),
    ];
    match options.iter().find(|(_, given, fits, _)| *given && !fits) {
        Some((option, _, _, what)) => Err(Failure::new(format!("{option}: only for {what}"))),
        None => Ok(()),
    }
}

fn usage(args: &Args) -> String {
    let first = if args.cube.is_some() { "" } else { "the show or look, " };
    format!("give {first}what to read and what to write, such as shot.####.exr out.####.png")
}

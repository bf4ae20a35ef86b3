//! `apply`

mod clips;
mod encoder;
mod how;
mod plan;
mod report;
mod stills;

use crate::args::Apply as Args;
use crate::failure::{BEYOND, Failure};
use crate::output;
use plan::Kind;
use rushlight::frame::Format;
use std::path::Path;
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
    let (items, clips) = plan::plan(inputs, output, args)?;
    let how = match (&args.cube, document) {
        (Some(cube), _) => how::cube(cube, args)?,
        (None, document) => how::show(document.unwrap_or(Path::new("")), args)?,
    };
    check(args, clips)?;
    let choice = clips.then(|| encoder::choose(&how, args)).transpose()?;
    plan::prepare(&items, args.resume)?;
    let mut outcome = match &choice {
        Some(choice) => clips::run(&items, &how, choice, args),
        None => stills::run(&items, &how, args),
    };
    if outcome.done.is_empty() && outcome.kept.is_empty() && !items.is_empty() {
        // Each was said as it came.
        let n = items.len();
        return Err(Failure::new(match n {
            1 => "nothing is written".to_owned(),
            n => format!("none of {n} files is written"),
        }));
    }
    let written = match &choice {
        Some(choice) => Some(choice.said.clone()),
        None => stills::written(&outcome.done, &how.tags()),
    };
    let exr = |o: &Path| plan::kind_of(o).is_ok_and(|k| k == Kind::Still(Format::Exr));
    if outcome.done.iter().any(|o| exr(o)) {
        outcome
            .notes
            .push("EXR holds the display's signal here, not light: say so to who takes it for light".to_owned());
    }
    outcome.notes.extend(choice.iter().flat_map(|c| c.notes.clone()));
    if args.cube.is_some() && how.display.is_none() {
        outcome.notes.push("without --display it is not known what the cube is for: no colour tags".to_owned());
    }
    let written = written.as_deref();
    match args.json {
        true => output::print_json(&outcome.json(&how, written))?,
        false => output::print(&outcome.text(&how, written))?,
    }
    Ok(if outcome.broken.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(BEYOND) })
}

/// Refuses options that are of no use for what is read.
fn check(args: &Args, clips: bool) -> Result<(), Failure> {
    let (stills, encoders) = (
        [
            ("--layer", args.layer.is_some()),
            ("--depth", args.depth.is_some()),
            ("--scene-linear", args.scene_linear.is_some()),
        ],
        [
            ("--encoder", args.encoder.is_some()),
            ("--pixels", args.pixels.is_some()),
            ("--encoder-option", !args.encoder_option.is_empty()),
        ],
    );
    let (refused, what) = if clips { (stills, "stills, not for clips") } else { (encoders, "clips, not for stills") };
    match refused.iter().find(|(_, given)| *given) {
        Some((option, _)) => Err(Failure::new(format!("{option}: for {what}"))),
        None => Ok(()),
    }
}

fn usage(args: &Args) -> String {
    let first = if args.cube.is_some() { "" } else { "the show or look, " };
    format!("give {first}what to read and what to write, such as shot.####.exr out.####.png")
}

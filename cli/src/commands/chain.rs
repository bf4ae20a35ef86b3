//! `chain`

mod chart;
mod check;
mod cubes;
mod display;
mod page;
mod text;

use crate::args::{Chain, ChainCommand};
use crate::failure::Failure;
use std::process::ExitCode;

pub(crate) fn run(args: &Chain) -> Result<ExitCode, Failure> {
    match &args.command {
        ChainCommand::Chart(args) => chart::run(args).map(|()| ExitCode::SUCCESS),
        ChainCommand::Check(args) => check::run(args),
        ChainCommand::Display(args) => display::run(args).map(|()| ExitCode::SUCCESS),
    }
}

/// WIDTHxHEIGHT.
fn size(text: &str) -> Result<[u16; 2], Failure> {
    let fail = |why: &str| Failure::new(format!("--size: `{text}`: {why}"));
    let sides = text.split_once('x').and_then(|(w, h)| Some([w.parse::<u16>().ok()?, h.parse::<u16>().ok()?]));
    let [width, height] = sides.ok_or_else(|| fail("it must be WIDTHxHEIGHT, such as 3840x2160"))?;
    rushlight::chain::layout::check_size(usize::from(width), usize::from(height)).map_err(|why| fail(&why.message))?;
    Ok([width, height])
}

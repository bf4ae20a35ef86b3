//! One command per file.

mod apply;
mod bake;
mod camera;
mod chain;
mod chart;
mod claims;
mod convert;
mod curve;
mod diff;
mod false_colour;
mod gamut;
mod guide;
mod init;
mod inspect;
mod list;
mod measure;
mod package;
#[cfg(feature = "preview")]
mod preview;
mod probe;
mod sheet;
mod show_edit;
mod stress;

pub(crate) use guide::NAMES as GUIDE_PAGES;

use crate::args::{Args, Command, Completions, Document, Man};
use crate::disk::Batch;
use crate::failure::Failure;
use crate::output;
use clap::CommandFactory;
use std::process::ExitCode;

/// Runs a command; its exit code where it ran.
pub(crate) fn run(args: Args) -> Result<ExitCode, Failure> {
    match args.command {
        Command::Bake(args) => return bake::run(&args),
        Command::Probe(args) => probe::run(&args)?,
        Command::Stress(args) => return stress::run(&args),
        Command::Inspect(args) => return inspect::run(&args),
        Command::Convert(args) => convert::run(&args)?,
        Command::Diff(args) => return diff::run(&args),
        Command::Apply(args) => return apply::run(&args),
        Command::Curve(args) => curve::run(&args)?,
        Command::Gamut(args) => gamut::run(&args)?,
        Command::Camera(args) => camera::run(&args)?,
        Command::FalseColour(args) => false_colour::run(&args)?,
        Command::Measure(args) => measure::run(&args)?,
        Command::Chain(args) => return chain::run(&args),
        Command::Chart(args) => chart::run(&args)?,
        Command::Sheet(args) => sheet::run(&args)?,
        Command::Package(args) => return package::run(&args),
        #[cfg(feature = "preview")]
        Command::Preview(args) => preview::run(&args)?,
        Command::List(args) => list::run(&args)?,
        Command::Init(args) => init::run(&args)?,
        Command::Guide(args) => guide::run(&args)?,
        Command::Schema(args) => output::print_json(&match args.document {
            Document::Show => rushlight::show::schema(),
            Document::Look => rushlight::look::schema(),
            Document::Curve => rushlight::curve_file::schema(),
            Document::Chain => rushlight::chain::report::schema(),
            Document::Diff => rushlight::compare::report::schema(),
            Document::Manifest => rushlight::bake::schema(),
            Document::Sheet => rushlight::sheet::schema(),
            Document::Stress => rushlight::stress::schema(),
            Document::Chart => rushlight::chart::report::schema(),
            Document::Measure => rushlight::measure::report::schema(),
            Document::Processing => rushlight::processing::report::schema(),
            Document::Apply => rushlight::apply::report::schema(),
            Document::Camera => camera::schema(),
            Document::CurveValues => curve::schema(),
            Document::FalseColour => false_colour::schema(),
            Document::Gamut => gamut::schema(),
            Document::HandOff => rushlight::handoff::schema(),
            Document::Probe => probe::schema(),
            Document::Verify => package::verify::schema(),
            Document::Inspect => rushlight::inspect::report::schema(),
            Document::Pictures => rushlight::pictures::schema(),
            Document::List => rushlight::catalogue::schema(),
        })?,
        Command::Completions(Completions { shell }) => {
            let mut text = Vec::new();
            clap_complete::generate(shell, &mut Args::command(), "rushlight", &mut text);
            output::print(&String::from_utf8_lossy(&text))?;
        }
        Command::Man(args) => man(&args)?,
    }
    Ok(ExitCode::SUCCESS)
}

/// The page of the whole program; or the pages of every command and of the guide into a folder.
fn man(args: &Man) -> Result<(), Failure> {
    let page = |command: clap::Command| -> Result<String, Failure> {
        let mut text = Vec::new();
        clap_mangen::Man::new(command).render(&mut text)?;
        Ok(String::from_utf8_lossy(&text).into_owned())
    };
    let mut whole = Args::command();
    whole.build();
    let Some(dir) = &args.out else {
        return output::print(&page(whole)?);
    };
    let mut batch = Batch::of_our_names(dir, None, args.force)?;
    for command in whole.get_subcommands().filter(|c| c.get_name() != "help") {
        let name = format!("rushlight-{}", command.get_name());
        let mut text = Vec::new();
        clap_mangen::Man::new(command.clone()).title(&name).render(&mut text)?;
        batch.add(format!("{name}.1"), &text)?;
        for part in command.get_subcommands().filter(|c| c.get_name() != "help") {
            let name = format!("{name}-{}", part.get_name());
            let mut text = Vec::new();
            clap_mangen::Man::new(part.clone()).title(&name).render(&mut text)?;
            batch.add(format!("{name}.1"), &text)?;
        }
    }
    for (name, text) in guide::manuals() {
        batch.add(name, text)?;
    }
    batch.add("rushlight.1", &page(whole)?)?;
    batch.finish()
}

//! The arguments of the command line.

mod apply;
mod cameras;
mod chain;
mod chart;
mod cubes;
mod live;
mod memory;
mod reports;

pub(crate) use apply::{Apply, OnError};
pub(crate) use cameras::{Camera, Curve, FalseColour, Gamut, Measure, Rated};
pub(crate) use chain::{
    Chain, ChainChart, ChainCheck, ChainCommand, ChainDisplay, ChainSubject, ChartFormat, ClipCodes,
};
pub(crate) use chart::Chart;
pub(crate) use cubes::{Bake, BakeFormat, Convert, Inspect, PngBits, Probe, RangeChange};
#[cfg(feature = "preview")]
pub(crate) use live::Live;
pub(crate) use memory::Memory;
#[cfg(feature = "preview")]
pub(crate) use reports::Preview;
pub(crate) use reports::{Diff, Package, Sheet, Stress};

pub(crate) use crate::frame_input::FrameIs;

use crate::commands::GUIDE_PAGES;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use rushlight::catalogue;
use rushlight::named::Named;
use std::path::PathBuf;

/// Takes a name out of a list of the library's.
pub(crate) fn named<T: Named>() -> impl TypedValueParser<Value = T> {
    let value = |value: &T| {
        let plain = PossibleValue::new(value.name());
        if value.help().is_empty() { plain } else { plain.help(value.help()) }
    };
    PossibleValuesParser::new(T::LIST.iter().map(value)).try_map(|name| T::named(&name))
}

/// Bake, explain and check the looks of a show, from camera log to display
///
/// Exit codes: 0, the command succeeded; 1, a limit is exceeded, two files differ, or part of the work failed;
/// 2, the command could not run.
#[derive(Debug, Parser)]
#[command(name = "rushlight", version, max_term_width = 80)]
#[command(after_help = "\
Examples:
  rushlight init my-show
  rushlight bake fixtures/demo/show.toml
  rushlight preview fixtures/demo/show.toml")]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

// The help of each command stands at its own arguments.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Bake(Bake),
    Probe(Probe),
    Stress(Stress),
    Inspect(Inspect),
    Convert(Convert),
    Diff(Box<Diff>),
    Apply(Box<Apply>),
    Curve(Curve),
    Gamut(Gamut),
    Camera(Camera),
    #[command(alias = "false-color")]
    FalseColour(FalseColour),
    Measure(Box<Measure>),
    Chain(Chain),
    Chart(Box<Chart>),
    Sheet(Sheet),
    Package(Package),
    #[cfg(feature = "preview")]
    Preview(Preview),
    List(List),
    Init(Init),
    Guide(Guide),
    Schema(Schema),
    Completions(Completions),
    Man(Man),
}

/// A look, a camera and a display.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Pick {
    /// Look of the show, by name
    #[arg(long, value_name = "NAME")]
    pub(crate) look: Option<String>,
    /// Camera of the show, by name. For a look without a show: CURVE+GAMUT, such as slog3+sgamut3-cine
    #[arg(long, value_name = "NAME")]
    pub(crate) camera: Option<String>,
    /// Display of the show, by name. For a look without a show: a built-in display, such as bt709
    #[arg(long, value_name = "NAME")]
    pub(crate) display: Option<String>,
}

/// A show or a look, and the part of it to work on.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Subject {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
}

/// List the built-in curves, gamuts, displays and steps
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight list
  rushlight list displays
  rushlight list steps print")]
pub(crate) struct List {
    /// What to list [default: everything]
    #[arg(value_parser = named::<catalogue::List>())]
    pub(crate) kind: Option<catalogue::List>,
    /// Print only the entry of this name; for a step, with every setting
    pub(crate) name: Option<String>,
    /// Print the list as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Create a new show that can be baked at once
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight init my-show")]
pub(crate) struct Init {
    /// Folder of the new show; it is created if needed, and no file in it is replaced
    pub(crate) dir: PathBuf,
}

/// Print a page of the guide
///
/// On a terminal the page opens in $PAGER, or in `less` where that is installed.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight guide
  rushlight guide cameras")]
pub(crate) struct Guide {
    /// Page to print; without one, the pages are listed
    #[arg(value_parser = PossibleValuesParser::new(GUIDE_PAGES))]
    pub(crate) page: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Document {
    Show,
    Look,
    Curve,
    Chain,
    Diff,
    Manifest,
    Sheet,
    Stress,
    Chart,
    // What `measure --json` has under `processing`.
    Processing,
    Measure,
    Apply,
    Camera,
    // What `curve --json` prints; `curve` is the document.
    CurveValues,
    FalseColour,
    Gamut,
    // The manifest that `package` writes.
    HandOff,
    Inspect,
    List,
    // What `diff --format json` has of two pictures.
    Pictures,
    Probe,
    // What `package --verify --json` prints.
    Verify,
}

/// Print the JSON Schema of a document or of a report, for editors and programs
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight schema look")]
pub(crate) struct Schema {
    /// Document or report whose schema is printed
    pub(crate) document: Document,
}

/// Print the completion script of a shell
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight completions bash")]
pub(crate) struct Completions {
    /// Shell to complete for
    pub(crate) shell: Shell,
}

/// Print the manual page, or write the pages of all commands
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight man
  rushlight man --out pages")]
pub(crate) struct Man {
    /// Write the pages of all commands and of the guide into this folder instead of printing one
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Replace files of the same names that rushlight did not make
    #[arg(long, requires = "out")]
    pub(crate) force: bool,
}

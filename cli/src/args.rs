//! What the user may say.

mod apply;
mod cameras;
mod cubes;
mod memory;
mod reports;

pub(crate) use apply::{Apply, OnError};
pub(crate) use cameras::{Basis, Camera, Curve, FalseColour, Gamut, Measure, SignalRange, ZoneKind};
pub(crate) use cubes::{Bake, BakeFormat, Convert, Inspect, Interpolation, PngBits, Probe, RangeChange, Reader};
pub(crate) use memory::Memory;
pub(crate) use reports::{Diff, Package, Preview, Sheet, Stress};

use crate::commands::GUIDE_PAGES;
use clap::builder::PossibleValuesParser;
use clap::{Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use std::path::PathBuf;

/// From camera log to a baked cube: bakes, explains and checks the look of a show.
///
/// Exit code 0: good. 1: a limit was exceeded, or two things differ. 2: it could not run.
#[derive(Debug, Parser)]
#[command(name = "rushlight", version, max_term_width = 80)]
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
    Measure(Measure),
    Sheet(Sheet),
    Package(Package),
    Preview(Preview),
    List(List),
    Init(Init),
    Guide(Guide),
    Schema(Schema),
    Completions(Completions),
    Man(Man),
}

/// One look through one camera to one display.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Pick {
    /// Look of the show, by name
    #[arg(long, value_name = "NAME")]
    pub(crate) look: Option<String>,
    /// Camera of the show, by name; for a look that stands alone CURVE+GAMUT, such as slog3+sgamut3-cine
    #[arg(long, value_name = "NAME")]
    pub(crate) camera: Option<String>,
    /// Display of the show, by name; for a look that stands alone a built-in display
    #[arg(long, value_name = "NAME")]
    pub(crate) display: Option<String>,
}

/// A show or a look, and which part of it.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Subject {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    Curves,
    Gamuts,
    Displays,
    Steps,
}

/// List what is built in
#[derive(Debug, clap::Args)]
pub(crate) struct List {
    /// What to list; left out: everything
    pub(crate) kind: Option<Kind>,
    /// Only the one of this name; a step with all its settings
    pub(crate) name: Option<String>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Start a new show that bakes at once
#[derive(Debug, clap::Args)]
pub(crate) struct Init {
    /// Folder of the new show, made if it is not there; no file in it is replaced
    pub(crate) dir: PathBuf,
}

/// Print a page of the guide
///
/// On a terminal the page opens in $PAGER, or in `less` where that is installed.
#[derive(Debug, clap::Args)]
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
    Diff,
    Sheet,
    Stress,
}

/// Print the JSON Schema of a document or a report, for editors and programs
#[derive(Debug, clap::Args)]
pub(crate) struct Schema {
    /// Which document or report
    pub(crate) document: Document,
}

/// Print completions for a shell
#[derive(Debug, clap::Args)]
pub(crate) struct Completions {
    /// Which shell
    pub(crate) shell: Shell,
}

/// Print the manual page
#[derive(Debug, clap::Args)]
pub(crate) struct Man {
    /// Write the pages of every command and of the guide into this folder instead
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Replace files in the folder that have the names of the pages and were not made by this program
    #[arg(long, requires = "out")]
    pub(crate) force: bool,
}

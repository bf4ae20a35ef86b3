//! Arguments of `chain`.

use super::{Memory, Pick};
use clap::{Subcommand, ValueEnum};
use std::path::PathBuf;

/// Check which cube, range and interpolation the boxes on a set really use
///
/// Play the chart through the chain, capture a frame at its end, and check it: the report says what is wrong and what to do,
/// or that all is right. `chain display` writes a chart to read on a monitor by eye, for boxes that give no signal back.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight chain chart fixtures/demo/show.toml --look night --camera a \\
    --display onset --size 1920x1080 --out chart
  rushlight chain check fixtures/demo/show.toml --camera a --display onset \\
    chart/saltmarsh_night_r1_a_onset_33_chart_1920x1080_expected.png
  rushlight chain display --size 1920x1080 --out chart/display.png")]
pub(crate) struct Chain {
    #[command(subcommand)]
    pub(crate) command: ChainCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ChainCommand {
    Chart(ChainChart),
    Check(Box<ChainCheck>),
    Display(ChainDisplay),
}

/// The cube of a chain.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct ChainSubject {
    /// Show or look document (.toml), or a cube (.cube, .clf)
    #[arg(value_name = "SHOW-or-LOOK-or-CUBE")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Points along each edge of the cube in the chain; not with a cube file, which has its own
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChartFormat {
    /// PNG of 16 bits
    Png,
    /// TIFF of 16 bits
    Tiff,
    /// DPX of 10 bits
    Dpx,
    /// OpenEXR of floats, which hold the exact signal
    Exr,
    /// Intra-only clip of 10 bits: DNxHR HQX, 4:2:2, .mov; its codes are the chart's, as in a camera's recording
    Intra,
    /// Lossless clip: FFV1, RGB of 10 bits, .mkv
    Lossless,
}

/// Write the chart that goes through the chain
///
/// The chart is camera signal: greys at stops and codes, ramps, colours on and between the nodes of cubes, patterns, corner
/// marks, and a mark that names its cube. A second file has the chart through the right cube: it is the expected capture.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight chain chart fixtures/demo/show.toml --look night --camera a \\
    --display onset")]
pub(crate) struct ChainChart {
    #[command(flatten)]
    pub(crate) of: ChainSubject,
    /// Width and height in pixels, at least 960x540; give the size of the signal, so that nothing scales the chart
    #[arg(long, value_name = "WxH", default_value = "3840x2160")]
    pub(crate) size: String,
    /// Kind of file; several are separated by commas
    #[arg(long, value_name = "FORMAT", value_delimiter = ',', default_value = "png")]
    pub(crate) format: Vec<ChartFormat>,
    /// For clips: frames per second
    #[arg(long, value_name = "RATE", default_value = "25")]
    pub(crate) rate: String,
    /// For clips: length in seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=600))]
    pub(crate) seconds: u32,
    /// Folder for the files; it is created if needed
    #[arg(long, value_name = "DIR", default_value = "chart")]
    pub(crate) out: PathBuf,
    /// Replace files of the same names that rushlight did not make
    #[arg(long)]
    pub(crate) force: bool,
}

/// Write a chart to read on a monitor by eye
///
/// The chart is display signal: bars around black and white of legal range show which range the monitor takes, and patches
/// in frames of lines show its gamma roughly. The report says how to read it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight chain display --size 1920x1080 --out display.png")]
pub(crate) struct ChainDisplay {
    /// Width and height in pixels, at least 960x540; give the size of the monitor, so that nothing scales the chart
    #[arg(long, value_name = "WxH", default_value = "1920x1080")]
    pub(crate) size: String,
    /// File to write (.png, .tif, .dpx)
    #[arg(long, value_name = "FILE", default_value = "display_chart.png")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ClipCodes {
    /// As the clip is tagged: luma of legal range is expanded, as players do
    Tagged,
    /// Codes as recorded: those of the cable
    Recorded,
}

/// Explain captured frames of the chart
///
/// A capture is a still (PNG, TIFF, DPX, JPEG, EXR) or a clip that ffmpeg reads. It comes from a recorder or from the loop
/// output of a monitor, or is a screen grab, or an app's recording with the look in it. The search runs over ranges,
/// matrices, transfers, bit depths, swapped channels, interpolations, cut-down cubes, other cubes, and settings of the
/// picture such as gain and saturation, and over two of them at once, or three if two leave a large difference.
///
/// Exit codes: 0, all captures are as they should be; 1, something is wrong; 2, a capture could not be judged, or the command
/// could not run.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight chain check fixtures/demo/show.toml --camera a --display onset \\
    recorder=rec.png loop=loop.mov --with hand-off --format html=chain.html")]
pub(crate) struct ChainCheck {
    #[command(flatten)]
    pub(crate) of: ChainSubject,
    /// Captured frames or clips; NAME=FILE names what it was captured from
    #[arg(value_name = "CAPTURE", required = true, num_args = 1..)]
    pub(crate) captures: Vec<String>,
    /// Other cubes that may be loaded by mistake, as files or folders; the cubes of the show are always tried
    #[arg(long, value_name = "PATH", num_args = 1..)]
    pub(crate) with: Vec<PathBuf>,
    /// The captures are photographs of a screen, which prove little
    #[arg(long)]
    pub(crate) photo: bool,
    /// How to read the codes of clips
    #[arg(long, value_name = "CODES", default_value = "tagged")]
    pub(crate) clip_codes: ClipCodes,
    /// Report to write: text, json, csv (a table for a binder) or html (a page with the patches marked); =FILE writes it
    /// there; several are separated by commas [default: text]
    #[arg(long, value_name = "FORMAT[=FILE]", value_delimiter = ',')]
    pub(crate) format: Vec<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
}

//! Arguments of `chart`.

use super::{Memory, named};
use rushlight::camera::Range;
use std::path::PathBuf;

/// Find the colours of a camera from frames of a colour chart
///
/// The frames are stills of a chart of 24 patches, or of one that --patches describes, under a known light. The program
/// finds the chart in the frame and draws what it found on a picture: look at it. The result is a matrix, as a gamut for the
/// show. It leaves white unchanged and gives the smallest CIEDE2000.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight chart fixtures/demo/chart/b_d55.png --light d55 \\
    --show fixtures/demo/show.toml --camera b
  rushlight chart fixtures/demo/chart/b_d55.png --light d55 \\
    --match fixtures/demo/chart/a_d55.png --to a \\
    --show fixtures/demo/show.toml --camera b")]
pub(crate) struct Chart {
    /// Frames of the chart
    #[arg(value_name = "FRAMES", required = true)]
    pub(crate) frames: Vec<PathBuf>,
    /// Light of the chart, one for all frames or one for each: a, d50, d55, d65, d75, daylight by kelvin such as d5600,
    /// lamp light (a black body) by kelvin such as p3200, or a CSV file of its spectrum
    #[arg(long, value_name = "LIGHT", num_args = 1.., required_unless_present = "at")]
    pub(crate) light: Vec<String>,
    /// Show document (.toml) that has the camera
    #[arg(long, value_name = "SHOW", requires = "camera", conflicts_with = "curve")]
    pub(crate) show: Option<PathBuf>,
    /// Camera of the show, by name
    #[arg(long, value_name = "NAME", requires = "show")]
    pub(crate) camera: Option<String>,
    /// Curve of the camera, without a show
    #[arg(long, value_name = "NAME", required_unless_present = "show")]
    pub(crate) curve: Option<String>,
    /// Range of the signal, for --curve
    #[arg(long, value_name = "RANGE", requires = "curve", default_value = "full", value_parser = named::<Range>())]
    pub(crate) range: Range,
    /// Exposure index of the frames, for a curve or a clip that depends on it
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<f64>,
    /// Reference colours of the chart: CSV or CGATS text (ISO 28178) with XYZ, CIELAB or spectra [default: 24 patches of ISO
    /// 17321-1]
    #[arg(long, value_name = "FILE")]
    pub(crate) patches: Option<PathBuf>,
    /// Columns and rows of the chart of --patches, such as 6x4
    #[arg(long, value_name = "COLUMNSxROWS", requires = "patches")]
    pub(crate) layout: Option<String>,
    /// Outer corners of the chart's corner patches in pixels, clockwise from that of the first patch; for one frame [default:
    /// the chart is found]
    #[arg(long, value_name = "X,Y", num_args = 4)]
    pub(crate) corners: Vec<String>,
    /// Match to another camera: its frame of the same chart in the same light, one for each of FRAMES
    #[arg(long = "match", value_name = "FRAMES", num_args = 1.., requires = "to")]
    pub(crate) matched: Vec<PathBuf>,
    /// For --match without a chart: positions of evenly coloured things that both frames show, in pixels of FRAMES, at least
    /// eight: X,Y or X,Y,W,H
    #[arg(long, value_name = "PLACE", num_args = 1.., requires = "match_at", conflicts_with_all = ["patches", "corners", "light", "kelvin"])]
    pub(crate) at: Vec<String>,
    /// For --at: the same things in the other camera's frame, in the same order
    #[arg(long, value_name = "PLACE", num_args = 1.., requires_all = ["at", "matched"])]
    pub(crate) match_at: Vec<String>,
    /// For --match: the other camera of the show, by name
    #[arg(long, value_name = "NAME", requires = "show")]
    pub(crate) to: Option<String>,
    /// For --match: look through which the cameras are compared, by name
    #[arg(long, value_name = "NAME", requires = "matched", requires = "display")]
    pub(crate) look: Option<String>,
    /// For --match: display on which they are compared, by name
    #[arg(long, value_name = "NAME", requires = "look")]
    pub(crate) display: Option<String>,
    /// For frames in two lights: the gamut for a light of this temperature between them
    #[arg(long, value_name = "K")]
    pub(crate) kelvin: Option<f64>,
    /// Picture of what was found in the first frame (.png, .svg, .pdf, .html) [default: NAME_chart.svg in this folder,
    /// where an earlier one is replaced]
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    /// Write the gamut into the show; comments and layout are preserved
    #[arg(long, requires = "show")]
    pub(crate) write: bool,
    /// With --write: write the matrix itself instead of primaries, one for each light, with its source and day
    #[arg(long, requires = "write", requires = "date")]
    pub(crate) matrix: bool,
    /// With --write: the day of the test, which is noted with the frames, such as 2026-03-14
    #[arg(long, value_name = "YYYY-MM-DD", requires = "write")]
    pub(crate) date: Option<String>,
    /// With --write: also write a result with a mean error of more than CIEDE2000 4
    #[arg(long, requires = "write")]
    pub(crate) accept: bool,
    /// Layer of EXR frames [default: the first with red, green and blue]
    #[arg(long, value_name = "NAME")]
    pub(crate) layer: Option<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

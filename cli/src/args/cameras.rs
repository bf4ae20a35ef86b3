//! Arguments of what is about cameras: their curves, gamuts, exposure and measurements.

use super::Memory;
use clap::ValueEnum;
use std::path::PathBuf;

/// Print a curve: mid-grey, code values, encoded and decoded values
///
/// Light is scene reflectance (0.18 is mid-grey) for camera curves, nits for pq, and 0 to 1 for other displays. Signal is
/// code value over 1023, full range, for camera curves, and 0 to 1 for displays.
#[derive(Debug, clap::Args)]
pub(crate) struct Curve {
    /// Built-in curve, or a curve file (.toml)
    pub(crate) name: String,
    /// Exposure index, for a curve that has its own constants by EI
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<u32>,
    /// Light to signal
    #[arg(long, value_name = "LIGHT", num_args = 1.., allow_negative_numbers = true, conflicts_with = "decode")]
    pub(crate) encode: Vec<f64>,
    /// Signal to light
    #[arg(long, value_name = "SIGNAL", num_args = 1.., allow_negative_numbers = true)]
    pub(crate) decode: Vec<f64>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SignalRange {
    Full,
    Legal,
}

/// Print a gamut: primaries, white, and its matrix to XYZ or to another gamut
#[derive(Debug, clap::Args)]
pub(crate) struct Gamut {
    /// Built-in gamut to start from
    pub(crate) from: String,
    /// Built-in gamut to arrive at; left out: XYZ under the gamut's own white
    pub(crate) to: Option<String>,
    /// How white is carried to white: none, bradford, cat02, cat16, von-kries; left out: as the camera's maker does
    #[arg(long, value_name = "METHOD")]
    pub(crate) adapt: Option<String>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Cameras of a show, and at which exposure index.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Rated {
    /// Show document (.toml)
    pub(crate) show: PathBuf,
    /// Camera of the show, by name; left out: every camera
    #[arg(long, value_name = "NAME")]
    pub(crate) camera: Option<String>,
    /// Exposure index; left out: every one that is rated
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<f64>,
    /// Work out an EI that is not rated from the nearest one that is, as if the sensor had one base
    #[arg(long, requires = "ei")]
    pub(crate) reckon: bool,
}

/// Print the stop table of a show's cameras
///
/// Where each stop lies in the signal, for every exposure index that the show rates: from the floor to the clip, with
/// mid-grey, skin a stop over it and a white of 90 %. A rating without a measured clip ends where its curve does, and
/// says so. Stops count from mid-grey: over it above 0, under it below.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Camera {
    #[command(flatten)]
    pub(crate) of: Rated,
    /// Rows to the stop: 1, 2 or 3
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) per_stop: u32,
    /// A highlight so many stops over mid-grey that must not clip; left out: a white of 90 %
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true)]
    pub(crate) highlight: Option<f64>,
    /// Stops kept free between that highlight and the clip
    #[arg(long, value_name = "STOPS", default_value_t = 0.0, allow_negative_numbers = true)]
    pub(crate) margin: f64,
    /// Print as JSON
    #[arg(long, conflicts_with = "csv")]
    pub(crate) json: bool,
    /// Print as CSV, a row a stop
    #[arg(long)]
    pub(crate) csv: bool,
    /// Draw the card of one camera, to tape to it: A6 (.pdf, .png, .svg, .html)
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ZoneKind {
    /// Every stop in a colour of its own
    Ladder,
    /// Mid-grey and one stop over it, on a grey picture
    Key,
    /// What is at and near the clip and the floor, on a grey picture
    Clip,
    /// What is outside a window of stops, on a grey picture
    Range,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Basis {
    /// Luminance, by the camera's own primaries
    Luminance,
    /// The strongest channel
    Highest,
}

/// Make exposure cubes, which colour a monitor's picture by stops
///
/// For every camera and rating: camera signal in, zones of exposure out, in stops from mid-grey under the camera's own curve,
/// with a key beside each and a test frame. They take the place of a monitor's own false colour, which does not know the log.
/// A cube is not a light meter: it holds for one camera, one exposure index and one range.
#[derive(Debug, clap::Args)]
pub(crate) struct FalseColour {
    #[command(flatten)]
    pub(crate) of: Rated,
    /// What the cube shows; several at once with a comma between
    #[arg(long, value_name = "KIND", value_delimiter = ',', default_value = "ladder")]
    pub(crate) kind: Vec<ZoneKind>,
    /// What exposure is read from; the clip is always any channel's
    #[arg(long, value_name = "BASIS", default_value = "luminance")]
    pub(crate) basis: Basis,
    /// Display of the show, by name, or a built-in one; left out: bt709
    #[arg(long, value_name = "NAME")]
    pub(crate) display: Option<String>,
    /// Points along each edge, 2 to 256; left out: 65, or as many as the device takes
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Blend across each edge, which then lies where it should: for cubes of few points
    #[arg(long)]
    pub(crate) soft: bool,
    /// ladder: stops to a zone
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::ZONE.default, allow_negative_numbers = true)]
    pub(crate) zone: f64,
    /// key: how wide mid-grey and the stop over it are marked, in stops
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::WIDTH.default, allow_negative_numbers = true)]
    pub(crate) width: f64,
    /// clip: how near to the clip and the floor is marked, in stops
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::NEAR.default, allow_negative_numbers = true)]
    pub(crate) near: f64,
    /// range: the window, in stops from mid-grey; left out: -1 1, a ratio of 4 to 1
    #[arg(long, value_name = "STOPS", num_args = 2, allow_negative_numbers = true)]
    pub(crate) window: Option<Vec<f64>>,
    /// Box that the cubes are for, by its name in the show: they must keep within its limits
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
    /// Decimals of a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// No comments in a .cube, for boxes that choke on them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Folder for the cubes, made if it is not there
    #[arg(long, value_name = "DIR", default_value = "exposure")]
    pub(crate) out: PathBuf,
    /// Replace files in the folder that have the names of the cubes or what goes beside them and were not made by this
    /// program
    #[arg(long)]
    pub(crate) force: bool,
    /// Print the report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Measure a camera's clip, noise, floor and latitude from its own test frames
///
/// The frames are an exposure bracket of an evenly lit grey card: EXR, TIFF, PNG, DPX, or clips of any kind that ffmpeg
/// reads, one for each exposure. What comes out is what the whole chain does, from the lens to the codec.
#[derive(Debug, clap::Args)]
pub(crate) struct Measure {
    /// Frames of the bracket, or clips, in the order of --stops
    #[arg(value_name = "FRAMES", required_unless_present = "list")]
    pub(crate) frames: Vec<PathBuf>,
    /// Stops from what the meter calls mid-grey: FROM:TO:STEP, such as -6:+6:1, or a list, such as -6,-4,0,2
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true, conflicts_with_all = ["list", "exif_from"])]
    pub(crate) stops: Option<String>,
    /// CSV file with the columns file, stops and perhaps ei: frames at several exposure indices in one go
    #[arg(long, value_name = "CSV", conflicts_with_all = ["frames", "exif_from"])]
    pub(crate) list: Option<PathBuf>,
    /// Take the stops from the EXIF exposure tags, counted from this frame, which the meter calls mid-grey
    #[arg(long, value_name = "FRAME")]
    pub(crate) exif_from: Option<PathBuf>,
    /// Exposure index of the frames
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<f64>,
    /// Show whose camera it is (.toml)
    #[arg(long, value_name = "SHOW", requires = "camera", conflicts_with = "curve")]
    pub(crate) show: Option<PathBuf>,
    /// Camera of the show, by name
    #[arg(long, value_name = "NAME", requires = "show")]
    pub(crate) camera: Option<String>,
    /// Curve that the camera claims, without a show; left out: the published one that fits, or one fitted to the bracket
    #[arg(long, value_name = "NAME")]
    pub(crate) curve: Option<String>,
    /// Range of the signal, with --curve
    #[arg(long, value_name = "RANGE", requires = "curve", default_value = "full")]
    pub(crate) range: SignalRange,
    /// Patch to measure, in pixels; left out: the most even one of the frame nearest mid-grey
    #[arg(long, value_name = "X,Y,W,H")]
    pub(crate) patch: Option<String>,
    /// Reflectance of the card
    #[arg(long, value_name = "R", default_value_t = 0.18)]
    pub(crate) card: f64,
    /// Signal over noise that is still usable
    #[arg(long, value_name = "RATIO", default_value_t = 1.0)]
    pub(crate) snr: f64,
    /// Frames to read of each clip
    #[arg(long, value_name = "N", default_value_t = 4)]
    pub(crate) clip_frames: usize,
    /// Layer of EXR frames
    #[arg(long, value_name = "NAME")]
    pub(crate) layer: Option<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Exposure indices side by side at one final brightness: EI, or EI:OVER for so many stops over, brought down after
    #[arg(long, value_name = "EI[:OVER]", num_args = 1.., requires = "list")]
    pub(crate) compare: Vec<String>,
    /// The same scene under another camera mode: one frame for one frame, or a bracket of the same stops
    #[arg(long, value_name = "FRAMES", num_args = 1.., conflicts_with = "list")]
    pub(crate) against: Vec<PathBuf>,
    /// Write the ratings into the show, whose comments and layout stay
    #[arg(long, requires = "show")]
    pub(crate) write: bool,
    /// Write a curve fitted to the bracket to this file (.toml)
    #[arg(long, value_name = "FILE")]
    pub(crate) fit: Option<PathBuf>,
    /// Draw response, noise and latitude into this file: .png, .svg, .pdf or .html
    #[arg(long, value_name = "FILE")]
    pub(crate) plot: Option<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

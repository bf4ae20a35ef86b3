//! Arguments of the commands on cameras: curves, gamuts, exposure and measurements.

use super::Memory;
use super::named;
use rushlight::adaptation::Adaptation;
use rushlight::camera::Range;
use rushlight::exposure::{Basis, Kind};
use std::path::PathBuf;

/// Print a curve, or values encoded or decoded by it
///
/// Light is scene reflectance (0.18 is mid-grey) for camera curves, nits for pq, and 0 to 1 for other display curves.
/// Signal is full range, 0 to 1; for camera curves that is the 10-bit code value over 1023.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight curve slog3
  rushlight curve slog3 --encode 0.18 0.9
  rushlight curve fixtures/demo/curves/harbour.toml --decode 0.5")]
pub(crate) struct Curve {
    /// Built-in curve (see `rushlight list curves`), or the path of a curve file (.toml)
    pub(crate) name: String,
    /// Exposure index, for a curve whose constants depend on it
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<u32>,
    /// Encode light to signal
    #[arg(long, value_name = "LIGHT", num_args = 1.., allow_negative_numbers = true, conflicts_with = "decode")]
    pub(crate) encode: Vec<f64>,
    /// Decode signal to light
    #[arg(long, value_name = "SIGNAL", num_args = 1.., allow_negative_numbers = true)]
    pub(crate) decode: Vec<f64>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Print the primaries, the white and the matrix of a gamut
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight gamut sgamut3-cine
  rushlight gamut aces-ap0 bt709 --adapt bradford")]
pub(crate) struct Gamut {
    /// Built-in gamut to convert from (see `rushlight list gamuts`)
    pub(crate) from: String,
    /// Built-in gamut to convert to [default: XYZ under the white of FROM]
    pub(crate) to: Option<String>,
    /// Chromatic adaptation [default: as the camera's maker specifies]
    #[arg(long, value_name = "METHOD", value_parser = named::<Adaptation>())]
    pub(crate) adapt: Option<Adaptation>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Cameras of a show, and the exposure index.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Rated {
    /// Show document (.toml)
    pub(crate) show: PathBuf,
    /// Camera of the show, by name [default: every camera]
    #[arg(long, value_name = "NAME")]
    pub(crate) camera: Option<String>,
    /// Exposure index [default: every rated one]
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<f64>,
    /// Extrapolate an EI without a rating from the nearest rating, as if the sensor had one base
    #[arg(long, requires = "ei")]
    pub(crate) extrapolate: bool,
}

/// Print the stop tables of a show's cameras
///
/// A stop table shows the signal of each stop, from the floor to the clip, for every exposure index that the show rates. It
/// marks mid-grey, skin one stop over it, and a white of 90 %. Where no clip was measured, the table ends where the curve
/// ends, and says so. Stops count from mid-grey, which is 0.
#[derive(Debug, Clone, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight camera fixtures/demo/show.toml --camera a --ei 800
  rushlight camera fixtures/demo/show.toml --camera a --out card.pdf")]
pub(crate) struct Camera {
    #[command(flatten)]
    pub(crate) of: Rated,
    /// Rows per stop: 1, 2 or 3
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) per_stop: u32,
    /// Highlight that must not clip, in stops over mid-grey [default: a white of 90 %]
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true)]
    pub(crate) highlight: Option<f64>,
    /// Headroom between that highlight and the clip, in stops
    #[arg(long, value_name = "STOPS", default_value_t = 0.0, allow_negative_numbers = true)]
    pub(crate) margin: f64,
    /// Print as JSON
    #[arg(long, conflicts_with = "csv")]
    pub(crate) json: bool,
    /// Print as CSV, one row per stop
    #[arg(long)]
    pub(crate) csv: bool,
    /// Draw the stop card of one camera into this file, A6 (.pdf, .png, .svg, .html)
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Draw the card in light colours on a dark ground, for night shoots
    #[arg(long, requires = "out")]
    pub(crate) dark: bool,
}

/// Bake exposure cubes, which colour a monitor's picture by stops
///
/// Writes one cube for each camera and rating: it takes the camera signal and shows zones of exposure, in stops from
/// mid-grey under the camera's curve. Each cube comes with its key, a picture that explains its colours, and with a test
/// frame. Exposure cubes replace the false colour of a monitor, which does not know the camera's log.
///
/// A cube is not a light meter: it holds for one camera, one exposure index and one range.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight false-colour fixtures/demo/show.toml --camera a --ei 800
  rushlight false-colour fixtures/demo/show.toml --kind key,clip --out keys")]
pub(crate) struct FalseColour {
    #[command(flatten)]
    pub(crate) of: Rated,
    /// Kind of exposure cube; several are separated by commas
    #[arg(long, value_name = "KIND", value_delimiter = ',', default_value = "ladder", value_parser = named::<Kind>())]
    pub(crate) kind: Vec<Kind>,
    /// Measure of exposure; for the clip, any channel counts
    #[arg(long, value_name = "BASIS", default_value = "luminance", value_parser = named::<Basis>())]
    pub(crate) basis: Basis,
    /// Display of the show, by name, or a built-in display [default: bt709]
    #[arg(long, value_name = "NAME")]
    pub(crate) display: Option<String>,
    /// Points along each edge, 2 to 256 [default: 65, or as many as the device takes]
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Blend across the edges of zones, so that they lie more exactly in cubes of few points
    #[arg(long)]
    pub(crate) soft: bool,
    /// For ladder: size of a zone, in stops
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::ZONE.default, allow_negative_numbers = true)]
    pub(crate) zone: f64,
    /// For key: width of the marks at mid-grey and one stop over it, in stops
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::WIDTH.default, allow_negative_numbers = true)]
    pub(crate) width: f64,
    /// For clip: distance from the clip and the floor that is marked, in stops
    #[arg(long, value_name = "STOPS", default_value_t = rushlight::exposure::NEAR.default, allow_negative_numbers = true)]
    pub(crate) near: f64,
    /// For range: lower and upper end of the window, in stops from mid-grey [default: -1 1]
    #[arg(long, value_name = "STOPS", num_args = 2, allow_negative_numbers = true)]
    pub(crate) window: Option<Vec<f64>>,
    /// Also write cubes that are refused otherwise: those with an edge on greys that is off by more than half a stop
    #[arg(long)]
    pub(crate) accept: bool,
    /// Device of the show, by name, whose limits every cube must meet
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
    /// Decimals of the values in a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// Write no comments into a .cube, for devices that reject them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Folder for the cubes; it is created if needed
    #[arg(long, value_name = "DIR", default_value = "exposure")]
    pub(crate) out: PathBuf,
    /// Replace files of the same names that rushlight did not make
    #[arg(long)]
    pub(crate) force: bool,
    /// Print the report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Measure the clip, noise, floor and latitude of a camera from test frames
///
/// The frames are an exposure bracket of an evenly lit grey card: EXR, TIFF, PNG, DPX, or clips that ffmpeg reads, one for
/// each exposure. The result describes the whole chain, from the lens to the codec: noise reduction in the camera flatters
/// its noise, its floor and its latitude.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight measure --list fixtures/demo/brackets/a.csv \\
    --show fixtures/demo/show.toml --camera a
  rushlight measure --list fixtures/demo/brackets/a.csv --compare 800 1600")]
pub(crate) struct Measure {
    /// Frames or clips of the bracket, in the order of --stops
    #[arg(value_name = "FRAMES", required_unless_present_any = ["list", "edge_frame", "scene", "white", "chart", "to"])]
    pub(crate) frames: Vec<PathBuf>,
    /// Exposure of each frame in stops from the meter's mid-grey: FROM:TO:STEP, such as -6:+6:1, or a list, such as
    /// -6,-4,0,2
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true, conflicts_with_all = ["list", "exif_from"])]
    pub(crate) stops: Option<String>,
    /// CSV file with the columns file, stops and optionally ei, for brackets at several exposure indices
    #[arg(long, value_name = "CSV", conflicts_with_all = ["frames", "exif_from"])]
    pub(crate) list: Option<PathBuf>,
    /// Read the stops from EXIF exposure tags, counted from this frame, which is the meter's mid-grey
    #[arg(long, value_name = "FRAME")]
    pub(crate) exif_from: Option<PathBuf>,
    /// Exposure index of the frames
    #[arg(long, value_name = "N")]
    pub(crate) ei: Option<f64>,
    /// Show document (.toml) that has the camera
    #[arg(long, value_name = "SHOW", requires = "camera", conflicts_with = "curve")]
    pub(crate) show: Option<PathBuf>,
    /// Camera of the show, by name
    #[arg(long, value_name = "NAME", requires = "show")]
    pub(crate) camera: Option<String>,
    /// Curve of the camera, without a show [default: the published curve that fits, or one fitted to the bracket]
    #[arg(long, value_name = "NAME")]
    pub(crate) curve: Option<String>,
    /// Range of the signal, for --curve
    #[arg(long, value_name = "RANGE", requires = "curve", default_value = "full", value_parser = named::<Range>())]
    pub(crate) range: Range,
    /// Patch to measure, in pixels; check it, since a wrong patch gives a wrong result [default: the large even patch near
    /// the middle that follows the stops; refused if there are two]
    #[arg(long, value_name = "X,Y,W,H")]
    pub(crate) patch: Option<String>,
    /// Reflectance of the card, 0 to 1
    #[arg(long, value_name = "R", default_value_t = 0.18)]
    pub(crate) card: f64,
    /// Signal-to-noise ratio that is still usable; it defines the floor
    #[arg(long, value_name = "RATIO", default_value_t = 1.0)]
    pub(crate) snr: f64,
    /// Number of frames to read from each clip
    #[arg(long, value_name = "N", default_value_t = 4)]
    pub(crate) clip_frames: usize,
    /// Layer of EXR frames [default: the first with red, green and blue]
    #[arg(long, value_name = "NAME")]
    pub(crate) layer: Option<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Compare exposure indices at one final brightness: EI, or EI:OVER for OVER stops of overexposure, brought down by as
    /// much
    #[arg(long, value_name = "EI[:OVER]", num_args = 1.., requires = "list")]
    pub(crate) compare: Vec<String>,
    /// Compare with frames of the same scene in another camera mode: one frame each, or a bracket of the same stops
    #[arg(long, value_name = "FRAMES", num_args = 1.., conflicts_with = "list")]
    pub(crate) against: Vec<PathBuf>,
    /// Compare the colours of two camera modes: frames of one 24-patch chart in --light, this mode's and the other's
    #[arg(long, value_name = "FRAME", num_args = 2, requires = "light")]
    pub(crate) chart: Vec<PathBuf>,
    /// Light of --chart: a, d50, d55, d65, d75, daylight by kelvin such as d5600, lamp light (a black body) by kelvin such
    /// as p3200, or a CSV file of its spectrum
    #[arg(long, value_name = "LIGHT")]
    pub(crate) light: Option<String>,
    /// The other mode as a camera of the show, by name. With --chart, its curve is used; without --chart, the gamuts or
    /// matrices of both are compared
    #[arg(long, value_name = "NAME", requires = "show")]
    pub(crate) to: Option<String>,
    /// Frame of a slanted edge, exposed as the meter says, for sharpness; with a bracket at several exposure indices, one for
    /// each
    #[arg(long, value_name = "[EI:]FRAME", num_args = 1..)]
    pub(crate) edge_frame: Vec<String>,
    /// Rectangle of --edge-frame with the edge, in pixels [default: the best edge of the frame]
    #[arg(long, value_name = "X,Y,W,H", requires = "edge_frame")]
    pub(crate) edge: Option<String>,
    /// Frame or clip of a scene with detail and colour, to measure the codec; with a bracket at several exposure indices,
    /// one for each [default: the patch of the bracket]
    #[arg(long, value_name = "[EI:]FILE", num_args = 1..)]
    pub(crate) scene: Vec<String>,
    /// Measure only the white of the light, by the grey card of this frame at --patch; with --write it becomes the white of
    /// the camera in the show
    #[arg(long, value_name = "FRAME", requires = "patch", requires = "show", conflicts_with_all = ["frames", "list", "stops",
        "exif_from", "compare", "against", "chart", "to", "edge_frame", "scene", "fit", "plot", "picture"])]
    pub(crate) white: Option<PathBuf>,
    /// Write the measured ratings into the show, or the white; comments and layout are preserved
    #[arg(long, requires = "show")]
    pub(crate) write: bool,
    /// Day of the test, such as 2026-03-14, for the titles of --plot and --picture, and for the show with --write
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) date: Option<String>,
    /// With --write: also write a rating that lies more than half a stop off the curve of the show, or is flattered by noise
    /// reduction
    #[arg(long, requires = "write")]
    pub(crate) accept: bool,
    /// Write a curve fitted to the bracket into this file (.toml)
    #[arg(long, value_name = "FILE")]
    pub(crate) fit: Option<PathBuf>,
    /// Draw response, noise and latitude into this file (.png, .svg, .pdf, .html)
    #[arg(long, value_name = "FILE")]
    pub(crate) plot: Option<PathBuf>,
    /// Draw a frame with the measured patch into this file (.png, .svg, .pdf, .html)
    #[arg(long, value_name = "FILE")]
    pub(crate) picture: Option<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

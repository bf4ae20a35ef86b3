//! What the user may say.

mod apply;
mod memory;

pub(crate) use apply::{Apply, OnError};
pub(crate) use memory::Memory;

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

/// Bake the cubes of a show, or of one look
///
/// Every cube goes into one folder, with a manifest.json that says what each is and what it was made from. Files appear
/// whole or not at all. A cube is not a light meter: look at it on your own camera and monitor before the shoot.
#[derive(Debug, clap::Args)]
pub(crate) struct Bake {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Bake the show's shots instead, each with its own correction
    #[arg(long)]
    pub(crate) shots: bool,
    /// One shot of the show, by name; may be given several times
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Vec<String>,
    /// Points along each edge, 2 to 256, instead of the show's own
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Folder for the cubes, made if it is not there
    #[arg(long, value_name = "DIR", default_value = "cubes")]
    pub(crate) out: PathBuf,
    /// Format of the files; several at once with a comma between
    #[arg(long, value_name = "FORMAT", value_delimiter = ',', default_value = "cube")]
    pub(crate) format: Vec<BakeFormat>,
    /// How the cubes are read between their nodes, where they will stand: what a fit, the audit's lines and limits are of
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral")]
    pub(crate) reader: Reader,
    /// Choose the nodes so that the cubes stray least from the exact path, as the reader reads them; up to 65 points
    #[arg(long)]
    pub(crate) fit: bool,
    /// Put curves in front of each cube, so that its nodes stand where the picture bends most; for CLF alone
    #[arg(long)]
    pub(crate) shaper: bool,
    /// Most that a cube may stray from the exact path, such as mean=0.2,p99=0.8,max=2: of plausible colours, or of
    /// another set of the audit, such as neutral.max=0.3; exit code 1 beyond
    #[arg(long, value_name = "LIMIT", value_delimiter = ',', conflicts_with = "no_audit")]
    pub(crate) max_error: Vec<String>,
    /// Do not compare the cubes with the exact path
    #[arg(long)]
    pub(crate) no_audit: bool,
    /// Box that the cubes are for, by its name in the show: they must keep within its limits
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
    /// Decimals of a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// No comments in a .cube, for boxes that choke on them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Print the manifest as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum BakeFormat {
    Cube,
    Clf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Reader {
    Tetrahedral,
    Trilinear,
    Either,
}

impl From<Reader> for rushlight::cube::Reader {
    fn from(reader: Reader) -> Self {
        match reader {
            Reader::Tetrahedral => Self::Tetrahedral,
            Reader::Trilinear => Self::Trilinear,
            Reader::Either => Self::Either,
        }
    }
}

/// Print one colour after every stage of the path
///
/// The colour is camera signal, 0 to 1 in each channel; with --stops, a neutral so many stops from mid-grey; with `-`,
/// one colour a line from standard input. Of a table file, it is what a reader of the file gets.
#[derive(Debug, clap::Args)]
pub(crate) struct Probe {
    /// Show or look document (.toml), or a table file (.cube, .clf)
    #[arg(value_name = "SHOW-or-LOOK-or-FILE")]
    pub(crate) file: PathBuf,
    /// Red, green and blue of the camera signal, or `-`
    #[arg(value_name = "R G B", num_args = 0..=3, allow_negative_numbers = true)]
    pub(crate) colour: Vec<String>,
    /// A neutral so many stops from mid-grey, instead of a colour
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true, conflicts_with = "colour")]
    pub(crate) stops: Option<f64>,
    /// How a table file is read between its nodes; left out: tetrahedral for cubes, the file's own for CLF
    #[arg(long, value_name = "KIND")]
    pub(crate) interpolation: Option<Interpolation>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Shot of the show, by name, whose correction goes in
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Interpolation {
    Tetrahedral,
    Trilinear,
}

/// Look for what breaks a look before the shoot
///
/// Searches the exact path and the cube of it for falling lightness, folds, clipping, banding, turning hues, casts, and
/// lights that lose their shape. Each property holds, is marginal or breaks, by limits that the show may set under
/// [stress]. Exit code 0: nothing breaks. 1: something does. 2: it could not run.
#[derive(Debug, clap::Args)]
pub(crate) struct Stress {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Points along each edge of the cube, 2 to 256, instead of the show's own
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// How the cube is read between its nodes, where it will stand
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral")]
    pub(crate) reader: Reader,
    /// With the correction of this shot of the show, on the looks and the cameras of the shot
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Show the findings with a step in the look that is not there: compress, or saturation=AMOUNT
    #[arg(long = "try", value_name = "STEP")]
    pub(crate) step: Option<String>,
    /// text, json, markdown or html, to standard output or with =FILE to a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]")]
    pub(crate) format: Vec<String>,
    /// Print as JSON
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
}

/// Say how healthy a cube is, and whether it keeps to its specification; or what corrections a file holds
///
/// Exit code 0: it can be read. 1: with --strict, it departs from its specification. 2: it cannot be read.
#[derive(Debug, clap::Args)]
pub(crate) struct Inspect {
    /// Table file (.cube, .clf, or .png for a Hald image), or corrections by the ASC CDL (.cc, .ccc, .cdl, .ale, .csv)
    pub(crate) file: PathBuf,
    /// Exit with 1 when the file departs from its specification
    #[arg(long)]
    pub(crate) strict: bool,
    /// Draw neutrals and the axis of each channel into this file (.png, .svg, .pdf, .html)
    #[arg(long, value_name = "FILE")]
    pub(crate) plot: Option<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RangeChange {
    FullToLegal,
    LegalToFull,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PngBits {
    #[value(name = "8")]
    Eight,
    #[value(name = "16")]
    Sixteen,
}

/// Convert cubes: size, domain, range, format; several into one; or corrections by the ASC CDL
///
/// Several cubes become one that does what they do one after the other. A file's kind goes by its name: .cube, .clf, or
/// .png for a Hald image. Between nodes, cubes are read by the tetrahedral interpolant.
///
/// Corrections go from .cc, .ccc, .cdl, and the ASC_SOP and ASC_SAT columns of .ale and .csv, to .cc, .ccc, .cdl, .csv, a
/// .clf with an ASC_CDL node, or a folder with a .cc for each; several files are put together.
#[derive(Debug, clap::Args)]
pub(crate) struct Convert {
    /// Files to read, then the file to write
    #[arg(value_name = "IN... OUT", required = true, num_args = 1..)]
    pub(crate) files: Vec<PathBuf>,
    /// Points along each edge, 2 to 256; makes a cube of curves
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Lower and upper bound of the input, for every channel
    #[arg(long, value_name = "BOUND", num_args = 2, allow_negative_numbers = true)]
    pub(crate) domain: Option<Vec<f64>>,
    /// Range of the signal that goes in: from what the files were made for, to what it is to take
    #[arg(long, value_name = "CHANGE")]
    pub(crate) input: Option<RangeChange>,
    /// Range of the signal that comes out: from what the files give, to what it is to give
    #[arg(long, value_name = "CHANGE")]
    pub(crate) output: Option<RangeChange>,
    /// Title, instead of the first file's own
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,
    /// Decimals of a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// No comments in a .cube, for boxes that choke on them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Limit the values to 0 to 1; for a .clf of a correction, as the CDL's own formula does
    #[arg(long)]
    pub(crate) clamp: bool,
    /// Correction to take, by its id or the name of its shot; may be given several times
    #[arg(long, value_name = "ID")]
    pub(crate) id: Vec<String>,
    /// Column of an .ale or .csv that names the shots; left out: Name, or else Shot
    #[arg(long, value_name = "NAME")]
    pub(crate) column: Option<String>,
    /// Bits of a .png
    #[arg(long, value_name = "BITS", default_value = "16")]
    pub(crate) bits: PngBits,
}

/// Compare two looks, shows or cubes: what changed in the document, and in the picture
///
/// Any mix whose input and output mean the same. Exit code 0: identical, or within the limits. 1: a limit is exceeded; or,
/// where no limits are given, something differs. 2: it could not run. Called by git as an external diff (seven
/// arguments), it prints what changed and always gives 0, as git asks for.
#[derive(Debug, clap::Args)]
pub(crate) struct Diff {
    /// Two files: show or look documents (.toml), table files (.cube, .clf, .png); with --git, files and folders
    #[arg(value_name = "OLD NEW")]
    pub(crate) paths: Vec<PathBuf>,
    /// Compare as it was at one revision and is now, or at two revisions; paths follow after `--`
    #[arg(long, value_name = "REV", num_args = 1..=2)]
    pub(crate) git: Vec<String>,
    /// Show whose cameras and displays looks and cubes go by; left out: the show.toml beside or above a look
    #[arg(long, value_name = "SHOW")]
    pub(crate) show: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// How table files are read between their nodes; left out: tetrahedral for cubes, the file's own for CLF
    #[arg(long, value_name = "KIND")]
    pub(crate) interpolation: Option<Interpolation>,
    /// Most that a figure may be, `[GROUP.]FIGURE=VALUE`: mean, p95 or max, of whole, plausible, neutral, skin, samples,
    /// lights, or of every group; beside the show's own [limits]
    #[arg(long, value_name = "LIMIT", value_delimiter = ',')]
    pub(crate) limit: Vec<String>,
    /// Give 0 whatever differs, if it could run
    #[arg(long)]
    pub(crate) exit_zero: bool,
    /// text, json, markdown, html or junit, to standard output or with =FILE to a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]")]
    pub(crate) format: Vec<String>,
    /// Still (EXR, TIFF, PNG) for the page's pictures, ACES AP1 light; left out: frame.exr beside the newer side or its
    /// folder, if there is one
    #[arg(long, value_name = "FILE")]
    pub(crate) frame: Option<PathBuf>,
    /// Print as JSON
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
}

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

/// Print the stop table of a show's cameras
///
/// Where each stop lies in the signal, for every exposure index that the show rates: from the floor to the clip, with
/// mid-grey, skin a stop over it and a white of 90 %. A rating without a measured clip ends where its curve does, and
/// says so. Stops count from mid-grey: over it above 0, under it below.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct Camera {
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

/// Make the hand-off to post, or check one that was received
///
/// One folder, or one .zip: a cube and a CLF for each look, camera and display, and for each shot with its correction; the
/// corrections; the look in parts for ACES, with ACES Metadata Files that point to them; exposure cubes with their keys; stop
/// tables and cards; the documents; a README in plain words, a manifest with sizes and checksums, and SHA256SUMS. It appears
/// whole or not at all, and the same documents give the same bytes.
///
/// With --verify, exit code 1 means that something is not as it was sent.
#[derive(Debug, clap::Args)]
pub(crate) struct Package {
    /// Show document (.toml)
    #[arg(required_unless_present = "verify", conflicts_with = "verify")]
    pub(crate) show: Option<PathBuf>,
    /// Folder to make, which must not be there; left out: hand-off, or none where a .zip is made
    #[arg(long, value_name = "DIR", conflicts_with = "verify")]
    pub(crate) out: Option<PathBuf>,
    /// Make this .zip, instead of a folder or beside it
    #[arg(long, value_name = "FILE", conflicts_with = "verify")]
    pub(crate) zip: Option<PathBuf>,
    /// How the cubes are read between their nodes, where they will stand: what a fit and the audit's lines are of
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral")]
    pub(crate) reader: Reader,
    /// Choose the nodes so that the cubes stray least from the exact path
    #[arg(long)]
    pub(crate) fit: bool,
    /// Leave out the search for what breaks each look
    #[arg(long, conflicts_with = "verify")]
    pub(crate) no_stress: bool,
    /// Day in the metadata files and the .zip, YYYY-MM-DD; left out: 1980-01-01, since no clock is read
    #[arg(long, value_name = "DAY")]
    pub(crate) date: Option<String>,
    /// Check a hand-off that was received, a folder or a .zip; nothing is written
    #[arg(long, value_name = "HAND-OFF")]
    pub(crate) verify: Option<PathBuf>,
    /// Print the manifest, or what differs, as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SignalRange {
    Full,
    Legal,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    Curves,
    Gamuts,
    Displays,
    Steps,
}

/// Make the look sheet, one page to send round: what each look is, what it does, and how it holds
///
/// For each look, on two sheets of A4 when printed: the look in words, curves of greys, a stop table with the cast and the
/// saturation of every zone, pictures before and after, how far its cubes stray, and every file with its SHA-256. Figures
/// are of the exact path. A page needs no network and is the same on every run.
#[derive(Debug, clap::Args)]
pub(crate) struct Sheet {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Stills (EXR, TIFF, PNG) for the pictures, ACES AP1 light; left out: frame.exr beside the document or its folder, if there is one
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    /// Folder of the baked cubes: its manifest says what they are; left out: the cubes that `bake` would write
    #[arg(long, value_name = "DIR")]
    pub(crate) cubes: Option<PathBuf>,
    /// Search for what breaks each look, as `stress` does, and say what was found: takes a while
    #[arg(long)]
    pub(crate) stress: bool,
    /// The page (.html)
    #[arg(long, value_name = "FILE", default_value = "sheet.html")]
    pub(crate) out: PathBuf,
    /// The page as PDF too, by a headless Chromium, Chrome or Edge of this machine
    #[arg(long, value_name = "FILE")]
    pub(crate) pdf: Option<PathBuf>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Develop looks on real frames, in a browser of this machine
///
/// Prints the address of a page that only this machine can open, and opens it. The page shows a frame through the very cube
/// that goes to the monitor; the steps of the look can be changed, re-ordered and bypassed, and every change is seen at once.
/// Saving writes the look's document with its comments kept and its revision raised. Nothing is asked of any other
/// machine. The monitor is the judge, not the browser. Ctrl-C ends it. Edits that were not saved
/// are kept in a folder of yours (XDG_STATE_HOME or ~/.local/state on Linux), whatever ends it, and offered on the next start.
#[derive(Debug, clap::Args)]
pub(crate) struct Preview {
    /// Show or look document (.toml)
    #[arg(value_name = "SHOW-or-LOOK")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Stills (EXR, TIFF, PNG, DPX, JPEG) or clips to look at; left out: frame.exr beside the document or its
    /// folder, if there is one
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    /// Port to listen on; left out: one that is free
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub(crate) port: u16,
    /// Keep the key of the address in this file, made if it is not there: with --port, the same address then works again after
    /// a restart, and a page that is open goes on
    #[arg(long, value_name = "FILE")]
    pub(crate) token_file: Option<PathBuf>,
    /// Do not open a browser
    #[arg(long)]
    pub(crate) no_open: bool,
    /// Read the page's own files from this folder at each request, for who works on the page
    #[arg(long, value_name = "DIR", hide = true)]
    pub(crate) page_from: Option<PathBuf>,
}

/// List what is built in
#[derive(Debug, clap::Args)]
pub(crate) struct List {
    /// What to list; left out: everything
    pub(crate) kind: Option<Kind>,
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
    /// Write the pages of every command into this folder instead
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

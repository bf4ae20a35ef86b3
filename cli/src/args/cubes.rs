//! Arguments of the commands that make, read and convert cubes.

use super::{Pick, Subject, named};
use clap::ValueEnum;
use rushlight::cube::{Interpolation, Reader};
use std::path::PathBuf;

/// Bake the cubes of a show, or of one look
///
/// Writes all cubes into one folder, with a manifest.json that states what each cube is and what it was made from. Each
/// cube is compared with the exact path, and its error is reported. Files appear whole or not at all.
///
/// A cube is not a light meter: test it on your own camera and monitor before the shoot.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight bake fixtures/demo/show.toml
  rushlight bake fixtures/demo/show.toml --display onset --fit
  rushlight bake fixtures/demo/show.toml --shots --out shots")]
pub(crate) struct Bake {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Bake the shots of the show, each with its correction, instead of the looks
    #[arg(long)]
    pub(crate) shots: bool,
    /// Bake this shot of the show, by name; may be given several times
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Vec<String>,
    /// Points along each edge of a cube, 2 to 256 [default: as in the show, or 33]
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Folder for the cubes; it is created if needed
    #[arg(long, value_name = "DIR", default_value = "cubes")]
    pub(crate) out: PathBuf,
    /// Format of the files; several are separated by commas
    #[arg(long, value_name = "FORMAT", value_delimiter = ',', default_value = "cube")]
    pub(crate) format: Vec<BakeFormat>,
    /// Interpolation of the device that will use the cubes; --fit, the reported error and --max-error assume it
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral", value_parser = named::<Reader>())]
    pub(crate) reader: Reader,
    /// Fit the nodes for the least error under that interpolation, instead of sampling them; up to 65 points
    #[arg(long)]
    pub(crate) fit: bool,
    /// Put a shaper (curves) in front of each cube, with more nodes where the look bends most; CLF only
    #[arg(long)]
    pub(crate) shaper: bool,
    /// Largest error that a cube may have, such as mean=0.2,p99=0.8,max=2, in CIEDE2000 (SDR) or Delta E ITP (HDR);
    /// for colours that a camera meets, or for another set, such as neutral.max=0.3. Exit code 1 when it is exceeded
    #[arg(long, value_name = "LIMIT", value_delimiter = ',', conflicts_with = "no_audit")]
    pub(crate) max_error: Vec<String>,
    /// Do not measure the error of the cubes against the exact path
    #[arg(long)]
    pub(crate) no_audit: bool,
    /// Device of the show, by name, whose limits every cube must meet
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
    /// Decimals of the values in a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// Write no comments into a .cube, for devices that reject them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Replace files of the same names that rushlight did not make
    #[arg(long)]
    pub(crate) force: bool,
    /// Print the manifest as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum BakeFormat {
    Cube,
    Clf,
}

/// Print a colour after each stage of the path from camera to display
///
/// The colour is camera signal, 0 to 1 in each channel; with `-`, colours are read from standard input, one per line. For a
/// table file, the output of the table is printed.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight probe fixtures/demo/show.toml --look night --camera a \\
    --display onset --stops 0
  rushlight probe fixtures/demo/looks/night.toml \\
    --camera slog3+sgamut3-cine --display bt709 0.41 0.41 0.41")]
pub(crate) struct Probe {
    /// Show or look document (.toml), or a table file (.cube, .clf)
    #[arg(value_name = "SHOW-or-LOOK-or-FILE")]
    pub(crate) file: PathBuf,
    /// Red, green and blue of the camera signal, 0 to 1, or `-` for standard input
    #[arg(value_name = "R G B", num_args = 0..=3, allow_negative_numbers = true)]
    pub(crate) colour: Vec<String>,
    /// Probe a grey this many stops from mid-grey, -30 to 30, instead of a colour
    #[arg(long, value_name = "STOPS", allow_negative_numbers = true, conflicts_with = "colour")]
    pub(crate) stops: Option<f64>,
    /// Interpolation of a table file [default: tetrahedral; for a CLF, as it states]
    #[arg(long, value_name = "KIND", value_parser = named::<Interpolation>())]
    pub(crate) interpolation: Option<Interpolation>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Apply the correction of this shot of the show, by name
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Say what a file is and which show it belongs to, check a cube for faults, or list corrections and events
///
/// A file that rushlight made says of which show, look, camera and display it is, and which files it was made from. With
/// --show, the show and the documents that it was made from are compared with the show as it is now, and the file itself with
/// the SHA-256 that the manifest beside it or above it states.
///
/// Exit codes: 0, the file can be read; 1, with --strict, it breaks a rule of its specification, with --show, it is not current,
/// was changed after it was made or does not name its show, or a correction in it cannot be used; 2, it cannot be read.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight inspect cubes/saltmarsh_night_r1_a_onset_33.cube
  rushlight inspect fixtures/demo/cdl/night1.ccc")]
pub(crate) struct Inspect {
    /// Table file (.cube, .clf, or .png for a Hald image), ASC CDL corrections (.cc, .ccc, .cdl, .ale, .csv), event list
    /// (.edl, .otio), still, clip, or a page or drawing (.html, .svg, .pdf)
    pub(crate) file: PathBuf,
    /// Say whether the file is current in this show; exit with code 1 when it is not
    #[arg(long, value_name = "SHOW")]
    pub(crate) show: Option<PathBuf>,
    /// Exit with code 1 when the file breaks a rule of its specification
    #[arg(long)]
    pub(crate) strict: bool,
    /// Draw the greys and the axis of each channel into this file (.png, .svg, .pdf, .html)
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

/// Convert cubes (size, domain, range, format), join cubes, or convert ASC CDL corrections or frames
///
/// Several cubes are joined into one that applies them in the order given. The extension decides the format: .cube, .clf,
/// or .png for a Hald image. Cubes are interpolated tetrahedrally.
///
/// Corrections are read from .cc, .ccc and .cdl, from the ASC_SOP and ASC_SAT columns of .ale and .csv, and from the events
/// of .edl (SMPTE ST 258) and .otio. They are written as .cc, .ccc, .cdl or .csv, as a .clf with an ASC_CDL node, or into a
/// folder with a .cc for each; from an event list, also as .edl or .ale. Several files are joined into one collection. With
/// --into, they are entered into an event list, and everything else in that list stays as it is.
///
/// With --camera, a still of a camera's signal (.tif, .png, .dpx) is converted to a frame of ACES light (.exr), or such a
/// frame to a still.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight convert cubes/saltmarsh_night_r1_a_onset_33.cube night.clf
  rushlight convert cubes/saltmarsh_night_r1_a_onset_33.cube small.cube \\
    --points 17
  rushlight convert fixtures/demo/cdl/night1.ccc night1.csv")]
pub(crate) struct Convert {
    /// Files to read, followed by the file to write
    #[arg(value_name = "IN... OUT", required = true, num_args = 1..)]
    pub(crate) files: Vec<PathBuf>,
    /// Points along each edge, 2 to 256; curves are converted to a cube [default: as in the file]
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Lower and upper bound of the input in every channel [default: as in the file]
    #[arg(long, value_name = "BOUND", num_args = 2, allow_negative_numbers = true)]
    pub(crate) domain: Option<Vec<f64>>,
    /// Convert the range of the cube's input: with full-to-legal, a cube for full-range signal takes legal range
    #[arg(long, value_name = "CHANGE")]
    pub(crate) input: Option<RangeChange>,
    /// Convert the range of the cube's output: with full-to-legal, a cube that gives full range gives legal range
    #[arg(long, value_name = "CHANGE")]
    pub(crate) output: Option<RangeChange>,
    /// Camera of a frame: one of the show, or CURVE+GAMUT
    #[arg(long, value_name = "CAMERA")]
    pub(crate) camera: Option<String>,
    /// Show that has the camera of a frame
    #[arg(long, value_name = "SHOW", requires = "camera")]
    pub(crate) show: Option<PathBuf>,
    /// Gamut of the light in an .exr that is written [default: aces-ap0, an ACES frame]
    #[arg(long, value_name = "GAMUT")]
    pub(crate) linear: Option<String>,
    /// Title of the file that is written [default: the title of the first file]
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,
    /// Decimals of the values in a .cube, 4 to 10
    #[arg(long, value_name = "N", default_value_t = rushlight::format::cube::DEFAULT_DIGITS)]
    pub(crate) digits: usize,
    /// Write no comments into a .cube, for devices that reject them
    #[arg(long)]
    pub(crate) plain: bool,
    /// Clamp the values to 0 to 1; in a .clf of a correction, as the ASC CDL formula does
    #[arg(long)]
    pub(crate) clamp: bool,
    /// Convert only this correction, by its id or the name of its shot; may be given several times
    #[arg(long, value_name = "ID")]
    pub(crate) id: Vec<String>,
    /// Enter the corrections into this event list (.edl, .ale, .csv), by the name of each shot, and write the result
    #[arg(long, value_name = "FILE")]
    pub(crate) into: Option<PathBuf>,
    /// Frames per second, to write an .edl or .ale from an event list that does not state them
    #[arg(long, value_name = "RATE")]
    pub(crate) rate: Option<f64>,
    /// Column of an .ale or .csv that names the shots [default: Name, or Shot where there is no Name]
    #[arg(long, value_name = "NAME")]
    pub(crate) column: Option<String>,
    /// Bits per channel of a .png
    #[arg(long, value_name = "BITS", default_value = "16")]
    pub(crate) bits: PngBits,
    /// Replace files of the same names in an output folder that rushlight did not make; an output file that is named
    /// is replaced without it, unless it is read-only or an input
    #[arg(long)]
    pub(crate) force: bool,
}

//! Arguments of what makes, reads and turns cubes.

use super::{Pick, Subject};
use clap::ValueEnum;
use std::path::PathBuf;

/// Bake the cubes of a show, or of one look
///
/// Every cube goes into one folder, with a manifest.json that says what each is and what it was made from. Files appear
/// whole or not at all. A cube is not a light meter: look at it on your own camera and monitor before the shoot.
#[derive(Debug, clap::Args)]
pub(crate) struct Bake {
    #[command(flatten)]
    pub(crate) of: Subject,
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
    /// Replace files in the folder that have the names of the cubes or the manifest and were not made by this program
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
    /// Replace files in the folder that have the names of the corrections and were not made by this program; a file that is
    /// named is replaced without it
    #[arg(long)]
    pub(crate) force: bool,
}

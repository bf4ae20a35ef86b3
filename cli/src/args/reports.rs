//! Arguments of the commands that test, compare, describe and hand off looks.

#[cfg(feature = "preview")]
use super::Live;
use super::{FrameIs, Memory, Pick, Subject, named};
use rushlight::cube::{Interpolation, Reader};
use std::path::PathBuf;

/// Test a look for faults before the shoot
///
/// Searches the exact path and its cube for falling lightness, folds, clipping, banding, turning hues, casts, and lights
/// that lose their shape. Each property holds, is marginal, or breaks, by limits that the show can set under [stress].
///
/// Exit codes: 0, everything holds or is marginal; 1, something breaks, or with --strict is marginal; 2, the test could not
/// run.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight stress fixtures/demo/show.toml --look night --display onset
  rushlight stress fixtures/demo/show.toml --look night --camera a \\
    --display onset --format html=stress.html")]
pub(crate) struct Stress {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Points along each edge of the cube, 2 to 256 [default: as in the show, or 33]
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Interpolation of the device that will use the cube
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral", value_parser = named::<Reader>())]
    pub(crate) reader: Reader,
    /// Apply the correction of this shot of the show, by name, with the looks and cameras of the shot
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Exit with code 1 also when something is marginal
    #[arg(long)]
    pub(crate) strict: bool,
    /// Show the findings with a step added to the look: compress, or saturation=AMOUNT
    #[arg(long = "try", value_name = "STEP")]
    pub(crate) step: Option<String>,
    /// Report format: text, json, markdown or html, printed, or written with =FILE; may be given several times [default:
    /// text]
    #[arg(long, value_name = "FORMAT[=FILE]")]
    pub(crate) format: Vec<String>,
    /// Print the report as JSON
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
}

/// Compare two looks, shows or cubes: the changes in the document and in the picture
///
/// Looks, shows and cubes can be mixed if both sides take the same camera signal and feed the same display. Two pictures
/// (EXR, TIFF, PNG, JPEG, DPX) of one size are compared pixel by pixel; their tags or --display say for which display they
/// are. Two PNG that are Hald images are compared as tables.
///
/// Exit codes: 0, identical or within the limits, or, of two pictures without limits, the same to the eye: no pixel differs by
/// more than 1, which a careful eye just sees (for every bit, give --limit max=0); 1, a limit is exceeded, or without limits
/// something differs, or a cube or a look that no show lists was added or removed; 2, the comparison could not run. As an
/// external diff of git (seven arguments), it prints the changes and exits with 0, as git requires.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight diff fixtures/demo/looks/night.toml \\
    fixtures/demo/revisions/night-2.toml \\
    --show fixtures/demo/show.toml --exit-zero")]
pub(crate) struct Diff {
    /// Two files: show or look documents (.toml), table files (.cube, .clf, .png), pictures; with --git, files and folders
    #[arg(value_name = "OLD NEW")]
    pub(crate) paths: Vec<PathBuf>,
    /// Compare a git revision with the working files, or two revisions; paths follow after `--`; without paths, every show, look
    /// and cube of the repository
    #[arg(long, value_name = "REV", num_args = 1..=2)]
    pub(crate) git: Vec<String>,
    /// Show that supplies cameras and displays [default: show.toml in the folder of a look or in a parent folder]
    #[arg(long, value_name = "SHOW")]
    pub(crate) show: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Interpolation of table files [default: tetrahedral; for a CLF, as it states]
    #[arg(long, value_name = "KIND", value_parser = named::<Interpolation>())]
    pub(crate) interpolation: Option<Interpolation>,
    /// Largest difference allowed, `[GROUP.]FIGURE=VALUE`, in CIEDE2000 (SDR) or Delta E ITP (HDR): FIGURE is mean, p95 or
    /// max; GROUP is whole, plausible, neutral, skin, samples or lights [default: every group that has no limit of
    /// its own on that figure]. Replaces the limit of the same name in [limits] of the show; its other limits stay
    #[arg(long, value_name = "LIMIT", value_delimiter = ',')]
    pub(crate) limit: Vec<String>,
    /// Exit with code 0 whatever differs
    #[arg(long)]
    pub(crate) exit_zero: bool,
    /// Report format: text, json, markdown, html or junit, printed, or written with =FILE; may be given several times
    /// [default: text]
    #[arg(long, value_name = "FORMAT[=FILE]")]
    pub(crate) format: Vec<String>,
    /// Still (EXR, TIFF, PNG, DPX) of light or of a camera's signal for the pictures of the page [default: frame.exr beside
    /// the newer side or in its parent folder; with --git, or if there is none, a chart of colours]
    #[arg(long, value_name = "FILE")]
    pub(crate) frame: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) frame_is: FrameIs,
    /// Print the report as JSON
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
}

/// Make the look sheet, an HTML page that describes each look of a show
///
/// For each look, the sheet has the look in words, curves of greys, a stop table with the cast and the saturation of every
/// zone, pictures before and after, the error of its cubes, and every file with its SHA-256. Figures are those of the exact
/// path. The page needs no network, prints on A4, and is the same on every run.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight sheet fixtures/demo/show.toml
  rushlight sheet fixtures/demo/show.toml --look night --out night.html")]
pub(crate) struct Sheet {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Stills (EXR, TIFF, PNG, DPX) of light or of a camera's signal for the pictures [default: frame.exr beside the document
    /// or in its parent folder, if there is one]
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) frame_is: FrameIs,
    /// Folder of baked cubes with their manifest [default: the cubes that `bake` would write]
    #[arg(long, value_name = "DIR")]
    pub(crate) cubes: Option<PathBuf>,
    /// Run the stress test on each look and include the result; takes longer
    #[arg(long)]
    pub(crate) stress: bool,
    /// Page to write (.html) [default: sheet.html, unless a file of that name was not made by rushlight]
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Also print the page to this PDF, with an installed Chromium, Chrome or Edge
    #[arg(long, value_name = "FILE")]
    pub(crate) pdf: Option<PathBuf>,
    /// Print the report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Make the hand-off to post-production, or verify one
///
/// A hand-off is one folder or one .zip with a cube and a CLF for each look, camera and display, and for each shot with its
/// correction; the corrections; the look in parts for ACES, with ACES Metadata Files; exposure cubes with their keys; stop
/// tables and cards; reference frames with the expected pictures; the documents; a page that says what to load where; a
/// README; a manifest with sizes and checksums; and SHA256SUMS. It appears whole or not at all, and the same documents give
/// the same bytes.
///
/// Exit codes: 0, the hand-off is made, or verified without a difference; 1, with --verify, a file differs from the manifest;
/// 2, the command could not run.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight package fixtures/demo/show.toml --zip hand-off.zip
  rushlight package --verify hand-off.zip")]
pub(crate) struct Package {
    /// Show document (.toml)
    #[arg(required_unless_present = "verify", conflicts_with = "verify")]
    pub(crate) show: Option<PathBuf>,
    /// Folder to create; it must not exist [default: hand-off, or none with --zip]
    #[arg(long, value_name = "DIR", conflicts_with = "verify")]
    pub(crate) out: Option<PathBuf>,
    /// Write this .zip instead of a folder; with --out, write both
    #[arg(long, value_name = "FILE", conflicts_with = "verify")]
    pub(crate) zip: Option<PathBuf>,
    /// Interpolation of the devices that will use the cubes; --fit and the reported error assume it
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral", value_parser = named::<Reader>())]
    pub(crate) reader: Reader,
    /// Fit the nodes for the least error, instead of sampling them
    #[arg(long)]
    pub(crate) fit: bool,
    /// Skip the stress test of each look
    #[arg(long, conflicts_with = "verify")]
    pub(crate) no_stress: bool,
    /// Add the look sheet as PDF, printed by Chromium, Chrome or Edge; its bytes depend on the browser
    #[arg(long, conflicts_with = "verify")]
    pub(crate) pdf: bool,
    /// Stills of light or of a camera's signal that go in as reference frames, beside a chart of each camera
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with = "verify")]
    pub(crate) frame: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) frame_is: FrameIs,
    /// Reports of `rushlight chain check` to include (.csv, .html, .json)
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with = "verify")]
    pub(crate) chain: Vec<PathBuf>,
    /// Date in the metadata files and the .zip, YYYY-MM-DD; no clock is read [default: 1980-01-01]
    #[arg(long, value_name = "DAY")]
    pub(crate) date: Option<String>,
    /// Verify this hand-off, a folder or a .zip, against its manifest; nothing is written
    #[arg(long, value_name = "HAND-OFF")]
    pub(crate) verify: Option<PathBuf>,
    /// Print the manifest, or with --verify the differences, as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Edit looks on real frames, in a browser on this machine
///
/// Serves a page that only this machine can open, prints its address, and opens it. The page shows a frame through the cube
/// that would be baked. Steps can be changed, re-ordered and bypassed, and each change shows at once. Saving writes the
/// document of the look: comments are preserved and the revision is raised. Shots can be corrected too: saving a shot
/// writes the file of its correction.
///
/// Judge the picture on a calibrated monitor, not in the browser. No other machine is contacted, except an address that you
/// give to --live. Ctrl-C ends the command. --max-memory limits all its frames together. Unsaved edits are stored (on Linux
/// under XDG_STATE_HOME or ~/.local/state) and offered on the next start.
#[cfg(feature = "preview")]
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight preview fixtures/demo/show.toml
  rushlight preview fixtures/demo/show.toml --look night --no-open
  rushlight preview fixtures/demo/show.toml --shot 12A-3 --out box")]
pub(crate) struct Preview {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Stills (EXR, TIFF, PNG, DPX, JPEG) or clips to show [default: frame.exr beside the document or in its parent folder,
    /// if there is one]
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    /// Begin with this shot of the show, seen through its look with its correction
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Bake the cube of a shot into this folder when the shot is saved, for a box that reads it there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) live: Live,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Port to listen on [default: a free port]
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub(crate) port: u16,
    /// File for the token in the address, created if needed; with --port, the same address then works after a restart, and
    /// an open page continues
    #[arg(long, value_name = "FILE")]
    pub(crate) token_file: Option<PathBuf>,
    /// Do not open a browser
    #[arg(long)]
    pub(crate) no_open: bool,
    /// Read the files of the page from this folder at each request, for work on the page
    #[arg(long, value_name = "DIR", hide = true)]
    pub(crate) page_from: Option<PathBuf>,
}

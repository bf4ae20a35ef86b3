//! Arguments of what looks at looks and hands them on.

use super::{Interpolation, Memory, Pick, Reader, Subject};
use std::path::PathBuf;

/// Look for what breaks a look before the shoot
///
/// Searches the exact path and the cube of it for falling lightness, folds, clipping, banding, turning hues, casts, and
/// lights that lose their shape. Each property holds, is marginal or breaks, by limits that the show may set under
/// [stress]. Exit code 0: everything holds or is marginal. 1: something breaks; with --strict, something is marginal. 2: it
/// could not run.
#[derive(Debug, clap::Args)]
pub(crate) struct Stress {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Points along each edge of the cube, 2 to 256, instead of the show's own
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// How the cube is read between its nodes, where it will stand
    #[arg(long = "for", value_name = "READER", default_value = "tetrahedral")]
    pub(crate) reader: Reader,
    /// With the correction of this shot of the show, on the looks and the cameras of the shot
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Give exit code 1 for what is marginal too
    #[arg(long)]
    pub(crate) strict: bool,
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

/// Make the look sheet, one page to send round: what each look is, what it does, and how it holds
///
/// For each look, on two sheets of A4 when printed: the look in words, curves of greys, a stop table with the cast and the
/// saturation of every zone, pictures before and after, how far its cubes stray, and every file with its SHA-256. Figures
/// are of the exact path. A page needs no network and is the same on every run.
#[derive(Debug, clap::Args)]
pub(crate) struct Sheet {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Stills (EXR, TIFF, PNG) for the pictures, ACES AP1 light; left out: frame.exr beside the document or its folder, if there is one
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    /// Folder of the baked cubes: its manifest says what they are; left out: the cubes that `bake` would write
    #[arg(long, value_name = "DIR")]
    pub(crate) cubes: Option<PathBuf>,
    /// Search for what breaks each look, as `stress` does, and say what was found: takes a while
    #[arg(long)]
    pub(crate) stress: bool,
    /// The page (.html); left out: sheet.html, in whose place a file of that name stays that this program did not make
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// The page as PDF too, by a headless Chromium, Chrome or Edge of this machine
    #[arg(long, value_name = "FILE")]
    pub(crate) pdf: Option<PathBuf>,
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

/// Develop looks on real frames, in a browser of this machine
///
/// Prints the address of a page that only this machine can open, and opens it. The page shows a frame through the very cube
/// that goes to the monitor; the steps of the look can be changed, re-ordered and bypassed, and every change is seen at once.
/// Saving writes the look's document with its comments kept and its revision raised. Nothing is asked of any other
/// machine. The monitor is the judge, not the browser. Ctrl-C ends it. Edits that were not saved
/// are kept in a folder of yours (XDG_STATE_HOME or ~/.local/state on Linux), whatever ends it, and offered on the next start.
#[derive(Debug, clap::Args)]
pub(crate) struct Preview {
    #[command(flatten)]
    pub(crate) of: Subject,
    /// Stills (EXR, TIFF, PNG, DPX, JPEG) or clips to look at; left out: frame.exr beside the document or its
    /// folder, if there is one
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) frame: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) memory: Memory,
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

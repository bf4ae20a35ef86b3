//! Arguments of `apply`.

use super::{Memory, Pick, named};
use clap::ValueEnum;
use rushlight::cube::Interpolation;
use rushlight::frame::Depth;
use std::path::PathBuf;

/// Apply a look or a cube to stills, sequences and clips
///
/// Stills are EXR, TIFF, PNG, JPEG and DPX, by their extensions. Clips need the ffmpeg program: every clip that ffmpeg reads
/// can be an input, and mov, mp4, mkv, mxf, avi, nut and webm can be written. Name a sequence shot.####.exr, or
/// shot.[1001-1100].exr for a range that must be complete. Its output is a sequence of the same numbers (out.####.png) or a
/// clip (out.mov). Write a clip as stills with out.####.png. With several inputs, OUT is a folder.
///
/// A folder as an input stands for the clips in it.
///
/// A look is baked into a cube in memory, and the picture goes through this cube, unless --exact is given; the report
/// states its error against the exact path. --interpolation names the interpolation. Files appear whole or not at all.
///
/// Exit codes: 0, all frames are written; 1, some frames could not be read or written; 2, the command could not run, or no
/// frame is written.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  rushlight apply fixtures/demo/show.toml --look night --display onset \\
    --scene-linear aces-ap1 fixtures/demo/frame.exr night.png
  rushlight apply fixtures/demo/show.toml --look night --camera a \\
    --display onset fixtures/demo/brackets/a_800_09.png out.png
  rushlight apply --cube cubes/saltmarsh_night_r1_a_onset_33.cube \\
    fixtures/demo/brackets/a_800_09.png cube.png")]
pub(crate) struct Apply {
    /// Show or look document (.toml; none with --cube), the files to read, and the file or folder to write
    #[arg(value_name = "SHOW-or-LOOK IN... OUT", required = true, num_args = 1..)]
    pub(crate) files: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Apply the correction of this shot of the show, by name
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Give each file its correction by this event list (.edl, .ale, .csv, .otio): by the file's name, or by reel and
    /// timecode. An event without a correction takes the correction of the shot in the show that has the same name
    #[arg(long, value_name = "FILE", conflicts_with_all = ["shot", "cube", "raw"])]
    pub(crate) list: Option<PathBuf>,
    /// Column of an .ale or .csv of --list that names the shots [default: Name, or Shot where there is no Name]
    #[arg(long, value_name = "NAME", requires = "list")]
    pub(crate) column: Option<String>,
    /// Apply this table file (.cube, .clf, or .png for a Hald image) instead of a show or look; --display names the
    /// built-in display that it is for, so that the output is tagged for it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["look", "camera", "shot", "exact", "points", "scene_linear"])]
    pub(crate) cube: Option<PathBuf>,
    /// Apply the exact path in double precision instead of a cube; slower
    #[arg(long, conflicts_with = "points")]
    pub(crate) exact: bool,
    /// Points along each edge of the cube that is baked in memory, 2 to 256 [default: 33, or 65 for --scene-linear]
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// Interpolation of the cube [default: tetrahedral; for a CLF, as it states]
    #[arg(long, value_name = "KIND", value_parser = named::<Interpolation>())]
    pub(crate) interpolation: Option<Interpolation>,
    /// Take the frames as scene-linear light of this built-in gamut, mid-grey at 0.18, instead of camera signal
    #[arg(long, value_name = "GAMUT", conflicts_with = "camera")]
    pub(crate) scene_linear: Option<String>,
    /// Layer of EXR frames; EXR output retains the others [default: the first with red, green and blue]
    #[arg(long, value_name = "NAME")]
    pub(crate) layer: Option<String>,
    /// Format of files written into a folder, by its extension [default: as the input]
    #[arg(long, value_name = "EXTENSION")]
    pub(crate) format: Option<String>,
    /// Bits, or kind of float, per channel of stills [default: as the input, or 16 bits; half in EXR; 10 bits in DPX]
    #[arg(long, value_name = "DEPTH")]
    pub(crate) depth: Option<DepthArg>,
    /// Encoder of clips: review (H.264, or H.265 for PQ and HLG), small (the same, at most 1280 pixels wide), edit (VC-3,
    /// SMPTE ST 2019-1: intra-frame, 10-bit 4:2:2, in mov, mxf or mkv, at least 256 pixels wide), lossless (FFV1, 12-bit
    /// RGB), or the name of an ffmpeg encoder [default: review]
    #[arg(long, value_name = "NAME")]
    pub(crate) encoder: Option<String>,
    /// Pixel format of clips, by ffmpeg's name, such as yuv422p10le [default: by the encoder]
    #[arg(long, value_name = "FORMAT")]
    pub(crate) pixels: Option<String>,
    /// Print show, shot, look with its revision, camera, timecode or frame number, and "not for grading" on the pictures
    #[arg(long)]
    pub(crate) burn_in: bool,
    /// Print this text large and faint across the pictures
    #[arg(long, value_name = "TEXT", value_parser = text)]
    pub(crate) watermark: Option<String>,
    /// Leave the left half of the pictures without the look, for a comparison; not with --scene-linear
    #[arg(long, conflicts_with = "scene_linear")]
    pub(crate) split: bool,
    /// Option for the encoder, such as crf=20; may be given several times
    #[arg(long, value_name = "KEY=VALUE")]
    pub(crate) encoder_option: Vec<String>,
    /// Frames per second of a clip, such as 25, 23.976 or 24000/1001. From a clip, frames are repeated or dropped to match,
    /// and sound stays in sync [default: 24 from a sequence; from a clip its constant rate]
    #[arg(long, value_name = "RATE")]
    pub(crate) rate: Option<String>,
    /// Number of the first still, if a clip is written as stills
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) start: u64,
    /// Process raw frames of WIDTHxHEIGHT. Give `-` for IN and for OUT: frames come from standard input and go to standard
    /// output, and the report goes to standard error. LAYOUT is ffmpeg's name of the pixel format, such as yuv444p10le [default layout: gbrp16le]
    #[arg(long, value_name = "SIZE[:LAYOUT]", conflicts_with_all = ["encoder", "pixels", "encoder_option", "depth", "layer",
        "format", "resume", "slice", "scene_linear", "rate", "burn_in", "watermark", "split"])]
    pub(crate) raw: Option<String>,
    /// When a frame is missing, unreadable or cannot be written: stop, or skip it and continue
    #[arg(long, value_name = "CHOICE", default_value = "stop")]
    pub(crate) on_error: OnError,
    /// Replace stills and clips that this program did not make
    #[arg(long, conflicts_with = "resume")]
    pub(crate) force: bool,
    /// Skip frames and files that are already written
    #[arg(long)]
    pub(crate) resume: bool,
    /// Do one part of the work, such as 3/20 for part 3 of 20, so that several jobs can share it
    #[arg(long, value_name = "K/N")]
    pub(crate) slice: Option<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Number of frames to process at once [default: one per processor, at most 8]
    #[arg(long, value_name = "N")]
    pub(crate) jobs: Option<usize>,
    /// Print the report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum OnError {
    Stop,
    Skip,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DepthArg {
    #[value(name = "8")]
    Eight,
    #[value(name = "10")]
    Ten,
    #[value(name = "16")]
    Sixteen,
    Half,
    Float,
}

impl DepthArg {
    pub(crate) const fn depth(self) -> Depth {
        match self {
            Self::Eight => Depth::Integer(8),
            Self::Ten => Depth::Integer(10),
            Self::Sixteen => Depth::Integer(16),
            Self::Half => Depth::Half,
            Self::Float => Depth::Float,
        }
    }
}

/// Parses a text of one line that is not empty.
fn text(given: &str) -> Result<String, String> {
    match given.trim() {
        "" => Err("must be text".to_owned()),
        text if text.chars().any(char::is_control) => Err("must be one line".to_owned()),
        text => Ok(text.to_owned()),
    }
}

//! What the user may say of `apply`.

use super::{Interpolation, Memory, Pick};
use clap::ValueEnum;
use rushlight::frame::Depth;
use std::path::PathBuf;

/// Apply a look or a cube to stills, sequences and clips
///
/// Stills are EXR, TIFF, PNG, JPEG and DPX, by their extensions; clips are all that the ffmpeg program of this machine
/// reads, and mov, mp4, mkv, mxf, avi, nut and webm to write. A sequence is written shot.####.exr, or
/// shot.[1001-1100].exr for a range that must be whole; what is written from it takes its numbers: out.####.png, or is one
/// clip: out.mov. A clip becomes stills by out.####.png. Several inputs go into a folder. The picture goes through a 33-point cube baked in memory, read by tetrahedra, unless --exact is
/// given; the report says how far that strays. Files appear whole or not at all. Exit code 0: all is done. 1: some frames
/// could not be read or written. 2: it could not run, or no frame is done.
#[derive(Debug, clap::Args)]
pub(crate) struct Apply {
    /// Show or look document (.toml; left out with --cube), then the files to read, then the file or folder to write
    #[arg(value_name = "SHOW-or-LOOK IN... OUT", required = true, num_args = 1..)]
    pub(crate) files: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) pick: Pick,
    /// Shot of the show, by name, whose correction goes in
    #[arg(long, value_name = "NAME")]
    pub(crate) shot: Option<String>,
    /// Table file to apply instead of a show: .cube, .clf, or .png for a Hald image; --display then names the built-in
    /// display that it is for, which is what tags are written for
    #[arg(long, value_name = "FILE", conflicts_with_all = ["look", "camera", "shot", "exact", "points", "scene_linear"])]
    pub(crate) cube: Option<PathBuf>,
    /// The exact path in double precision, instead of a cube
    #[arg(long, conflicts_with = "points")]
    pub(crate) exact: bool,
    /// Points of the cube that is baked in memory; left out: 33, or 65 for --scene-linear
    #[arg(long, value_name = "N")]
    pub(crate) points: Option<usize>,
    /// How a cube is read between its nodes; left out: tetrahedral, and a CLF's own
    #[arg(long, value_name = "KIND")]
    pub(crate) interpolation: Option<Interpolation>,
    /// The frames hold scene-linear light of this built-in gamut, mid-grey at 0.18, instead of a camera's signal
    #[arg(long, value_name = "GAMUT", conflicts_with = "camera")]
    pub(crate) scene_linear: Option<String>,
    /// Layer of EXR frames; left out: the first that has red, green and blue. What else they hold is kept in EXR
    #[arg(long, value_name = "NAME")]
    pub(crate) layer: Option<String>,
    /// Format of what is written into a folder, by its extension; left out: that of the input
    #[arg(long, value_name = "EXTENSION")]
    pub(crate) format: Option<String>,
    /// Depth of what is written; left out: as deep as the input, or 16 bits, half float in EXR, 10 bits in DPX
    #[arg(long, value_name = "DEPTH")]
    pub(crate) depth: Option<DepthArg>,
    /// What clips are written with: review (H.264, or H.265 for PQ and HLG), small (the same, 1280 pixels wide at most),
    /// edit (VC-3, SMPTE ST 2019-1: each frame by itself, 10 bits 4:2:2, in mov, mxf or mkv, 256 pixels wide or more), lossless (FFV1, 12 bits RGB), or an encoder of ffmpeg by its name; left
    /// out: review
    #[arg(long, value_name = "NAME")]
    pub(crate) encoder: Option<String>,
    /// Pixel format of clips by ffmpeg's name, such as yuv422p10le, instead of the encoder's own here
    #[arg(long, value_name = "FORMAT")]
    pub(crate) pixels: Option<String>,
    /// Option of the encoder, such as crf=20; may be given several times
    #[arg(long, value_name = "KEY=VALUE")]
    pub(crate) encoder_option: Vec<String>,
    /// Frames a second, such as 25, 23.976 or 24000/1001. Of a clip that is made of a sequence: left out, 24. Of a clip that is
    /// made of a clip: frames are repeated and left out until there are as many, and sound stays in step; left out, its own,
    /// which must not vary
    #[arg(long, value_name = "RATE")]
    pub(crate) rate: Option<String>,
    /// Number of the first still of a clip
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) start: u64,
    /// Raw frames from standard input to standard output, `-` and `-`: WIDTHxHEIGHT, and the layout of their planes by ffmpeg's
    /// name, such as 3840x2160:gbrp16le, which it is when left out, or yuv444p10le. The report goes to standard error
    #[arg(long, value_name = "SIZE[:LAYOUT]", conflicts_with_all = ["encoder", "pixels", "encoder_option", "depth", "layer",
        "format", "resume", "slice", "scene_linear", "rate"])]
    pub(crate) raw: Option<String>,
    /// What to do when a frame is missing, broken or cannot be written: no more frames, or go on without it
    #[arg(long, value_name = "CHOICE", default_value = "stop")]
    pub(crate) on_error: OnError,
    /// Leave alone what is already written
    #[arg(long)]
    pub(crate) resume: bool,
    /// One part of the work, such as 3/20: the third of twenty, for jobs side by side
    #[arg(long, value_name = "K/N")]
    pub(crate) slice: Option<String>,
    #[command(flatten)]
    pub(crate) memory: Memory,
    /// Frames at work at once; left out: one for each processor, 8 at most
    #[arg(long, value_name = "N")]
    pub(crate) jobs: Option<usize>,
    /// Print as JSON
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

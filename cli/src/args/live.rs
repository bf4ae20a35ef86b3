//! A live picture.

use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(crate) struct Live {
    /// Live picture to show: a clip (played in a loop), a named pipe, - for standard input, an address such as
    /// udp://127.0.0.1:5000, or a device, by ffmpeg's name for it; needs ffmpeg
    #[arg(long = "live", value_name = "INPUT")]
    pub(crate) input: Option<String>,
    /// Format of the live picture, by ffmpeg's name for it: for a device v4l2 (Linux), avfoundation (macOS), dshow (Windows)
    /// or the format of its driver; for test pictures lavfi
    #[arg(long, value_name = "FORMAT", requires = "input")]
    pub(crate) live_format: Option<String>,
    /// Setting of the device for ffmpeg, such as framerate=25; may be repeated
    #[arg(long, value_name = "KEY=VALUE", requires = "input", allow_hyphen_values = true)]
    pub(crate) live_option: Vec<String>,
    /// Largest width of the live picture in pixels; a wider one is made smaller
    #[arg(long, value_name = "PIXELS", default_value_t = 960, value_parser = clap::value_parser!(u16).range(16..=8192))]
    pub(crate) live_width: u16,
    /// Folder for stills of the live picture [default: grabs beside the document]
    #[arg(long, value_name = "DIR", requires = "input")]
    pub(crate) grabs: Option<PathBuf>,
}

//! The one place that builds calls of ffmpeg and ffprobe: what each may open, and how large a picture it may decode. How long
//! it may take and how much it may send is the business of who runs it.

use std::ffi::{OsStr, OsString};
use std::path::Path;
use std::process::Command;

/// Containers that are read, by ffmpeg's names: those that hold their pictures themselves. Lists of other files are not
/// among them, since a file of any name may be one.
pub(super) const FORMATS: &str = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,mxf,avi,nut,mpegts,mpeg,mpegvideo,m4v,h264,hevc,av1,obu,ivf,\
                       dv,gxf,lxf,asf,flv,ogg,yuv4mpegpipe,mjpeg";
/// Pixels of the largest picture that is decoded, whatever a clip says of its size: 16384 x 16384.
const PIXELS: &str = "268435456";
/// Arguments before each file that is read: its format, its protocol, and its size.
const READS: [&str; 6] = ["-format_whitelist", FORMATS, "-protocol_whitelist", "file", "-max_pixels", PIXELS];

/// A path that is taken for a file, whatever its name begins with.
pub(super) fn url(path: &Path) -> OsString {
    let mut url = OsString::from("file:");
    url.push(path.as_os_str());
    url
}

/// ffprobe, with no input yet.
pub(super) fn ffprobe() -> Command {
    let mut command = Command::new("ffprobe");
    command.args(["-hide_banner", "-v", "error"]);
    command
}

/// ffmpeg, with no input yet.
pub(super) fn ffmpeg() -> Command {
    let mut command = Command::new("ffmpeg");
    command.args(["-nostdin", "-hide_banner", "-v", "error"]);
    command
}

/// Adds a clip to read.
pub(super) fn reading(command: &mut Command, path: &Path) {
    command.args(READS).arg("-i").arg(url(path));
}

/// Adds a live picture to read: with the settings of its device, in this format or else in one of these, by these
/// protocols alone.
pub(super) fn reading_live(
    command: &mut Command,
    settings: &[(String, String)],
    (format, formats): (Option<&str>, &str),
    protocols: &str,
    input: &OsStr,
) {
    for (key, value) in settings {
        command.arg(format!("-{key}")).arg(value);
    }
    match format {
        Some(format) => command.args(["-format_whitelist", format, "-f", format]),
        None => command.args(["-format_whitelist", formats]),
    };
    command.args(["-protocol_whitelist", protocols, "-max_pixels", PIXELS, "-i"]).arg(input);
}

/// Adds raw frames from the pipe that we write to.
pub(super) fn reading_raw(command: &mut Command, pixels: &str, size: [usize; 2], rate: &str) {
    let size = size.map(|side| side.to_string()).join("x");
    command.args(["-format_whitelist", "rawvideo", "-protocol_whitelist", "pipe", "-f", "rawvideo"]);
    command.args(["-pix_fmt", pixels, "-video_size", &size, "-framerate", rate, "-i", "pipe:0"]);
}

/// Adds raw frames to write, into the pipe that we read.
pub(super) fn writing_raw(command: &mut Command) {
    command.args(["-protocol_whitelist", "pipe", "-f", "rawvideo", "pipe:1"]);
}

/// Adds the clip to write, in the place of a file that is there.
pub(super) fn writing(command: &mut Command, path: &Path) {
    command.args(["-protocol_whitelist", "file", "-y"]).arg(url(path));
}

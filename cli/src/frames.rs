//! Frames of files: of stills by what they hold, of clips by ffmpeg.

use crate::disk::{read_bytes, read_start};
use crate::failure::Failure;
use crate::ffmpeg;
use crate::output;
use rushlight::frame::{self, Format, Frame, ReadOptions};
use rushlight::image_state::{self, ImageState};
use std::path::Path;

/// Bytes that tell what a file is.
const START: usize = 16;

/// Whether a file is a still, by how it begins.
pub(crate) fn is_still(path: &Path) -> bool {
    Format::of(&read_start(path, START)).is_some()
}

/// A still.
pub(crate) fn still(path: &Path, options: &ReadOptions) -> Result<Frame, Failure> {
    frame::read(&read_bytes(path)?, options).map_err(|e| Failure::picture(path, &e))
}

/// Refuses what cannot be a clip: what is not there, or is a folder, is said as of any file.
pub(crate) fn needs_file(path: &Path) -> Result<(), Failure> {
    if path.is_file() { Ok(()) } else { read_bytes(path).map(drop) }
}

/// The frames of a file: one of a still, up to `count` of a clip.
pub(crate) fn frames(path: &Path, count: usize, options: &ReadOptions) -> Result<Vec<Frame>, Failure> {
    if is_still(path) {
        return Ok(vec![still(path, options)?]);
    }
    needs_file(path)?;
    ffmpeg::frames(path, count.max(1), options.limits)
}

/// The frames of a file that are to be a camera's signal. A still that says otherwise of itself is refused; one whose tags say
/// that it is a display's signal is noted, since some programs tag everything so.
///
/// # Errors
/// As [`frames`]; scene light.
pub(crate) fn signals(path: &Path, count: usize, options: &ReadOptions) -> Result<Vec<Frame>, Failure> {
    let frames = frames(path, count, options)?;
    let says = frames.first().filter(|frame| !frame.info.tags.is_empty()).and_then(|f| image_state::of(f).ok());
    match says.as_ref().map(|known| (&known.state, known.by)) {
        Some((state @ ImageState::Light(_), by)) => Err(Failure::new(format!(
            "{}: it is {state}, by {by}, and not the signal of a camera: give frames as the camera recorded them",
            path.display()
        ))),
        Some((state @ ImageState::Display(_), by)) => {
            output::note(&format!("{}: taken for the camera's signal, though it is {state}, by {by}", path.display()));
            Ok(frames)
        }
        _ => Ok(frames),
    }
}

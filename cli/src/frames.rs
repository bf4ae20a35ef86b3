//! Frames of files: of stills by what they hold, of clips by ffmpeg.

use crate::disk::{read_bytes, read_start};
use crate::failure::Failure;
use crate::ffmpeg;
use rushlight::frame::{self, Format, Frame, ReadOptions};
use rushlight::image_state::{self, ImageState, Known};
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

/// Refuses what cannot be a clip, with the message of any file where it does not exist or is a folder.
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

/// The frames of a file that are to be a camera's signal. Tags of a display's signal are overlooked: some cameras and programs
/// tag everything so.
///
/// # Errors
/// As [`frames`]; a still that says of itself that it is scene light.
pub(crate) fn signals(path: &Path, count: usize, options: &ReadOptions) -> Result<Vec<Frame>, Failure> {
    let frames = frames(path, count, options)?;
    let said = frames.first().filter(|frame| !frame.info.tags.is_empty()).and_then(|f| image_state::of(f).ok());
    match said {
        Some(Known { state: state @ ImageState::Light(_), by }) => Err(Failure::new(format!(
            "{}: it is {state}, by {by}, and not the signal of a camera: give frames as the camera recorded them",
            path.display()
        ))),
        _ => Ok(frames),
    }
}

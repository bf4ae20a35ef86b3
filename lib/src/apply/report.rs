//! What became of pictures that went through a look or a cube, as a report.

use super::Deviation;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// What became of every file.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Report {
    /// The version of its shape.
    pub schema: u32,
    /// What the pictures are made with.
    pub title: String,
    /// How, in words: the exact path, or a cube with its points and interpolation.
    pub path: String,
    /// Points of the cube; none for the exact path.
    pub points: Option<usize>,
    /// Its interpolation.
    pub interpolation: Option<String>,
    /// The display that the pictures are for, where it is known.
    pub display: Option<String>,
    /// The error against the exact path; none where it was not measured.
    pub strays: Option<Error>,
    /// What was written, in words: format and depth.
    pub written: Option<String>,
    /// Files that were written.
    pub done: Vec<String>,
    /// Files that were there already.
    pub kept: Vec<String>,
    /// Files that could not be read or written.
    pub broken: Vec<Broken>,
    /// Files that were not begun after one was broken.
    pub left: usize,
    /// Frames of clips that were written.
    pub clip_frames: usize,
    /// What one has to know of the files.
    pub notes: Vec<String>,
    /// What an event list says of the files; none without one.
    pub list: Option<Listed>,
}

/// The error of pictures against the exact path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Error {
    /// Pixels that were compared.
    pub pixels: u64,
    /// The mean over pixels of the farthest channel, in code values of 10 bits.
    pub mean_codes_10: f64,
    /// The farthest channel of all, in code values of 10 bits.
    pub max_codes_10: f64,
}

impl Error {
    /// Of a measurement; none where no pixel was compared.
    pub fn of(strays: &Deviation) -> Option<Self> {
        let Deviation { pixels, max, .. } = *strays;
        (pixels > 0).then(|| Self { pixels, mean_codes_10: strays.mean(), max_codes_10: max })
    }
}

/// A file that could not be read or written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Broken {
    /// The file.
    pub file: String,
    /// Why.
    pub why: String,
}

/// What an event list says of files.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Listed {
    /// Which shot each file is of.
    pub shots: Vec<ClipShot>,
    /// Files without a correction in the list.
    pub clips_without_shot: Vec<String>,
    /// Events of the list whose files are not there.
    pub shots_without_clip: Vec<String>,
}

/// A file and its shot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ClipShot {
    /// The file.
    pub clip: String,
    /// The shot.
    pub shot: String,
}

/// What became of raw frames that came and went by pipes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RawReport {
    /// The version of its shape.
    pub schema: u32,
    /// What the pictures are made with.
    pub title: String,
    /// Frames that were written.
    pub raw_frames: usize,
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_stated_only_where_it_was_measured() {
        assert_eq!(Error::of(&Deviation::default()), None);
        let strays = Deviation { pixels: 4, sum: 2.0, max: 1.5 };
        assert_eq!(Error::of(&strays), Some(Error { pixels: 4, mean_codes_10: 0.5, max_codes_10: 1.5 }));
    }
}

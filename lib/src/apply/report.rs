//! The report of pictures that went through a look or a cube.

use super::Deviation;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// The report of a run on files.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Report {
    /// The version of its shape.
    pub schema: u32,
    /// The look or cube that was applied.
    pub title: String,
    /// The method, in words: the exact path, or a cube with its points and interpolation.
    pub path: String,
    /// Points of the cube; null for the exact path.
    pub points: Option<usize>,
    /// Its interpolation.
    pub interpolation: Option<String>,
    /// The display that the pictures are for, where it is known.
    pub display: Option<String>,
    /// The error against the exact path; null if it was not measured.
    pub error: Option<Error>,
    /// Format and depth of the written files, in words.
    pub written: Option<String>,
    /// Files that were written.
    pub done: Vec<String>,
    /// Files that existed already and were skipped.
    pub skipped: Vec<String>,
    /// Files that could not be read or written.
    pub broken: Vec<Broken>,
    /// Files that were not begun because the run stopped.
    pub not_begun: usize,
    /// Frames of clips that were written.
    pub clip_frames: usize,
    /// Notes on the files.
    pub notes: Vec<String>,
    /// The files by an event list; null without a list.
    pub list: Option<Listed>,
}

/// The error of pictures against the exact path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Error {
    /// Pixels that were compared.
    pub pixels: u64,
    /// The mean over pixels of the channel with the largest error, in code values of 10 bits.
    pub mean_codes_10: f64,
    /// The largest error of any channel, in code values of 10 bits.
    pub max_codes_10: f64,
}

impl Error {
    /// Of a measurement; none where no pixel was compared.
    pub fn of(found: &Deviation) -> Option<Self> {
        let Deviation { pixels, max, .. } = *found;
        (pixels > 0).then(|| Self { pixels, mean_codes_10: found.mean(), max_codes_10: max })
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

/// Files by an event list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Listed {
    /// The shot of each file.
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

/// The report of a run on raw frames in a pipe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RawReport {
    /// The version of its shape.
    pub schema: u32,
    /// The look or cube that was applied.
    pub title: String,
    /// Frames that were written.
    pub raw_frames: usize,
    /// Why the input ended before its end, such as a last frame that is cut short.
    pub broken: Option<String>,
}

/// What `apply --json` prints: the report on files, or on raw frames.
#[derive(JsonSchema)]
#[schemars(untagged, title = "Rushlight apply")]
#[allow(dead_code, reason = "for its schema alone")]
enum Printed {
    Files(Box<Report>),
    Raw(RawReport),
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Printed).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_stated_only_where_it_was_measured() {
        assert_eq!(Error::of(&Deviation::default()), None);
        let found = Deviation { pixels: 4, sum: 2.0, max: 1.5 };
        assert_eq!(Error::of(&found), Some(Error { pixels: 4, mean_codes_10: 0.5, max_codes_10: 1.5 }));
    }
}

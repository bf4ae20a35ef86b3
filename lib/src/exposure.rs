//! Exposure: what a camera's signal means in stops, as a table and as cubes that colour the picture by it.
//!
//! Stops count from mid-grey, 0.18 of scene reflectance, under the camera's own curve; signal is code value over 1023 in
//! the camera's own range. Whatever rests on a rating holds for that rating alone: one camera, one exposure index, one
//! range. It says what the signal means, not what the light was: it is no light meter.

pub mod chart;
mod cube;
mod edges;
mod file;
pub mod palette;
mod stops;
pub mod vision;
mod zones;

pub use cube::{Basis, ExposureCube, Options, POINTS};
pub use edges::{Edge, EdgeErrors, Edges, MOST_OFF, Shown};
pub use file::Job;
pub(crate) use file::has_rating;
pub use zones::{Fill, Kind, NEAR, Settings as ZoneSettings, WIDTH, WINDOW, ZONE, Zone, Zones, signed};

pub use stops::{Ends, Level, Limit, Mark, Row, SKIN, Settings, StopTable, Unlike, WHITE, check_per_stop, extrapolate};

use crate::invalid::Parameter;

/// The highlight that must not clip.
pub const HIGHLIGHT: Parameter = Parameter {
    key: "highlight",
    min: -10.0,
    max: 20.0,
    // log2(0.9 / 0.18): a white of 90 %.
    default: 2.321928094887362,
    unit: "stops from mid-grey",
    help: "a highlight, in stops over mid-grey as first exposed, that must not clip",
};

/// Headroom below the clip.
pub const MARGIN: Parameter = Parameter {
    key: "margin",
    min: 0.0,
    max: 10.0,
    default: 0.0,
    unit: "stops",
    help: "headroom between that highlight and the clip",
};

#[cfg(test)]
mod tests;

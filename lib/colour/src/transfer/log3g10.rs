//! Log3G10: RED, "White Paper on REDWideGamutRGB and Log3G10", 2017 (the third form of the curve).
//!
//! Light: scene reflectance, 0.18 is mid-grey and gives 1/3; 184.32 gives 1. Signal: 0 to 1, taken as code value / 1023
//! of the full range.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// Constants of the white paper.
mod constants {
    pub(super) const A: f64 = 0.224282;
    pub(super) const B: f64 = 155.975327;
    pub(super) const C: f64 = 0.01;
    pub(super) const G: f64 = 15.1927;
}
use constants::{A, B, C, G};

/// Log3G10. The line begins below a light of -0.01, at signal 0, and goes on.
pub const LOG3G10: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: A, gain: B, offset: B * C + 1.0, signal_offset: 0.0 },
    line_slope: G,
    line_offset: G * C,
    from_light: -C,
    from_signal: 0.0,
};

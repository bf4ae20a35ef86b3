//! ACEScct: Academy S-2016-001, "ACEScct, A Quasi-Logarithmic Encoding of ACES Data for use within Color Grading
//! Systems".
//!
//! Light: linear AP1, 1 is the reflectance of a perfect diffuser. Signal: the Academy's float value, not a code value;
//! values below 0 and above 1 are legal.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// Factor of the logarithm to base 2.
pub const LOG_SLOPE: f64 = 1.0 / 17.52;
/// What is added to the logarithm.
pub const LOG_OFFSET: f64 = 9.72 / 17.52;
/// Slope of the line below the break.
pub const LINE_SLOPE: f64 = 10.5402377416545;
/// Light of the break.
pub const BREAK: f64 = 0.0078125;

/// ACEScct. The line goes on below zero. The document's stop at 65504, the largest half float, is a limit of its file
/// format and is not applied: both directions go on above it.
pub const ACES_CCT: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Two, slope: LOG_SLOPE, gain: 1.0, offset: 0.0, signal_offset: LOG_OFFSET },
    line_slope: LINE_SLOPE,
    line_offset: 0.0729055341958355,
    from_light: BREAK.next_up(),
    from_signal: 0.155251141552511f64.next_up(),
};

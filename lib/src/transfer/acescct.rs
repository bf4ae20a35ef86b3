//! ACEScct: Academy S-2016-001, "ACEScct, A Quasi-Logarithmic Encoding of ACES Data for use within Color Grading
//! Systems".
//!
//! Light: linear AP1, 1 is the reflectance of a perfect diffuser. Signal: the Academy's float value, not a code value;
//! values below 0 and above 1 are legal.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// ACEScct. The line goes on below zero. The document's stop at 65504, the largest half float, is a limit of its file
/// format and is not applied: both directions go on above it.
pub const ACES_CCT: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Two, slope: 1.0 / 17.52, gain: 1.0, offset: 0.0, signal_offset: 9.72 / 17.52 },
    line_slope: 10.5402377416545,
    line_offset: 0.0729055341958355,
    from_light: 0.0078125f64.next_up(),
    from_signal: 0.155251141552511f64.next_up(),
};

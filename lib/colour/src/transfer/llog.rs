//! L-Log: Leica, "L-Log Reference Manual", 2021.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// L-Log. The line goes on below zero. The published pieces miss each other by -0.92 code value of 10 bits at a light
/// of 0.006: there the signal falls as light rises, and signals between 0.1371 and 0.1380 belong to two lights;
/// decoding takes the line's.
pub const L_LOG: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: 0.27, gain: 1.3, offset: 0.0115, signal_offset: 0.6 },
    line_slope: 8.0,
    line_offset: 0.09,
    from_light: 0.006f64.next_up(),
    from_signal: 0.1380f64.next_up(),
};

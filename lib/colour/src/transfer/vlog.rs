//! V-Log: Panasonic, "V-Log/V-Gamut Reference Manual", Rev. 1.0, 2014.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range. The manual's 12-bit column is
//! four times its 10-bit code, so at 12 bits it differs by one from the formula times 4095.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// V-Log. The line goes on below zero. The pieces miss each other by -0.0003 code value of 10 bits.
pub const V_LOG: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: 0.241514, gain: 1.0, offset: 0.00873, signal_offset: 0.598206 },
    line_slope: 5.6,
    line_offset: 0.125,
    from_light: 0.01,
    from_signal: 0.181,
};

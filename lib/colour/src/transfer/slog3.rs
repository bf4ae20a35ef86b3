//! S-Log3: Sony, "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3", V1.00, 2014.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range; mid-grey is code 420.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// Constants of the summary, in code values of 10 bits.
mod constants {
    pub(super) const GREY: f64 = 0.18 + 0.01;
    pub(super) const BREAK: f64 = 0.01125000;
    pub(super) const BREAK_CODE: f64 = 171.2102946929;
    pub(super) const BLACK_CODE: f64 = 95.0;
}
use constants::{BLACK_CODE, BREAK, BREAK_CODE, GREY};

/// S-Log3. The line goes on below zero.
pub const S_LOG3: LogOverLine = LogOverLine {
    log: LogSegment {
        base: LogBase::Ten,
        slope: 261.5 / 1023.0,
        gain: 1.0 / GREY,
        offset: 0.01 / GREY,
        signal_offset: 420.0 / 1023.0,
    },
    line_slope: (BREAK_CODE - BLACK_CODE) / BREAK / 1023.0,
    line_offset: BLACK_CODE / 1023.0,
    from_light: BREAK,
    from_signal: BREAK_CODE / 1023.0,
};

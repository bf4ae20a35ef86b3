//! D-Log: DJI, "White Paper on D-Log and D-Gamut of DJI Cinema Color System", 2017.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range.

use super::Transfer;
use super::segment::{LogBase, LogOverLine, LogSegment};
use crate::math::exp10;

/// Constants of the paper's formula from signal to light; the paper rounds them apart from those of [`ENCODE`].
mod constants {
    pub(super) const SLOPE: f64 = 3.89616;
    pub(super) const OFFSET: f64 = 2.27752;
}

/// Constants of the paper's formula from light to signal.
const ENCODE: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: 0.256663, gain: 0.9892, offset: 0.0108, signal_offset: 0.584555 },
    line_slope: 6.025,
    line_offset: 0.0929,
    from_light: 0.0078f64.next_up(),
    from_signal: 0.14f64.next_up(),
};

/// D-Log. The line goes on below zero. The pieces miss each other by +0.002 code value of 10 bits. Each direction is
/// the paper's own formula; rounded apart, they return a light to 6e-6 of itself, not better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DLog;

impl Transfer for DLog {
    fn encode(&self, light: f64) -> f64 {
        ENCODE.encode(light)
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal >= ENCODE.from_signal {
            (exp10(constants::SLOPE * signal - constants::OFFSET) - ENCODE.log.offset) / ENCODE.log.gain
        } else {
            ENCODE.decode(signal)
        }
    }

    fn breaks(&self) -> Vec<f64> {
        ENCODE.breaks()
    }
}

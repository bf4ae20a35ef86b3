//! LogC4: Cooper and Brendel, "ARRI LogC4 Logarithmic Color Space Specification", 2022.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range; zero light is code 95.

use super::segment::{LogBase, LogOverLine, LogSegment};
use crate::math::exp2;

/// Constants of the specification, in its own fractions.
mod constants {
    pub(super) const A: f64 = (262144.0 - 16.0) / 117.45;
    pub(super) const B: f64 = (1023.0 - 95.0) / 1023.0;
    pub(super) const C: f64 = 95.0 / 1023.0;
}
use constants::{A, B, C};

/// LogC4, the same at every exposure index. The pieces meet at signal 0, at a light of -0.0181; below it the line goes
/// on.
pub fn log_c4() -> LogOverLine {
    let s = 7.0 * std::f64::consts::LN_2 * exp2(7.0 - 14.0 * C / B) / (A * B);
    let t = (exp2(14.0 * (-C / B) + 6.0) - 64.0) / A;
    LogOverLine {
        log: LogSegment {
            base: LogBase::Two,
            slope: B / 14.0,
            gain: A,
            offset: 64.0,
            signal_offset: C - 6.0 * B / 14.0,
        },
        line_slope: 1.0 / s,
        line_offset: -t / s,
        from_light: t,
        from_signal: 0.0,
    }
}

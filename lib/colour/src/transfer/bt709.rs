//! BT.709 OETF: ITU-R BT.709-6, 2015, item 1.2, the curve of a camera (its displays follow BT.1886).
//!
//! Light: scene light, 1 is the light that gives signal 1. Signal: 0 to 1; in the legal range 0 is code 64 of 10 bits
//! and 1 is code 940.

use super::Transfer;
use crate::math::signed_pow;

/// Constants of the Recommendation.
mod constants {
    pub(super) const BREAK: f64 = 0.018;
    pub(super) const LINE: f64 = 4.500;
    pub(super) const GAIN: f64 = 1.099;
    pub(super) const OFFSET: f64 = 0.099;
    pub(super) const EXPONENT: f64 = 0.45;
}
use constants::{BREAK, EXPONENT, GAIN, LINE, OFFSET};

/// The OETF of BT.709. The line goes on below zero, the power above one. The pieces miss each other by +0.25 code value
/// of 10 bits; decoding takes the line for signals in the gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bt709 {
    /// First signal of the power.
    from_signal: f64,
}

impl Bt709 {
    /// The curve.
    pub fn new() -> Self {
        Self { from_signal: GAIN * signed_pow(BREAK, EXPONENT) - OFFSET }
    }
}

impl Default for Bt709 {
    fn default() -> Self {
        Self::new()
    }
}

impl Transfer for Bt709 {
    fn encode(&self, light: f64) -> f64 {
        if light >= BREAK { GAIN * signed_pow(light, EXPONENT) - OFFSET } else { LINE * light }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal >= self.from_signal { signed_pow((signal + OFFSET) / GAIN, 1.0 / EXPONENT) } else { signal / LINE }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![BREAK]
    }
}

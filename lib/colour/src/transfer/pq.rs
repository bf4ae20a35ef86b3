//! PQ: ITU-R BT.2100-2, 2018, Table 4 (the same curve as SMPTE ST 2084:2014).
//!
//! Light: nits, absolute, 0 to 10000. Signal: 0 to 1 (narrow or full range is the container's choice). Zero light gives
//! a signal of 7.3e-7, not zero.

use super::Transfer;
use crate::math::{pow, powers};

/// Constants of BT.2100-2, in its own fractions.
mod constants {
    pub(super) const M1: f64 = 2610.0 / 16384.0;
    pub(super) const M2: f64 = 2523.0 / 4096.0 * 128.0;
    pub(super) const C1: f64 = 3424.0 / 4096.0;
    pub(super) const C2: f64 = 2413.0 / 4096.0 * 32.0;
    pub(super) const C3: f64 = 2392.0 / 4096.0 * 32.0;
    pub(super) const PEAK: f64 = 10000.0;
}
use constants::{C1, C2, C3, M1, M2, PEAK};

/// PQ, absolute.
///
/// Below zero light the curve goes on mirrored through its black point (0 nits, 7.3e-7), so that it stays continuous
/// and monotone. Above 10000 nits the formula goes on; it nears a signal of 1.9934 as light grows without end, and
/// decoding that signal or a higher one gives infinity (and minus infinity as far below black).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pq {
    black: f64,
}

impl Pq {
    /// The curve.
    pub fn new() -> Self {
        Self { black: pow(C1, M2) }
    }

    /// What the second power is taken of, from the first.
    fn ratio(y: f64) -> f64 {
        if y.is_infinite() { C2 / C3 } else { (C1 + C2 * y) / (1.0 + C3 * y) }
    }

    /// A signal mirrored at black where it is under it.
    fn above(&self, signal: f64) -> f64 {
        if signal < self.black { 2.0 * self.black - signal } else { signal }
    }

    /// What the second power of decoding is taken of, from the first.
    fn share(v: f64) -> f64 {
        (v - C1).max(0.0) / (C2 - C3 * v)
    }

    /// The light of a signal from both powers.
    fn light(&self, signal: f64, v: f64, powered: f64) -> f64 {
        let light = if C2 - C3 * v <= 0.0 { f64::INFINITY } else { PEAK * powered };
        if signal.is_nan() {
            signal
        } else if signal < self.black {
            -light
        } else {
            light
        }
    }

    /// Odd about black.
    fn mirrored(&self, light: f64, signal: f64) -> f64 {
        if light < 0.0 { 2.0 * self.black - signal } else { signal }
    }
}

impl Default for Pq {
    fn default() -> Self {
        Self::new()
    }
}

impl Transfer for Pq {
    fn encode(&self, light: f64) -> f64 {
        let y = pow(light.abs() / PEAK, M1);
        self.mirrored(light, pow(Self::ratio(y), M2))
    }

    fn decode(&self, signal: f64) -> f64 {
        let v = pow(self.above(signal), 1.0 / M2);
        self.light(signal, v, pow(Self::share(v), 1.0 / M1))
    }

    fn encode_each(&self, light: [f64; 3]) -> [f64; 3] {
        let y = powers(light.map(|l| l.abs() / PEAK), [M1; 3]);
        let signal = powers(y.map(Self::ratio), [M2; 3]);
        std::array::from_fn(|i| self.mirrored(light[i], signal[i]))
    }

    fn decode_each(&self, signal: [f64; 3]) -> [f64; 3] {
        let v = powers(signal.map(|s| self.above(s)), [1.0 / M2; 3]);
        let powered = powers(v.map(Self::share), [1.0 / M1; 3]);
        std::array::from_fn(|i| self.light(signal[i], v[i], powered[i]))
    }
}

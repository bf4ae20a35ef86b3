//! sRGB: IEC 61966-2-1:1999 and its Amendment 1 (2003).
//!
//! Light: fraction of white. Signal: 0 to 1, full range.

use super::Transfer;
use crate::math::{signed_pow, signed_powers};

/// Constants of the standard. The two thresholds are rounded apart; between them the pieces miss by 3e-8.
mod constants {
    pub(super) const BREAK: f64 = 0.0031308;
    pub(super) const BREAK_SIGNAL: f64 = 0.04045;
    pub(super) const LINE: f64 = 12.92;
    pub(super) const GAMMA: f64 = 2.4;
    pub(super) const A: f64 = 0.055;
}
use constants::{A, BREAK, BREAK_SIGNAL, GAMMA, LINE};

/// sRGB. The line goes on below zero, the power above one. At the break the signal falls by 3e-5 code value of 10 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Srgb;

impl Transfer for Srgb {
    fn encode(&self, light: f64) -> f64 {
        if light > BREAK { (1.0 + A) * signed_pow(light, 1.0 / GAMMA) - A } else { LINE * light }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal > BREAK_SIGNAL { signed_pow((signal + A) / (1.0 + A), GAMMA) } else { signal / LINE }
    }

    fn encode_each(&self, light: [f64; 3]) -> [f64; 3] {
        let powers = signed_powers(light, 1.0 / GAMMA);
        std::array::from_fn(|c| if light[c] > BREAK { (1.0 + A) * powers[c] - A } else { LINE * light[c] })
    }

    fn decode_each(&self, signal: [f64; 3]) -> [f64; 3] {
        let powers = signed_powers(signal.map(|v| (v + A) / (1.0 + A)), GAMMA);
        std::array::from_fn(|c| if signal[c] > BREAK_SIGNAL { powers[c] } else { signal[c] / LINE })
    }

    fn breaks(&self) -> Vec<f64> {
        vec![BREAK.next_up()]
    }
}

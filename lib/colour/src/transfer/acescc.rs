//! ACEScc: Academy S-2014-003, "ACEScc, A Logarithmic Encoding of ACES Data for use within Color Grading Systems".
//!
//! Light: linear AP1, 1 is the reflectance of a perfect diffuser. Signal: the Academy's float value, not a code value;
//! values below 0 and above 1 are legal.

use super::Transfer;
use crate::math::{exp2, log2};

/// Constants of S-2014-003.
mod constants {
    pub(super) const STOPS: f64 = 17.52;
    pub(super) const OFFSET: f64 = 9.72;
    /// 2^-15: below it the logarithm is that of a mean with 2^-16, which keeps zero finite.
    pub(super) const BREAK: f64 = 1.0 / 32768.0;
    pub(super) const FLOOR: f64 = 1.0 / 65536.0;
}
use constants::{BREAK, FLOOR, OFFSET, STOPS};

/// ACEScc. Light of zero and below all give -0.358447, as the document says: the one encoding that loses negatives by
/// definition. Signals below that give lights down to -2^-15. The document's stop at 65504, the largest half float, is
/// a limit of its file format and is not applied: both directions go on above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AcesCc;

impl Transfer for AcesCc {
    fn encode(&self, light: f64) -> f64 {
        if light.is_nan() {
            return light;
        }
        let x = if light >= BREAK { light } else { FLOOR + light.max(0.0) * 0.5 };
        (log2(x) + OFFSET) / STOPS
    }

    fn decode(&self, signal: f64) -> f64 {
        let x = exp2(signal * STOPS - OFFSET);
        if signal < (OFFSET - 15.0) / STOPS { (x - FLOOR) * 2.0 } else { x }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![0.0, BREAK]
    }
}

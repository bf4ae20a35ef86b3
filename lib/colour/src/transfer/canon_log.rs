//! Canon Log, Canon Log 2 and Canon Log 3: Canon, "Input Transform" for Cinema EOS cameras, Version 202007 (v1.2).
//!
//! Light: scene reflectance, 0.18 is mid-grey; the document's own input is reflectance / 0.9, converted here. Signal:
//! code value / 1023, full range. The v1.2 constants give that as they stand; they must not be scaled from legal range
//! again. (The first edition gave a fraction of the legal range; it is the same curve to 1e-8.)

use super::Transfer;
use crate::math::{exp10, log10};

/// Reflectance of the white that the document's input is relative to.
const WHITE: f64 = 0.9;

/// Canon Log and Canon Log 2: a logarithm that is odd about zero light, so both directions go on without end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CanonLog {
    slope: f64,
    gain: f64,
    black: f64,
}

/// Canon Log.
pub const CANON_LOG: CanonLog = CanonLog { slope: 0.45310179, gain: 10.1596, black: 0.12512248 };

/// Canon Log 2.
pub const CANON_LOG2: CanonLog = CanonLog { slope: 0.24136077, gain: 87.099375, black: 0.092864125 };

impl Transfer for CanonLog {
    fn encode(&self, light: f64) -> f64 {
        let x = light / WHITE;
        let y = self.slope * log10(self.gain * x.abs() + 1.0);
        if x < 0.0 { self.black - y } else { self.black + y }
    }

    fn decode(&self, signal: f64) -> f64 {
        let y = signal - self.black;
        ((exp10(y.abs() / self.slope) - 1.0) / self.gain).copysign(y) * WHITE
    }

    fn breaks(&self) -> Vec<f64> {
        vec![0.0]
    }
}

/// Constants of Canon Log 3, input transform v1.2.
mod log3 {
    pub(super) const SLOPE: f64 = 0.36726845;
    pub(super) const GAIN: f64 = 14.98325;
    pub(super) const OFFSET_BELOW: f64 = 0.12783901;
    pub(super) const OFFSET_ABOVE: f64 = 0.12240537;
    pub(super) const LINE: f64 = 1.9754798;
    pub(super) const LINE_OFFSET: f64 = 0.12512219;
    pub(super) const FIRST: f64 = 0.097465473;
    pub(super) const LAST: f64 = 0.15277891;
}

/// Canon Log 3: logarithms on both sides of a line about zero light, so both directions go on without end. The line
/// reaches from signal 0.097465473 to 0.15277891, its ends included; the light at its ends follows from the line. The
/// pieces meet to within 1e-5 code value of 10 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CanonLog3;

impl CanonLog3 {
    /// Reflectance that the line gives for `signal`.
    fn line_light(signal: f64) -> f64 {
        (signal - log3::LINE_OFFSET) / log3::LINE * WHITE
    }
}

impl Transfer for CanonLog3 {
    fn encode(&self, light: f64) -> f64 {
        let x = light / WHITE;
        if light < Self::line_light(log3::FIRST) {
            log3::OFFSET_BELOW - log3::SLOPE * log10(1.0 - log3::GAIN * x)
        } else if light > Self::line_light(log3::LAST) {
            log3::OFFSET_ABOVE + log3::SLOPE * log10(1.0 + log3::GAIN * x)
        } else {
            log3::LINE * x + log3::LINE_OFFSET
        }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal < log3::FIRST {
            (1.0 - exp10((log3::OFFSET_BELOW - signal) / log3::SLOPE)) / log3::GAIN * WHITE
        } else if signal > log3::LAST {
            (exp10((signal - log3::OFFSET_ABOVE) / log3::SLOPE) - 1.0) / log3::GAIN * WHITE
        } else {
            Self::line_light(signal)
        }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![Self::line_light(log3::FIRST), Self::line_light(log3::LAST).next_up()]
    }
}

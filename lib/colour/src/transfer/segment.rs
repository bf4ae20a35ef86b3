//! The pieces of which log encodings are made.

use super::Transfer;
use crate::math;

/// The base of a logarithm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LogBase {
    /// 2: one unit is a stop.
    #[default]
    Two,
    /// e: the natural logarithm, which some documents write `log`.
    E,
    /// 10: one unit is a density of 1.
    Ten,
}

impl LogBase {
    pub(super) fn log(self, x: f64) -> f64 {
        match self {
            Self::Two => math::log2(x),
            Self::E => math::ln(x),
            Self::Ten => math::log10(x),
        }
    }

    pub(super) fn exp(self, x: f64) -> f64 {
        match self {
            Self::Two => math::exp2(x),
            Self::E => math::exp(x),
            Self::Ten => math::exp10(x),
        }
    }

    /// The natural logarithm of the base.
    pub(super) fn ln(self) -> f64 {
        match self {
            Self::Two => std::f64::consts::LN_2,
            Self::E => 1.0,
            Self::Ten => std::f64::consts::LN_10,
        }
    }
}

/// signal = slope log(gain light + offset) + signal_offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LogSegment {
    pub(super) base: LogBase,
    pub(super) slope: f64,
    pub(super) gain: f64,
    pub(super) offset: f64,
    pub(super) signal_offset: f64,
}

impl LogSegment {
    pub(super) fn encode(&self, light: f64) -> f64 {
        self.slope * self.base.log(self.gain * light + self.offset) + self.signal_offset
    }

    pub(super) fn decode(&self, signal: f64) -> f64 {
        (self.base.exp((signal - self.signal_offset) / self.slope) - self.offset) / self.gain
    }

    /// Signal per light at `light`.
    pub(super) fn slope_at(&self, light: f64) -> f64 {
        self.slope * self.gain / ((self.gain * light + self.offset) * self.base.ln())
    }
}

/// A logarithm above a break, a straight line below it: the shape of most cameras' published log encodings.
///
/// Light is scene reflectance, signal as the encoding's own page says. Both directions are defined for every number:
/// the line goes on below zero, the logarithm above the published top. The break is given in light for [`encode`] and
/// in signal for [`decode`], as the documents do.
///
/// [`encode`]: Transfer::encode
/// [`decode`]: Transfer::decode
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogOverLine {
    pub(super) log: LogSegment,
    pub(super) line_slope: f64,
    pub(super) line_offset: f64,
    /// First light of the logarithm.
    pub(super) from_light: f64,
    /// First signal of the logarithm.
    pub(super) from_signal: f64,
}

impl Transfer for LogOverLine {
    fn encode(&self, light: f64) -> f64 {
        if light >= self.from_light { self.log.encode(light) } else { self.line_slope * light + self.line_offset }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal >= self.from_signal { self.log.decode(signal) } else { (signal - self.line_offset) / self.line_slope }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![self.from_light]
    }
}

/// Code value / 1023 of a signal that a document gives as a fraction of the legal range of 10 bits:
/// 0 is code 64, 1 is code 940 (ITU-R BT.709-6, 2015, quantisation).
pub(super) const fn from_legal(fraction: f64) -> f64 {
    (64.0 + 876.0 * fraction) / 1023.0
}

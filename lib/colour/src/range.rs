//! Full and legal range: where black and white of a signal sit in its code values.

use crate::math;

/// How 0..1 of a curve sits in the code values of a signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Range {
    /// 0..1 is code 0..1023 of 10 bits.
    #[default]
    Full,
    /// 0..1 is code 64..940 of 10 bits (ITU-R BT.709-6, table 4); codes below and above are kept.
    Legal,
}

crate::named!(Range, "range", { Full => "full", Legal => "legal" });

impl Range {
    /// The code value of 10 bits of black and the codes from black to white, narrow range.
    const LEGAL: (f64, f64) = (64.0, 876.0);
    /// The largest code value of 10 bits.
    const CODES: f64 = 1023.0;

    /// A value of the curve, 0..1, to the signal.
    pub fn encode(self, value: f64) -> f64 {
        match self {
            Self::Full => value,
            Self::Legal => (Self::LEGAL.0 + Self::LEGAL.1 * value) / Self::CODES,
        }
    }

    /// The signal to the value of the curve.
    pub fn decode(self, signal: f64) -> f64 {
        match self {
            Self::Full => signal,
            Self::Legal => (Self::CODES * signal - Self::LEGAL.0) / Self::LEGAL.1,
        }
    }

    /// A value of the curve, 0..1, to a sample of `bits` bits (8 to 16), 1 for the largest code. At 10 bits it is the signal.
    pub fn sample(self, value: f64, bits: u8) -> f64 {
        self.code(self.encode(value), bits) / Self::Full.code(1.0, bits)
    }

    /// The code value of a signal at `bits` bits (8 to 16). Full range shares out all codes; the codes of legal range at
    /// more than 10 bits are those of 10 bits shifted up (ITU-R BT.709-6, table 4).
    pub fn code(self, signal: f64, bits: u8) -> f64 {
        let times = math::exp2(f64::from(bits) - 10.0);
        match self {
            Self::Full => (1024.0 * times - 1.0) * signal,
            Self::Legal => Self::CODES * times * signal,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_keeps_codes_beyond_its_ends() {
        for range in Range::ALL {
            for v in [-0.2, 0.0, 0.5, 1.0, 1.09] {
                assert!((range.decode(range.encode(v)) - v).abs() < 1e-15);
            }
        }
        assert_eq!(Range::Legal.encode(0.0), 64.0 / 1023.0);
        assert_eq!(Range::Legal.encode(1.0), 940.0 / 1023.0);
    }

    #[test]
    fn code_values_follow_the_range() {
        // ITU-R BT.709-6, table 4: black and white at 10 bits are 64 and 940, at 12 bits 256 and 3760.
        for (bits, black, white) in [(10, 64.0, 940.0), (12, 256.0, 3760.0)] {
            let code = |v| Range::Legal.code(Range::Legal.encode(v), bits);
            assert!((code(0.0) - black).abs() < 1e-9 && (code(1.0) - white).abs() < 1e-9, "{bits}");
        }
        // The same table: 16 and 235 at 8 bits.
        let samples = [0.0, 1.0].map(|v| 255.0 * Range::Legal.sample(v, 8));
        assert!((samples[0] - 16.0).abs() < 1e-9 && (samples[1] - 235.0).abs() < 1e-9, "{samples:?}");
        assert_eq!(Range::Full.code(1.0, 10), 1023.0);
        assert_eq!(Range::Full.code(1.0, 12), 4095.0);
    }
}

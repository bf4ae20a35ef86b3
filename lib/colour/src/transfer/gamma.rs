//! Pure powers: displays of 2.2, 2.4, and the 2.6 of digital cinema (SMPTE ST 428-1:2019; SMPTE RP 431-2:2011).
//!
//! Light: fraction of white. Signal: 0 to 1. The DCDM relates its code to 52.37 cd/m2, so that its white of 48 cd/m2 is
//! code 3960 of 4095; here 1 is white, and that headroom belongs to the display.

use super::Transfer;
use crate::math::{signed_pow, signed_powers};

/// light = signal^gamma, odd about zero; both directions go on above one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gamma {
    exponent: f64,
}

/// Gamma 2.2.
pub const GAMMA22: Gamma = Gamma { exponent: 2.2 };

/// Gamma 2.4: BT.1886 with a black of zero.
pub const GAMMA24: Gamma = Gamma { exponent: 2.4 };

/// Gamma 2.6, digital cinema.
pub const GAMMA26: Gamma = Gamma { exponent: 2.6 };

impl Transfer for Gamma {
    fn encode(&self, light: f64) -> f64 {
        signed_pow(light, 1.0 / self.exponent)
    }

    fn decode(&self, signal: f64) -> f64 {
        signed_pow(signal, self.exponent)
    }

    fn encode_each(&self, light: [f64; 3]) -> [f64; 3] {
        signed_powers(light, 1.0 / self.exponent)
    }

    fn decode_each(&self, signal: [f64; 3]) -> [f64; 3] {
        signed_powers(signal, self.exponent)
    }
}

//! Transfer functions: light to signal and back, one published encoding per file.
//!
//! [`encodings`] lists what is built in, [`custom`] makes a curve for a camera that is not. What `light` and `signal`
//! mean for each encoding stands in its [`Encoding`] and at the top of its file. Log encodings of cameras all take
//! scene reflectance (0.18 is mid-grey) and give code value / 1023 of the full range, converted where the document
//! uses another convention.
//!
//! Beyond the published domain every curve goes on by its own last piece, a line or a power that is odd about zero;
//! each file says which.

pub(crate) mod catalogue;
pub mod custom;
mod segment;

pub mod acescc;
pub mod acescct;
pub mod bt1886;
pub mod bt709;
pub mod canon_log;
pub mod dlog;
pub mod flog;
pub mod gamma;
pub mod hlg;
pub mod linear;
pub mod llog;
pub mod log3g10;
pub mod logc3;
pub mod logc4;
pub mod nlog;
pub mod pq;
pub mod slog2;
pub mod slog3;
pub mod srgb;
pub mod vlog;

pub use catalogue::{Encoding, Light, Role, encoding, encodings};
pub use segment::{LogBase, LogOverLine};

use std::fmt;

/// Scene reflectance of mid-grey, 18 % (common practice, no source).
pub const MID_GREY: f64 = 0.18;

/// Code values of 10 bits in the full range, less one: the unit in which jumps are stated.
const CODES: f64 = 1023.0;

/// One encoding of light as a signal, in both directions.
///
/// Both directions extend beyond the published domain without ever giving NaN for a finite number; NaN gives NaN.
pub trait Transfer: fmt::Debug + Send + Sync {
    /// Light to signal.
    fn encode(&self, light: f64) -> f64;

    /// Signal to light.
    fn decode(&self, signal: f64) -> f64;

    /// Three lights to their signals, each as [`encode`](Self::encode) gives it; quicker for curves that are powers.
    fn encode_each(&self, light: [f64; 3]) -> [f64; 3] {
        light.map(|l| self.encode(l))
    }

    /// Three signals to their lights, each as [`decode`](Self::decode) gives it; quicker for curves that are powers.
    fn decode_each(&self, signal: [f64; 3]) -> [f64; 3] {
        signal.map(|v| self.decode(v))
    }

    /// The signal, as a fraction of the curve's own 0 to 1, beyond which nothing is published or measured.
    fn top(&self) -> f64 {
        1.0
    }

    /// The lights at which one piece of the curve gives way to the next: each is the first light of the upper piece.
    fn breaks(&self) -> Vec<f64> {
        Vec::new()
    }

    /// Where the published pieces do not meet. At a jump the two directions are not each other's inverse, and where
    /// it falls the curve is not monotone. Only steps of more than 1e-9 code values of 10 bits count.
    fn jumps(&self) -> Vec<Jump> {
        self.breaks()
            .into_iter()
            .map(|light| Jump { light, codes: CODES * (self.encode(light) - self.encode(light.next_down())) })
            .filter(|jump| jump.codes.abs() > 1e-9)
            .collect()
    }
}

/// A step of a curve at a break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jump {
    /// The first light above the step.
    pub light: f64,
    /// Size in code values of 10 bits, full range; below zero where the signal falls as light rises.
    pub codes: f64,
}

#[cfg(test)]
mod tests;

//! BT.1886: ITU-R BT.1886, "Reference electro-optical transfer function for flat panel displays", 2011, Annex 1.
//!
//! Light: fraction of white, L / L_W. Signal: 0 to 1 (legal range or full is the container's choice).

use super::Transfer;
use crate::invalid::{Refusals, out_of_range, short};
use crate::math::{pow, signed_pow, signed_powers};

/// The Recommendation's exponent.
const GAMMA: f64 = 2.40;

/// The EOTF of BT.1886 for a white and a black level: L = a (V + b)^2.4, divided by L_W.
///
/// Zero signal gives L_B / L_W. Below V = -b, where the Recommendation stops at zero light, the power goes on, odd
/// about that point; above one it goes on too.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bt1886 {
    white: f64,
    black: f64,
    /// a / L_W.
    gain: f64,
    lift: f64,
}

impl Bt1886 {
    /// White L_W in nits when none is given.
    pub const WHITE: f64 = 100.0;
    /// Black L_B in nits when none is given.
    pub const BLACK: f64 = 0.0;

    /// From white L_W and black L_B, both in nits. White must be above zero and finite; black at least zero and below
    /// white. Keys of refusals: `white`, `black`.
    pub fn new(white: f64, black: f64) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if !(white > 0.0 && white.is_finite()) {
            refusals.push("white", format!("{} nits is out of range for white: it must be above 0", short(white)));
        } else if !(black >= 0.0 && black < white) {
            let right = format!("it must be at least 0 and below white, {}", short(white));
            refusals.push("black", out_of_range(black, "nits", right));
        }
        refusals.finish(|| {
            let root = pow(black / white, 1.0 / GAMMA);
            let n = 1.0 - root;
            Self { white, black, gain: pow(n, GAMMA), lift: root / n }
        })
    }

    /// White L_W in nits.
    pub fn white(&self) -> f64 {
        self.white
    }

    /// Black L_B in nits.
    pub fn black(&self) -> f64 {
        self.black
    }
}

impl Default for Bt1886 {
    /// 100 nits, with a black of zero.
    fn default() -> Self {
        Self { white: Self::WHITE, black: Self::BLACK, gain: 1.0, lift: 0.0 }
    }
}

impl Transfer for Bt1886 {
    fn encode(&self, light: f64) -> f64 {
        signed_pow(light / self.gain, 1.0 / GAMMA) - self.lift
    }

    fn decode(&self, signal: f64) -> f64 {
        self.gain * signed_pow(signal + self.lift, GAMMA)
    }

    fn encode_each(&self, light: [f64; 3]) -> [f64; 3] {
        signed_powers(light.map(|l| l / self.gain), 1.0 / GAMMA).map(|v| v - self.lift)
    }

    fn decode_each(&self, signal: [f64; 3]) -> [f64; 3] {
        signed_powers(signal.map(|v| v + self.lift), GAMMA).map(|l| self.gain * l)
    }
}

//! HLG: ITU-R BT.2100-2, 2018, Table 5.
//!
//! As a curve ([`Hlg`]): light is scene light 0 to 1 (not the 0 to 12 of ARIB STD-B67), signal 0 to 1. As a display
//! ([`HlgDisplay`]): signals to nits through the OOTF, which needs all three channels at once.

use super::Transfer;
use crate::invalid::{Refusals, out_of_range};
use crate::math::{exp, ln, log10, pow};

/// Constants of BT.2100-2 Table 5, as printed.
mod constants {
    pub(super) const A: f64 = 0.17883277;
    pub(super) const B: f64 = 0.28466892;
    pub(super) const C: f64 = 0.55991073;
    pub(super) const BREAK: f64 = 1.0 / 12.0;
    /// Luminance of R, G and B in the OOTF, those of BT.2020-2.
    pub(super) const WEIGHTS: [f64; 3] = [0.2627, 0.6780, 0.0593];
}
use constants::{A, B, BREAK, C, WEIGHTS};

/// The OETF of HLG and its inverse. The square root is odd about zero light; the logarithm goes on above one. With the
/// printed c the pieces miss each other by 5e-7 code value of 10 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hlg;

impl Transfer for Hlg {
    fn encode(&self, light: f64) -> f64 {
        if light > BREAK { A * ln(12.0 * light - B) + C } else { (3.0 * light.abs()).sqrt().copysign(light) }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal > 0.5 { (exp((signal - C) / A) + B) / 12.0 } else { signal * signal.abs() / 3.0 }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![BREAK.next_up()]
    }
}

/// The system gamma for a display of nominal peak `peak` nits: 1.2 + 0.42 log10(peak / 1000).
pub fn system_gamma(peak: f64) -> f64 {
    1.2 + 0.42 * log10(peak / 1000.0)
}

/// A reference HLG display: its OOTF and EOTF, on RGB triples with BT.2020 primaries.
///
/// Nothing is clipped: negative channels go on by the odd square root of [`Hlg`], and the OOTF takes the magnitude of a
/// negative luminance. Zero luminance gives zero light. NaN in a channel gives NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HlgDisplay {
    peak: f64,
    black: f64,
    gamma: f64,
    lift: f64,
}

impl HlgDisplay {
    /// From the nominal peak L_W, 100 to 10000 nits, and the black level L_B, 0 nits up to a hundredth of the peak. The
    /// Recommendation's formula for the system gamma is meant for about 400 to 2000 nits (ITU-R BT.2390). Keys of
    /// refusals: `peak`, `black`.
    pub fn new(peak: f64, black: f64) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if !(100.0..=10000.0).contains(&peak) {
            refusals.push("peak", out_of_range(peak, "nits", "it must lie between 100 and 10000 nits"));
        } else if !(0.0..=peak / 100.0).contains(&black) {
            let most = peak / 100.0;
            refusals.push("black", out_of_range(black, "nits", format!("it must lie between 0 and {most} nits")));
        }
        refusals.finish(|| {
            let gamma = system_gamma(peak);
            Self { peak, black, gamma, lift: (3.0 * pow(black / peak, 1.0 / gamma)).sqrt() }
        })
    }

    /// Nominal peak L_W in nits.
    pub fn peak(&self) -> f64 {
        self.peak
    }

    /// Black level L_B in nits.
    pub fn black(&self) -> f64 {
        self.black
    }

    /// The system gamma.
    pub fn gamma(&self) -> f64 {
        self.gamma
    }

    /// The black level lift, beta, in signal.
    pub fn lift(&self) -> f64 {
        self.lift
    }

    /// The OOTF: scene light 0 to 1 to display light in nits.
    pub fn ootf(&self, scene: [f64; 3]) -> [f64; 3] {
        let y = luminance(scene);
        // A zero luminance would give 0 x infinity at a gamma below one.
        let gain = if y == 0.0 { 0.0 } else { self.peak * pow(y.abs(), self.gamma - 1.0) };
        scene.map(|c| gain * c)
    }

    /// The inverse OOTF: display light in nits to scene light 0 to 1.
    pub fn inverse_ootf(&self, nits: [f64; 3]) -> [f64; 3] {
        let y = luminance(nits) / self.peak;
        let gain = if y == 0.0 { 0.0 } else { pow(y.abs(), (1.0 - self.gamma) / self.gamma) / self.peak };
        nits.map(|c| gain * c)
    }

    /// The EOTF: signal 0 to 1 to nits, with the black level lift. Signal 0 0 0 gives L_B, 1 1 1 gives L_W.
    pub fn eotf(&self, signal: [f64; 3]) -> [f64; 3] {
        self.ootf(signal.map(|s| Hlg.decode((1.0 - self.lift) * s + self.lift)))
    }

    /// The inverse EOTF: nits to signal 0 to 1.
    pub fn inverse_eotf(&self, nits: [f64; 3]) -> [f64; 3] {
        self.inverse_ootf(nits).map(|c| (Hlg.encode(c) - self.lift) / (1.0 - self.lift))
    }
}

impl Default for HlgDisplay {
    /// 1000 nits, with a black of zero.
    fn default() -> Self {
        Self { peak: 1000.0, black: 0.0, gamma: system_gamma(1000.0), lift: 0.0 }
    }
}

fn luminance(rgb: [f64; 3]) -> f64 {
    WEIGHTS[0] * rgb[0] + WEIGHTS[1] * rgb[1] + WEIGHTS[2] * rgb[2]
}

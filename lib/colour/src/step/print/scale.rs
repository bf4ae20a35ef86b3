//! The neutral scale: from scene exposure through negative and print to display light, on the grey axis.
//!
//! Everything here is about greys; what colours do lies in the modules beside. A plain contrast curve is this alone.

use super::density::{DensityCurve, DensityShape};
use crate::math::{exp10, log10};

/// log10 of 2: one stop in log10 exposure.
pub const STOP: f64 = std::f64::consts::LOG10_2;

/// The negative: every layer has this curve. Our own numbers, of no film stock.
pub(super) mod negative {
    /// Slope, density per log10 exposure.
    pub(crate) const GAMMA: f64 = 0.58;
    /// Where the toe lies, stops from mid-grey.
    pub(super) const TOE: f64 = -6.0;
    /// Width of the toe, log10 exposure.
    pub(super) const TOE_WIDTH: f64 = 0.25;
    /// Greatest density over base.
    pub(super) const RANGE: f64 = 2.0;
    /// Width of the shoulder, density.
    pub(super) const SHOULDER_WIDTH: f64 = 0.13;
    /// Least exposure, relative to mid-grey, 13.3 stops under it: where scene light at and below zero gathers.
    pub(super) const FLOOR: f64 = 1e-4;
}

/// Furthest that the print's base may lie under white, in density. White is a hair over the base, since the negative
/// ends; a low contrast would need a base far under it, and is left with a dimmer white instead.
const BASE_UNDER_WHITE: f64 = 0.6;

/// The tone of a print: what [`NeutralScale`] is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Print gamma: density per log10 print exposure; above 0. Times 0.58 it is the slope from scene to display.
    pub contrast: f64,
    /// Width of the roll-off into black, stops of scene light; above 0.
    pub toe: f64,
    /// Width of the roll-off into white, stops of scene light; above 0.
    pub shoulder: f64,
    /// Density of black over diffuse white (D-max).
    pub black: f64,
    /// Display light of mid-grey, a fraction of diffuse white; above `flare`.
    pub grey: f64,
    /// Light that the projection adds everywhere, a fraction of diffuse white.
    pub flare: f64,
}

/// Scene exposure to display light on the grey axis.
///
/// Exposure is relative to mid-grey (1 = 0.18 of scene light); display light is relative to diffuse white. Strictly
/// rising, mid-grey exactly on target, white at the display's peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeutralScale {
    negative: DensityCurve,
    print: DensityCurve,
    grey_negative: f64,
    grey_print: f64,
    /// Share of the light that passes the print; the rest is flare.
    clear: f64,
    flare: f64,
}

impl NeutralScale {
    /// The scale of `tone` on a display whose peak is `peak` times diffuse white (1 for standard range).
    ///
    /// Densities count from diffuse white, so that a higher peak opens the highlights below density zero and leaves
    /// black and mid-grey where they are. The print's base is set so that the densest negative gives exactly the peak;
    /// where the contrast is too low to reach it, the base stops 0.6 under white and white stays dimmer.
    pub fn new(tone: &Tone, peak: f64) -> Self {
        let negative = DensityCurve::new(DensityShape {
            gamma: negative::GAMMA,
            toe: negative::TOE * STOP,
            toe_width: negative::TOE_WIDTH,
            base: 0.0,
            top: negative::RANGE,
            shoulder_width: negative::SHOULDER_WIDTH,
        });
        let grey_negative = negative.value(log10(floored(1.0)));
        let clear = 1.0 - tone.flare / peak;
        let grey = -log10((tone.grey - tone.flare) / clear);
        let white = -log10(peak);
        // What is a width of light in the scene is a width of the negative's density on the print.
        let (shoulder, toe) = (tone.shoulder * STOP * negative::GAMMA, tone.toe * STOP * negative::GAMMA);
        let print_on = |base: f64| {
            DensityCurve::new(DensityShape {
                gamma: tone.contrast,
                toe: 0.0,
                toe_width: shoulder,
                base,
                top: tone.black,
                shoulder_width: toe * tone.contrast,
            })
        };
        let white_on = |base: f64| {
            let print = print_on(base);
            print.value(print.inverse(grey) - (negative.top() - grey_negative))
        };
        // The lower the base, the lower the density of white: bisection to the last bit.
        let (mut low, mut high) = (white - BASE_UNDER_WHITE, white);
        if white_on(low) < white {
            loop {
                let middle = 0.5 * (low + high);
                if middle <= low || middle >= high {
                    break;
                }
                if white_on(middle) > white {
                    high = middle;
                } else {
                    low = middle;
                }
            }
        }
        let print = print_on(low);
        Self { negative, print, grey_negative, grey_print: print.inverse(grey), clear, flare: tone.flare }
    }

    /// How steep the print is at mid-grey on this display, over how steep it is on one of standard range: 1 there, more
    /// the higher the peak, since highlights that roll off less hold less of mid-grey back.
    pub fn steepness(&self, tone: &Tone, peak: f64) -> f64 {
        if peak == 1.0 {
            return 1.0;
        }
        let at_grey = |scale: &Self| scale.print.slope(scale.grey_print);
        at_grey(self) / at_grey(&Self::new(tone, 1.0))
    }

    /// The negative's curve, on log10 exposure relative to mid-grey.
    pub const fn negative(&self) -> &DensityCurve {
        &self.negative
    }

    /// The print's curve, on log10 print exposure; densities over diffuse white.
    pub const fn print(&self) -> &DensityCurve {
        &self.print
    }

    /// Density of mid-grey on the negative.
    pub const fn grey_negative(&self) -> f64 {
        self.grey_negative
    }

    /// Log10 print exposure of mid-grey.
    pub const fn grey_print(&self) -> f64 {
        self.grey_print
    }

    /// Density on the negative of `exposure`, linear, of any sign, relative to mid-grey.
    #[inline]
    pub fn negative_density(&self, exposure: f64) -> f64 {
        self.negative.value(log10(floored(exposure)))
    }

    /// Density on the print, over diffuse white, under a negative `over_grey` denser than mid-grey, with `light` more
    /// log10 exposure from the printer.
    #[inline]
    pub fn print_density(&self, over_grey: f64, light: f64) -> f64 {
        self.print.value(self.grey_print - over_grey + light)
    }

    /// Display light of a print density, with flare.
    pub fn light_of_density(&self, density: f64) -> f64 {
        self.with_flare(exp10(-density))
    }

    /// Light through the print, relative to diffuse white, with the flare of the projection.
    #[inline]
    pub fn with_flare(&self, light: f64) -> f64 {
        self.clear * light + self.flare
    }

    /// Share of light that passes the print.
    pub const fn clear(&self) -> f64 {
        self.clear
    }

    /// Display light of `exposure`, linear, of any sign, relative to mid-grey. Domain: any finite number.
    pub fn light(&self, exposure: f64) -> f64 {
        self.light_of_density(self.print_density(self.negative_density(exposure) - self.grey_negative, 0.0))
    }

    /// Display light of log10 exposure relative to mid-grey, without the floor: the scale as a curve, for plots.
    pub fn light_of_log(&self, log_exposure: f64) -> f64 {
        self.light_of_density(self.print_density(self.negative.value(log_exposure) - self.grey_negative, 0.0))
    }

    /// The inverse of [`light_of_log`](Self::light_of_log), in closed form: infinite beyond the ends of the scale.
    pub fn log_of_light(&self, light: f64) -> f64 {
        let through = (light - self.flare) / self.clear;
        if through <= 0.0 {
            return f64::NEG_INFINITY;
        }
        self.negative.inverse(self.grey_negative + self.grey_print - self.print.inverse(-log10(through)))
    }
}

/// An exposure lifted smoothly off zero, so that light of any sign has a logarithm: (e + sqrt(e² + 4 f²)) / 2.
#[inline(always)]
pub fn floored(exposure: f64) -> f64 {
    const SQUARE: f64 = negative::FLOOR * negative::FLOOR;
    // Beyond this the square would overflow, and the negative is at its end long before.
    let e = exposure.clamp(-1e100, 1e100);
    let root = (e * e + 4.0 * SQUARE).sqrt();
    if e >= 0.0 { 0.5 * (e + root) } else { 2.0 * SQUARE / (root - e) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Tone = Tone { contrast: 3.0, toe: 0.67, shoulder: 0.92, black: 3.7, grey: 0.105, flare: 0.0 };
    const PEAKS: [f64; 4] = [1.0, 2.0, 1000.0 / 203.0, 2000.0 / 203.0];

    #[test]
    fn grey_lands_and_white_is_the_peak() {
        for peak in PEAKS {
            for flare in [0.0, 0.01] {
                let scale = NeutralScale::new(&Tone { flare, ..PLAIN }, peak);
                assert!((scale.light(1.0) - 0.105).abs() < 1e-13, "{peak}");
                assert!((scale.light(1e90) / peak - 1.0).abs() < 1e-12, "{peak}: {}", scale.light(1e90));
            }
        }
    }

    #[test]
    fn a_higher_peak_is_steeper_at_mid_grey() {
        let steepness = PEAKS.map(|peak| NeutralScale::new(&PLAIN, peak).steepness(&PLAIN, peak));
        assert_eq!(steepness[0], 1.0);
        assert!(steepness.windows(2).all(|w| w[0] < w[1]), "{steepness:?}");
        // Log10 of light a stop about mid-grey says the same.
        let slope = |peak: f64| {
            let scale = NeutralScale::new(&PLAIN, peak);
            log10(scale.light_of_log(1e-3) / scale.light_of_log(-1e-3))
        };
        assert!((steepness[2] - slope(PEAKS[2]) / slope(1.0)).abs() < 1e-4);
    }

    #[test]
    fn a_peak_beyond_the_contrast_leaves_white_dimmer_and_grey_in_place() {
        let scale = NeutralScale::new(&PLAIN, 10000.0 / 203.0);
        assert!((scale.light(1.0) - 0.105).abs() < 1e-13);
        assert!(scale.light(1e90) < 10000.0 / 203.0 && scale.light(1e90) > 4000.0 / 203.0);
    }

    #[test]
    fn a_higher_peak_leaves_the_lower_half_nearly_alone() {
        let standard = NeutralScale::new(&PLAIN, 1.0);
        let high = NeutralScale::new(&PLAIN, 1000.0 / 203.0);
        for i in -80..=0 {
            let x = f64::from(i) * 0.1 * STOP;
            let ratio = high.light_of_log(x) / standard.light_of_log(x);
            // Standard range is already bending towards white at mid-grey, so its shadows end a little lighter.
            println!("{i} {ratio}");
            assert!(ratio <= 1.0 + 1e-12 && ratio > 0.88, "{i}: {ratio}");
        }
    }

    #[test]
    fn the_scale_comes_back() {
        let scale = NeutralScale::new(&Tone { flare: 0.005, ..PLAIN }, 1.0);
        for i in -50..=40 {
            let x = f64::from(i) * 0.1 * STOP;
            assert!((scale.log_of_light(scale.light_of_log(x)) - x).abs() < 1e-9, "{i}");
        }
    }

    #[test]
    fn the_floor_is_smooth_positive_and_rising() {
        let lights = [-1e300, -1e9, -1.0, -1e-3, -1e-5, 0.0, 1e-5, 1e-3, 1.0, 1e9, 1e300];
        assert!(lights.windows(2).all(|w| floored(w[0]) <= floored(w[1])));
        assert!(lights.iter().all(|l| floored(*l) > 0.0 && floored(*l).is_finite()));
        assert_eq!(floored(0.0), negative::FLOOR);
    }
}

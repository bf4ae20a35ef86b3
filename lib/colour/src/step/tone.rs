//! `tone`: a plain neutral contrast curve to display light, for those who want no print.
//!
//! Greys go along the neutral axis of the print ([`NeutralScale`]): they are the same as with `print` at the same
//! settings. Colours go along the same curve on three channels of AP1 that share a little with their neighbours. Chroma
//! about luminance is then scaled by 1.1 (1 - x³) / s, with x the luminance over the peak, so that every bright light ends
//! in white, and s how much steeper the curve is for the peak of the display, so that chroma is the same in standard and in
//! high range; and the hue guard of the print ([`crate::step::print::hue`]) turns each colour back to the hue that it had in
//! the scene.
//!
//! `per_channel` skips all three and is the curve on each channel alone: bright lights turn by up to 75 degrees, blue
//! to violet and red to orange. It is there for looks that were made on such a curve.

use super::print::hue::HueGuard;
use super::print::parameters::{BLACK, CONTRAST, GREY, SHOULDER, TOE};
use super::print::scale::{self, NeutralScale, floored};
use super::print::{apply, interlayer, rows};
use super::words::{percent, plain, stops};
use super::{Compiled, Context, Extremes, MID_GREY, Maths, Rendered, Renders, Role, StepSettings};
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::gamut::AP1;
use crate::invalid::Refusals;
use crate::setting::settings;
use nalgebra::Matrix3;

/// Share of each neighbour in a channel: one that `compress` has brought to zero has light again, and a hue can be read.
const CROSSTALK: f64 = 0.06;
/// Chroma about luminance in the dark, in standard range, which makes up for what the neighbours take.
const CHROMA: f64 = 1.1;
/// Strength of the hue guard, and how far it lets amber go.
const HUE: f64 = 1.0;
const WARMTH: f64 = 0.6;

settings! {
    "ToneDoc",
    /// The numbers of a tone curve; their meaning and bounds are those of the print.
    #[derive(Copy)]
    pub struct ToneSettings {
        /// Display light of mid-grey, of white.
        grey: f64 = GREY.default, Number(&GREY);
        /// Density per log exposure.
        contrast: f64 = CONTRAST.default, Number(&CONTRAST);
        /// Width of the roll-off into black, in stops.
        toe: f64 = TOE.default, Number(&TOE);
        /// Width of the roll-off into white, in stops.
        shoulder: f64 = SHOULDER.default, Number(&SHOULDER);
        /// Density of black over white.
        black: f64 = BLACK.default, Number(&BLACK);
        /// The curve on each channel by itself, which turns the hue of bright lights; default: false.
        per_channel: bool = false, Flag;
    }
}

/// What the settings that `print` has too look like too low and too high.
pub(super) mod looks {
    use crate::step::{Extremes, extremes};

    pub(in crate::step) const GREY: Extremes =
        extremes("grey", "a dark picture", "a bright picture, with little room left for highlights");
    pub(in crate::step) const CONTRAST: Extremes = extremes(
        "contrast",
        "a flat picture, as through haze",
        "black shadows and white highlights, with little between",
    );
    pub(in crate::step) const TOE: Extremes =
        extremes("toe", "shadows end hard in black", "thin, grey shadows that never quite reach black");
    pub(in crate::step) const SHOULDER: Extremes =
        extremes("shoulder", "highlights run into white all at once", "dull whites, and highlights without sparkle");
    pub(in crate::step) const BLACK: Extremes =
        extremes("black", "blacks are grey", "blacks drown the darkest detail on a monitor in a bright room");
}

impl StepSettings for ToneSettings {
    const NAME: &'static str = "tone";
    const TITLE: &'static str = "Tone curve";
    const HELP: &'static str = "Plain neutral contrast curve to display light; the last step.";
    const ROLE: Role = Role::Rendering;
    const EXAMPLE: &'static str = "contrast = 3.6\nshoulder = 1.8";
    const EXTREMES: &'static [Extremes] = &[looks::GREY, looks::CONTRAST, looks::TOE, looks::SHOULDER, looks::BLACK];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        self.check().map(|()| Maths::rendering(*self))
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let colours = if self.per_channel {
            "A plain curve on each channel, no print: bright lights turn in hue."
        } else {
            "A plain curve, no print: bright lights keep their hue and end in white."
        };
        format!("{colours} {}", self.greys())
    }
}

impl Renders for ToneSettings {
    fn compile(&self, white: Xy, peak: f64) -> Result<Compiled, Refusals> {
        Tone::new(self, white, peak).map(Compiled::new)
    }
}

impl ToneSettings {
    /// What it does to greys, in a sentence.
    pub(super) fn greys(&self) -> String {
        format!(
            "Mid-grey is shown at {} of white; contrast {} (density per log exposure); shadows roll off over {} into a black of \
             density {}, highlights over {} into white.",
            percent(self.grey),
            plain(self.contrast),
            stops(self.toe),
            plain(self.black),
            stops(self.shoulder)
        )
    }

    /// Whether every number is within its bounds.
    ///
    /// # Errors
    /// Those that are not, by key.
    pub fn check(&self) -> Result<(), Refusals> {
        let mut refusals = Refusals::new();
        let values = [
            (GREY, self.grey),
            (CONTRAST, self.contrast),
            (TOE, self.toe),
            (SHOULDER, self.shoulder),
            (BLACK, self.black),
        ];
        for (parameter, value) in &values {
            refusals.bound(parameter, *value);
        }
        refusals.finish(|| ())
    }
}

/// The curve fitted to a display. Domain: scene light of any sign; range: XYZ, Y up to the display's peak.
#[derive(Debug, Clone)]
pub struct Tone {
    scale: NeutralScale,
    peak: f64,
    /// Scene light to the three channels of the curve, relative to mid-grey.
    channels: [[f64; 3]; 3],
    /// None: per channel.
    guard: Option<HueGuard>,
    /// Channels to XYZ: under the white of AP1 with a guard, under the display's without.
    to_xyz: [[f64; 3]; 3],
    luminance: [f64; 3],
    /// Chroma about luminance in the dark, on this display.
    chroma: f64,
}

impl Tone {
    /// From its numbers, for a display white and a peak over diffuse white.
    ///
    /// # Errors
    /// As [`ToneSettings::check`].
    pub fn new(settings: &ToneSettings, white: Xy, peak: f64) -> Result<Self, Refusals> {
        settings.check()?;
        let tone = scale::Tone {
            contrast: settings.contrast,
            toe: settings.toe,
            shoulder: settings.shoulder,
            black: settings.black,
            grey: settings.grey,
            flare: 0.0,
        };
        let to_display = Adaptation::Bradford.matrix(AP1.white, white);
        let (crosstalk, guard, to_xyz) = if settings.per_channel {
            (0.0, None, to_display * AP1.to_xyz())
        } else {
            (CROSSTALK, Some(HueGuard::new(HUE, WARMTH, [1.0; 3], AP1.white, &to_display)), AP1.to_xyz())
        };
        let channels: Matrix3<f64> = interlayer::crosstalk_matrix(crosstalk) / MID_GREY;
        let scale = NeutralScale::new(&tone, peak);
        Ok(Self {
            chroma: CHROMA / scale.steepness(&tone, peak),
            scale,
            peak,
            channels: rows(&channels),
            guard,
            to_xyz: rows(&to_xyz),
            luminance: AP1.luminance_weights().into(),
        })
    }

    /// Graded scene light (AP1) to XYZ under the display's white, Y = 1 at diffuse white.
    pub fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        let channels = apply(&self.channels, rgb);
        let light = channels.map(|c| self.scale.light(c));
        let Some(guard) = &self.guard else { return apply(&self.to_xyz, light) };
        let [r, g, b] = self.luminance;
        let luminance = r * light[0] + g * light[1] + b * light[2];
        let x = luminance / self.peak;
        let chroma = self.chroma * (1.0 - x * x * x);
        let light = light.map(|c| luminance + chroma * (c - luminance));
        guard.apply(channels.map(floored), apply(&self.to_xyz, light))
    }
}

impl Rendered for Tone {
    fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.render(rgb)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chromaticity::D65;
    use crate::math;

    fn tone(peak: f64) -> Tone {
        Tone::new(&ToneSettings::default(), D65, peak).unwrap()
    }

    #[test]
    fn mid_grey_lands_on_its_target_and_neutrals_stay_neutral() {
        for peak in [1.0, 1000.0 / 203.0] {
            let [x, y, z] = tone(peak).render([MID_GREY; 3]);
            let white = D65.to_xyz(y);
            assert!((y - GREY.default).abs() < 1e-12, "{y}");
            assert!((x - white.x).abs() < 1e-14 && (z - white.z).abs() < 1e-14);
        }
    }

    #[test]
    fn brighter_light_is_brighter() {
        let tone = tone(1.0);
        let mut last = -1.0;
        for i in -1000..=800 {
            let y = tone.render([MID_GREY * math::exp2(f64::from(i) * 0.01); 3])[1];
            assert!(y > last, "{i}");
            last = y;
        }
        assert!(last <= 1.0 + 1e-12);
        assert!(tone.render([-5.0, 0.0, 1e30]).iter().all(|v| v.is_finite()));
    }

    /// Luminance is that of the channels by the curve; the guard and the way to white leave it.
    #[test]
    fn luminance_is_that_of_the_curve() {
        for peak in [1.0, 1000.0 / 203.0] {
            // Under the white of AP1 luminance is that of AP1.
            let tone = Tone::new(&ToneSettings::default(), AP1.white, peak).unwrap();
            for rgb in [[0.9, 0.1, 0.02], [0.01, 0.02, 0.6], [5.0, 9.0, 1.0], [0.2, 0.18, 0.15]] {
                let curve = apply(&tone.channels, rgb).map(|c| tone.scale.light(c));
                let want: f64 = (0..3).map(|i| tone.luminance[i] * curve[i]).sum();
                let got = tone.render(rgb)[1];
                assert!((got - want).abs() < 1e-12 * peak, "{rgb:?}: {got} for {want}");
            }
        }
    }

    /// What `per_channel` is there for: with it a bright blue turns to violet, without it the hue stays.
    #[test]
    fn a_bright_blue_keeps_its_hue_unless_each_channel_has_the_curve_alone() {
        let turn = |per_channel: bool| {
            let tone = Tone::new(&ToneSettings { per_channel, ..ToneSettings::default() }, D65, 1.0).unwrap();
            let hue = |stops: f64| {
                let light = [0.06, 0.02, 1.0].map(|c| c * MID_GREY * math::exp2(stops));
                let [_, a, b] = crate::oklab::oklab(tone.render(light)).0;
                math::atan2(b, a).to_degrees()
            };
            (hue(4.0) - hue(-2.0)).abs()
        };
        assert!(turn(false) < 10.0, "{}", turn(false));
        assert!(turn(true) > 20.0, "{}", turn(true));
    }

    #[test]
    fn numbers_out_of_bounds_are_refused_by_key() {
        let settings = ToneSettings { grey: 2.0, black: f64::NAN, ..ToneSettings::default() };
        let keys: Vec<_> = settings.check().unwrap_err().into_iter().map(|r| r.key).collect();
        assert_eq!(keys, ["grey", "black"]);
    }
}

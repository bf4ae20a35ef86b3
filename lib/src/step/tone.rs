//! `tone`: a plain neutral contrast curve to display light, for those who want no print.
//!
//! The neutral axis of the print ([`NeutralScale`]) on each channel of AP1: greys are the same as with `print` at the
//! same settings; colours get the saturation that a curve per channel gives, without dyes.

use super::MID_GREY;
use super::print::parameters::{BLACK, CONTRAST, GREY, SHOULDER, TOE};
use super::print::scale::{self, NeutralScale};
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::gamut::AP1;
use crate::invalid::{Invalid, Refusals};
use nalgebra::{Matrix3, Vector3};

/// The numbers of a tone curve; their meaning and bounds are those of the print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneSettings {
    /// Display light of mid-grey, of white.
    pub grey: f64,
    /// Density per log exposure.
    pub contrast: f64,
    /// Width of the roll-off into black, in stops.
    pub toe: f64,
    /// Width of the roll-off into white, in stops.
    pub shoulder: f64,
    /// Density of black over white.
    pub black: f64,
}

impl Default for ToneSettings {
    fn default() -> Self {
        Self {
            grey: GREY.default,
            contrast: CONTRAST.default,
            toe: TOE.default,
            shoulder: SHOULDER.default,
            black: BLACK.default,
        }
    }
}

impl ToneSettings {
    /// Whether every number is within its bounds.
    ///
    /// # Errors
    /// Those that are not, by key.
    pub fn check(&self) -> Result<(), Vec<Invalid>> {
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
    to_xyz: Matrix3<f64>,
}

impl Tone {
    /// From its numbers, for a display white and a peak over diffuse white.
    ///
    /// # Errors
    /// As [`ToneSettings::check`].
    pub fn new(settings: &ToneSettings, white: Xy, peak: f64) -> Result<Self, Vec<Invalid>> {
        settings.check()?;
        let tone = scale::Tone {
            contrast: settings.contrast,
            toe: settings.toe,
            shoulder: settings.shoulder,
            black: settings.black,
            grey: settings.grey,
            flare: 0.0,
        };
        let to_xyz = Adaptation::Bradford.matrix(AP1.white, white) * AP1.to_xyz();
        Ok(Self { scale: NeutralScale::new(&tone, peak), to_xyz })
    }

    /// Graded scene light (AP1) to XYZ under the display's white, Y = 1 at diffuse white.
    pub fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        let light = rgb.map(|c| self.scale.light(c / MID_GREY));
        (self.to_xyz * Vector3::from(light)).into()
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

    #[test]
    fn numbers_out_of_bounds_are_refused_by_key() {
        let settings = ToneSettings { grey: 2.0, black: f64::NAN, ..ToneSettings::default() };
        let keys: Vec<_> = settings.check().unwrap_err().into_iter().map(|r| r.key).collect();
        assert_eq!(keys, ["grey", "black"]);
    }
}

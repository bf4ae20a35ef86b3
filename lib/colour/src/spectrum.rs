//! Spectra of lights and of surfaces, and the XYZ that the CIE 1931 2-degree observer makes of them.
//!
//! A [`Spectrum`] holds 81 samples, 380 to 780 nm in steps of 5 nm, relative (no radiometric unit): the spectral power
//! of a light, or the reflectance (0 to 1, more for a fluorescent one) of a surface. All integrals are sums as in CIE
//! 15:2018 over these samples times 5 nm.
//!
//! | module | gives |
//! | --- | --- |
//! | [`observer`](mod@observer) | the colour-matching functions |
//! | [`planck`](mod@planck) | glowing bodies, illuminant A |
//! | [`daylight`](mod@daylight) | the daylight series, D50 to D75 |
//! | [`locus`] | a white by kelvin and tint |
//! | [`temperature`](mod@temperature) | kelvin and tint of a white |
//! | [`light`] | Gaussian bands and single lines |
//! | [`samples`] | the test colour samples of CIE 13.3 |

pub mod daylight;
pub mod light;
pub mod locus;
pub mod observer;
pub mod planck;
pub mod samples;
pub mod temperature;

use crate::chromaticity::Xy;
use crate::invalid::{Invalid, out_of_range};
use nalgebra::Vector3;
use observer::MATCHING;

pub use daylight::{daylight, daylight_chromaticity, illuminant_d, illuminant_d65};
pub use light::{gaussian, line, line_chromaticity};
pub use locus::locus_white;
pub use observer::observer;
pub use planck::{illuminant_a, planck, planckian_chromaticity};
pub use samples::{TestColour, test_colours};
pub use temperature::{kelvin_and_tint, temperature};

/// Wavelength of the first sample, nm.
pub const FIRST: f64 = 380.0;
/// Wavelength of the last sample, nm.
pub const LAST: f64 = 780.0;
/// From one sample to the next, nm.
pub const STEP: f64 = 5.0;
/// Samples of a spectrum.
pub const COUNT: usize = 81;

/// The wavelengths of the samples, in nm: 380, 385, ... 780.
pub fn wavelengths() -> impl ExactSizeIterator<Item = f64> + Clone {
    (0..COUNT).map(|i| FIRST + STEP * i as f64)
}

/// A light or a surface, 380 to 780 nm in steps of 5 nm: 81 finite values, none below zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum([f64; COUNT]);

impl Spectrum {
    /// From its samples at [`wavelengths`]. Refused, with the sample as key: a value below zero or not finite.
    pub fn new(samples: [f64; COUNT]) -> Result<Self, Invalid> {
        for (nm, value) in wavelengths().zip(samples) {
            if !(value.is_finite() && value >= 0.0) {
                let message = format!("{value} at {nm} nm: a sample must be a finite number, zero or more");
                return Err(Invalid::new("samples", message));
            }
        }
        Ok(Self(samples))
    }

    /// From a function of the wavelength in nm; refused as by [`new`](Self::new).
    pub fn from_fn(value: impl FnMut(f64) -> f64) -> Result<Self, Invalid> {
        let mut samples = [0.0; COUNT];
        for (sample, value) in samples.iter_mut().zip(wavelengths().map(value)) {
            *sample = value;
        }
        Self::new(samples)
    }

    /// The same value at every wavelength: of 1, illuminant E as a light, the perfect diffuser as a surface.
    pub fn flat(value: f64) -> Result<Self, Invalid> {
        Self::new([value; COUNT])
    }

    /// The samples, at [`wavelengths`].
    pub const fn samples(&self) -> &[f64; COUNT] {
        &self.0
    }

    /// Sample by sample: a light through a filter, or off a surface. Refused where a product overflows.
    pub fn times(&self, other: &Self) -> Result<Self, Invalid> {
        Self::new(std::array::from_fn(|i| self.0[i] * other.0[i]))
    }

    /// Every sample times `factor`, zero or more. Refused as by [`new`](Self::new).
    pub fn scale(&self, factor: f64) -> Result<Self, Invalid> {
        Self::new(self.0.map(|v| v * factor))
    }

    /// From this one (`share` 0) to the other (1), in a straight line. Refused: a share outside 0 to 1.
    pub fn mix(&self, other: &Self, share: f64) -> Result<Self, Invalid> {
        if !(0.0..=1.0).contains(&share) {
            return Err(Invalid::new("share", out_of_range(share, "", "it must lie between 0 and 1")));
        }
        Self::new(std::array::from_fn(|i| (1.0 - share) * self.0[i] + share * other.0[i]))
    }

    /// XYZ of a light, not normalised: the sum of samples times colour-matching functions times 5 nm.
    ///
    /// Y is the luminance in the unit of the samples (times 683 lm/W in absolute ones); [`Spectrum::chromaticity`] and
    /// ratios of two such sums need no more.
    pub fn to_xyz(&self) -> Vector3<f64> {
        self.0.iter().zip(&MATCHING).fold(Vector3::zeros(), |sum, (v, row)| sum + Vector3::from(*row) * *v) * STEP
    }

    /// XYZ of this surface under `illuminant`, so that the perfect diffuser has Y = 1. Refused: an illuminant that
    /// gives no luminance.
    pub fn to_xyz_under(&self, illuminant: &Self) -> Result<Vector3<f64>, Invalid> {
        let white = illuminant.to_xyz().y;
        if white > 0.0 {
            return Ok(self.times(illuminant)?.to_xyz() / white);
        }
        Err(Invalid::new("illuminant", "it has no luminance: it must have power between 380 and 780 nm"))
    }

    /// The chromaticity of a light, or `None` for one that the observer does not see.
    pub fn chromaticity(&self) -> Option<Xy> {
        Xy::from_xyz(&self.to_xyz())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_that_are_no_power_are_refused() {
        for bad in [-1e-300, f64::NAN, f64::INFINITY] {
            let mut samples = [1.0; COUNT];
            samples[35] = bad;
            assert!(Spectrum::new(samples).unwrap_err().message.contains("at 555 nm"));
            assert!(Spectrum::flat(1.0).unwrap().scale(bad).is_err() && Spectrum::flat(bad).is_err());
        }
        let one = Spectrum::flat(1.0).unwrap();
        assert!(one.mix(&one, 1.1).is_err() && one.mix(&one, f64::NAN).is_err());
        let huge = Spectrum::flat(1e200).unwrap();
        assert!(huge.times(&huge).is_err());
    }

    #[test]
    fn sums_are_linear_in_the_light() {
        let (a, b) = (illuminant_a(), illuminant_d65());
        let mixed = a.mix(&b, 0.25).unwrap().to_xyz();
        assert!((mixed - (a.to_xyz() * 0.75 + b.to_xyz() * 0.25)).norm() < 1e-12);
        assert!((a.scale(3.0).unwrap().to_xyz() - a.to_xyz() * 3.0).norm() < 1e-11);
        assert_eq!(a.mix(&b, 0.0).unwrap(), a);
        assert_eq!(a.mix(&b, 1.0).unwrap(), b);
    }

    #[test]
    fn the_perfect_diffuser_has_a_luminance_of_one() {
        let diffuser = Spectrum::flat(1.0).unwrap();
        for light in [illuminant_a(), illuminant_d65(), line(589.3).unwrap()] {
            assert_eq!(diffuser.to_xyz_under(&light).unwrap().y, 1.0);
            let grey = Spectrum::flat(0.18).unwrap().to_xyz_under(&light).unwrap();
            assert!((grey - diffuser.to_xyz_under(&light).unwrap() * 0.18).norm() < 1e-15);
        }
        let dark = Spectrum::flat(0.0).unwrap();
        assert_eq!(diffuser.to_xyz_under(&dark).unwrap_err().key, "illuminant");
        assert!(dark.chromaticity().is_none());
    }

    /// Illuminant E (CIE 15:2004): x = y = 1/3; sums of the 5 nm table leave a few units of the sixth digit.
    #[test]
    fn equal_energy_is_a_third() {
        let e = Spectrum::flat(1.0).unwrap().chromaticity().unwrap();
        assert!((e.x - 1.0 / 3.0).abs() < 1e-5 && (e.y - 1.0 / 3.0).abs() < 1e-5, "{e:?}");
    }
}

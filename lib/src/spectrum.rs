//! Spectra of lights and of surfaces, and the XYZ that the CIE 1931 2-degree observer makes of them.
//!
//! A [`Spectrum`] holds 81 samples, 380 to 780 nm in steps of 5 nm, relative (no radiometric unit): the spectral power
//! of a light, or the reflectance (0 to 1, more for a fluorescent one) of a surface. All integrals are the sums of CIE
//! 15:2018, 7.1 over these samples times 5 nm.
//!
//! | module | gives |
//! | --- | --- |
//! | [`observer`](mod@observer) | the colour-matching functions |

pub mod observer;

use crate::chromaticity::Xy;
use crate::invalid::Invalid;
use nalgebra::Vector3;
use observer::MATCHING;

pub use observer::observer;

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
            return Err(Invalid::new("share", format!("{share} is out of range: it must lie between 0 and 1")));
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

//! Narrow lights: a band of Gaussian shape, such as a colour LED, and a single line, such as sodium or a laser.

use super::{COUNT, FIRST, LAST, STEP, Spectrum, observer};
use crate::chromaticity::Xy;
use crate::invalid::{Invalid, Parameter};
use crate::math;
use nalgebra::Vector3;

/// Where a narrow light lies.
pub const CENTRE: Parameter = Parameter {
    key: "centre",
    min: FIRST,
    max: LAST,
    default: 550.0,
    unit: "nm",
    help: "wavelength where the light is strongest",
};

/// How wide a Gaussian light is. Narrower than 10 nm, samples at 5 nm no longer hold its shape; use [`line()`].
pub const WIDTH: Parameter =
    Parameter { key: "width", min: 10.0, max: 400.0, default: 25.0, unit: "nm", help: "full width at half maximum" };

/// A light of Gaussian shape: 1 at `centre` nm, one half at `width` / 2 nm to either side. Domain: [`CENTRE`] and
/// [`WIDTH`]; refused outside. Power outside 380 to 780 nm is ignored.
pub fn gaussian(centre: f64, width: f64) -> Result<Spectrum, Invalid> {
    let (centre, width) = (CENTRE.check(centre)?, WIDTH.check(width)?);
    Spectrum::from_fn(|nm| {
        let t = (nm - centre) / width;
        math::exp2(-4.0 * t * t)
    })
}

/// A light of a single wavelength, in nm, with a power of 1: shared between the two samples beside it, so that power
/// and mean wavelength are kept (samples x 5 nm sum to 1). Its XYZ is the observer's, interpolated in a straight line;
/// that deviates from the spectral locus by up to 0.0038 in x, y (at 517 nm), and [`line_chromaticity`] does not. Domain: [`CENTRE`]; refused outside.
pub fn line(nm: f64) -> Result<Spectrum, Invalid> {
    let position = (CENTRE.check(nm)? - FIRST) / STEP;
    let share = position - position.floor();
    let mut samples = [0.0; COUNT];
    samples[position as usize] = (1.0 - share) / STEP;
    if share > 0.0 {
        samples[position as usize + 1] = share / STEP;
    }
    Spectrum::new(samples)
}

/// The chromaticity of a single wavelength in nm, a point of the spectral locus, from [`observer()`] itself. Domain:
/// [`CENTRE`]; refused outside.
pub fn line_chromaticity(nm: f64) -> Result<Xy, Invalid> {
    let xyz = Vector3::from(observer(CENTRE.check(nm)?));
    Ok(Xy::from_xyz(&xyz).expect("the observer sees every wavelength of the domain"))
}

#[cfg(test)]
mod tests {
    use super::super::wavelengths;
    use super::*;

    #[test]
    fn a_gaussian_has_its_peak_and_its_width() {
        let light = gaussian(550.0, 30.0).unwrap();
        assert_eq!(light.samples()[34], 1.0);
        assert_eq!((light.samples()[31], light.samples()[37]), (0.5, 0.5));
    }

    /// The narrowest Gaussian, wherever it falls between samples, keeps its area: sigma sqrt(2 pi).
    #[test]
    fn the_samples_hold_the_narrowest_gaussian() {
        let area = WIDTH.min * (std::f64::consts::PI / (4.0 * std::f64::consts::LN_2)).sqrt();
        for i in 0..50 {
            let light = gaussian(550.0 + 0.1 * f64::from(i), WIDTH.min).unwrap();
            assert!((light.samples().iter().sum::<f64>() * STEP / area - 1.0).abs() < 2e-6);
        }
    }

    #[test]
    fn a_line_keeps_power_and_wavelength() {
        for nm in [380.0, 381.0, 435.8, 546.1, 589.3, 779.9, 780.0] {
            let light = line(nm).unwrap();
            let power = light.samples().iter().sum::<f64>() * STEP;
            let mean = wavelengths().zip(light.samples()).map(|(w, v)| w * v).sum::<f64>() * STEP;
            assert!((power - 1.0).abs() < 1e-14 && (mean - nm).abs() < 1e-10, "{nm}: {power} {mean}");
        }
    }

    #[test]
    fn lights_outside_are_refused() {
        for nm in [379.9, 780.1, f64::NAN] {
            assert_eq!(line(nm).unwrap_err().key, "centre");
            assert_eq!(line_chromaticity(nm).unwrap_err().key, "centre");
            assert_eq!(gaussian(nm, 30.0).unwrap_err().key, "centre");
        }
        assert_eq!(gaussian(550.0, 9.9).unwrap_err().key, "width");
    }
}

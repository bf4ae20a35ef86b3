//! Planck's radiator: its spectrum, its chromaticity, and CIE illuminant A, which is one.

use super::Spectrum;
use crate::chromaticity::Xy;
use crate::invalid::{Invalid, Parameter};
use crate::math;

/// The second radiation constant in nm K: 1.4388e-2 m K, as colorimetry keeps it from the International Temperature
/// Scale of 1990 (CIE 15:2018; the value of SI since 2019, 1.438776877e-2, moves chromaticities by under 1e-5).
const C2: f64 = 1.4388e7;

/// Illuminant A in its own constants (CIE 15:2018; ISO/CIE 11664-2:2022): 1.435e7 nm K over 2848 K.
const A_C2: f64 = 1.435e7;
const A_KELVIN: f64 = 2848.0;

/// Where every illuminant of this page is 1, nm (CIE 15:2018: 100 at 560 nm).
const UNIT_NM: f64 = 560.0;

/// Temperature of [`planck`].
pub const KELVIN: Parameter = Parameter {
    key: "kelvin",
    min: 1000.0,
    max: 100_000.0,
    default: 3200.0,
    unit: "K",
    help: "temperature of a glowing body",
};

/// The spectral power of a full radiator at `kelvin`, 1 at 560 nm; refractive index 1 (CIE 15:2018). Domain:
/// [`KELVIN`], 1000 to 100 000 K; refused outside.
pub fn planck(kelvin: f64) -> Result<Spectrum, Invalid> {
    let kelvin = KELVIN.check(kelvin)?;
    Spectrum::from_fn(|nm| relative(nm, C2 / kelvin))
}

/// The chromaticity of [`planck`], same domain.
pub fn planckian_chromaticity(kelvin: f64) -> Result<Xy, Invalid> {
    Ok(planck(kelvin)?.chromaticity().expect("a radiator of 1000 K and more is seen"))
}

/// CIE standard illuminant A, tungsten: 1 at 560 nm.
pub fn illuminant_a() -> Spectrum {
    Spectrum::from_fn(|nm| relative(nm, A_C2 / A_KELVIN)).expect("the formula is positive and finite")
}

/// Planck's law relative to 560 nm, for c2 / T in nm.
fn relative(nm: f64, heat: f64) -> f64 {
    let r = UNIT_NM / nm;
    r * r * r * r * r * math::exp_m1(heat / UNIT_NM) / math::exp_m1(heat / nm)
}

/// How the power of a radiator grows with temperature, per kelvin, with the scale of [`planck`] held; `kelvin` is in
/// its domain. A sample of it: S c2 / (nm T^2) / (1 - e^(-c2 / (nm T))).
pub(super) fn slope(kelvin: f64) -> Spectrum {
    let heat = C2 / kelvin;
    Spectrum::from_fn(|nm| relative(nm, heat) * (heat / nm / kelvin) / -math::exp_m1(-heat / nm))
        .expect("the slope is positive and finite in the domain")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 15:2004, table T.3, from memory.
    #[test]
    fn illuminant_a_has_its_published_chromaticity() {
        let a = illuminant_a().chromaticity().unwrap();
        assert!((a.x - 0.44758).abs() < 5e-6 && (a.y - 0.40745).abs() < 5e-6, "{a:?}");
        assert_eq!(illuminant_a().samples()[36], 1.0);
    }

    /// Illuminant A is Planck's radiator at 2848 K x 1.4388 / 1.435 (about 2855.5 K).
    #[test]
    fn illuminant_a_is_a_radiator() {
        let same = planck(A_KELVIN * C2 / A_C2).unwrap();
        for (a, b) in illuminant_a().samples().iter().zip(same.samples()) {
            assert!((a / b - 1.0).abs() < 1e-14);
        }
    }

    /// Planckian chromaticities to four digits (Wyszecki and Stiles, "Color Science", 2nd edition, 1982, from memory).
    #[test]
    fn the_locus_passes_its_published_points() {
        let published = [
            (2000.0, 0.5267, 0.4133),
            (3000.0, 0.4369, 0.4041),
            (4000.0, 0.3805, 0.3768),
            (5000.0, 0.3451, 0.3516),
            (6500.0, 0.3135, 0.3237),
            (10_000.0, 0.2807, 0.2884),
        ];
        for (kelvin, x, y) in published {
            let xy = planckian_chromaticity(kelvin).unwrap();
            assert!((xy.x - x).abs() < 5.5e-5 && (xy.y - y).abs() < 5.5e-5, "{kelvin} K: {xy:?}");
        }
    }

    #[test]
    fn the_slope_is_that_of_the_law() {
        for kelvin in [1100.0, 3200.0, 25_000.0] {
            let (h, scale) = (kelvin * 1e-5, |t: f64| math::exp_m1(C2 / t / UNIT_NM));
            let (up, down) = (planck(kelvin + h).unwrap(), planck(kelvin - h).unwrap());
            for (i, slope) in slope(kelvin).samples().iter().enumerate() {
                let up = up.samples()[i] * scale(kelvin) / scale(kelvin + h);
                let down = down.samples()[i] * scale(kelvin) / scale(kelvin - h);
                assert!(((up - down) / (2.0 * h) / slope - 1.0).abs() < 1e-7, "{kelvin} K");
            }
        }
    }

    #[test]
    fn temperatures_outside_are_refused() {
        for kelvin in [999.0, 100_001.0, f64::NAN, f64::INFINITY] {
            assert_eq!(planck(kelvin).unwrap_err().key, "kelvin");
        }
        assert!(planck(KELVIN.min).is_ok() && planck(KELVIN.max).is_ok());
    }
}

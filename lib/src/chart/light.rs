//! The light that a chart is shot under: named by CIE, by kelvin, or measured.

use super::ChartError;
use super::file::{columns, resampled};
use crate::chromaticity::Xy;
use crate::invalid::Invalid;
use crate::spectrum::{Spectrum, daylight, illuminant_a, illuminant_d, planck, temperature};

/// A light.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// Its name, for reports.
    pub name: String,
    /// Its power by wavelength; none where only its white is known.
    pub spectrum: Option<Box<Spectrum>>,
    /// Its chromaticity.
    pub white: Xy,
    /// Correlated colour temperature, kelvin; not a number where it is not known.
    pub kelvin: f64,
}

/// The names of lights, for messages.
pub const NAMES: &str = "a, d50, d55, d65, d75, daylight by kelvin such as d5600, lamp light (a black body) by kelvin such as p3200, or a CSV file of its spectrum";

impl Light {
    /// A light by name: illuminant A, daylight of the D series (`d65` as CIE has it, `d5600` by kelvin), or a glowing body
    /// (`p3200`).
    ///
    /// # Errors
    /// Another name, a temperature that the series does not have.
    pub fn parse(name: &str) -> Result<Self, ChartError> {
        let lower = name.trim().to_ascii_lowercase();
        let unknown = || ChartError::File(0, format!("`{name}` is not a light: it must be {NAMES}"));
        let refused = |why: Invalid| ChartError::File(0, format!("`{name}`: {}", why.message));
        if lower == "a" {
            return Ok(Self::of("illuminant A", illuminant_a()));
        }
        let (kind, digits) = lower.split_at_checked(1).ok_or_else(unknown)?;
        let kelvin: f64 =
            digits.parse().ok().filter(|_| digits.chars().all(|c| c.is_ascii_digit())).ok_or_else(unknown)?;
        match (kind, digits.len()) {
            ("d", 2) => Ok(Self::of(&format!("D{digits}"), illuminant_d(100.0 * kelvin).map_err(refused)?)),
            ("d", 4 | 5) => Ok(Self::of(&format!("daylight of {kelvin} K"), daylight(kelvin).map_err(refused)?)),
            ("p", 4 | 5) => Ok(Self::of(&format!("glow of {kelvin} K"), planck(kelvin).map_err(refused)?)),
            _ => Err(unknown()),
        }
    }

    /// A measured light from CSV text: two columns, wavelength in nm and power in any unit, at least from 400 to 700 nm.
    ///
    /// # Errors
    /// Text that is no such table, with its line.
    pub fn from_csv(name: &str, text: &str) -> Result<Self, ChartError> {
        let points = columns(text)?;
        let spectrum = resampled(&points)?;
        if spectrum.chromaticity().is_none() {
            return Err(ChartError::File(0, "the spectrum has no visible power".to_owned()));
        }
        Ok(Self::of(name, spectrum))
    }

    /// The light of a scene of which nothing is known.
    pub fn unknown() -> Self {
        let name = "the light of the scene".to_owned();
        Self { name, spectrum: None, white: crate::chromaticity::D65, kelvin: f64::NAN }
    }

    fn of(name: &str, spectrum: Spectrum) -> Self {
        let white = spectrum.chromaticity().unwrap_or(crate::chromaticity::E);
        Self { name: name.to_owned(), white, kelvin: temperature(white), spectrum: Some(Box::new(spectrum)) }
    }

    /// The spectrum, or the daylight or glow of its temperature where it is not known.
    pub(super) fn stand_in(&self) -> Result<Spectrum, Invalid> {
        match &self.spectrum {
            Some(spectrum) => Ok((**spectrum).clone()),
            None if self.kelvin >= 4000.0 => daylight(self.kelvin),
            None => planck(self.kelvin),
        }
    }
}

/// The wavelengths that a measured spectrum must cover, nm.
pub(super) const COVERED: [f64; 2] = [400.0, 700.0];

/// Whether points of rising wavelength cover what is seen.
pub(super) fn covers(points: &[(f64, f64)]) -> bool {
    let (first, last) = (points.first().map_or(f64::MAX, |p| p.0), points.last().map_or(0.0, |p| p.0));
    first <= COVERED[0] && last >= COVERED[1] && first >= 300.0 && last <= 1100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lights_have_their_temperatures() {
        // CIE 15:2018: illuminant A at 2856 K (2855.5 on today's scale), D65 at 6504 K.
        for (name, kelvin) in [("a", 2856.0), ("d65", 6504.0), ("d50", 5003.0), ("p3200", 3200.0), ("d5600", 5600.0)] {
            let light = Light::parse(name).unwrap();
            assert!((light.kelvin / kelvin - 1.0).abs() < 2e-3, "{name}: {}", light.kelvin);
        }
        for bad in ["", "d", "x65", "d999", "d3000", "65", "daylight", "é5600"] {
            assert!(Light::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_measured_light_is_read() {
        let mut text = "nm,power\n".to_owned();
        for nm in (380..=780).step_by(10) {
            text += &format!("{nm},1\n");
        }
        let light = Light::from_csv("flat", &text).unwrap();
        assert!((light.white.x - 1.0 / 3.0).abs() < 1e-4, "{:?}", light.white);
        assert!(matches!(Light::from_csv("x", "nm,power\n400,1\n500,x\n"), Err(ChartError::File(3, _))));
        assert!(Light::from_csv("x", "nm,power\n500,1\n600,1\n").unwrap_err().to_string().contains("400 to 700 nm"));
    }
}

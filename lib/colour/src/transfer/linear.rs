//! No encoding: the signal is the light. Light: scene reflectance, 0.18 is mid-grey; any number, both directions.

use super::Transfer;

/// Signal is light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Linear;

impl Transfer for Linear {
    fn encode(&self, light: f64) -> f64 {
        light
    }

    fn decode(&self, signal: f64) -> f64 {
        signal
    }
}

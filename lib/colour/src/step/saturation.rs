//! `saturation`: colours brought nearer to, or farther from, their own grey.

use super::words::percent;
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, extremes, luminance_weights};
use crate::invalid::{Invalid, Parameter, Refusals};
use crate::setting::settings;
use nalgebra::Vector3;

/// How much colour is kept.
pub const AMOUNT: Parameter = Parameter {
    key: "amount",
    min: 0.0,
    max: 4.0,
    default: 1.0,
    unit: "",
    help: "0 is monochrome, 1 leaves the picture as it is, above 1 is more saturated",
};

settings! {
    "SaturationDoc",
    /// Saturation about luminance.
    #[derive(Copy)]
    pub struct SaturationSettings {
        /// How much colour is kept.
        amount: f64 = AMOUNT.default, Number(&AMOUNT), required;
    }
}

impl StepSettings for SaturationSettings {
    const NAME: &'static str = "saturation";
    const TITLE: &'static str = "Saturation";
    const HELP: &'static str = "Saturation about luminance.";
    const ROLE: Role = Role::Scene;
    const MAIN: &'static str = "amount";
    const EXAMPLE: &'static str = "amount = 0.9";
    const EXTREMES: &'static [Extremes] =
        &[extremes("amount", "pale colours, grey skin", "red skin, and saturated lights without shape")];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        Saturation::new(self.amount).map(Maths::scene).map_err(Refusals::from)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        match self.amount {
            0.0 => "Monochrome.".to_owned(),
            1.0 => "Colours stay as they are.".to_owned(),
            amount => format!("Colours at {} of their strength; luminance stays.", percent(amount)),
        }
    }
}

/// A blend in linear light with the luminance of AP1, which it keeps. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saturation {
    amount: f64,
    weights: Vector3<f64>,
}

impl Saturation {
    /// From an amount.
    ///
    /// # Errors
    /// `amount` out of [`AMOUNT`].
    pub fn new(amount: f64) -> Result<Self, Invalid> {
        AMOUNT.check(amount).map(|amount| Self { amount, weights: luminance_weights() })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        let luminance = self.weights.dot(&Vector3::from(rgb));
        rgb.map(|c| luminance + self.amount * (c - luminance))
    }
}

impl OnScene for Saturation {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luminance_is_kept_and_zero_is_grey() {
        let weights = luminance_weights();
        let colour = [0.9, 0.1, -0.05];
        let before = weights.dot(&Vector3::from(colour));
        for amount in [0.0, 0.5, 1.0, 2.0] {
            let after = Saturation::new(amount).unwrap().apply(colour);
            assert!((weights.dot(&Vector3::from(after)) - before).abs() < 1e-15);
        }
        let grey = Saturation::new(0.0).unwrap().apply(colour);
        assert!(grey.iter().all(|c| (c - before).abs() < 1e-16));
        assert!(Saturation::new(-0.1).is_err() && Saturation::new(f64::NAN).is_err());
    }
}

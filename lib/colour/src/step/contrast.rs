//! `contrast`: steeper or flatter about a pivot, in log.
//!
//! Worked in ACEScct (Academy S-2016-001), whose log part makes it a plain power of the light and whose straight toe
//! takes dark and negative light without a break.

use super::words::{capital, from_grey, stops};
use super::{Context, Extremes, MID_GREY, Maths, OnScene, Role, StepSettings, extremes};
use crate::invalid::{Parameter, Refusals};
use crate::math;
use crate::setting::settings;
use crate::transfer::Transfer;
use crate::transfer::acescct::ACES_CCT;

/// The slope.
pub const AMOUNT: Parameter = Parameter {
    key: "amount",
    min: 0.1,
    max: 4.0,
    default: 1.0,
    unit: "stops out per stop in",
    help: "1 leaves the picture as it is, above 1 is more contrast",
};

/// The light that stays where it is.
pub const PIVOT: Parameter = Parameter {
    key: "pivot",
    min: -8.0,
    max: 8.0,
    default: 0.0,
    unit: "stops from mid-grey",
    help: "the light that stays where it is",
};

settings! {
    "ContrastDoc",
    /// Contrast about a pivot.
    #[derive(Copy)]
    pub struct ContrastSettings {
        /// The slope.
        amount: f64 = AMOUNT.default, Number(&AMOUNT), required;
        /// The light that stays where it is.
        pivot: f64 = PIVOT.default, Number(&PIVOT);
    }
}

impl StepSettings for ContrastSettings {
    const NAME: &'static str = "contrast";
    const TITLE: &'static str = "Contrast";
    const HELP: &'static str = "Contrast about a pivot, in log.";
    const ROLE: Role = Role::Scene;
    const MAIN: &'static str = "amount";
    const EXAMPLE: &'static str = "amount = 1.1\npivot = -1";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "amount",
            "a flat picture, as through haze",
            "black shadows and white highlights, with little between",
        ),
        extremes("pivot", "the change brightens or darkens all of the picture", "the same, the other way"),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        Contrast::new(self.amount, self.pivot).map(Maths::scene)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        format!("{} out for a stop in, around {}.", capital(&stops(self.amount)), from_grey(self.pivot))
    }
}

/// A slope in ACEScct about a pivot. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    amount: f64,
    pivot: f64,
}

impl Contrast {
    /// From a slope and a pivot in stops from mid-grey.
    ///
    /// # Errors
    /// Values out of [`AMOUNT`] and [`PIVOT`].
    pub fn new(amount: f64, pivot: f64) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        refusals.bound(&AMOUNT, amount);
        refusals.bound(&PIVOT, pivot);
        refusals.finish(|| Self { amount, pivot: ACES_CCT.encode(MID_GREY * math::exp2(pivot)) })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        rgb.map(|c| ACES_CCT.decode(self.pivot + self.amount * (ACES_CCT.encode(c) - self.pivot)))
    }
}

impl OnScene for Contrast {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_are_multiplied_about_the_pivot() {
        let step = Contrast::new(1.5, 1.0).unwrap();
        for stops in [-2.0, 0.0, 1.0, 4.0] {
            let out = step.apply([MID_GREY * math::exp2(stops); 3])[0];
            assert!((math::log2(out / MID_GREY) - (1.0 + 1.5 * (stops - 1.0))).abs() < 1e-12);
        }
    }

    #[test]
    fn one_is_the_identity_and_dark_light_stays_monotone() {
        let same = Contrast::new(1.0, 0.0).unwrap();
        let step = Contrast::new(2.5, 0.0).unwrap();
        let mut last = f64::NEG_INFINITY;
        for i in -100..400 {
            let light = f64::from(i) * 1e-3;
            assert!((same.apply([light; 3])[0] - light).abs() < 1e-15);
            let out = step.apply([light; 3])[0];
            assert!(out > last);
            last = out;
        }
    }
}

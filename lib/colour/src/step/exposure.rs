//! `exposure`: more or less light, the same for every channel.

use super::words::{capital, plain, signed, stops};
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, extremes};
use crate::invalid::{Invalid, Parameter, Refusals};
use crate::math;
use crate::setting::settings;

/// How far the light is raised.
pub const STOPS: Parameter = Parameter {
    key: "stops",
    min: -20.0,
    max: 20.0,
    default: 0.0,
    unit: "stops",
    help: "raise the light by this many stops; one stop is a factor of two",
};

/// The same as a factor.
pub const FACTOR: Parameter = Parameter {
    key: "factor",
    min: 1.0 / 1048576.0,
    max: 1048576.0,
    default: 1.0,
    unit: "times the light",
    help: "multiply the light by this; an alternative to `stops`",
};

settings! {
    "ExposureDoc",
    /// More or less light, by stops or by a factor.
    #[derive(Copy)]
    pub struct ExposureSettings {
        /// How far the light is raised.
        stops: Option<f64> = Some(STOPS.default), Number(&STOPS);
        /// The same as a factor, in its place.
        factor: Option<f64> = None, Number(&FACTOR);
    }
}

impl ExposureSettings {
    /// By stops.
    pub const fn stops(stops: f64) -> Self {
        Self { stops: Some(stops), factor: None }
    }

    /// By a factor.
    pub const fn factor(factor: f64) -> Self {
        Self { stops: None, factor: Some(factor) }
    }
}

impl StepSettings for ExposureSettings {
    const NAME: &'static str = "exposure";
    const TITLE: &'static str = "Exposure";
    const HELP: &'static str = "More or less light.";
    const ROLE: Role = Role::Scene;
    const MAIN: &'static str = "stops";
    const EXAMPLE: &'static str = "stops = -0.4";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "stops",
            "the picture is dark and its shadows go to black",
            "the picture is bright and its highlights run into white",
        ),
        extremes(
            "factor",
            "the picture is dark and its shadows go to black",
            "the picture is bright and its highlights run into white",
        ),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        let made = match (self.stops, self.factor) {
            (Some(stops), None) => Exposure::from_stops(stops),
            (None, Some(factor)) => Exposure::from_factor(factor),
            (None, None) => Err(Invalid::plain("needs `stops` or `factor`")),
            (Some(_), Some(_)) => Err(Invalid::new("factor", "states the same as `stops`: give one of the two")),
        };
        made.map(Maths::scene).map_err(Refusals::from)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        match (self.stops, self.factor) {
            (Some(0.0), _) => "The light stays as it is.".to_owned(),
            (Some(amount), _) => {
                let way = if amount < 0.0 { "darker" } else { "brighter" };
                format!("{} {way}.", capital(&stops(amount.abs())))
            }
            (None, Some(factor)) => {
                let in_stops = signed((math::log2(factor) * 1e4).round() / 1e4);
                format!("The light times {}: {in_stops} stops.", plain(factor))
            }
            (None, None) => String::new(),
        }
    }
}

/// Light multiplied by one factor. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    factor: f64,
}

impl Exposure {
    /// By stops.
    ///
    /// # Errors
    /// `stops` out of [`STOPS`].
    pub fn from_stops(stops: f64) -> Result<Self, Invalid> {
        STOPS.check(stops).map(|stops| Self { factor: math::exp2(stops) })
    }

    /// By a factor.
    ///
    /// # Errors
    /// `factor` out of [`FACTOR`].
    pub fn from_factor(factor: f64) -> Result<Self, Invalid> {
        FACTOR.check(factor).map(|factor| Self { factor })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        rgb.map(|c| c * self.factor)
    }
}

impl OnScene for Exposure {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_is_a_factor_of_two() {
        assert_eq!(Exposure::from_stops(1.0).unwrap().apply([0.18, 1.0, -0.5]), [0.36, 2.0, -1.0]);
        assert_eq!(Exposure::from_stops(-3.0).unwrap(), Exposure::from_factor(0.125).unwrap());
    }

    #[test]
    fn what_is_out_of_bounds_is_refused() {
        for stops in [-20.1, 21.0, f64::NAN, f64::INFINITY] {
            assert_eq!(Exposure::from_stops(stops).unwrap_err().key, "stops");
        }
        for factor in [0.0, -1.0, f64::NAN] {
            assert_eq!(Exposure::from_factor(factor).unwrap_err().key, "factor");
        }
    }
}

//! `printer`: points per channel, as a laboratory times its printer lights.
//!
//! On scene light, more points are more light in that channel. Twelve points to a stop is common practice, no source.

use super::words::{capital, channels, plain, signed};
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, Uncast, extremes};
use crate::invalid::{Parameter, Refusals};
use crate::math;
use crate::setting::{CHANNELS, settings};
use std::sync::Arc;

/// Points of one channel.
pub const POINTS: Parameter = Parameter {
    key: "points",
    min: -50.0,
    max: 50.0,
    default: 0.0,
    unit: "printer points",
    help: "printer points for red, green and blue; more points, more light",
};

/// How many points make a stop.
pub const PER_STOP: Parameter = Parameter {
    key: "per_stop",
    min: 1.0,
    max: 100.0,
    default: 12.0,
    unit: "printer points a stop",
    help: "how many points make one stop",
};

settings! {
    "PrinterDoc",
    /// Printer points per channel.
    #[derive(Copy)]
    pub struct PrinterSettings {
        /// Points of red, green and blue.
        points: [f64; 3] = [POINTS.default; 3], Three(&POINTS, CHANNELS), required;
        /// How many points make a stop.
        per_stop: f64 = PER_STOP.default, Number(&PER_STOP);
    }
}

impl StepSettings for PrinterSettings {
    const NAME: &'static str = "printer";
    const TITLE: &'static str = "Printer points";
    const HELP: &'static str = "Printer points per channel.";
    const ROLE: Role = Role::Scene;
    const EXAMPLE: &'static str = "points = [1, 0, -2]";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "points",
            "a dark picture; in one channel, the opposite colour",
            "a bright picture; in one channel, a cast of its colour",
        ),
        extremes("per_stop", "each point does too much", "each point does almost nothing"),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        Printer::new(self.points, self.per_stop).map(Maths::scene)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let usual = self.per_stop == PER_STOP.default;
        let per_stop = if usual { "twelve".to_owned() } else { plain(self.per_stop) };
        let moved = channels(self.points, 0.0, |points| {
            let amount = signed((points / self.per_stop * 1e3).round() / 1e3);
            format!("{} ({amount} stops)", signed(points))
        });
        let moved = if moved.is_empty() { "No channel moves".to_owned() } else { capital(&moved) };
        format!("{moved}; {per_stop} points to a stop, more points are more light.")
    }
}

/// A factor per channel. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Printer {
    factors: [f64; 3],
}

impl Printer {
    /// From points per channel and points per stop.
    ///
    /// # Errors
    /// Values out of [`POINTS`] and [`PER_STOP`].
    pub fn new(points: [f64; 3], per_stop: f64) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        refusals.bound_each(&POINTS, &points);
        refusals.bound(&PER_STOP, per_stop);
        refusals.finish(|| Self { factors: points.map(|p| math::exp2(p / per_stop)) })
    }

    /// The same exposure for all channels; none where it is that already.
    pub(crate) fn even(&self) -> Option<Self> {
        let [r, g, b] = self.factors;
        (r != g || g != b).then(|| Self { factors: [math::cbrt(r * g * b); 3] })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|i| rgb[i] * self.factors[i])
    }
}

impl OnScene for Printer {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }

    fn uncast(&self) -> Uncast {
        self.even().map_or(Uncast::Same, |even| Uncast::Less(Arc::new(even)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_points_are_a_stop() {
        assert_eq!(Printer::new([12.0, 0.0, -12.0], 12.0).unwrap().apply([1.0; 3]), [2.0, 1.0, 0.5]);
    }

    #[test]
    fn every_bad_channel_is_named() {
        let refused = Printer::new([51.0, 0.0, f64::NAN], 0.0).unwrap_err();
        let keys: Vec<_> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["points[0]", "points[2]", "per_stop"]);
    }
}
